//! The gauge against something outside the project. Every row names its source and label beside the check.

mod gauge_decay;
mod gauge_rows;
mod openings;
mod sizes;

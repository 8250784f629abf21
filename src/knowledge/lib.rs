//! The knowledge base: YAML in, checked types out.
//!
//! `files` reads texts, `yaml` and `raw` give them shape, `check` refuses what is wrong and makes [`Base`]. Nothing
//! here computes a probability and nothing prints.

pub mod acts;
pub mod base;
pub mod bounded;
pub mod check;
pub mod factor;
pub mod fields;
pub mod files;
pub mod near;
pub mod number;
pub mod problem;
pub mod procedure;
mod raw;
pub mod shape;
pub mod yaml;

pub use base::Base;
pub use check::{Checked, check, check_one, entry_shapes};
pub use problem::{Problem, ProblemCode};

//! Laws and known values that the whole engine must satisfy.

mod brute;
mod exact;
mod laws;
mod nets;
mod published;

//! Laws and known values that the whole engine must satisfy.

mod brute;
mod causes;
mod exact;
mod laws;
mod nets;
mod published;

//! The program that does nothing: what a process costs by itself.

fn main() {}

//! Closed jobs out of spreadsheets: how they are read, understood, kept and handed to learning. Every row is kept,
//! held for review, or refused with its reason; nothing is half brought in.

pub mod cause;
pub mod cells;
pub mod draft;
mod error;
pub mod import;
pub mod jobs;
pub mod mapping;
pub mod review;
pub mod rows;
mod said;
pub mod sheet;
pub mod store;
#[cfg(test)]
mod tests;
pub mod text;

pub use cause::{CauseMatcher, WordMatcher};
pub use error::PastError;
pub use import::{Report, Request, import};
pub use mapping::Mapping;
pub use said::Written;
pub use store::Store;

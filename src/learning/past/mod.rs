//! Closed jobs out of spreadsheets: how they are read, understood, kept and handed to learning. Every row is kept,
//! held for review, or refused with its reason; nothing is half brought in.

pub mod cause;
pub mod cells;
mod columns;
pub mod draft;
mod error;
pub mod export;
pub mod import;
pub mod jobs;
mod keys;
pub mod mapping;
pub mod meaning;
mod migrate;
pub mod report;
pub mod review;
pub mod rows;
mod said;
pub mod seal;
pub mod sheet;
pub mod store;
#[cfg(test)]
mod tests;
pub mod text;
mod understood;
pub mod wordings;
pub mod words;
pub mod workbook;

pub use cause::CauseMatcher;
pub use error::PastError;
pub use import::{Request, import};
pub use mapping::Mapping;
pub use report::Report;
pub use said::Written;
pub use store::Store;
pub use words::WordMatcher;

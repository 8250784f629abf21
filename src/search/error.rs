//! What can go wrong with a search: nothing that a query can cause.

/// The index could not be built, read or asked.
#[derive(Debug, thiserror::Error)]
pub enum SearchError {
    /// The index of words failed.
    #[error("the search index failed: {0}")]
    Index(#[from] tantivy::TantivyError),
    /// Its file is not readable.
    #[error("the search index cannot be written or read: {0}")]
    File(#[from] std::io::Error),
    /// Its bytes are damaged.
    #[error("the search index is damaged: {0}")]
    Bytes(#[from] postcard::Error),
}

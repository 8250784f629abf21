//! What can go wrong with a search: nothing that a query can cause.

/// The index could not be built or asked.
#[derive(Debug, thiserror::Error)]
#[error("the search index failed: {0}")]
pub struct SearchError(#[from] tantivy::TantivyError);

//! Why past jobs cannot be brought in or read. Nothing was changed when one of these comes back.

use std::path::PathBuf;

/// Why it cannot be done.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PastError {
    /// A file cannot be read or written.
    #[error("{}: {error}", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// Why.
        error: std::io::Error,
    },
    /// The text of the file breaks off or cannot be told into rows.
    #[error("row {row}, line {line}: {message}")]
    Row {
        /// Row from 1, the header being row 1.
        row: u64,
        /// Line from 1.
        line: u64,
        /// What is wrong.
        message: String,
    },
    /// The header lacks columns that the mapping names.
    #[error("the file has no column {}; its columns are {}", quoted(missing), quoted(there))]
    Columns {
        /// The missing ones.
        missing: Vec<String>,
        /// Those there are.
        there: Vec<String>,
    },
    /// The mapping or the review file is not usable.
    #[error("{}", told.join("\n"))]
    Written {
        /// One sentence each, with line and column.
        told: Vec<String>,
    },
    /// The store is not what it should be.
    #[error("the store of past jobs cannot be used: {0}")]
    Store(#[from] rusqlite::Error),
    /// The store comes from a later version of this program.
    #[error("the store of past jobs has version {0}, which this program does not know; install a newer one")]
    Newer(i64),
    /// The file holds tables of some other program.
    #[error("the file is no store of past jobs but another program's database; name another one with --past FILE")]
    NotAStore,
}

fn quoted(words: &[String]) -> String {
    words.iter().map(|w| format!("`{w}`")).collect::<Vec<_>>().join(", ")
}

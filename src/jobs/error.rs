//! Why the store of jobs cannot do what was asked. Names the file and what to do; knows nothing of terminals.

use super::refused::Refused;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Why the store cannot do it. Nothing was changed when one of these comes back.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// There is no store yet.
    #[error("there is no store of jobs at {}", path.display())]
    Missing {
        /// Where it was looked for.
        path: PathBuf,
    },
    /// The folder cannot be made or used.
    #[error("the folder of {} cannot be made: {source}", path.display())]
    Folder {
        /// The store.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// The file is something else.
    #[error("{} is not a store of jobs; it was left as it is", path.display())]
    NotAStore {
        /// The file.
        path: PathBuf,
    },
    /// The store was written by a later version.
    #[error("{} was written by a later version of faultodds (form {found}, this one knows {known}); it was left as it is", path.display())]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its form.
        found: i64,
        /// The latest known form.
        known: i64,
    },
    /// The file is shorter than it says it is.
    #[error("{} is cut short: it holds {holds} bytes of {needs}; it was left as it is", path.display())]
    CutShort {
        /// The file.
        path: PathBuf,
        /// Bytes that are there.
        holds: u64,
        /// Bytes that should be there.
        needs: u64,
    },
    /// The file or its contents are damaged.
    #[error("{} is damaged: {what}; it was left as it is", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        what: String,
    },
    /// The file or its folder cannot be written.
    #[error("{} cannot be written; the file, its folder or its disk is read-only", path.display())]
    ReadOnly {
        /// The file.
        path: PathBuf,
    },
    /// The file cannot be opened.
    #[error("{} cannot be opened: {what}", path.display())]
    CannotOpen {
        /// The file.
        path: PathBuf,
        /// What SQLite says.
        what: String,
    },
    /// The disk is full.
    #[error("the disk that holds {} is full; nothing was stored", path.display())]
    Full {
        /// The file.
        path: PathBuf,
    },
    /// Another program kept the store to itself for too long.
    #[error("another program kept {} busy for {:.0} seconds; nothing was stored, try again", path.display(), waited.as_secs_f64())]
    Busy {
        /// The file.
        path: PathBuf,
        /// How long this one waited.
        waited: Duration,
    },
    /// No such job.
    #[error("there is no job {number}")]
    NoJob {
        /// As asked for.
        number: i64,
    },
    /// No job is the current one.
    #[error("no job is the current one")]
    NoCurrent,
    /// The event does not fit onto the job.
    #[error(transparent)]
    Refused(#[from] Refused),
    /// A file that would have to be overwritten.
    #[error("{} exists already and is not overwritten", path.display())]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// A line of an import cannot be used; nothing was imported.
    #[error("line {line}: {what}; nothing was imported")]
    Import {
        /// Line number, from 1.
        line: usize,
        /// What is wrong.
        what: String,
    },
    /// Reading or writing beside the store failed.
    #[error("{what}: {source}")]
    Stream {
        /// What was being done.
        what: &'static str,
        /// What the system says.
        source: std::io::Error,
    },
    /// Anything else that SQLite says.
    #[error("{}: {source}", path.display())]
    Sqlite {
        /// The file.
        path: PathBuf,
        /// What SQLite says.
        source: rusqlite::Error,
    },
}

/// Turns what SQLite says into what happened to the store.
pub(super) fn sqlite(path: &Path, source: rusqlite::Error, waited: Duration) -> StoreError {
    use rusqlite::ErrorCode as Code;
    let path = path.to_owned();
    let message = source.to_string();
    match source.sqlite_error_code() {
        Some(Code::DatabaseBusy | Code::DatabaseLocked) => StoreError::Busy { path, waited },
        Some(Code::ReadOnly | Code::PermissionDenied) => StoreError::ReadOnly { path },
        Some(Code::DiskFull) => StoreError::Full { path },
        Some(Code::NotADatabase) => StoreError::NotAStore { path },
        Some(Code::DatabaseCorrupt) => StoreError::Damaged { path, what: message },
        Some(Code::CannotOpen | Code::SystemIoFailure) => StoreError::CannotOpen { path, what: message },
        _ => StoreError::Sqlite { path, source },
    }
}

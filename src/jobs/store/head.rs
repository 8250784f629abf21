//! A look at the first bytes of the file before SQLite touches it: is it a database at all, and is all of it there?

use super::super::error::StoreError;
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};

/// What SQLite databases begin with (sqlite.org/fileformat2.html, section 1.3).
const MAGIC: &[u8; 16] = b"SQLite format 3\0";

/// What stands at the path.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Head {
    /// Nothing, or an empty file.
    Nothing,
    /// A database.
    Database,
}

/// Looks at the file.
///
/// # Errors
/// A file that is no database, or shorter than its first page says.
pub(super) fn look(path: &Path) -> Result<Head, StoreError> {
    let cannot = |e: std::io::Error| StoreError::CannotOpen { path: path.to_owned(), what: e.to_string() };
    let mut file = match File::open(path) {
        Ok(file) => file,
        Err(e) if e.kind() == ErrorKind::NotFound => return Ok(Head::Nothing),
        Err(e) => return Err(cannot(e)),
    };
    let about = file.metadata().map_err(cannot)?;
    if !about.is_file() {
        return Err(StoreError::NotAStore { path: path.to_owned() });
    }
    if about.len() == 0 {
        return Ok(Head::Nothing);
    }
    let mut head = Vec::new();
    file.by_ref().take(100).read_to_end(&mut head).map_err(cannot)?;
    if head.len() < 100 || !head.starts_with(MAGIC) {
        // A beginning of the right kind that stops short is a store that was cut, not something else.
        if !head.is_empty() && MAGIC.starts_with(&head[..head.len().min(16)]) {
            return Err(StoreError::CutShort { path: path.to_owned(), holds: about.len(), needs: 100 });
        }
        return Err(StoreError::NotAStore { path: path.to_owned() });
    }
    let needs = size_by_header(&head);
    // Pages that are not in the file yet may be in the write-ahead log or come back from the rollback journal; then
    // it is for SQLite to judge.
    let pending = ["-wal", "-journal"].iter().any(|end| beside(path, end).metadata().is_ok_and(|m| m.len() > 0));
    if about.len() < needs && !pending {
        return Err(StoreError::CutShort { path: path.to_owned(), holds: about.len(), needs });
    }
    Ok(Head::Database)
}

/// Page size (2 bytes at 16, 1 meaning 65,536) times the number of pages (4 bytes at 28).
fn size_by_header(head: &[u8]) -> u64 {
    let page = match u64::from(u16::from_be_bytes([head[16], head[17]])) {
        1 => 65_536,
        page => page,
    };
    page * u64::from(u32::from_be_bytes([head[28], head[29], head[30], head[31]]))
}

/// The path with something at its end.
pub(super) fn beside(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    name.into()
}

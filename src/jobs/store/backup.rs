//! A copy of the store while others go on working with it.

use super::super::error::{StoreError, sqlite};
use super::Store;
use super::head::beside;
use rusqlite::Connection;
use rusqlite::backup::Backup;
use std::fs;
use std::path::Path;
use std::time::Duration;

/// Pages copied at a time; between the helpings writers get their turn.
const PAGES: i32 = 2048;

impl Store {
    /// Copies the store to a new file, which appears under its name only when it is complete and checked.
    ///
    /// # Errors
    /// A file of that name exists, or it cannot be written.
    pub fn back_up(&self, to: &Path) -> Result<(), StoreError> {
        if to.exists() {
            return Err(StoreError::Exists { path: to.to_owned() });
        }
        let part = beside(to, &format!(".part-{}", std::process::id()));
        let done = self.copy(&part).and_then(|()| {
            // A hard link never replaces a file that came into being meanwhile; where links do not exist, the name
            // was free a moment ago.
            let linked = fs::hard_link(&part, to);
            match linked {
                Ok(()) => Ok(()),
                Err(_) if to.exists() => Err(StoreError::Exists { path: to.to_owned() }),
                Err(_) => {
                    fs::rename(&part, to).map_err(|source| StoreError::Stream { what: "naming the copy", source })
                }
            }
        });
        let _gone = fs::remove_file(&part);
        done
    }

    fn copy(&self, part: &Path) -> Result<(), StoreError> {
        let failed = |e| sqlite(part, e, Duration::ZERO);
        let mut copy = Connection::open(part).map_err(failed)?;
        Backup::new(&self.connection, &mut copy)
            .and_then(|b| b.run_to_completion(PAGES, Duration::from_millis(1), None))
            .map_err(failed)?;
        // The copy is one file: no write-ahead log that could be left behind when it is carried away.
        let _mode: String = copy.query_row("PRAGMA journal_mode = DELETE", [], |r| r.get(0)).map_err(failed)?;
        let told: String = copy.query_row("PRAGMA quick_check", [], |r| r.get(0)).map_err(failed)?;
        if told == "ok" { Ok(()) } else { Err(StoreError::Damaged { path: part.to_owned(), what: told }) }
    }
}

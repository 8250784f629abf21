//! Where past jobs are kept: one SQLite file beside the store of jobs. Rows are the record; learning reads them.

use super::error::PastError;
use super::migrate;
use rusqlite::{Connection, OpenFlags, OptionalExtension as _};
use std::path::Path;

/// What learning counts, said in SQL: the first statement holds for any engine, the second for those that have LN.
pub const COUNTS_SQL: &str = include_str!("counts.sql");

/// The store of past jobs.
#[derive(Debug)]
pub struct Store {
    pub(super) connection: Connection,
}

impl Store {
    /// Opens the store, and makes it when there is none.
    ///
    /// # Errors
    /// When the file is no store, is damaged, locked, or of a later version.
    pub fn open(path: &Path) -> Result<Self, PastError> {
        if let Some(folder) = path.parent().filter(|f| !f.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder).map_err(|error| PastError::File { path: folder.to_owned(), error })?;
        }
        let store = Self::ready(Connection::open(path)?)?;
        // Only once it is known to be a store of past jobs: another program's file stays as it is.
        store.connection.pragma_update(None, "journal_mode", "WAL")?;
        Ok(store)
    }

    /// Opens a store for reading; none when there is no such file.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn open_to_read(path: &Path) -> Result<Option<Self>, PastError> {
        if !path.exists() {
            return Ok(None);
        }
        let connection =
            Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
        let version: i64 = connection.pragma_query_value(None, "user_version", |r| r.get(0))?;
        if version < migrate::VERSION {
            // Only by writing does it become what this program reads.
            drop(connection);
            return Self::open(path).map(Some);
        }
        if version > migrate::VERSION { Err(PastError::Newer(version)) } else { Ok(Some(Self { connection })) }
    }

    /// A store that ends with the process.
    ///
    /// # Errors
    /// When SQLite cannot make one.
    pub fn in_memory() -> Result<Self, PastError> {
        Self::ready(Connection::open_in_memory()?)
    }

    fn ready(mut connection: Connection) -> Result<Self, PastError> {
        connection.busy_timeout(std::time::Duration::from_secs(5))?;
        connection.pragma_update(None, "foreign_keys", true)?;
        connection.pragma_update(None, "cache_size", -65_536)?;
        migrate::ready(&mut connection)?;
        Ok(Self { connection })
    }

    /// How many jobs are in each state.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn states(&self) -> Result<Vec<(String, u64)>, PastError> {
        let mut query = self.connection.prepare("SELECT state, COUNT(*) FROM past GROUP BY state ORDER BY state")?;
        let rows = query.query_map([], |r| Ok((r.get(0)?, r.get::<_, i64>(1)?.unsigned_abs())))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Jobs that ended with a cause or with none to be found, and those of them that a later row names as the job that its car came back from.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn comebacks(&self) -> Result<(usize, usize), PastError> {
        let sql = "SELECT COUNT(*), COUNT(back) FROM past
            WHERE state IN ('found', 'several', 'no-fault') OR back IS NOT NULL";
        let count = |n: i64| usize::try_from(n).unwrap_or(0);
        Ok(self.connection.query_row(sql, [], |r| Ok((count(r.get(0)?), count(r.get(1)?))))?)
    }

    /// Job number, words and suspect of the jobs with one cause, for looking at how words were read.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn found_with_words(&self) -> Result<Vec<(String, String, String)>, PastError> {
        let mut query = self
            .connection
            .prepare("SELECT coalesce(job, ''), words, cause FROM past WHERE state = 'found' ORDER BY row")?;
        let rows = query.query_map([], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// What was decided about words.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn decision(&self, words: &str) -> Result<Option<String>, PastError> {
        Ok(self
            .connection
            .query_row("SELECT cause FROM decision WHERE words = ?1", [words], |r| r.get(0))
            .optional()?)
    }

    /// Takes out all jobs and decisions. Returns how many jobs there were.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn clear(&mut self) -> Result<u64, PastError> {
        let transaction = self.connection.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
        transaction.execute("DELETE FROM past_result", [])?;
        let n = transaction.execute("DELETE FROM past", [])?;
        transaction.execute("DELETE FROM decision", [])?;
        transaction.execute("DELETE FROM import", [])?;
        transaction.execute("DELETE FROM seal", [])?;
        transaction.commit()?;
        Ok(n as u64)
    }
}

/// Reads `id=belief id=belief`.
pub(super) fn beliefs(text: &str) -> Vec<(String, f64)> {
    text.split(' ')
        .filter_map(|w| w.rsplit_once('='))
        .filter_map(|(id, b)| Some((id.to_owned(), b.parse().ok()?)))
        .collect()
}

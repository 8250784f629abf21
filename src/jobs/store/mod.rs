//! The store: an SQLite file with a log of events for every job. Opens, creates and brings forward; writes one event
//! at a time, all or nothing. Knows events and jobs, no base and no probability.
//!
//! Write-ahead log, `synchronous = FULL`: once a call has come back, the event outlives a killed process and a power
//! cut. Readers do not wait for writers; writers wait for each other.

mod backup;
mod check;
mod digest;
mod head;
mod list;
mod mark;
mod said;
mod schema;
mod summary;
#[cfg(test)]
mod tests;
mod transfer;
mod write;

pub use check::Trouble;
pub use list::{COUNTED, Filter, Page, Row};
pub use said::Said;
pub use transfer::{Exported, Imported, Vins};
pub use write::Changed;

use super::error::{StoreError, sqlite};
use super::event::Event;
use super::job::Job;
use head::{Head, look};
use jiff::Timestamp;
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, OptionalExtension, Transaction, TransactionBehavior};
use schema::{Form, LATEST, STEPS, bring_forward, form};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// How long a writer waits for the others before it gives up.
pub const PATIENCE: Duration = Duration::from_secs(15);
/// A wait that is worth telling.
pub const NOTABLE_WAIT: Duration = Duration::from_millis(500);

/// Whether a missing store is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Access {
    /// It is only read: a missing store is an error.
    Read,
    /// It is written: a missing store is made.
    Write,
}

/// An open store.
#[derive(Debug)]
pub struct Store {
    pub(super) connection: Connection,
    path: PathBuf,
    waited: Duration,
}

impl Store {
    /// Opens the store, makes it if it is to be written and does not exist, and brings an older one forward.
    ///
    /// # Errors
    /// Everything that can be wrong with a file; the file is then left as it is.
    pub fn open(path: &Path, access: Access) -> Result<Self, StoreError> {
        let nothing = look(path)? == Head::Nothing;
        if nothing && access == Access::Read {
            return Err(StoreError::Missing { path: path.to_owned() });
        }
        if nothing && let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder).map_err(|source| StoreError::Folder { path: path.to_owned(), source })?;
        }
        let create = if nothing { OpenFlags::SQLITE_OPEN_CREATE } else { OpenFlags::empty() };
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX | create;
        let started = Instant::now();
        let failed = |e| sqlite(path, e, started.elapsed());
        let connection = Connection::open_with_flags(path, flags).map_err(failed)?;
        connection.busy_timeout(PATIENCE).map_err(failed)?;
        // Until the file has proved to be ours, closing it must not tidy it up either.
        connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true).map_err(failed)?;
        // One snapshot: between two looks another process may make the store.
        let known = connection.unchecked_transaction().and_then(|snapshot| form(&snapshot)).map_err(failed)?;
        match known {
            Form::Other => return Err(StoreError::NotAStore { path: path.to_owned() }),
            Form::Store(found) if found > LATEST => {
                return Err(StoreError::Newer { path: path.to_owned(), found, known: LATEST });
            }
            Form::Blank if access == Access::Read => return Err(StoreError::Missing { path: path.to_owned() }),
            Form::Blank | Form::Store(_) => {}
        }
        connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, false).map_err(failed)?;
        connection.execute_batch("PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON;").map_err(failed)?;
        let mut store = Self { connection, path: path.to_owned(), waited: Duration::ZERO };
        if known == Form::Blank {
            store.use_write_ahead_log()?;
        }
        if known != Form::Store(LATEST) {
            store.write(|tx| {
                if bring_forward(tx.sql(), STEPS).map_err(|e| tx.failed(e))? {
                    digest::seal(tx)?;
                    summary::write_all(tx)?;
                }
                Ok(())
            })?;
        }
        Ok(store)
    }

    /// Where it is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// How long this store has waited for other programs so far.
    #[must_use]
    pub fn waited(&self) -> Duration {
        self.waited
    }

    /// The job.
    ///
    /// # Errors
    /// No such job, or events that cannot be read.
    pub fn job(&self, number: i64) -> Result<Job, StoreError> {
        load(&self.connection, &self.path, number)
    }

    /// Number of the current job, if there is one.
    ///
    /// # Errors
    /// What SQLite says.
    pub fn current(&self) -> Result<Option<i64>, StoreError> {
        let mut found = self
            .connection
            .prepare_cached("SELECT CAST(value AS INTEGER) FROM setting WHERE name = 'current'")
            .map_err(|e| self.failed(e))?;
        found.query_row([], |r| r.get(0)).optional().map_err(|e| self.failed(e))
    }

    pub(super) fn failed(&self, error: rusqlite::Error) -> StoreError {
        sqlite(&self.path, error, self.waited)
    }

    /// Switching a new file to write-ahead logging does not wait for others by itself, so it is tried again.
    fn use_write_ahead_log(&mut self) -> Result<(), StoreError> {
        let started = Instant::now();
        loop {
            let mode = self.connection.query_row("PRAGMA journal_mode = WAL", [], |r| r.get::<_, String>(0));
            match mode {
                // Some file systems cannot do it; the rollback journal is as safe, only slower.
                Ok(_) => return Ok(()),
                Err(e) if is_busy(&e) && started.elapsed() < PATIENCE => std::thread::sleep(Duration::from_millis(5)),
                Err(e) => return Err(sqlite(&self.path, e, started.elapsed())),
            }
        }
    }

    /// Does something all or nothing, after waiting for other writers.
    pub(super) fn write<T>(&mut self, act: impl FnOnce(&Tx<'_>) -> Result<T, StoreError>) -> Result<T, StoreError> {
        let started = Instant::now();
        let failed = |path: &Path, e| sqlite(path, e, started.elapsed());
        let tx = Transaction::new(&mut self.connection, TransactionBehavior::Immediate)
            .map_err(|e| failed(&self.path, e))?;
        let waited = started.elapsed();
        let tx = Tx { tx, path: &self.path };
        let out = act(&tx)?;
        tx.tx.commit().map_err(|e| failed(&self.path, e))?;
        self.waited += waited;
        Ok(out)
    }
}

/// A writing transaction that knows its file.
pub(super) struct Tx<'a> {
    tx: Transaction<'a>,
    path: &'a Path,
}

impl Tx<'_> {
    pub(super) fn sql(&self) -> &Connection {
        &self.tx
    }

    pub(super) fn failed(&self, error: rusqlite::Error) -> StoreError {
        sqlite(self.path, error, Duration::ZERO)
    }
}

fn is_busy(error: &rusqlite::Error) -> bool {
    matches!(error.sqlite_error_code(), Some(rusqlite::ErrorCode::DatabaseBusy | rusqlite::ErrorCode::DatabaseLocked))
}

/// Reads a job from its events.
fn load(connection: &Connection, path: &Path, number: i64) -> Result<Job, StoreError> {
    let failed = |e| sqlite(path, e, Duration::ZERO);
    let uid: Option<String> = connection
        .prepare_cached("SELECT uid FROM job WHERE number = ?1")
        .and_then(|mut s| s.query_row([number], |r| r.get(0)).optional())
        .map_err(failed)?;
    let uid = uid.ok_or(StoreError::NoJob { number })?;
    let damaged = |what: String| StoreError::Damaged { path: path.to_owned(), what };
    let mut statement = connection
        .prepare_cached("SELECT number, at, event FROM event WHERE job = ?1 ORDER BY number")
        .map_err(failed)?;
    let mut rows = statement.query([number]).map_err(failed)?;
    let mut events = Vec::new();
    while let Some(row) = rows.next().map_err(failed)? {
        let (n, at, text): (i64, i64, String) =
            (row.get(0).map_err(failed)?, row.get(1).map_err(failed)?, row.get(2).map_err(failed)?);
        let event: Event = serde_json::from_str(&text)
            .map_err(|e| damaged(format!("event {n} of job {number} cannot be read: {e}")))?;
        let at = Timestamp::from_millisecond(at)
            .map_err(|e| damaged(format!("event {n} of job {number} has no usable time: {e}")))?;
        if usize::try_from(n).ok() != Some(events.len() + 1) {
            return Err(damaged(format!("job {number} has no event {}", events.len() + 1)));
        }
        events.push((at, event));
    }
    Job::fold(number, &uid, events).map_err(|(n, why)| damaged(format!("event {n} of job {number}: {why}")))
}

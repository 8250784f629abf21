//! Where past jobs are kept: one SQLite file beside the store of jobs. Rows are the record; learning reads them.

use super::error::PastError;
use super::review::Held;
use rusqlite::{Connection, OpenFlags, OptionalExtension as _, params};
use std::path::Path;

/// Version of the tables.
const VERSION: i64 = 1;

/// The tables. `past` holds one row a job; the columns that learning reads are plain, so that any SQL engine can
/// count them.
const TABLES: &str = "
CREATE TABLE past (
    key            INTEGER PRIMARY KEY,   -- hash of the job number, or of the row's content
    content        INTEGER NOT NULL,      -- hash of the content, to tell a changed row
    row            INTEGER NOT NULL,      -- row of the file it came from, the header being 1
    job            TEXT,                  -- the shop's number
    date           TEXT NOT NULL,         -- YYYY-MM-DD
    make TEXT, model TEXT, engine TEXT,
    age            REAL,                  -- years, date less model year
    km             REAL,
    codes          TEXT NOT NULL,         -- sorted, joined by one blank
    words          TEXT NOT NULL,         -- the cause as the shop wrote it
    state          TEXT NOT NULL,         -- found, several, unsure, no-fault, held, left-out
    cause          TEXT NOT NULL,         -- suspect; several joined by ' + '; candidates as 'id=belief id=belief'
    repair         TEXT,
    repair_minutes REAL,
    minutes        REAL,
    parts          REAL
) STRICT;
CREATE TABLE past_result (
    key     INTEGER NOT NULL REFERENCES past (key) ON DELETE CASCADE,
    reading TEXT NOT NULL,
    level   TEXT NOT NULL,
    PRIMARY KEY (key, reading)
) STRICT, WITHOUT ROWID;
CREATE TABLE decision (words TEXT PRIMARY KEY, cause TEXT NOT NULL) STRICT, WITHOUT ROWID;
";

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
        let connection = Connection::open(path)?;
        connection.pragma_update(None, "journal_mode", "WAL")?;
        Self::ready(connection)
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
        if version != VERSION { Err(PastError::Newer(version)) } else { Ok(Some(Self { connection })) }
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
        let version: i64 = connection.pragma_query_value(None, "user_version", |r| r.get(0))?;
        if version > VERSION {
            return Err(PastError::Newer(version));
        }
        if version == 0 {
            // Immediate, so that of two shells only one makes the tables.
            let transaction = connection.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
            let made: i64 = transaction.pragma_query_value(None, "user_version", |r| r.get(0))?;
            if made == 0 {
                transaction.execute_batch(TABLES)?;
                transaction.pragma_update(None, "user_version", VERSION)?;
            }
            transaction.commit()?;
        }
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

    /// The words that are held, the commonest first.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn held(&self) -> Result<Vec<Held>, PastError> {
        let mut query = self.connection.prepare(
            "SELECT words, COUNT(*), MIN(cause) FROM past WHERE state = 'held' GROUP BY words ORDER BY COUNT(*) DESC, words",
        )?;
        let rows = query.query_map([], |r| {
            let candidates: String = r.get(2)?;
            Ok(Held { words: r.get(0)?, rows: r.get::<_, i64>(1)?.unsigned_abs(), candidates: beliefs(&candidates) })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Decides what words mean, for the rows that hold them and for those to come. Returns how many rows changed.
    ///
    /// # Errors
    /// When the store cannot be written; nothing is changed then.
    pub fn decide(
        &mut self,
        decisions: &[(String, String)],
        not_listed: &dyn Fn(&str) -> Option<String>,
    ) -> Result<u64, PastError> {
        let transaction = self.connection.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
        let mut changed = 0;
        for (words, cause) in decisions {
            transaction.execute(
                "INSERT INTO decision VALUES (?1, ?2) ON CONFLICT (words) DO UPDATE SET cause = excluded.cause",
                params![words, cause],
            )?;
            let rows: Vec<(i64, String)> = {
                let mut query = transaction.prepare("SELECT key, codes FROM past WHERE words = ?1")?;
                let rows = query.query_map([words], |r| Ok((r.get(0)?, r.get(1)?)))?;
                rows.collect::<Result<_, _>>()?
            };
            for (key, codes) in rows {
                let (state, cause) = decided(cause, &codes, not_listed);
                let n = transaction.execute(
                    "UPDATE past SET state = ?2, cause = ?3 WHERE key = ?1 AND (state <> ?2 OR cause <> ?3)",
                    params![key, state, cause],
                )?;
                changed += n as u64;
            }
        }
        transaction.commit()?;
        Ok(changed)
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
        transaction.commit()?;
        Ok(n as u64)
    }
}

/// State and cause of a row, from a decision of a person.
pub(super) fn decided(cause: &str, codes: &str, not_listed: &dyn Fn(&str) -> Option<String>) -> (&'static str, String) {
    match cause {
        "unsure" => ("unsure", String::new()),
        "no-fault" => ("no-fault", String::new()),
        "leave-out" => ("left-out", String::new()),
        "not-listed" => not_listed(codes).map_or(("unsure", String::new()), |id| ("found", id)),
        _ if cause.contains('+') => ("several", cause.split('+').map(str::trim).collect::<Vec<_>>().join(" + ")),
        _ => ("found", cause.to_owned()),
    }
}

/// Reads `id=belief id=belief`.
pub(super) fn beliefs(text: &str) -> Vec<(String, f64)> {
    text.split(' ')
        .filter_map(|w| w.rsplit_once('='))
        .filter_map(|(id, b)| Some((id.to_owned(), b.parse().ok()?)))
        .collect()
}

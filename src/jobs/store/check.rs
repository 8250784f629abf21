//! Is the store whole? SQLite's own checks, and whether every job still follows from its events.

use super::super::error::StoreError;
use super::{Store, load, summary};

/// Something that is wrong, in one sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble(pub String);

impl Store {
    /// Checks everything. An empty list means that the store is whole.
    ///
    /// # Errors
    /// When not even the check can run.
    pub fn check(&self) -> Result<Vec<Trouble>, StoreError> {
        let mut out = Vec::new();
        for (pragma, ok) in [("PRAGMA integrity_check", Some("ok")), ("PRAGMA foreign_key_check", None)] {
            let mut statement = self.connection.prepare(pragma).map_err(|e| self.failed(e))?;
            let told: rusqlite::Result<Vec<String>> = statement.query_map([], |r| r.get(0)).and_then(Iterator::collect);
            match told {
                Ok(told) => out.extend(told.into_iter().filter(|t| Some(t.as_str()) != ok).map(Trouble)),
                Err(e) => out.push(Trouble(e.to_string())),
            }
        }
        let mut statement =
            self.connection.prepare("SELECT number FROM job ORDER BY number").map_err(|e| self.failed(e))?;
        let numbers: rusqlite::Result<Vec<i64>> = statement.query_map([], |r| r.get(0)).and_then(Iterator::collect);
        for number in numbers.map_err(|e| self.failed(e))? {
            match load(&self.connection, self.path(), number) {
                Ok(job) => match summary::read(&self.connection, number) {
                    Ok(Some(kept)) if kept == summary::of(&job) => {}
                    Ok(_) => {
                        out.push(Trouble(format!("the list line of job {number} does not follow from its events")))
                    }
                    Err(e) => out.push(Trouble(format!("job {number}: {e}"))),
                },
                Err(e) => out.push(Trouble(e.to_string())),
            }
        }
        Ok(out)
    }

    /// Number of jobs and of events.
    ///
    /// # Errors
    /// What SQLite says.
    pub fn size(&self) -> Result<(u64, u64), StoreError> {
        let count = |table: &str| -> Result<u64, StoreError> {
            let n: i64 = self
                .connection
                .query_row(&format!("SELECT COUNT(*) FROM {table}"), [], |r| r.get(0))
                .map_err(|e| self.failed(e))?;
            Ok(u64::try_from(n).unwrap_or(0))
        };
        Ok((count("job")?, count("event")?))
    }

    /// Computes all list lines again from the events.
    ///
    /// # Errors
    /// Events that cannot be read, or the store cannot be written.
    pub fn rebuild_lists(&mut self) -> Result<(), StoreError> {
        self.write(summary::write_all)
    }
}

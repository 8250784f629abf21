//! Is the store whole? SQLite's own checks, the digests, and whether every job still follows from its events.

use super::super::error::StoreError;
use super::{Store, digest, load, schema, summary};

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
        let mut others = Vec::new();
        let known = digest::check(&self.connection, &mut others).and_then(|()| self.marks(&mut others));
        out.append(&mut others);
        if let Err(e) = known {
            out.push(Trouble(e.to_string()));
        }
        let mut statement =
            self.connection.prepare("SELECT number FROM job ORDER BY number").map_err(|e| self.failed(e))?;
        let numbers: rusqlite::Result<Vec<i64>> = statement.query_map([], |r| r.get(0)).and_then(Iterator::collect);
        for number in numbers.map_err(|e| self.failed(e))? {
            match load(&self.connection, self.path(), number) {
                Ok(job) => match summary::read(&self.connection, number) {
                    Ok(Some(kept)) if kept == summary::of(&job) && self.found_by(&kept, number) => {}
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

    /// Whether the words by which a job is found are those of its line.
    fn found_by(&self, line: &summary::Summary, number: i64) -> bool {
        summary::words(&self.connection, number).is_ok_and(|kept| kept == line.found_by())
    }

    /// What no job says: the tables and triggers themselves, how many jobs there were, which one is current.
    fn marks(&self, out: &mut Vec<Trouble>) -> rusqlite::Result<()> {
        if schema::shape(&self.connection)? != schema::shape_of_new()? {
            out.push(Trouble("the tables are not those of a store".to_owned()));
        }
        let mut whole = |sql: &str, what: &str| -> rusqlite::Result<()> {
            if !self.connection.query_row(sql, [], |r| r.get::<_, bool>(0))? {
                out.push(Trouble(what.to_owned()));
            }
            Ok(())
        };
        whole(
            "SELECT (SELECT COUNT(*) FROM job) = COALESCE((SELECT MAX(number) FROM job), 0)
                AND COALESCE((SELECT MAX(seq) FROM sqlite_sequence WHERE name = 'job'), 0) = (SELECT COUNT(*) FROM job)
                AND (SELECT COUNT(*) FROM sqlite_sequence) = (SELECT COUNT(*) > 0 FROM job)",
            "the numbers of the jobs have gaps: a job is missing, or their count is damaged",
        )?;
        whole(
            "SELECT NOT EXISTS (SELECT 1 FROM setting WHERE name = 'current'
                AND NOT EXISTS (SELECT 1 FROM job WHERE CAST(job.number AS TEXT) = value))",
            "the current job is none of the store's",
        )?;
        whole(
            "SELECT NOT EXISTS (SELECT 1 FROM summary_word WHERE job NOT IN (SELECT number FROM job))
                AND NOT EXISTS (SELECT 1 FROM summary WHERE job NOT IN (SELECT number FROM job))",
            "there are list lines of jobs that are not there",
        )
    }

    /// Events whose digest was made when the store was brought forward from a form without: it tells what has changed since,
    /// not what had changed before.
    ///
    /// # Errors
    /// What SQLite says.
    pub fn sealed_later(&self) -> Result<u64, StoreError> {
        digest::sealed_later(&self.connection).map_err(|e| self.failed(e))
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

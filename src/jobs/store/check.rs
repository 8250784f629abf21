//! Is the store whole? SQLite's own checks, the digests, and whether every job still follows from its events.

use super::super::error::StoreError;
use super::super::job::Job;
use super::{Store, digest, load, schema, summary};
use rusqlite::Connection;

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
        numbers(&self.connection, out)?;
        let mut whole = |sql: &str, what: &str| -> rusqlite::Result<()> {
            if !self.connection.query_row(sql, [], |r| r.get::<_, bool>(0))? {
                out.push(Trouble(what.to_owned()));
            }
            Ok(())
        };
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

    /// Why a job cannot be handed on as it was stored: an event that is not what was stored or cannot be read, or fewer than
    /// its list line counts. `Err` is what has nothing to do with the job.
    pub(super) fn whole_job(
        &self,
        snapshot: &Connection,
        number: i64,
    ) -> Result<Result<Job, Vec<Trouble>>, StoreError> {
        let mut out = Vec::new();
        let read = (|| {
            digest::check_events(snapshot, Some(number), &mut out).map_err(|e| self.failed(e))?;
            let job = load(snapshot, self.path(), number)?;
            let counted = summary::read(snapshot, number).map_err(|e| self.failed(e))?.map(|s| s.events);
            Ok((job, counted))
        })();
        match read {
            Ok((job, counted)) if counted != i64::try_from(job.log.len()).ok() => {
                out.push(Trouble(format!("job {number} has not as many events as its list line says")));
            }
            Ok((job, _)) if out.is_empty() => return Ok(Ok(job)),
            Ok(_) => {}
            // An event that is bent is told already, and more often than not it is why the job cannot be read.
            Err(StoreError::Damaged { .. }) if !out.is_empty() => {}
            Err(StoreError::Damaged { what, .. }) => out.push(Trouble(what)),
            Err(other) => return Err(other),
        }
        Ok(Err(out))
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

/// The numbers of all jobs. They are numbered from 1 and never taken out, and SQLite keeps the last number beside them; a list
/// that is another is told.
pub(super) fn numbers(connection: &Connection, out: &mut Vec<Trouble>) -> rusqlite::Result<Vec<i64>> {
    let mut all = connection.prepare("SELECT number FROM job ORDER BY number")?;
    let numbers: Vec<i64> = all.query_map([], |r| r.get(0))?.collect::<rusqlite::Result<_>>()?;
    let mut last = connection.prepare("SELECT name, seq FROM sqlite_sequence")?;
    let last: Vec<(String, i64)> =
        last.query_map([], |r| Ok((r.get(0)?, r.get(1)?)))?.collect::<rusqlite::Result<_>>()?;
    let right: Vec<(String, i64)> = numbers.last().map(|n| ("job".to_owned(), *n)).into_iter().collect();
    if last != right || !(1..).zip(&numbers).all(|(n, number)| n == *number) {
        out.push(Trouble("the numbers of the jobs have gaps: a job is missing, or their count is damaged".to_owned()));
    }
    Ok(numbers)
}

//! The line that lists show of a job, computed from its events and kept beside them.

use super::super::error::StoreError;
use super::super::event::Verdict;
use super::super::job::{Job, Status};
use super::{Tx, load};
use rusqlite::{Connection, OptionalExtension, params};
use std::collections::BTreeSet;

/// The stored line.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Summary {
    pub opened_at: i64,
    pub changed_at: i64,
    pub closed_at: Option<i64>,
    pub verdict: Option<String>,
    pub codes: String,
    pub causes: String,
    pub repairs: String,
    pub car: String,
    pub reference: Option<String>,
    pub minutes: f64,
    pub cost: f64,
    pub events: i64,
    /// Car and reference in small letters, for searching.
    pub words: String,
}

/// The line of a job. Lists inside it are separated by blanks: none of these ids holds one.
pub(super) fn of(job: &Job) -> Summary {
    let (closed_at, verdict, causes) = match &job.status {
        Status::Open => (None, None, Vec::new()),
        Status::Closed { at, how } => {
            (Some(at.as_millisecond()), Some(Verdict::word(how.verdict).to_owned()), how.causes.clone())
        }
    };
    Summary {
        opened_at: job.opened_at().as_millisecond(),
        changed_at: job.changed_at().as_millisecond(),
        closed_at,
        verdict,
        codes: job.codes().join(" "),
        causes: causes.join(" "),
        repairs: repairs(job).join(" "),
        car: job.car.short(),
        reference: job.reference.clone(),
        minutes: job.minutes,
        cost: job.cost,
        events: i64::try_from(job.log.len()).unwrap_or(i64::MAX),
        words: format!("{} {}", job.car.short(), job.reference.as_deref().unwrap_or_default()).to_lowercase(),
    }
}

fn repairs(job: &Job) -> Vec<&str> {
    job.visits.iter().flat_map(|v| &v.spans).filter_map(|s| s.repair.as_ref()).map(|(_, r)| r.as_str()).collect()
}

/// Writes the line of a job and the words it is found by.
pub(super) fn write(tx: &Tx<'_>, job: &Job) -> Result<(), StoreError> {
    write_on(tx.sql(), job).map_err(|e| tx.failed(e))
}

fn write_on(connection: &Connection, job: &Job) -> rusqlite::Result<()> {
    let s = of(job);
    connection
        .prepare_cached(
            "INSERT OR REPLACE INTO summary(job, opened_at, changed_at, closed_at, verdict, codes, causes, repairs, car,
             reference, minutes, cost, events, words) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)",
        )?
        .execute(params![
            job.number, s.opened_at, s.changed_at, s.closed_at, s.verdict, s.codes, s.causes, s.repairs, s.car,
            s.reference, s.minutes, s.cost, s.events, s.words
        ])?;
    connection.prepare_cached("DELETE FROM summary_word WHERE job = ?1")?.execute([job.number])?;
    let mut insert = connection
        .prepare_cached("INSERT OR IGNORE INTO summary_word(kind, word, opened_at, job) VALUES (?1, ?2, ?3, ?4)")?;
    for (kind, word, opened_at) in s.found_by() {
        insert.execute(params![kind, word, opened_at, job.number])?;
    }
    Ok(())
}

impl Summary {
    /// Kind, word and time by which the job is found, in order and once each.
    pub(super) fn found_by(&self) -> BTreeSet<(String, String, i64)> {
        let kinds = [("code", &self.codes), ("cause", &self.causes), ("repair", &self.repairs)];
        let each = |(kind, list): (&str, &String)| -> Vec<_> {
            let words = list.split(' ').filter(|w| !w.is_empty());
            words.map(|w| (kind.to_owned(), w.to_owned(), self.opened_at)).collect()
        };
        kinds.into_iter().flat_map(each).collect()
    }
}

/// What is stored of it.
pub(super) fn words(connection: &Connection, job: i64) -> rusqlite::Result<BTreeSet<(String, String, i64)>> {
    connection
        .prepare_cached("SELECT kind, word, opened_at FROM summary_word WHERE job = ?1")?
        .query_map([job], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))?
        .collect()
}

/// Computes the line of every job again.
pub(super) fn write_all(tx: &Tx<'_>) -> Result<(), StoreError> {
    let mut numbers = tx.sql().prepare("SELECT number FROM job ORDER BY number").map_err(|e| tx.failed(e))?;
    let numbers: rusqlite::Result<Vec<i64>> = numbers.query_map([], |r| r.get(0)).and_then(Iterator::collect);
    for number in numbers.map_err(|e| tx.failed(e))? {
        write(tx, &load(tx.sql(), tx.path, number)?)?;
    }
    Ok(())
}

/// Reads the stored line of a job.
pub(super) fn read(connection: &Connection, job: i64) -> rusqlite::Result<Option<Summary>> {
    connection
        .prepare_cached(
            "SELECT opened_at, changed_at, closed_at, verdict, codes, causes, repairs, car, reference, minutes, cost, events, words
             FROM summary WHERE job = ?1",
        )?
        .query_row([job], |r| {
            Ok(Summary {
                opened_at: r.get(0)?,
                changed_at: r.get(1)?,
                closed_at: r.get(2)?,
                verdict: r.get(3)?,
                codes: r.get(4)?,
                causes: r.get(5)?,
                repairs: r.get(6)?,
                car: r.get(7)?,
                reference: r.get(8)?,
                minutes: r.get(9)?,
                cost: r.get(10)?,
                events: r.get(11)?,
                words: r.get(12)?,
            })
        })
        .optional()
}

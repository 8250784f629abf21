//! Writing one event: the event, the summary of its job and the current job change together or not at all.

use super::super::error::StoreError;
use super::super::event::{Event, Noted, Opened, Retracted};
use super::super::found::Spent;
use super::super::job::Job;
use super::super::refused::Refused;
use super::{Store, Tx, digest, load, summary};
use jiff::Timestamp;
use rusqlite::params;

/// A job before and after an event.
#[derive(Clone, Debug, PartialEq)]
pub struct Changed {
    /// Before.
    pub before: Job,
    /// After.
    pub after: Job,
    /// Number of the event.
    pub event: u32,
}

impl Store {
    /// Opens a job and makes it the current one. The caller brings a `uid` that no other job has, and the time.
    ///
    /// # Errors
    /// A number that cannot be stored, or the store cannot be written.
    pub fn open_job(&mut self, uid: &str, at: Timestamp, opened: Opened) -> Result<Job, StoreError> {
        let event = Event::Opened(opened).tidy().map_err(Refused::from)?;
        let at = whole_milliseconds(at);
        self.write(|tx| {
            let number = new_job(tx, uid)?;
            add_event(tx, number, 1, at, &event)?;
            let Event::Opened(opened) = event else { return Err(Refused::NotOpening.into()) };
            let job = Job::opened(number, uid, at, opened);
            summary::write(tx, &job)?;
            set_current(tx, number)?;
            Ok(job)
        })
    }

    /// Adds the event that `decide` chooses after looking at the job, which no other program can change meanwhile.
    ///
    /// # Errors
    /// No such job, an event that does not fit, what `decide` says, or the store cannot be written.
    pub fn change(
        &mut self,
        number: i64,
        at: Timestamp,
        decide: impl FnOnce(&Job) -> Result<Event, StoreError>,
    ) -> Result<Changed, StoreError> {
        let at = whole_milliseconds(at);
        self.write(|tx| {
            let before = load(tx.sql(), tx.path, number)?;
            let event = decide(&before)?;
            append(tx, before, at, event)
        })
    }

    /// Adds an event.
    ///
    /// # Errors
    /// As [`Self::change`].
    pub fn add(&mut self, number: i64, at: Timestamp, event: Event) -> Result<Changed, StoreError> {
        self.change(number, at, |_| Ok(event))
    }

    /// Moves one thing that an event of a job says (a code, a symptom, a reading, a check, a look) to another job: it is
    /// retracted in the one and found in the other, or neither.
    ///
    /// # Errors
    /// No such job, nothing that says it, a closed job, or the store cannot be written.
    pub fn move_word(
        &mut self,
        from: i64,
        to: i64,
        at: Timestamp,
        what: &str,
    ) -> Result<(Changed, Changed), StoreError> {
        let at = whole_milliseconds(at);
        self.write(|tx| {
            let before = load(tx.sql(), tx.path, from)?;
            let holds = |e: &&super::super::job::Entry| {
                e.holds
                    && e.event.found().is_some_and(|f| f.says(what))
                    && !before.is_retracted(e.number, None)
                    && !before.is_retracted(e.number, Some(what))
            };
            let missing = Refused::NotSaid { event: 0, what: what.to_owned() };
            let entry = before.log.iter().rev().find(holds).ok_or(missing)?;
            let found = entry.event.found().map(|f| f.only(what)).unwrap_or_default();
            let why = Some(format!("moved to job {to}"));
            let retracted = Event::Retracted(Retracted { event: entry.number, what: Some(what.to_owned()), why });
            let left = append(tx, before, at, retracted)?;
            let text = format!("{what} moved here from job {from}");
            let arrived = append(tx, load(tx.sql(), tx.path, to)?, at, Event::Found(found))?;
            let noted = Noted { text, about: None, spent: Spent::default() };
            let told = append(tx, arrived.after, at, Event::Noted(noted))?;
            Ok((left, Changed { before: arrived.before, after: told.after, event: arrived.event }))
        })
    }

    /// Makes a job the current one.
    ///
    /// # Errors
    /// No such job, or the store cannot be written.
    pub fn set_current(&mut self, number: i64) -> Result<(), StoreError> {
        self.write(|tx| {
            let known: i64 = tx
                .sql()
                .query_row("SELECT COUNT(*) FROM job WHERE number = ?1", [number], |r| r.get(0))
                .map_err(|e| tx.failed(e))?;
            if known == 0 { Err(StoreError::NoJob { number }) } else { set_current(tx, number) }
        })
    }
}

/// Adds an event to a job that was read in the same transaction.
fn append(tx: &Tx<'_>, before: Job, at: Timestamp, event: Event) -> Result<Changed, StoreError> {
    let event = event.tidy().map_err(Refused::from)?;
    let mut after = before.clone();
    let n = after.push(at, event.clone())?;
    add_event(tx, before.number, n, at, &event)?;
    summary::write(tx, &after)?;
    Ok(Changed { before, after, event: n })
}

/// Times are kept to the millisecond, and what comes back from a call is what a later reading will give.
fn whole_milliseconds(at: Timestamp) -> Timestamp {
    Timestamp::from_millisecond(at.as_millisecond()).unwrap_or(at)
}

pub(super) fn new_job(tx: &Tx<'_>, uid: &str) -> Result<i64, StoreError> {
    tx.sql()
        .prepare_cached("INSERT INTO job(uid) VALUES (?1)")
        .and_then(|mut s| s.insert([uid]))
        .map_err(|e| tx.failed(e))
}

pub(super) fn add_event(tx: &Tx<'_>, job: i64, number: u32, at: Timestamp, event: &Event) -> Result<(), StoreError> {
    let text =
        serde_json::to_string(event).map_err(|e| StoreError::Stream { what: "writing an event", source: e.into() })?;
    let at = at.as_millisecond();
    digest::next(tx.sql(), job, number.into(), at, &text)
        .and_then(|digest| {
            tx.sql()
                .prepare_cached("INSERT INTO event(job, number, at, event, digest) VALUES (?1, ?2, ?3, ?4, ?5)")?
                .execute(params![job, number, at, text, digest])
        })
        .map_err(|e| tx.failed(e))?;
    Ok(())
}

fn set_current(tx: &Tx<'_>, number: i64) -> Result<(), StoreError> {
    digest::write_setting(tx.sql(), "current", &number.to_string()).map_err(|e| tx.failed(e))
}

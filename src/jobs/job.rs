//! A job: what its events add up to. The events are the record, everything else here is computed from them.

use super::car::{Car, Freeze};
use super::event::{Closed, Event, Opened};
use super::found::{Looked, Passed, Reported};
use super::refused::Refused;
use super::terms::Terms;
use jiff::Timestamp;
use std::collections::BTreeSet;

/// An event in its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Its number on the job, from 1 without gaps.
    pub number: u32,
    /// When it was stored, to the millisecond.
    pub at: Timestamp,
    /// What happened.
    pub event: Event,
    /// Whether it was not undone.
    pub holds: bool,
}

/// Whether work goes on.
#[derive(Clone, Debug, PartialEq)]
pub enum Status {
    /// It does.
    Open,
    /// It ended.
    Closed {
        /// When.
        at: Timestamp,
        /// How.
        how: Closed,
    },
}

/// One outcome with the event that told it.
#[derive(Clone, Debug, PartialEq)]
pub struct Showed {
    /// Event number.
    pub event: u32,
    /// `test:reading`.
    pub reading: String,
    /// As the user gave it.
    pub outcome: String,
}

/// What was seen between two repairs of one visit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Span {
    /// Codes, with the event that told them first.
    pub codes: Vec<(u32, String)>,
    /// Whether the absence of other codes counts.
    pub codes_complete: bool,
    /// Symptoms noticed.
    pub symptoms: Vec<String>,
    /// Symptoms looked for and absent.
    pub no_symptoms: Vec<String>,
    /// The last outcome of every reading, in the order in which they were first taken.
    pub results: Vec<Showed>,
    /// Checks of the engine computer that have run to their end and stored nothing.
    pub passed: Vec<Passed>,
    /// Checks that have not run.
    pub not_run: Vec<String>,
    /// What the car reported of its checks beside codes, the last of each.
    pub reported: Vec<Reported>,
    /// Suspects that were looked at, the last look at each.
    pub looks: Vec<Looked>,
    /// The repair that ended it, with its event; none for the present.
    pub repair: Option<(u32, String)>,
}

/// One stay of the car.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Visit {
    /// Repairs made before it.
    pub already: Vec<String>,
    /// What was seen, cut by repairs; at least one, the present last.
    pub spans: Vec<Span>,
}

/// A job, computed from its events.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// Number in this store.
    pub number: i64,
    /// The same in every store.
    pub uid: String,
    /// Everything that happened, undone events included.
    pub log: Vec<Entry>,
    /// The car as it is now known.
    pub car: Car,
    /// The shop's reference.
    pub reference: Option<String>,
    /// What others tried, in words.
    pub tried: Option<String>,
    /// Freeze frame.
    pub freeze: Freeze,
    /// Stays of the car, the present last; at least one.
    pub visits: Vec<Visit>,
    /// Whether work goes on.
    pub status: Status,
    /// Minutes told so far.
    pub minutes: f64,
    /// Money told so far.
    pub cost: f64,
    /// Tools, limit, files, and what was skipped.
    pub terms: Terms,
    pub(super) retracted: BTreeSet<(u32, Option<String>)>,
}

impl Span {
    /// Whether nothing was seen in it.
    #[must_use]
    pub fn says_nothing(&self) -> bool {
        *self == Self { repair: self.repair.clone(), ..Self::default() }
    }
}

impl Job {
    /// A job that was just opened.
    #[must_use]
    pub fn opened(number: i64, uid: &str, at: Timestamp, opened: Opened) -> Self {
        let log = vec![Entry { number: 1, at, event: Event::Opened(opened), holds: true }];
        let mut job = Self::blank(number, uid, log);
        job.refold();
        job
    }

    /// Builds a job from its stored events, in order.
    ///
    /// # Errors
    /// The number of the first event that does not fit, and why.
    pub fn fold(number: i64, uid: &str, events: Vec<(Timestamp, Event)>) -> Result<Self, (u32, Refused)> {
        let mut events = events.into_iter();
        let Some((at, Event::Opened(opened))) = events.next() else { return Err((1, Refused::NotOpening)) };
        let mut job = Self::opened(number, uid, at, opened);
        for (at, event) in events {
            let next = job.next_number();
            job.push(at, event).map_err(|e| (next, e))?;
        }
        Ok(job)
    }

    /// Adds an event if it fits.
    ///
    /// # Errors
    /// [`Refused`] says why it does not; the job is then unchanged.
    pub fn push(&mut self, at: Timestamp, event: Event) -> Result<u32, Refused> {
        self.accepts(&event)?;
        let number = self.next_number();
        // Taking something back changes what came before it, so all is computed again; anything else only adds.
        let again = matches!(event, Event::Undone(_) | Event::Retracted(_));
        if let Event::Undone(u) = &event
            && let Some(entry) = self.log.iter_mut().find(|e| e.number == u.event)
        {
            entry.holds = false;
        }
        self.log.push(Entry { number, at, event, holds: true });
        if again {
            self.refold();
        } else if let Some(entry) = self.log.last().cloned() {
            self.take(&entry);
        }
        Ok(number)
    }

    /// Number of the next event.
    #[must_use]
    pub fn next_number(&self) -> u32 {
        self.log.last().map_or(1, |e| e.number + 1)
    }

    /// When it was opened.
    #[must_use]
    pub fn opened_at(&self) -> Timestamp {
        self.log.first().map(|e| e.at).unwrap_or_default()
    }

    /// When something happened on it last.
    #[must_use]
    pub fn changed_at(&self) -> Timestamp {
        self.log.last().map(|e| e.at).unwrap_or_default()
    }

    /// The present stay.
    #[must_use]
    pub fn visit(&self) -> &Visit {
        // There is always one: `refold` begins with it.
        &self.visits[self.visits.len() - 1]
    }

    /// What was seen since the last repair.
    #[must_use]
    pub fn present(&self) -> &Span {
        let spans = &self.visit().spans;
        &spans[spans.len() - 1]
    }

    /// All codes of all stays, in the order in which they were first read, none twice.
    #[must_use]
    pub fn codes(&self) -> Vec<&str> {
        let mut codes: Vec<&str> = Vec::new();
        for (_, code) in self.visits.iter().flat_map(|v| &v.spans).flat_map(|s| &s.codes) {
            if !codes.contains(&code.as_str()) {
                codes.push(code);
            }
        }
        codes
    }

    /// Whether the event, or one thing in it, was retracted.
    #[must_use]
    pub fn is_retracted(&self, event: u32, what: Option<&str>) -> bool {
        self.retracted.contains(&(event, what.map(str::to_owned)))
    }

    /// The job as it stood after that event, as far as its events still hold.
    #[must_use]
    pub fn upto(&self, event: u32) -> Self {
        let log = self.log.iter().filter(|e| e.number <= event).cloned().collect();
        let mut job = Self::blank(self.number, &self.uid, log);
        job.refold();
        job
    }
}

#[cfg(test)]
mod tests {
    use super::super::event::{Noted, Reopened, Repaired, Retracted, Undone, Verdict};
    use super::super::found::{Found, Spent, Taken};
    use super::*;

    fn at(second: i64) -> Timestamp {
        Timestamp::from_second(1_700_000_000 + second).unwrap()
    }

    fn codes(list: &[&str]) -> Found {
        Found { codes: list.iter().map(|c| (*c).to_owned()).collect(), codes_complete: true, ..Found::default() }
    }

    fn outcome(reading: &str, outcome: &str) -> Event {
        let results = vec![Taken { reading: reading.into(), outcome: outcome.into() }];
        Event::Found(Found { results, ..Found::default() })
    }

    fn repair(id: &str) -> Event {
        Event::Repaired(Repaired {
            repair: id.into(),
            note: None,
            with: None,
            spent: Spent { minutes: Some(5.0), cost: Some(20.0) },
        })
    }

    fn job() -> Job {
        Job::opened(
            7,
            "u",
            at(0),
            Opened { found: codes(&["P0455"]), already: vec!["a/b".into()], ..Opened::default() },
        )
    }

    #[test]
    fn a_repair_divides_what_was_seen() {
        let mut j = job();
        j.push(at(1), outcome("t:r", "fail")).unwrap();
        j.push(at(2), repair("filler-cap/reseat")).unwrap();
        j.push(at(3), outcome("t:r", "pass")).unwrap();
        let spans = &j.visit().spans;
        assert_eq!(spans.len(), 2);
        assert_eq!(spans[0].results[0].outcome, "fail");
        assert_eq!(spans[0].repair, Some((3, "filler-cap/reseat".into())));
        assert_eq!(spans[1].results[0].outcome, "pass");
        assert!((j.minutes - 5.0).abs() < 1e-12 && (j.cost - 20.0).abs() < 1e-12);
    }

    #[test]
    fn within_a_span_the_later_outcome_replaces_the_earlier_and_retracting_it_brings_the_earlier_back() {
        let mut j = job();
        j.push(at(1), outcome("t:r", "fail")).unwrap();
        j.push(at(2), outcome("t:r", "pass")).unwrap();
        assert_eq!(j.present().results, [Showed { event: 3, reading: "t:r".into(), outcome: "pass".into() }]);
        let gone = Retracted { event: 3, what: Some("t:r".into()), why: None };
        j.push(at(3), Event::Retracted(gone.clone())).unwrap();
        assert_eq!(j.present().results[0].outcome, "fail");
        assert!(matches!(j.accepts(&Event::Retracted(gone)), Err(Refused::NotSaid { .. })));
        j.push(at(4), Event::Undone(Undone { event: 4 })).unwrap();
        assert_eq!(j.present().results[0].outcome, "pass");
    }

    #[test]
    fn undo_goes_back_step_by_step_and_never_past_the_opening() {
        let mut j = job();
        let before = j.clone();
        j.push(at(1), outcome("t:r", "fail")).unwrap();
        j.push(at(2), repair("filler-cap/reseat")).unwrap();
        assert_eq!(j.accepts(&Event::Undone(Undone { event: 2 })), Err(Refused::NotLast { number: 7, event: 2 }));
        for event in [3, 2] {
            assert_eq!(j.last_undoable(), Some(event));
            j.push(at(3), Event::Undone(Undone { event })).unwrap();
        }
        assert_eq!(j.last_undoable(), None);
        assert_eq!((&j.visits, &j.status, j.minutes), (&before.visits, &before.status, before.minutes));
        assert_eq!(j.log.len(), 5, "nothing is ever taken out of the log");
    }

    #[test]
    fn a_closed_job_takes_words_but_no_findings_and_a_comeback_begins_a_new_visit() {
        let mut j = job();
        j.push(at(1), repair("filler-cap/reseat")).unwrap();
        let how = Closed {
            verdict: Verdict::Confirmed,
            causes: vec!["filler-cap/loose".into()],
            how: None,
            spent: Spent::default(),
        };
        j.push(at(2), Event::Closed(how)).unwrap();
        assert_eq!(j.accepts(&outcome("t:r", "pass")), Err(Refused::Closed { number: 7 }));
        j.push(at(3), Event::Noted(Noted { text: "called back".into(), about: None, spent: Spent::default() }))
            .unwrap();
        let back = Reopened { comeback: true, why: None, found: codes(&["P0442"]) };
        j.push(at(4), Event::Reopened(back)).unwrap();
        assert_eq!(j.status, Status::Open);
        assert_eq!(j.visit().already, ["a/b", "filler-cap/reseat"]);
        assert_eq!(j.present().codes, [(5, "P0442".to_owned())]);
        assert_eq!(j.codes(), ["P0455", "P0442"]);
        j.push(at(5), Event::Undone(Undone { event: 5 })).unwrap();
        assert!(matches!(j.status, Status::Closed { .. }));
    }

    #[test]
    fn folding_the_log_gives_the_same_job_as_living_through_it() {
        let mut j = job();
        j.push(at(1), outcome("t:r", "fail")).unwrap();
        j.push(at(2), repair("x/y")).unwrap();
        j.push(at(3), Event::Retracted(Retracted { event: 2, what: None, why: None })).unwrap();
        j.push(at(4), Event::Undone(Undone { event: 4 })).unwrap();
        let events = j.log.iter().map(|e| (e.at, e.event.clone())).collect();
        assert_eq!(Job::fold(7, "u", events).unwrap(), j);
    }
}

//! Which event may follow on a job. Everything that is stored has passed here; loading and import pass here again.

use super::event::{BadNumber, Event};
use super::job::{Job, Status};

/// Why an event does not fit onto a job.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Refused {
    /// The first event must open the job, and only the first.
    #[error("a job is opened once, by its first event")]
    NotOpening,
    /// The job is closed.
    #[error("job {number} is closed; reopen it first")]
    Closed {
        /// Job number.
        number: i64,
    },
    /// The job is open already.
    #[error("job {number} is open")]
    Open {
        /// Job number.
        number: i64,
    },
    /// No such event, or it was taken back.
    #[error("job {number} has no event {event} that still holds")]
    NoEvent {
        /// Job number.
        number: i64,
        /// Event number.
        event: u32,
    },
    /// The event says no such thing, or it was retracted already.
    #[error("{}", not_said(*event, what))]
    NotSaid {
        /// Event number.
        event: u32,
        /// What was to be retracted.
        what: String,
    },
    /// That kind of event cannot be retracted.
    #[error("event {event} cannot be retracted as a whole; retract one reading, code or symptom of it")]
    NotRetractable {
        /// Event number.
        event: u32,
    },
    /// Nothing was said.
    #[error("there is nothing in it to store")]
    Empty,
    /// Nothing to take back.
    #[error("job {number} has nothing to undo: only its opening is left")]
    NothingToUndo {
        /// Job number.
        number: i64,
    },
    /// Only the last event can be undone.
    #[error("event {event} is not the last one of job {number}; retract it instead")]
    NotLast {
        /// Job number.
        number: i64,
        /// Event number.
        event: u32,
    },
    /// A number that cannot be.
    #[error(transparent)]
    Number(#[from] BadNumber),
}

fn not_said(event: u32, what: &str) -> String {
    match event {
        0 => format!("nothing on the job says `{what}`, or it was retracted already"),
        _ => format!("event {event} does not say `{what}`, or it was retracted already"),
    }
}

impl Job {
    /// Whether the event may come next.
    ///
    /// # Errors
    /// [`Refused`] says why not.
    pub fn accepts(&self, event: &Event) -> Result<(), Refused> {
        let number = self.number;
        let open = || match self.status {
            Status::Open => Ok(()),
            Status::Closed { .. } => Err(Refused::Closed { number }),
        };
        match event {
            Event::Opened(_) => Err(Refused::NotOpening),
            Event::Found(f) | Event::Retested(f) => {
                open()?;
                if f.is_empty() && f.spent.is_empty() { Err(Refused::Empty) } else { Ok(()) }
            }
            Event::Repaired(_) | Event::Closed(_) | Event::Skipped(_) => open(),
            Event::Arranged(a) if *a == super::terms::Arranged::default() => Err(Refused::Empty),
            Event::Arranged(_) => open(),
            Event::Noted(n) if n.text.is_empty() && n.spent.is_empty() => Err(Refused::Empty),
            Event::Noted(_) => Ok(()),
            Event::Amended(a) if *a == super::event::Amended::default() => Err(Refused::Empty),
            Event::Amended(_) => Ok(()),
            Event::Retracted(r) => {
                open()?;
                self.may_retract(r.event, r.what.as_deref())
            }
            Event::Reopened(_) if self.status == Status::Open => Err(Refused::Open { number }),
            Event::Reopened(_) => Ok(()),
            Event::Undone(u) => match self.last_undoable() {
                None => Err(Refused::NothingToUndo { number }),
                Some(last) if last == u.event => Ok(()),
                Some(_) => Err(Refused::NotLast { number, event: u.event }),
            },
        }
    }

    fn may_retract(&self, event: u32, what: Option<&str>) -> Result<(), Refused> {
        let missing = Refused::NoEvent { number: self.number, event };
        let entry = self.log.iter().find(|e| e.number == event && e.holds).ok_or(missing)?;
        let Some(what) = what else {
            return match entry.event {
                Event::Found(_) | Event::Retested(_) | Event::Repaired(_) if !self.is_retracted(event, None) => Ok(()),
                Event::Found(_) | Event::Retested(_) | Event::Repaired(_) => {
                    Err(Refused::NotSaid { event, what: "anything".to_owned() })
                }
                _ => Err(Refused::NotRetractable { event }),
            };
        };
        let says = entry.event.found().is_some_and(|f| f.says(what));
        if says && !self.is_retracted(event, None) && !self.is_retracted(event, Some(what)) {
            Ok(())
        } else {
            Err(Refused::NotSaid { event, what: what.to_owned() })
        }
    }

    /// Number of the last event that `undo` would take back: an undone one and the undoing itself do not count.
    #[must_use]
    pub fn last_undoable(&self) -> Option<u32> {
        let last = self.log.iter().rev().find(|e| e.holds && !matches!(e.event, Event::Undone(_)))?;
        (!matches!(last.event, Event::Opened(_))).then_some(last.number)
    }
}

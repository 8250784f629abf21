//! Why an event does not fit onto a job.

use super::event::BadNumber;

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

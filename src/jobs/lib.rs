//! Jobs: what happened on a car from its first code to the proof of its repair, kept so that nothing is lost, and what
//! that says about the car. Knows files through [`store`] only; takes the time and ids from its caller.

mod car;
mod change;
mod error;
mod event;
mod fold;
mod found;
mod history;
mod job;
mod place;
pub mod plain_json;
mod proof;
mod refused;
mod rules;
mod standing;
pub mod store;
mod terms;

pub use car::{Car, Freeze, FreezeError, parse_freeze};
pub use change::{Change, Move, Why};
pub use error::StoreError;
pub use event::{Amended, BadNumber, Closed, Event, Noted, Opened, Reopened, Repaired, Retracted, Undone, Verdict};
pub use found::{Found, LookOutcome, Looked, Passed, Reported, Spent, Taken};
pub use history::Known;
pub use job::{Entry, Job, Showed, Span, Status, Visit};
pub use place::place;
pub use proof::{CodeProof, ProofTest, checks_passed, code_proofs, made_by_the_way, not_cured, proof_tests, proved};
pub use refused::Refused;
pub use standing::{JobError, LIKELY_FIXED, Standing};
pub use store::{Access, Store};
pub use terms::{Arranged, Skipped, Terms};

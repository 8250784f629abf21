//! What to do next, and after that: tests, repairs and handing on, weighed against each other by expected total cost.
//!
//! Answers for steps, plans, bounds, cost distributions and simulated jobs. Knows no file, clock or terminal, and
//! does not compute posteriors: its state of knowledge is a weighted list of worlds from `inference`.
//!
//! **What ends a job.** The complaint is what the stored codes of the last reading say (without codes, the symptoms).
//! A world is a set of suspects that are present, and among them those that *keep the complaint up*: each suspect
//! alone would have reached some level of the monitor or not (noisy-MAX), and those that did must go. A repair is
//! followed by a re-test, which is taken to tell for certain whether the complaint is gone. The job ends when it is
//! gone, or when the vehicle is handed on at a stated cost. Causes that are not listed cannot be repaired here; only
//! handing on ends those jobs.
//!
//! **What could be false in this.** The readings of one test are independent given the suspects; a test repeated
//! after a repair errs independently of the first time; a re-test on the spot is as good as the trip that follows.

mod bound;
mod branch;
mod candidates;
pub mod cases;
mod draft;
mod effort;
mod equals;
mod exact;
mod followed;
mod grounds;
mod offers;
mod pose;
mod preference;
mod problem;
mod question;
mod quote;
pub mod random;
mod relevance;
mod repairs_only;
pub mod rivals;
mod rollout;
mod search;
mod shop;
pub mod simulate;
mod split;
mod state;
mod step;
mod tally;
#[cfg(test)]
mod tests;
mod tree;
mod universe;
mod walk;

pub use bound::lower_bound;
pub use candidates::{Scored, score};
pub use effort::Effort;
pub use equals::EQUAL;
pub use exact::exact;
pub use followed::{KnownFault, followed};
pub use pose::{PlanError, Posed, pose, pose_believing};
pub use problem::{Backing, Problem, RepairStep, Return, TestStep};
pub use question::Question;
pub use quote::{Quote, Spread, quote};
pub use rollout::{Steps, best_step, next_steps};
pub use shop::{Aim, Shop, Spend};
pub use split::Complaint;
pub use state::State;
pub use step::Step;
pub use tree::{Branch, Detail, Ending, Node, Plan, Shows, grow, plan, with_steps};
pub use universe::{Truth, Universe};

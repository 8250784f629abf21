//! Exact inference on a [`Network`]: what is the probability of every suspect, given everything observed so far?
//!
//! Answers for posteriors, explanations, predictions, weights and intervals. Does not know where numbers come
//! from, what an action costs, or how a result is shown.

mod alone;
mod causes;
mod conflict;
mod error;
mod explain;
mod folded;
pub mod gamma;
mod given;
mod grouping;
mod inside;
mod intervals;
mod kernels;
mod lanes;
mod layout;
mod lives;
mod mask;
mod numbers;
mod order;
mod part;
mod plan;
mod pool;
mod predict;
mod prepared;
mod related;
pub(crate) mod rng;
mod sample;
mod scaled;
mod search_worlds;
mod sweep;
#[cfg(test)]
mod tests;
mod weigh;
mod worlds;

pub use error::InferenceError;
pub use explain::{Explanation, Explanations, explain};
pub use given::prevalence;
pub use inside::inside;
pub use intervals::{Intervals, intervals};
pub use predict::{predict, predict_all};
pub use prepared::Prepared;
pub use related::{Raised, Related, related};
pub use rng::Rng;
pub use search_worlds::worlds;
pub use weigh::{Weights, weigh};
pub use worlds::{Scope, When, World, Worlds};

use network::Network;

/// What was seen of one finding in one epoch, as the likelihood of the data at each level.
#[derive(Clone, Debug, PartialEq)]
pub struct Observation {
    /// Index into [`Network::findings`].
    pub finding: usize,
    /// Number of repairs made before the finding was read.
    pub epoch: usize,
    /// P(data | level) up to a common factor, one number per level, non-negative, not all zero.
    pub likelihood: Vec<f64>,
}

impl Observation {
    /// The finding was seen to be at exactly this level. A level outside `0..n_levels` gives an all-zero
    /// likelihood, which [`posterior`] refuses as [`InferenceError::BadLikelihood`].
    pub fn hard(finding: usize, epoch: usize, level: usize, n_levels: usize) -> Self {
        let likelihood = (0..n_levels).map(|l| f64::from(u8::from(l == level))).collect();
        Self { finding, epoch, likelihood }
    }

    /// The data speak for each level with the given likelihood, for example a measured number with its density
    /// at each level.
    pub fn soft(finding: usize, epoch: usize, likelihood: Vec<f64>) -> Self {
        Self { finding, epoch, likelihood }
    }
}

/// One repair. Repair number `k` ends epoch `k`.
#[derive(Clone, Debug, PartialEq)]
pub struct RepairEvent {
    /// The suspects this repair removes, if present.
    pub suspects: Vec<usize>,
    /// Probability that a listed suspect which was present stays present, for each of them independently.
    pub fails: f64,
    /// Whether it was made so long before what followed that causes which act only later have acted since.
    pub long_ago: bool,
}

impl RepairEvent {
    /// A repair of this job.
    #[must_use]
    pub fn new(suspects: Vec<usize>, fails: f64) -> Self {
        Self { suspects, fails, long_ago: false }
    }
}

/// Everything observed and done on one vehicle, over epochs `0..=repairs.len()`; "now" is the last epoch.
///
/// The same finding read twice in one epoch: the later entry replaces the earlier one. Read again after a
/// repair, it is new evidence.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Evidence {
    /// Readings, codes and symptoms, in the order in which they were taken.
    pub observations: Vec<Observation>,
    /// Repairs, in the order in which they were made.
    pub repairs: Vec<RepairEvent>,
}

/// The exact posterior.
#[derive(Clone, Debug, PartialEq)]
pub struct Posterior {
    /// Natural logarithm of P(evidence); likelihoods enter as they were given.
    pub ln_evidence: f64,
    /// P(suspect is present in the last epoch | evidence), one number per suspect.
    pub now: Vec<f64>,
    /// P(suspect was present in epoch 0 | evidence), one number per suspect.
    pub at_start: Vec<f64>,
    /// P(grade | suspect present in the last epoch, evidence), for each grade of each suspect; empty where it has none.
    pub grades: Vec<Vec<f64>>,
    /// Number of cells of the widest table that was needed; 1 if none was.
    pub frontier: usize,
}

/// Computes the exact posterior.
///
/// Findings at their lowest level fold into the priors; the others go through a table over the groups of levels
/// reached so far, to which the suspects are added one by one (noisy-MAX: Henrion 1989; Díez 1993). All terms
/// are non-negative, so nothing cancels.
pub fn posterior(network: &Network, evidence: &Evidence) -> Result<Posterior, InferenceError> {
    Prepared::new(network, evidence)?.posterior()
}

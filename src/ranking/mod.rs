//! The answer to `rank`: suspects in order, how sure, why, and the first checks worth doing. Numbers only; how they
//! are shown is a matter of screens.

mod checks;

pub use checks::{Check, first_checks};

use crate::evidence::{Told, is_not_listed};
use crate::inference::{Explanation, InferenceError, Prepared, Weights, When};
use crate::network::Network;

/// Draws behind the intervals. The ends of a 90 % interval stand on five draws each, which is coarse; with 200 draws the
/// whole of `rank` took 16 to 18 ms more than an empty program on two cores, over its target of 15.
pub const DRAWS: usize = 100;
/// The seed of the draws: the same question gives the same answer.
pub const SEED: u64 = 0x0455;
/// The level of the intervals.
pub const INTERVAL: f64 = 0.90;
/// From this on findings are said to go together rarely: half as often as if they had nothing to do with each other.
const RARE_TOGETHER: f64 = std::f64::consts::LN_2;

/// One suspect's standing.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// Index into the network.
    pub suspect: usize,
    /// P(present now | evidence).
    pub probability: f64,
    /// Lower end of the interval from parameter uncertainty.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Findings that rarely go together.
#[derive(Clone, Debug, PartialEq)]
pub struct Conflict {
    /// How many times rarer together than if unrelated.
    pub times_rarer: f64,
    /// The observation whose removal lowers it most, as an index into the evidence.
    pub check_again: Option<usize>,
}

/// The answer.
#[derive(Clone, Debug)]
pub struct Ranking {
    /// All suspects of the network, most probable first, ties by id.
    pub standings: Vec<Standing>,
    /// ln P(evidence).
    pub ln_evidence: f64,
    /// P(at least one cause not listed here is present | evidence), at most their sum; counting those only that the
    /// evidence raises, where it raises any suspect.
    pub not_listed: f64,
    /// Weight of every observation on every suspect, when asked for.
    pub weights: Option<Weights>,
    /// Findings that rarely go together.
    pub conflict: Option<Conflict>,
    /// The most probable sets of suspects.
    pub explanations: Vec<Explanation>,
    /// Share of the draws in which the first suspect stays first.
    pub leader_stays: f64,
    /// P(level) of every finding if it were read now.
    pub predictions: Vec<Vec<f64>>,
}

/// Ranks the suspects.
///
/// # Errors
/// Evidence that is impossible or too entangled.
pub fn rank(network: &Network, told: &Told) -> Result<Ranking, InferenceError> {
    let mut prepared = Prepared::new(network, &told.evidence)?;
    let posterior = prepared.posterior()?;
    let intervals = prepared.intervals(DRAWS, SEED, INTERVAL)?;
    let mut standings: Vec<Standing> = (0..network.suspects.len())
        .map(|suspect| Standing {
            suspect,
            probability: posterior.now[suspect],
            // The exact value lies inside by definition of what is shown, also where the draws are skewed.
            low: intervals.low[suspect].min(posterior.now[suspect]),
            high: intervals.high[suspect].max(posterior.now[suspect]),
        })
        .collect();
    standings.sort_by(|a, b| {
        b.probability
            .total_cmp(&a.probability)
            .then_with(|| network.suspects[a.suspect].id.cmp(&network.suspects[b.suspect].id))
    });
    let leader = standings.first().map_or(0, |s| s.suspect);
    let leader_stays = intervals.share(|draw| draw.iter().all(|p| *p <= draw[leader]));
    // Those of monitors that have nothing to do with the evidence stay at their priors and say nothing about this job,
    // unless nothing is raised at all.
    let not_listed_of = |raised: bool| -> f64 {
        standings
            .iter()
            .filter(|s| is_not_listed(&network.suspects[s.suspect].id))
            .filter(|s| !raised || s.probability > network.suspects[s.suspect].prior)
            .map(|s| s.probability)
            .sum()
    };
    let any_raised = standings.iter().any(|s| s.probability > network.suspects[s.suspect].prior);
    let not_listed = not_listed_of(any_raised).min(1.0);
    let weights = prepared.weigh()?;
    let conflict = (weights.ln_conflict > RARE_TOGETHER)
        .then(|| Conflict { times_rarer: weights.ln_conflict.exp(), check_again: weights.most_conflicting });
    let explanations = prepared.explain(When::Now, 3, 6, 0.01)?.list;
    let predictions = prepared.predict_all()?;
    let ln_evidence = posterior.ln_evidence;
    Ok(Ranking {
        standings,
        ln_evidence,
        not_listed,
        weights: Some(weights),
        conflict,
        explanations,
        leader_stays,
        predictions,
    })
}

//! The most probable explanations of the evidence, to be shown to a person. The search is in `search_worlds`.

use super::search_worlds::{Search, search};
use super::worlds::{Scope, When};
use super::{Evidence, InferenceError, Prepared};
use network::Network;

/// A set of suspects that together explain the evidence.
#[derive(Clone, Debug, PartialEq)]
pub struct Explanation {
    /// The relevant suspects present, in increasing order; empty means that the background alone is to blame.
    pub suspects: Vec<usize>,
    /// P(exactly these of the relevant suspects are present | evidence); exact numerator over exact P(evidence).
    pub probability: f64,
}

/// The most probable explanations.
#[derive(Clone, Debug, PartialEq)]
pub struct Explanations {
    /// Most probable first; equal ones by their suspects.
    pub list: Vec<Explanation>,
    /// Sum of the probabilities listed.
    pub covered: f64,
    /// Whether the search ran to its end.
    pub complete: bool,
}

/// Lists the sets of at most `max_size` relevant suspects (3 is a good choice) with probability of at least
/// `min_probability`, at most `max` of them.
///
/// Relevant is a suspect that could have raised an observation of more than one group of levels. All other
/// suspects are summed over. `when` says whether present means at the start or now; see [`When`].
pub fn explain(
    network: &Network,
    evidence: &Evidence,
    when: When,
    max_size: usize,
    max: usize,
    min_probability: f64,
) -> Result<Explanations, InferenceError> {
    Prepared::new(network, evidence)?.explain(when, max_size, max, min_probability)
}

impl Prepared<'_> {
    /// As [`explain`], with the priors in force.
    pub fn explain(
        &mut self,
        when: When,
        max_size: usize,
        max: usize,
        min_probability: f64,
    ) -> Result<Explanations, InferenceError> {
        let search_for = Search { when, scope: Scope::Relevant, max_size, max, min_mass: min_probability };
        let found = search(self, search_for)?;
        let list = found.list.into_iter().map(|w| Explanation { suspects: w.suspects, probability: w.probability });
        let list: Vec<Explanation> = list.collect();
        let covered = list.iter().map(|e| e.probability).sum();
        Ok(Explanations { list, covered, complete: found.complete })
    }
}

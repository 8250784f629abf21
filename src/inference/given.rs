//! What would be so if one suspect were known to be there, and what is so before anything is known. For saying why a victim
//! fell, and how common suspects are that others bring about.

use super::{Evidence, InferenceError, Posterior, Prepared};
use network::Network;

/// P(present), for every suspect, with no evidence at all: its own prior, and what its causes add to it.
///
/// # Errors
/// Suspects that bring each other about in a circle.
pub fn prevalence(network: &Network) -> Result<Vec<f64>, InferenceError> {
    if network.brings.is_empty() {
        return Ok(network.suspects.iter().map(|s| s.prior).collect());
    }
    Ok(Prepared::new(network, &Evidence::default())?.posterior()?.now)
}

impl Prepared<'_> {
    /// The posterior, given that this suspect is present now: its other lives get the weight zero.
    ///
    /// # Errors
    /// A suspect that does not exist or that the evidence rules out.
    pub fn given(&mut self, suspect: usize) -> Result<Posterior, InferenceError> {
        if suspect >= self.network.suspects.len() {
            return Err(InferenceError::UnknownSuspect { suspect });
        }
        let before = self.numbers.clone();
        for v in self.plan.lives.of(suspect).filter(|&v| !self.plan.lives.now(v)) {
            self.numbers.weights[v] = 0.0;
        }
        self.ran = None;
        let answer = self.posterior();
        self.numbers = before;
        self.ran = None;
        answer
    }
}

//! How likely is it that a given set of suspects holds every fault there is? Useful to say what a set of repairs
//! would achieve; costs are not known here.

use super::{Evidence, InferenceError, Prepared};
use network::Network;

/// P(every suspect present now lies inside `set` | evidence). The empty set gives P(no fault is left).
pub fn inside(network: &Network, evidence: &Evidence, set: &[usize]) -> Result<f64, InferenceError> {
    Prepared::new(network, evidence)?.inside(set)
}

impl Prepared<'_> {
    /// As [`inside`], with the priors in force.
    ///
    /// The variants "present to the end" of all suspects outside the set get weight zero; what is left of
    /// P(evidence) is the numerator.
    pub fn inside(&mut self, set: &[usize]) -> Result<f64, InferenceError> {
        let suspects = self.network.suspects.len();
        if let Some(&suspect) = set.iter().find(|&&s| s >= suspects) {
            return Err(InferenceError::UnknownSuspect { suspect });
        }
        let z = self.run()?;
        let before = self.numbers.clone();
        for suspect in (0..suspects).filter(|s| !set.contains(s)) {
            if self.plan.is_free(suspect) {
                let absent = self.not_now(suspect);
                self.numbers.scale.times(absent);
            } else {
                for v in self.plan.lives.of(suspect).filter(|&v| self.plan.lives.now(v)) {
                    self.numbers.weights[v] = 0.0;
                }
            }
        }
        let part = self.evidence_now();
        self.numbers = before;
        Ok(part.over(&z).min(1.0))
    }
}

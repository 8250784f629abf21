//! Which observations cannot go together? Called only when the evidence as a whole is impossible; how unusual
//! possible evidence is, is told by `weigh`.

use super::numbers::Numbers;
use super::plan::Plan;
use super::sweep::{Sweep, Work};
use super::{Evidence, InferenceError};
use network::Network;

/// The error for impossible evidence under these priors, with a conflicting set of findings from which none can be left out.
///
/// Deletion: every observation in turn is left out for good if what remains is still impossible. The set is
/// minimal, not necessarily the smallest there is.
pub(crate) fn conflict(network: &Network, evidence: &Evidence, priors: &[f64]) -> InferenceError {
    let mut evidence = evidence.clone();
    let mut index = 0;
    while index < evidence.observations.len() {
        let observation = evidence.observations.remove(index);
        let still_impossible = Plan::new(network, &evidence).is_ok_and(|plan| {
            let mut numbers = Numbers::from_network(&plan, network);
            numbers.priors.copy_from_slice(priors);
            numbers.weigh(&plan, None);
            Sweep::default().evidence(Work { plan: &plan, layout: &plan.layout, numbers: &numbers }).is_zero()
        });
        if !still_impossible {
            evidence.observations.insert(index, observation);
            index += 1;
        }
    }
    let mut findings: Vec<usize> = evidence.observations.iter().map(|o| o.finding).collect();
    findings.sort_unstable();
    findings.dedup();
    InferenceError::Impossible { findings }
}

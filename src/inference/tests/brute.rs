//! Enumeration of every combination of life variants: the reference for small networks.

use crate::inference::grouping::max_with;
use crate::inference::{Evidence, Observation};
use crate::network::Network;

/// One combination: presence of each suspect in each epoch (`lived[i]` epochs from the start) and its weight,
/// prior times likelihood.
pub(super) struct Case {
    pub lived: Vec<usize>,
    pub weight: f64,
}

/// P(level) of a finding when exactly these suspects are present.
pub(super) fn level_distribution(net: &Network, finding: usize, present: &dyn Fn(usize) -> bool) -> Vec<f64> {
    let f = &net.findings[finding];
    let mut dist = f.leak.clone();
    for link in f.links.iter().filter(|l| present(l.suspect)) {
        max_with(&mut dist, &link.levels);
    }
    dist
}

fn likelihood(net: &Network, o: &Observation, lived: &[usize]) -> f64 {
    let dist = level_distribution(net, o.finding, &|s| lived[s] > o.epoch);
    dist.iter().zip(&o.likelihood).map(|(p, l)| p * l).sum()
}

/// All combinations with their weights.
pub(super) fn cases(net: &Network, ev: &Evidence) -> Vec<Case> {
    let mut all = vec![Case { lived: Vec::new(), weight: 1.0 }];
    for (i, suspect) in net.suspects.iter().enumerate() {
        let mut options = vec![(0, 1.0 - suspect.prior)];
        let mut left = suspect.prior;
        for (k, r) in ev.repairs.iter().enumerate() {
            if r.suspects.contains(&i) {
                options.push((k + 1, left * (1.0 - r.fails)));
                left *= r.fails;
            }
        }
        options.push((ev.repairs.len() + 1, left));
        let mut grown = Vec::new();
        for case in &all {
            for &(epochs, weight) in &options {
                let mut lived = case.lived.clone();
                lived.push(epochs);
                grown.push(Case { lived, weight: case.weight * weight });
            }
        }
        all = grown;
    }
    for case in &mut all {
        for (index, o) in ev.observations.iter().enumerate() {
            let replaced = ev.observations[index + 1..].iter().any(|p| (p.finding, p.epoch) == (o.finding, o.epoch));
            if !replaced {
                case.weight *= likelihood(net, o, &case.lived);
            }
        }
    }
    all
}

/// P(evidence) and P(predicate | evidence).
pub(super) fn probability(cases: &[Case], wanted: impl Fn(&[usize]) -> bool) -> (f64, f64) {
    let z: f64 = cases.iter().map(|c| c.weight).sum();
    let part: f64 = cases.iter().filter(|c| wanted(&c.lived)).map(|c| c.weight).sum();
    (z, part / z)
}

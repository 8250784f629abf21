//! Random networks and evidence for property tests and timing.

use crate::inference::rng::Rng;
use crate::inference::{Evidence, Observation, RepairEvent};
use crate::network::{Finding, FindingKind, Link, Network, Suspect};

fn distribution(rng: &mut Rng, levels: usize) -> Vec<f64> {
    // Every fifth level is impossible, so that hard zeros are met too.
    let mut raw: Vec<f64> = (0..levels).map(|_| if rng.below(5) == 0 { 0.0 } else { rng.unit() }).collect();
    raw[rng.below(levels)] += 0.1;
    let sum: f64 = raw.iter().sum();
    raw.iter().map(|x| x / sum).collect()
}

/// A network in which each suspect touches each finding with the given chance.
pub(crate) fn network(rng: &mut Rng, suspects: usize, findings: usize, density: f64) -> Network {
    let suspects: Vec<Suspect> =
        (0..suspects).map(|i| Suspect::plain(format!("s{i}"), 0.02 + 0.6 * rng.unit(), 20.0)).collect();
    let findings = (0..findings)
        .map(|j| {
            let n = 2 + rng.below(3);
            let touching: Vec<usize> = (0..suspects.len()).filter(|_| rng.unit() < density).collect();
            let links = touching.iter().map(|&suspect| Link::plain(suspect, distribution(rng, n), 10.0));
            Finding {
                id: format!("f{j}"),
                kind: FindingKind::Reading,
                levels: (0..n).map(|l| format!("level {l}")).collect(),
                links: links.collect(),
                leak: distribution(rng, n),
                leak_weight: 30.0,
            }
        })
        .collect();
    Network { suspects, findings, ..Network::default() }
}

/// Evidence on about three quarters of the findings, hard or soft, with up to `repairs` repairs.
pub(crate) fn evidence(rng: &mut Rng, net: &Network, repairs: usize) -> Evidence {
    let mut ev = Evidence::default();
    for _ in 0..rng.below(repairs + 1) {
        let suspects = (0..net.suspects.len()).filter(|_| rng.below(3) == 0).collect();
        ev.repairs.push(RepairEvent { suspects, fails: 0.3 * rng.unit() });
    }
    for epoch in 0..=ev.repairs.len() {
        for (j, f) in net.findings.iter().enumerate() {
            let n = f.levels.len();
            match rng.below(4) {
                0 => {}
                1 => ev.observations.push(Observation::hard(j, epoch, 0, n)),
                2 => ev.observations.push(Observation::hard(j, epoch, rng.below(n), n)),
                _ => {
                    let mut l: Vec<f64> = (0..n).map(|_| f64::from(rng.below(4) as u32) * 0.5).collect();
                    l[rng.below(n)] += 0.7;
                    ev.observations.push(Observation::soft(j, epoch, l));
                }
            }
        }
    }
    ev
}

/// Relative difference that is accepted between the engine and enumeration.
pub(crate) const TOLERANCE: f64 = 1e-12;

/// Checks `|a - b| <= TOLERANCE × max(|a|, |b|)`.
pub(crate) fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= TOLERANCE * a.abs().max(b.abs())
}

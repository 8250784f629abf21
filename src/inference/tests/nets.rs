//! Random networks and evidence for property tests and timing.

use crate::rng::Rng;
use crate::{Evidence, Observation, RepairEvent};
use network::{Bring, Finding, FindingKind, Grade, Link, Network, Suspect};

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

/// A network as [`network`] makes it, in which half of the suspects have two to four grades and some bring others about, in
/// trees and with causes in common.
pub(crate) fn tangled(rng: &mut Rng, suspects: usize, findings: usize, density: f64) -> Network {
    let mut net = network(rng, suspects, findings, density);
    for s in 0..suspects {
        if rng.below(2) == 0 {
            let raw: Vec<f64> = (0..2 + rng.below(3)).map(|_| 0.1 + rng.unit()).collect();
            let sum: f64 = raw.iter().sum();
            let named = |(g, x): (usize, &f64)| Grade { id: format!("grade {g}"), share: x / sum };
            net.suspects[s].grades = raw.iter().enumerate().map(named).collect();
        }
    }
    for f in &mut net.findings {
        for link in &mut f.links {
            let grades = &net.suspects[link.suspect].grades;
            // Some findings do not tell grades apart.
            if !grades.is_empty() && rng.below(4) > 0 {
                link.by_grade = grades.iter().map(|_| distribution(rng, f.levels.len())).collect();
                for (level, p) in link.levels.iter_mut().enumerate() {
                    *p = link.by_grade.iter().zip(grades).map(|(l, g)| l[level] * g.share).sum();
                }
            }
        }
    }
    // A random order of the suspects, along which causes point, so that no circle comes about.
    let mut order: Vec<usize> = (0..suspects).collect();
    (1..suspects).for_each(|i| order.swap(i, rng.below(i + 1)));
    for (place, &victim) in order.iter().enumerate() {
        for &cause in &order[..place] {
            if rng.unit() < 1.2 / suspects as f64 {
                let p = 0.05 + 0.9 * rng.unit();
                net.brings.push(Bring { cause, victim, p, weight: 10.0, later: rng.below(3) == 0 });
            }
        }
    }
    net
}

/// Evidence on about three quarters of the findings, hard or soft, with up to `repairs` repairs.
pub(crate) fn evidence(rng: &mut Rng, net: &Network, repairs: usize) -> Evidence {
    let mut ev = Evidence::default();
    for _ in 0..rng.below(repairs + 1) {
        let suspects = (0..net.suspects.len()).filter(|_| rng.below(3) == 0).collect();
        let repair = RepairEvent::new(suspects, 0.3 * rng.unit());
        ev.repairs.push(RepairEvent { long_ago: rng.below(4) == 0, ..repair });
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

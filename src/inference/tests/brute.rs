//! Enumeration of every combination of life variants: the reference for small networks.

use crate::grouping::max_with;
use crate::{Evidence, Observation};
use network::Network;

/// One combination: the epochs in which each suspect is present, as bits, its grade, and the weight of it all, prior times
/// likelihood.
#[derive(Clone)]
pub(super) struct Case {
    pub lived: Vec<u128>,
    pub grade: Vec<usize>,
    pub weight: f64,
}

/// Whether the suspect is present in the epoch.
pub(super) fn there(lived: &[u128], suspect: usize, epoch: usize) -> bool {
    lived[suspect] >> epoch & 1 == 1
}

/// P(level) of a finding when exactly these suspects are present, each at its grade.
pub(super) fn level_distribution(
    net: &Network,
    finding: usize,
    grade: &[usize],
    present: &dyn Fn(usize) -> bool,
) -> Vec<f64> {
    let f = &net.findings[finding];
    let mut dist = f.leak.clone();
    for link in f.links.iter().filter(|l| present(l.suspect)) {
        max_with(&mut dist, link.by_grade.get(grade[link.suspect]).unwrap_or(&link.levels));
    }
    dist
}

fn likelihood(net: &Network, o: &Observation, case: &Case) -> f64 {
    let dist = level_distribution(net, o.finding, &case.grade, &|s| there(&case.lived, s, o.epoch));
    dist.iter().zip(&o.likelihood).map(|(p, l)| p * l).sum()
}

/// What may become of one suspect when its causes live as in `case`: epochs as bits, with probabilities.
fn lives(net: &Network, ev: &Evidence, suspect: usize, case: &Case) -> Vec<(u128, f64)> {
    // P(sound) and P(there); what is small is added up and never taken from one, so that it keeps its digits.
    let falls = |own: f64, epoch: usize, renewed: bool, long_ago: bool| -> (f64, f64) {
        let acts = net.brings.iter().filter(|b| b.victim == suspect && there(&case.lived, b.cause, epoch));
        let acts = acts.filter(|b| !renewed || long_ago || !b.later);
        acts.fold((1.0 - own, own), |(sound, fallen), b| (sound * (1.0 - b.p), fallen + sound * b.p))
    };
    let (sound, fallen) = falls(net.suspects[suspect].prior, 0, false, false);
    let mut list = vec![(0_u128, sound), (1, fallen)];
    for (k, r) in ev.repairs.iter().enumerate() {
        let mut next = Vec::new();
        for &(lived, p) in &list {
            let before = lived >> k & 1 == 1;
            let (sound, fallen) = if r.suspects.contains(&suspect) {
                falls(if before { r.fails } else { 0.0 }, k + 1, true, r.long_ago)
            } else if before {
                (0.0, 1.0)
            } else {
                (1.0, 0.0)
            };
            next.push((lived, p * sound));
            next.push((lived | 1 << (k + 1), p * fallen));
        }
        list = next;
    }
    list.retain(|l| l.1 > 0.0);
    list
}

/// All combinations with their weights.
pub(super) fn cases(net: &Network, ev: &Evidence) -> Vec<Case> {
    let n = net.suspects.len();
    let mut all = vec![Case { lived: vec![0; n], grade: vec![0; n], weight: 1.0 }];
    let mut left: Vec<usize> = (0..n).collect();
    while !left.is_empty() {
        let ready = |s: &usize| !net.brings.iter().any(|b| b.victim == *s && left.contains(&b.cause));
        let at = left.iter().position(ready).expect("no circle");
        let suspect = left.remove(at);
        let mut grown = Vec::new();
        for case in &all {
            for (lived, p) in lives(net, ev, suspect, case) {
                let mut next = case.clone();
                next.lived[suspect] = lived;
                next.weight *= p;
                match net.suspects[suspect].grades.as_slice() {
                    grades if lived != 0 && !grades.is_empty() => {
                        for (grade, g) in grades.iter().enumerate() {
                            let mut next = next.clone();
                            next.grade[suspect] = grade;
                            next.weight *= g.share;
                            grown.push(next);
                        }
                    }
                    _ => grown.push(next),
                }
            }
        }
        all = grown;
    }
    for case in &mut all {
        for (index, o) in ev.observations.iter().enumerate() {
            let replaced = ev.observations[index + 1..].iter().any(|p| (p.finding, p.epoch) == (o.finding, o.epoch));
            if !replaced {
                case.weight *= likelihood(net, o, case);
            }
        }
    }
    all
}

/// P(evidence) and P(predicate | evidence).
pub(super) fn probability(cases: &[Case], wanted: impl Fn(&[u128]) -> bool) -> (f64, f64) {
    let z: f64 = cases.iter().map(|c| c.weight).sum();
    let part: f64 = cases.iter().filter(|c| wanted(&c.lived)).map(|c| c.weight).sum();
    (z, part / z)
}

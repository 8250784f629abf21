//! How well do tests tell, by the jobs whose cause was confirmed? `detects` and false alarms with their intervals.

use super::counts::{Counts, Kind};
use super::fit::{Number, What, around, interval};
use super::model::Model;
use super::strength::{Evidence, Strengths};
use inference::Rng;
use inference::gamma::Sampler;
use std::collections::{BTreeMap, HashMap};

/// Jobs by finding, suspect and level; those of all suspects that a finding does not touch tell of false alarms
/// together, and stand under no suspect.
#[derive(Clone, Debug, Default)]
pub(super) struct Seen {
    jobs: BTreeMap<usize, BTreeMap<Option<usize>, Vec<f64>>>,
}

impl Seen {
    /// What the jobs with a confirmed cause showed.
    pub fn confirmed(model: &Model, counts: &Counts) -> Self {
        let mut out = Self::default();
        for (key, jobs) in counts.of(Kind::Reading) {
            let (Some(f), Some(s)) = (model.network.finding(&key.object), model.suspect(&key.subject)) else {
                continue;
            };
            if let Some(level) = model.network.findings[f].levels.iter().position(|l| *l == key.level) {
                out.add(model, s, f, level, jobs);
            }
        }
        out
    }

    /// Adds jobs, which may be fractions.
    pub fn add(&mut self, model: &Model, suspect: usize, finding: usize, level: usize, jobs: f64) {
        let f = &model.network.findings[finding];
        let place = model.place_in_network(suspect);
        let who = f.links.iter().any(|l| l.suspect == place).then_some(suspect);
        let of = self.jobs.entry(finding).or_default();
        of.entry(who).or_insert_with(|| vec![0.0; f.levels.len()])[level] += jobs;
    }
}

/// Means of what was learned of tests.
#[derive(Clone, Debug, Default)]
pub(super) struct Qualities {
    /// P(level | no suspect), by finding.
    pub leak: HashMap<usize, Vec<f64>>,
    /// P(level | suspect alone), by finding and suspect.
    pub alone: HashMap<(usize, usize), Vec<f64>>,
}

/// What the jobs say of how far the shipped qualities of tests hold, by family.
pub(super) fn evidence(model: &Model, seen: &Seen, out: &mut BTreeMap<(What, String), Evidence>) {
    for (f, by_suspect) in &seen.jobs {
        let finding = &model.network.findings[*f];
        let mut add = |what, family: &str, jobs: &[f64], levels: &[f64], worth: f64| {
            let told: Vec<(f64, f64)> =
                jobs.iter().zip(levels).filter(|(n, _)| **n > 0.0).map(|(n, p)| (*n, *p)).collect();
            out.entry((what, family.to_owned())).or_default().add(&Evidence::of_shares(&told, worth));
        };
        for (who, jobs) in by_suspect {
            let Some(s) = *who else {
                let family = model.family_of_reading(&finding.id);
                add(What::FalseAlarm, family, jobs, &finding.leak, finding.leak_weight);
                continue;
            };
            let place = model.place_in_network(s);
            if let Some(link) = finding.links.iter().find(|l| l.suspect == place) {
                let levels = both(&finding.leak, &link.levels);
                add(What::Detects, &model.suspects[s].family, jobs, &levels, link.weight);
            }
        }
    }
}

/// The means alone.
pub(super) fn means(model: &Model, seen: &Seen, strengths: &Strengths) -> Qualities {
    let mut out = Qualities::default();
    for (f, by_suspect) in &seen.jobs {
        let finding = &model.network.findings[*f];
        let nothing = vec![0.0; finding.levels.len()];
        let alarms = strengths.for_means(What::FalseAlarm, model.family_of_reading(&finding.id));
        let jobs = by_suspect.get(&None).unwrap_or(&nothing);
        let leak = normalised(&sum(&finding.leak, finding.leak_weight * alarms, jobs));
        for (s, levels) in by_suspect.iter().filter_map(|(s, l)| s.map(|s| (s, l))) {
            let place = model.place_in_network(s);
            let Some(link) = finding.links.iter().find(|l| l.suspect == place) else { continue };
            let times = strengths.for_means(What::Detects, &model.suspects[s].family);
            if strengths.leaves(What::Detects, &model.suspects[s].family) {
                continue;
            }
            let shapes = sum(&both(&finding.leak, &link.levels), link.weight * times, levels);
            out.alone.insert((*f, s), alone(&normalised(&shapes), &leak));
        }
        out.leak.insert(*f, leak);
    }
    out
}

/// Learns `detects` and `false_alarm` of every reading that the counts speak of.
///
/// With the suspect present, a reading shows the higher of what the suspect does and of the false alarm. The levels
/// seen have a Dirichlet prior around that, worth the weight of the link, and what the suspect does alone follows:
/// P(<= s | suspect alone) = P(<= s seen) / P(<= s | false alarm), with the learned false alarm. Assumes that a job's
/// test was not chosen for its result.
pub(super) fn learn(model: &Model, seen: &Seen, strengths: &Strengths, draws: usize, seed: u64, out: &mut Vec<Number>) {
    let best = means(model, seen, strengths);
    for (f, by_suspect) in &seen.jobs {
        let finding = &model.network.findings[*f];
        let mut sampler = Sampler::new(Rng::new(seed ^ 0x7e57, *f as u64));
        let nothing = vec![0.0; finding.levels.len()];
        let alarms = by_suspect.get(&None).unwrap_or(&nothing);
        let times = strengths.for_draws(What::FalseAlarm, model.family_of_reading(&finding.id));
        let shapes = sum(&finding.leak, finding.leak_weight * times, alarms);
        let leak = &best.leak[f];
        let leaks = drawn(&mut sampler, &shapes, draws);
        if alarms.iter().sum::<f64>() > 0.0 {
            for level in 1..leak.len() {
                let mut values: Vec<f64> = leaks.iter().map(|d| d[level]).collect();
                let (low, high) = around(interval(&mut values, leak[level]), leak[level]);
                out.push(Number {
                    what: What::FalseAlarm,
                    of: String::new(),
                    on: finding.id.clone(),
                    level: finding.levels[level].clone(),
                    old: finding.leak[level],
                    new: leak[level],
                    low,
                    high,
                    jobs: alarms.iter().sum(),
                });
            }
        }
        for (s, levels) in by_suspect.iter().filter_map(|(s, l)| s.map(|s| (s, l))) {
            let place = model.place_in_network(s);
            let Some(link) = finding.links.iter().find(|l| l.suspect == place) else { continue };
            let times = strengths.for_draws(What::Detects, &model.suspects[s].family);
            let shapes = sum(&both(&finding.leak, &link.levels), link.weight * times, levels);
            let new = best.alone.get(&(*f, s)).unwrap_or(&link.levels);
            let values: Vec<Vec<f64>> =
                drawn(&mut sampler, &shapes, draws).iter().zip(&leaks).map(|(d, l)| alone(d, l)).collect();
            for level in 1..new.len() {
                if link.levels[level] <= 0.0 {
                    continue;
                }
                let mut of_level: Vec<f64> = values.iter().map(|v| v[level]).collect();
                let (low, high) = around(interval(&mut of_level, new[level]), new[level]);
                out.push(Number {
                    what: What::Detects,
                    of: model.suspects[s].id.clone(),
                    on: finding.id.clone(),
                    level: finding.levels[level].clone(),
                    old: link.levels[level],
                    new: new[level],
                    low,
                    high,
                    jobs: levels.iter().sum(),
                });
            }
        }
    }
}

fn sum(levels: &[f64], weight: f64, jobs: &[f64]) -> Vec<f64> {
    levels.iter().zip(jobs).map(|(p, n)| (p * weight + n).max(1e-9)).collect()
}

fn normalised(shapes: &[f64]) -> Vec<f64> {
    let total: f64 = shapes.iter().sum();
    shapes.iter().map(|s| s / total).collect()
}

fn drawn(sampler: &mut Sampler, shapes: &[f64], draws: usize) -> Vec<Vec<f64>> {
    let mut one = || {
        let mut out = vec![0.0; shapes.len()];
        sampler.dirichlet_once(shapes, &mut out);
        out
    };
    (0..draws).map(|_| one()).collect()
}

/// Distribution of the higher of two independent levels.
pub(super) fn both(a: &[f64], b: &[f64]) -> Vec<f64> {
    let (mut upto_a, mut upto_b, mut before) = (0.0, 0.0, 0.0);
    let step = |(a, b): (&f64, &f64)| {
        upto_a += a;
        upto_b += b;
        let upto = upto_a * upto_b;
        let here = upto - before;
        before = upto;
        here
    };
    a.iter().zip(b).map(step).collect()
}

/// The other way round: what one of the two does, from the higher of both and the other; never below 0.
fn alone(both: &[f64], leak: &[f64]) -> Vec<f64> {
    let (mut upto_both, mut upto_leak, mut before) = (0.0, 0.0, 0.0_f64);
    let step = |(b, l): (&f64, &f64)| {
        upto_both += b;
        upto_leak += l;
        let upto = (upto_both / upto_leak).clamp(before, 1.0);
        let here = upto - before;
        before = upto;
        here
    };
    both.iter().zip(leak).map(step).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_one_does_alone_is_found_again() {
        let (leak, own) = ([0.9, 0.08, 0.02], [0.3, 0.3, 0.4]);
        for (a, b) in alone(&both(&leak, &own), &leak).iter().zip(own) {
            assert!((a - b).abs() < 1e-12);
        }
    }
}

//! Forecasts of the cause of a job from what is known at intake: by a base, and by the shares of causes so far.

use super::job::{Cause, ClosedJob};
use super::model::Model;
use evidence::{Epoch, History, Told};
use knowledge::base::Base;
use network::Network;
use network::build::build;
use std::collections::{BTreeMap, HashMap};

/// The network of the job's car, and what was known at intake; nothing when the base knows none of its codes or calls
/// them impossible.
pub(super) fn intake(base: &Base, job: &ClosedJob) -> Option<(Network, Told)> {
    let network = build(base, &job.vehicle);
    let told = tell(base, &network, job)?;
    Some((network, told))
}

/// What was known at intake, on this network.
fn tell(base: &Base, network: &Network, job: &ClosedJob) -> Option<Told> {
    let known: Vec<String> = job.codes.iter().filter(|c| base.code(c).is_some()).cloned().collect();
    if known.is_empty() {
        return None;
    }
    let present = Epoch { codes: known, codes_complete: true, symptoms: job.symptoms.clone(), ..Epoch::default() };
    History::visit(Vec::new(), present).tell(base, network).ok()
}

/// As [`shares`], for jobs of which all that is known of the car is what the network was built for.
pub(super) fn shares_on(base: &Base, network: &Network, model: &Model, job: &ClosedJob) -> Option<Vec<f64>> {
    singles(network, &tell(base, network, job)?, model)
}

/// Share of each suspect of the model given the codes and symptoms at intake, if one suspect alone is at fault, as it
/// was on the jobs that are scored: the explanations of one suspect that `rank` weighs, exactly.
///
/// Odds against no fault are p / (1 - p) × the product over findings of P(seen | suspect) / P(seen | none).
pub(super) fn shares(base: &Base, model: &Model, job: &ClosedJob) -> Option<Vec<f64>> {
    let (network, told) = intake(base, job)?;
    singles(&network, &told, model)
}

fn singles(network: &Network, told: &Told, model: &Model) -> Option<Vec<f64>> {
    let mut odds: Vec<f64> = network.suspects.iter().map(|s| s.prior / (1.0 - s.prior)).collect();
    for o in &told.evidence.observations {
        let finding = &network.findings[o.finding];
        let alone: f64 = finding.leak.iter().zip(&o.likelihood).map(|(p, l)| p * l).sum();
        for link in &finding.links {
            odds[link.suspect] *= higher(&finding.leak, &link.levels, &o.likelihood) / alone;
        }
    }
    let mut out = vec![0.0; model.suspects.len()];
    for (s, odds) in network.suspects.iter().zip(&odds) {
        if let Some(i) = model.suspect(&s.id) {
            out[i] = *odds;
        }
    }
    let sum: f64 = out.iter().sum();
    (sum > 0.0 && sum.is_finite()).then(|| {
        out.iter_mut().for_each(|p| *p /= sum);
        out
    })
}

/// P(data | the higher of two independent levels).
fn higher(leak: &[f64], own: &[f64], likelihood: &[f64]) -> f64 {
    let (mut upto_leak, mut upto_own, mut p) = (0.0, 0.0, 0.0);
    for ((a, b), l) in leak.iter().zip(own).zip(likelihood) {
        // P(max = level) = a P(own < level) + b P(leak <= level): positive terms only.
        p += l * (a * upto_own + b * (upto_leak + a));
        upto_leak += a;
        upto_own += b;
    }
    p
}

/// Shares of causes so far, by the codes at intake.
#[derive(Default)]
pub(super) struct Rate {
    by_pattern: HashMap<String, BTreeMap<String, f64>>,
    all: BTreeMap<String, f64>,
}

impl Rate {
    /// Jobs that the shares over all codes are worth beside those of one pattern.
    const SHRINK: f64 = 2.0;

    pub(super) fn add(&mut self, job: &ClosedJob) {
        if let Cause::Found(cause) = &job.cause {
            *self.by_pattern.entry(job.pattern().into_owned()).or_default().entry(cause.clone()).or_default() += 1.0;
            *self.all.entry(cause.clone()).or_default() += 1.0;
        }
    }

    pub(super) fn shares(&self, model: &Model, pattern: &str) -> Vec<f64> {
        let n = model.suspects.len() as f64;
        let total: f64 = self.all.values().sum();
        let here = self.by_pattern.get(pattern);
        let jobs: f64 = here.map_or(0.0, |h| h.values().sum());
        let share = |s: &super::model::Suspect| {
            // One job is spread evenly over all suspects, so that none is impossible.
            let common = (self.all.get(&s.id).copied().unwrap_or(0.0) + 1.0 / n) / (total + 1.0);
            (here.and_then(|h| h.get(&s.id)).copied().unwrap_or(0.0) + Self::SHRINK * common) / (jobs + Self::SHRINK)
        };
        model.suspects.iter().map(share).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forecasts_are_the_single_explanations_of_exact_inference() {
        let base = shipped::base().unwrap();
        let model = Model::new(&base);
        let mut job = ClosedJob::on(jiff::civil::date(2024, 1, 1));
        job.codes = vec!["P0442".into(), "P0496".into()];
        let network = build(&base, &job.vehicle);
        let present = Epoch { codes: job.codes.clone(), codes_complete: true, ..Epoch::default() };
        let told = History::visit(Vec::new(), present).tell(&base, &network).unwrap();
        let all = inference::worlds(&network, &told.evidence, inference::Scope::Relevant, 400, 0.0).unwrap();
        let single: Vec<(usize, f64)> =
            all.list.iter().filter(|w| w.suspects.len() == 1).map(|w| (w.suspects[0], w.probability)).collect();
        // A forecast takes a suspect at its usual mix of sizes and by itself: exact where neither sizes nor causes come in.
        let plain = |s: usize| {
            network.suspects[s].grades.is_empty() && network.brings.iter().all(|b| b.cause != s && b.victim != s)
        };
        let single: Vec<(usize, f64)> = single.into_iter().filter(|(s, _)| plain(*s)).collect();
        assert!(single.len() > 5, "{}", single.len());
        let got = shares(&base, &model, &job).unwrap();
        let at = |i: usize| got[model.suspect(&network.suspects[i].id).unwrap()];
        let (first, p) = single[0];
        for (i, q) in &single[1..] {
            assert!((at(*i) / at(first) / (q / p) - 1.0).abs() < 1e-9, "{}", network.suspects[*i].id);
        }
    }
}

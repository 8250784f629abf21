//! How much does each observation speak for or against each suspect, and do the observations fit together?

use rayon::prelude::*;
use std::collections::BTreeSet;

use super::grouping::max_with;
use super::kernels::blend;
use super::numbers::{Numbers, expected};
use super::part::part;
use super::plan::{Plan, Reading, Role};
use super::sweep::{Sweep, Work};
use super::{Evidence, InferenceError, Prepared};
use network::Network;

/// Table cells of one pass from which the observations are weighed in parallel.
const PARALLEL_CELLS: usize = 1 << 13;

/// Weights of the observations.
#[derive(Clone, Debug, PartialEq)]
pub struct Weights {
    /// For each observation and suspect: ln odds(present now | all evidence) less the same without this
    /// observation. Infinite where only this observation makes it certain; zero for an observation that a later
    /// one of the same finding and epoch replaces.
    pub ln_odds: Vec<Vec<f64>>,
    /// For each observation, ln P(observation) with no other evidence but the repairs.
    pub ln_alone: Vec<f64>,
    /// `ln(product of P(e_j) / P(e))`: above zero, the observations are rarer together than if they had nothing to do
    /// with one another (F. V. Jensen et al., "Analysis in HUGIN of data conflict", 1990, from memory).
    pub ln_conflict: f64,
    /// For each observation, the conflict of the others.
    pub ln_conflict_without: Vec<f64>,
    /// The observation without which the conflict is lowest, if leaving one out lowers it at all.
    pub most_conflicting: Option<usize>,
}

/// Weighs every observation by leaving it out.
pub fn weigh(network: &Network, evidence: &Evidence) -> Result<Weights, InferenceError> {
    Prepared::new(network, evidence)?.weigh()
}

impl Prepared<'_> {
    /// As [`weigh`], with the priors in force.
    pub fn weigh(&mut self) -> Result<Weights, InferenceError> {
        let z = self.run()?;
        let (observations, suspects) = (self.evidence.observations.len(), self.network.suspects.len());
        let ln_odds: Vec<f64> = (0..suspects).map(|s| ln_odds(&self.plan, &self.variants, s)).collect();
        let cells: usize = self.plan.layout.steps.iter().map(|s| s.cells).sum();
        let readings = 0..self.plan.readings.len();
        let buffers = || (self.numbers.clone(), Sweep::default(), Vec::new());
        let without: Result<Vec<Without>, InferenceError> = if cells < PARALLEL_CELLS {
            let mut own = buffers();
            readings.map(|r| self.without(r, &ln_odds, &mut own)).collect()
        } else {
            readings.into_par_iter().map_init(buffers, |own, r| self.without(r, &ln_odds, own)).collect()
        };
        let mut weights = Weights {
            ln_odds: vec![vec![0.0; suspects]; observations],
            ln_alone: vec![0.0; observations],
            ln_conflict: -z.ln(),
            ln_conflict_without: vec![0.0; observations],
            most_conflicting: None,
        };
        let mut before = None;
        for reading in &self.plan.readings {
            let alone = self.ln_alone(reading, &mut before);
            weights.ln_alone[reading.observation] = alone;
            weights.ln_conflict += alone;
        }
        weights.ln_conflict_without.fill(weights.ln_conflict);
        for (reading, other) in self.plan.readings.iter().zip(without?) {
            let o = reading.observation;
            weights.ln_odds[o] = other.gain;
            // conflict(others) = conflict(all) - ln P(e_j) + ln P(e) - ln P(e without j).
            weights.ln_conflict_without[o] = weights.ln_conflict - weights.ln_alone[o] + z.ln() - other.ln_evidence;
        }
        let lowest = (0..observations)
            .min_by(|&a, &b| weights.ln_conflict_without[a].total_cmp(&weights.ln_conflict_without[b]));
        weights.most_conflicting = lowest.filter(|&o| weights.ln_conflict_without[o] < weights.ln_conflict);
        Ok(weights)
    }

    /// [`Weights::ln_conflict`] alone, which takes one run.
    pub fn ln_conflict(&mut self) -> Result<f64, InferenceError> {
        let z = self.run()?;
        let mut before = None;
        Ok(self.plan.readings.iter().fold(-z.ln(), |sum, r| sum + self.ln_alone(r, &mut before)))
    }

    /// Runs again without one reading. A folded one leaves the plan as it is, a digit needs a narrower plan.
    fn without(
        &self,
        index: usize,
        ln_all: &[f64],
        (numbers, sweep, variants): &mut (Numbers, Sweep, Vec<f64>),
    ) -> Result<Without, InferenceError> {
        let reading = &self.plan.readings[index];
        let narrower = if matches!(reading.role, Role::Digit(_)) {
            let mut evidence = self.evidence.clone();
            evidence.observations.retain(|o| (o.finding, o.epoch) != (reading.finding, reading.epoch));
            let plan = Plan::new(self.network, &evidence)?;
            let mut own = Numbers::from_network(&plan, self.network);
            own.priors.copy_from_slice(&self.numbers.priors);
            own.weigh(&plan, None);
            Some((plan, own))
        } else {
            numbers.weigh(&self.plan, Some(index));
            None
        };
        let (plan, numbers) = narrower.as_ref().map_or((&self.plan, &*numbers), |(p, n)| (p, n));
        let z = sweep.marginals(Work { plan, layout: &plan.layout, numbers }, variants);
        let gain = ln_all.iter().enumerate().map(|(s, &all)| {
            let other = ln_odds(plan, variants, s);
            // The same certainty with and without is no weight, not "infinite minus infinite".
            if all == other { 0.0 } else { all - other }
        });
        Ok(Without { gain: gain.collect(), ln_evidence: z.ln() })
    }

    /// ln P(observation) with no other evidence but the repairs.
    ///
    /// Suspects that have nothing to do with one another are mixed in one by one. Where two of them are tied by causes, the
    /// small network of all that touch the finding is asked.
    fn ln_alone(&self, reading: &Reading, before: &mut Option<Vec<f64>>) -> f64 {
        let finding = &self.network.findings[reading.finding];
        let causes = &self.plan.causes;
        let tied: Vec<usize> = finding.links.iter().map(|l| l.suspect).filter(|&s| causes.tied(s)).collect();
        let mut components: Vec<usize> = tied.iter().map(|&s| causes.component(s)).collect();
        components.sort_unstable();
        if components.windows(2).any(|w| w[0] == w[1]) {
            return self.ln_alone_tied(reading).unwrap_or(f64::NEG_INFINITY);
        }
        if !tied.is_empty() && before.is_none() {
            *before = self.before().ok();
        }
        let mut dist = finding.leak.clone();
        for link in &finding.links {
            let p = self.numbers.priors[link.suspect];
            let plain = std::slice::from_ref(&link.levels);
            let rows = if link.by_grade.is_empty() { plain } else { &link.by_grade[..] };
            let (mut present, mut absent) = (vec![0.0; rows.len()], 0.0);
            for v in self.plan.lives.of(link.suspect) {
                let own = match before.as_ref().filter(|_| causes.tied(link.suspect)) {
                    Some(before) => before[v],
                    None if self.plan.lives.life[v] == 0 => 1.0 - p,
                    None => {
                        p * self.plan.lives.share[v] * self.numbers.grade_share(link.suspect, self.plan.lives.grade[v])
                    }
                };
                if self.plan.lives.present(v, reading.epoch) {
                    present[if rows.len() > 1 { self.plan.lives.grade[v] } else { 0 }] += own;
                } else {
                    absent += own;
                }
            }
            let was = dist.clone();
            dist.iter_mut().for_each(|d| *d *= absent);
            for (levels, share) in rows.iter().zip(present) {
                let mut raised = was.clone();
                max_with(&mut raised, levels);
                blend(&mut dist, 1.0, share, &raised);
            }
        }
        expected(&dist, &self.evidence.observations[reading.observation].likelihood).ln()
    }

    /// P(variant) with no evidence but the repairs.
    fn before(&self) -> Result<Vec<f64>, InferenceError> {
        let evidence = Evidence { observations: Vec::new(), repairs: self.evidence.repairs.clone() };
        let mut own = Prepared::new(self.network, &evidence)?;
        own.set_priors(&self.numbers.priors)?;
        own.run()?;
        Ok(own.variants)
    }

    fn ln_alone_tied(&self, reading: &Reading) -> Result<f64, InferenceError> {
        let causes = &self.plan.causes;
        let linked: BTreeSet<usize> =
            self.network.findings[reading.finding].links.iter().map(|l| causes.component(l.suspect)).collect();
        let keep: Vec<usize> =
            (0..self.network.suspects.len()).filter(|&s| linked.contains(&causes.component(s))).collect();
        let evidence = Evidence {
            observations: vec![self.evidence.observations[reading.observation].clone()],
            repairs: self.evidence.repairs.clone(),
        };
        let (network, evidence) = part(self.network, &evidence, &keep);
        let mut own = Prepared::new(&network, &evidence)?;
        own.set_priors(&keep.iter().map(|&s| self.numbers.priors[s]).collect::<Vec<f64>>())?;
        Ok(own.evidence_now().ln())
    }
}

struct Without {
    gain: Vec<f64>,
    ln_evidence: f64,
}

fn ln_odds(plan: &Plan, variants: &[f64], suspect: usize) -> f64 {
    let (now, not_now) = plan.lives.split(suspect, variants);
    (now / not_now).ln()
}

//! How much does each observation speak for or against each suspect, and do the observations fit together?

use rayon::prelude::*;

use super::alone::Alone;
use super::numbers::Numbers;
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
        let mut each = Alone::new(self);
        for reading in &self.plan.readings {
            let alone = each.ln(reading)?;
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

    /// Whether [`Weights::ln_conflict`] is above a limit. How likely each finding that did not show is by itself is mostly not
    /// asked: if they were all certain and the limit were still not reached, it is not.
    ///
    /// # Errors
    /// Impossible evidence.
    pub fn conflict_above(&mut self, limit: f64) -> Result<bool, InferenceError> {
        let z = self.run()?;
        let (silent, telling): (Vec<&Reading>, Vec<&Reading>) =
            self.plan.readings.iter().partition(|r| r.grouping.len() == 1);
        let mut alone = Alone::new(self);
        // The most that a finding with one group of levels can come to: its likelihood, whatever the levels.
        let most = |r: &Reading| r.grouping.likelihood[0].ln() + r.grouping.exponent as f64 * std::f64::consts::LN_2;
        let mut highest = -z.ln() + silent.iter().map(|r| most(r)).sum::<f64>();
        for reading in telling {
            highest += alone.ln(reading)?;
        }
        for reading in silent {
            if highest <= limit {
                return Ok(false);
            }
            highest += alone.ln(reading)? - most(reading);
        }
        Ok(highest > limit)
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
}

struct Without {
    gain: Vec<f64>,
    ln_evidence: f64,
}

fn ln_odds(plan: &Plan, variants: &[f64], suspect: usize) -> f64 {
    let (now, not_now) = plan.lives.split(suspect, variants);
    (now / not_now).ln()
}

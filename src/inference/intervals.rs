//! How sure are the posteriors, given that the network's own numbers are uncertain? Repeats the exact posterior
//! on drawn parameters; what is drawn is in `sample`.

use rayon::prelude::*;

use super::gamma::Sampler;
use super::rng::Rng;
use super::sample::Parameters;
use super::sweep::{Sweep, Work};
use super::{Evidence, InferenceError, Prepared};
use crate::network::Network;

/// Intervals for P(present now | evidence), and the draws they come from.
#[derive(Clone, Debug, PartialEq)]
pub struct Intervals {
    /// Lower end for each suspect.
    pub low: Vec<f64>,
    /// Upper end for each suspect.
    pub high: Vec<f64>,
    /// Mean over the draws for each suspect.
    pub mean: Vec<f64>,
    /// P(present now | evidence) for every suspect, draw by draw, in the order of the draws.
    pub draws: Vec<Vec<f64>>,
    /// Draws under which the evidence was impossible; they are in none of the other fields.
    pub impossible: usize,
}

impl Intervals {
    /// Share of the draws in which this is so, for example that a suspect stays first.
    pub fn share(&self, holds: impl Fn(&[f64]) -> bool) -> f64 {
        let n = self.draws.iter().filter(|d| holds(d)).count();
        n as f64 / self.draws.len().max(1) as f64
    }
}

/// Draws `draws` parameter sets and computes central intervals of the given level, for example 0.90.
///
/// Priors are Beta(p w, (1 - p) w), links and backgrounds Dirichlet(levels × weight). Each draw has a stream of its
/// own, so that the answer depends on the seed alone and not on the number of threads.
pub fn intervals(
    network: &Network,
    evidence: &Evidence,
    draws: usize,
    seed: u64,
    level: f64,
) -> Result<Intervals, InferenceError> {
    Prepared::new(network, evidence)?.intervals(draws, seed, level)
}

impl Prepared<'_> {
    /// As [`intervals`], with the priors in force as means.
    pub fn intervals(&mut self, draws: usize, seed: u64, level: f64) -> Result<Intervals, InferenceError> {
        if !(0.0..=1.0).contains(&level) {
            return Err(InferenceError::BadNumber { what: "interval level", index: 0, value: level });
        }
        if self.evidence_now().is_zero() {
            return Err(super::conflict::conflict(self));
        }
        let parameters = Parameters::new(&self.plan, &self.numbers, self.network)?;
        let suspects = self.network.suspects.len();
        let buffers = || (self.numbers.clone(), Sweep::default(), Vec::new());
        let all: Vec<Option<Vec<f64>>> = (0..draws)
            .into_par_iter()
            .with_min_len(8)
            .map_init(buffers, |(numbers, sweep, variants), k| {
                let mut sampler = Sampler::new(Rng::new(seed, k as u64));
                parameters.draw(&self.plan, &mut sampler, numbers);
                let z = sweep.marginals(Work { plan: &self.plan, layout: &self.plan.layout, numbers }, variants);
                (!z.is_zero()).then(|| (0..suspects).map(|s| variants[self.plan.lives.survivor(s)]).collect())
            })
            .collect();
        let possible: Vec<Vec<f64>> = all.into_iter().flatten().collect();
        let tail = 0.5 * (1.0 - level);
        let mut out =
            Intervals { low: vec![], high: vec![], mean: vec![], impossible: draws - possible.len(), draws: possible };
        for s in 0..suspects {
            let mut column: Vec<f64> = out.draws.iter().map(|d| d[s]).collect();
            column.sort_unstable_by(f64::total_cmp);
            out.low.push(quantile(&column, tail));
            out.high.push(quantile(&column, 1.0 - tail));
            out.mean.push(column.iter().sum::<f64>() / column.len() as f64);
        }
        Ok(out)
    }
}

/// Quantile of sorted numbers, linear between order statistics (R. Hyndman and Y. Fan 1996, definition 7); not a
/// number for an empty slice.
fn quantile(sorted: &[f64], q: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else { return f64::NAN };
    let position = q * last as f64;
    let below = (position as usize).min(last);
    let above = (below + 1).min(last);
    sorted[below] + (position - below as f64) * (sorted[above] - sorted[below])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_interpolate() {
        assert_eq!(quantile(&[1.0, 2.0, 4.0], 0.25), 1.5);
        assert_eq!(quantile(&[1.0, 2.0, 4.0], 1.0), 4.0);
        assert!(quantile(&[], 0.5).is_nan());
    }
}

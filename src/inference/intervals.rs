//! How sure are the posteriors, given that the network's own numbers are uncertain? Repeats the exact posterior
//! on drawn parameters; what is drawn is in `sample`.

use rayon::prelude::*;

use super::lanes::{LANES, Lanes, Real};
use super::numbers::Numbers;
use super::part::part;
use super::sample::Parameters;
use super::sweep::{Sweep, Work};
use super::{Evidence, InferenceError, Prepared};
use network::Network;

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
/// Priors are Beta(p w, (1 - p) w), links and backgrounds Dirichlet(levels × weight). Eight draws go side by side through
/// the exact pass (`lanes`). What is drawn depends on the seed and on the names of suspects and findings alone, not on the
/// number of threads or on who else is asked for.
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
        let everyone: Vec<usize> = (0..self.network.suspects.len()).collect();
        self.intervals_of(&everyone, draws, seed, level)
    }

    /// The same for some suspects, in the order asked for: those that the evidence bears on ([`Prepared::bears_on`])
    /// are computed together; the others are independent of everything and drawn only when one of them is asked for.
    /// Who else is asked for changes no number.
    pub fn intervals_of(
        &mut self,
        asked: &[usize],
        draws: usize,
        seed: u64,
        level: f64,
    ) -> Result<Intervals, InferenceError> {
        if !(0.0..=1.0).contains(&level) {
            return Err(InferenceError::BadNumber { what: "interval level", index: 0, value: level });
        }
        if self.evidence_now().is_zero() {
            return Err(super::conflict::conflict(self.network, &self.evidence, &self.numbers.priors));
        }
        let (tied, loose): (Vec<usize>, Vec<usize>) = (0..self.network.suspects.len()).partition(|&s| self.bears_on(s));
        let tied = self.drawn(&tied, draws, seed)?;
        let any_loose = asked.iter().any(|s| loose.contains(s));
        let loose = self.drawn(if any_loose { &loose } else { &[] }, draws, seed ^ LOOSE)?;
        let mut out =
            Intervals { low: vec![], high: vec![], mean: vec![], impossible: 0, draws: vec![Vec::new(); draws] };
        for &s in asked {
            let (part, at) = match (tied.place(s), loose.place(s)) {
                (Some(at), _) => (&tied, at),
                (None, Some(at)) => (&loose, at),
                (None, None) => return Err(InferenceError::UnknownSuspect { suspect: s }),
            };
            let mut column: Vec<f64> = part.draws.iter().flatten().map(|d| d[at]).collect();
            out.draws.iter_mut().zip(&part.draws).for_each(|(o, d)| o.extend(d.as_ref().map(|d| d[at])));
            column.sort_unstable_by(f64::total_cmp);
            let tail = 0.5 * (1.0 - level);
            out.low.push(quantile(&column, tail));
            out.high.push(quantile(&column, 1.0 - tail));
            out.mean.push(column.iter().sum::<f64>() / column.len() as f64);
        }
        // A draw under which the evidence was impossible is short of the suspects that the evidence bears on.
        out.draws.retain(|d| d.len() == asked.len());
        out.impossible = draws - out.draws.len();
        Ok(out)
    }

    /// Whether the evidence says more of the suspect than that it did not show: it could have raised something that was
    /// found, or measured. Any other is independent of everything else given the evidence, and none likelier than before.
    #[must_use]
    pub fn bears_on(&self, suspect: usize) -> bool {
        self.plan.relevant[suspect]
    }

    /// Draws for these suspects: all that the evidence bears on, or others.
    fn drawn(&self, suspects: &[usize], draws: usize, seed: u64) -> Result<Drawn, InferenceError> {
        if suspects.is_empty() {
            return Ok(Drawn { suspects: Vec::new(), draws: vec![Some(Vec::new()); draws] });
        }
        let (mut network, evidence) = part(self.network, &self.evidence, suspects);
        if !self.bears_on(suspects[0]) {
            // What was found has its causes elsewhere: these must not fail to explain it.
            for f in &mut network.findings {
                let level = 1.0 / f.levels.len() as f64;
                (f.leak, f.leak_weight) = (vec![level; f.levels.len()], f64::INFINITY);
            }
        }
        let mut own = Prepared::new(&network, &evidence)?;
        let priors: Vec<f64> = suspects.iter().map(|&s| self.numbers.priors[s]).collect();
        own.set_priors(&priors)?;
        let parameters = Parameters::new(&own.plan, &own.numbers, &network, draws, seed)?;
        let plan = &own.plan;
        let start = Numbers::<Lanes>::alike(&own.numbers);
        let buffers = || (start.clone(), Sweep::default(), Vec::new());
        let blocks: Vec<Vec<Option<Vec<f64>>>> = (0..parameters.blocks())
            .into_par_iter()
            .with_min_len(4)
            .map_init(buffers, |(numbers, sweep, variants), block| {
                parameters.draw(plan, block, numbers);
                let z = sweep.marginals(Work { plan, layout: &plan.layout, numbers }, variants);
                let now: Vec<Lanes> = (0..suspects.len()).map(|s| plan.lives.split(s, variants).0).collect();
                let possible = |lane: &usize| z.mantissa.lane(*lane) > 0.0;
                let draw = |lane: usize| possible(&lane).then(|| now.iter().map(|p| p.lane(lane)).collect());
                (0..LANES).map(draw).collect()
            })
            .collect();
        let draws = blocks.into_iter().flatten().take(draws).collect();
        Ok(Drawn { suspects: suspects.to_vec(), draws })
    }
}

/// Set in the seed of the draws for suspects that the evidence does not bear on.
const LOOSE: u64 = 1 << 63;

/// P(present now) in each draw; nothing for a draw under which the evidence was impossible.
struct Drawn {
    suspects: Vec<usize>,
    draws: Vec<Option<Vec<f64>>>,
}

impl Drawn {
    fn place(&self, suspect: usize) -> Option<usize> {
        self.suspects.binary_search(&suspect).ok()
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

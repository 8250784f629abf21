//! How probable a measured number is under each level of a finding: what a reading contributes to the posterior. No thresholds.
//!
//! Every level gets `(1 - e) P(reading | level) + e P(reading | odd)` with e = 1 % and one wide Cauchy distribution "odd" common to
//! all levels: a slip, a wrong scale, a sticking needle. It bounds how much one number can say, makes a number far outside everything say nothing
//! (ratio towards 1), and keeps the vector from being all zero. The probability is smooth in the number: see `smoothed`.
//! Repeated readings of one gauge on one state of the vehicle share their error, so they count as *one* reading of their mean with the
//! gauge's resolution ([`combine_repeats`]); multiplying them would claim a certainty that a biased gauge does not have.

use crate::error::GaugeError;
use crate::smoothed::{beyond, centre, exact, short_of, width};
pub use knowledge::base::Distribution;
use serde::Serialize;
use std::f64::consts::PI;

/// Share of readings that are odd. Judgement.
pub const ODD_SHARE: f64 = 0.01;

/// Refuses parameters that make no distribution: a base loaded from a file never holds one, but these functions are public.
fn checked(distribution: &Distribution) -> Result<(), GaugeError> {
    let fine = match *distribution {
        Distribution::Normal { mean, sd } => mean.is_finite() && sd > 0.0 && sd.is_finite(),
        Distribution::LogNormal { median, spread } => {
            median > 0.0 && median.is_finite() && spread > 1.0 && spread.is_finite()
        }
        Distribution::Exponential { mean } => mean > 0.0 && mean.is_finite(),
        Distribution::Uniform { low, high } => low.is_finite() && high.is_finite() && high > low,
    };
    if fine {
        Ok(())
    } else {
        Err(GaugeError::nonsense(format!(
            "{distribution:?} is no distribution: sd, median and mean of an exponential are above 0, spread above 1, high above low"
        )))
    }
}

/// A reading in the unit of its measure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Observed {
    /// The gauge showed this.
    Exact(f64),
    /// More than this.
    Above(f64),
    /// Less than this.
    Below(f64),
}

/// Relative likelihood of a reading at each level; only ratios between levels matter.
///
/// Never all zero, never NaN, continuous with continuous slope in the reading.
///
/// # Errors
/// When there is no level, a distribution is none, the reading is not finite, or the resolution is not above zero.
pub fn likelihoods(levels: &[Distribution], observed: Observed, resolution: f64) -> Result<Vec<f64>, GaugeError> {
    if levels.is_empty() {
        return Err(GaugeError::nonsense("a measure needs at least one distribution"));
    }
    for level in levels {
        checked(level)?;
    }
    let (Observed::Exact(x) | Observed::Above(x) | Observed::Below(x)) = observed;
    if !x.is_finite() || x.abs() > 1e15 {
        return Err(GaugeError::nonsense(format!("{x} is not a number that a gauge can show")));
    }
    if !(resolution > 0.0 && resolution.is_finite()) {
        return Err(GaugeError::nonsense("the gauge's resolution must be above zero"));
    }
    let odd = odd_probability(levels, observed, resolution);
    Ok(levels
        .iter()
        .map(|level| {
            let own = match observed {
                Observed::Exact(x) => exact(level, x, resolution),
                Observed::Above(x) => beyond(level, x, resolution),
                Observed::Below(x) => short_of(level, x, resolution),
            };
            (1.0 - ODD_SHARE) * own + ODD_SHARE * odd
        })
        .collect())
}

/// Probability of the reading as a slip: Cauchy round the middle of all levels, as wide as everything they cover together.
fn odd_probability(levels: &[Distribution], observed: Observed, resolution: f64) -> f64 {
    let ends = levels.iter().map(|l| (centre(l) - width(l), centre(l) + width(l)));
    let (low, high) =
        ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), end| (low.min(end.0), high.max(end.1)));
    let (middle, half) = (0.5 * (low + high), (high - low).max(resolution));
    match observed {
        Observed::Exact(x) => {
            // The difference of two arc tangents as one, so that far out nothing cancels.
            let (a, b) = ((x - middle - resolution / 2.0) / half, (x - middle + resolution / 2.0) / half);
            (b - a).atan2(1.0 + a * b) / PI
        }
        Observed::Above(x) => half.atan2(x - middle) / PI,
        Observed::Below(x) => half.atan2(middle - x) / PI,
    }
}

/// The one reading that several of the same gauge on the same state count as: their mean. None of none.
#[must_use]
pub fn combine_repeats(readings: &[f64]) -> Option<f64> {
    #[expect(clippy::cast_precision_loss, reason = "nobody reads a gauge 2^52 times")]
    let n = readings.len() as f64;
    (!readings.is_empty()).then(|| readings.iter().map(|x| x / n).sum())
}

/// Probability that a suspect's hole falls below each bound and above the last: `bounds.len() + 1` levels that add up to one.
///
/// `holes` is the distribution of hole sizes that the suspect makes, in the unit of `bounds`, which rise. Any decay or flow is a monotone
/// function of the hole, so a bound on a reading is a bound on the hole (`hole_from_decay`, `hole_from_flow` at the bound).
///
/// # Errors
/// When the distribution is none, or the bounds do not rise.
pub fn hole_levels(holes: &Distribution, bounds: &[f64]) -> Result<Vec<f64>, GaugeError> {
    checked(holes)?;
    if bounds.iter().any(|b| !b.is_finite()) || bounds.windows(2).any(|pair| pair[1] <= pair[0]) {
        return Err(GaugeError::nonsense("the bounds of hole sizes must rise"));
    }
    let mut levels = Vec::with_capacity(bounds.len() + 1);
    let mut before = 0.0;
    for bound in bounds {
        let share = short_of(holes, *bound, 0.0);
        levels.push((share - before).max(0.0));
        before = share;
    }
    levels.push((1.0 - before).max(0.0));
    Ok(levels)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [Distribution; 4] = [
        Distribution::Normal { mean: 12.3, sd: 0.35 },
        Distribution::LogNormal { median: 3.0, spread: 2.6 },
        Distribution::Exponential { mean: 2.5 },
        Distribution::Uniform { low: 1.0, high: 14.0 },
    ];

    #[test]
    fn the_probabilities_of_all_readings_add_up_to_one() {
        for level in &ALL {
            for r in [0.1, 0.5, 3.0] {
                let total: f64 = (-400..40_000).map(|i| exact(level, f64::from(i) * r, r)).sum();
                assert!((total - 1.0).abs() < 1e-6, "{level:?} {r} {total}");
            }
        }
    }

    #[test]
    fn tails_are_accurate() {
        // Standard normal, 10 sd out: survival function 7.619853e-24 (printed in tables of the normal tail).
        let normal = Distribution::Normal { mean: 0.0, sd: 1.0 };
        assert!((beyond(&normal, 10.0, 1e-3) / 7.619_853e-24 - 1.0).abs() < 1e-4);
        assert!((short_of(&normal, -10.0, 1e-3) / 7.619_853e-24 - 1.0).abs() < 1e-4);
        assert!((exact(&normal, 8.0, 0.01) / (5.052_271e-15 * 0.01) - 1.0).abs() < 1e-2);
    }

    #[test]
    fn limits_and_exact_readings_agree() {
        for level in &ALL {
            let x = centre(level);
            let sum = beyond(level, x, 0.1) + short_of(level, x, 0.1);
            assert!((sum - 1.0).abs() < 1e-12);
            let slope = (short_of(level, x + 1e-3, 0.1) - short_of(level, x - 1e-3, 0.1)) / 2e-3;
            assert!((slope * 0.1 / exact(level, x, 0.1) - 1.0).abs() < 0.02, "{level:?}");
        }
    }

    #[test]
    fn far_out_says_nothing_and_nothing_is_zero() -> Result<(), GaugeError> {
        for observed in [Observed::Exact(1e9), Observed::Above(1e9), Observed::Below(-1e9), Observed::Exact(-50.0)] {
            let found = likelihoods(&ALL, observed, 0.1)?;
            assert!(found.iter().all(|l| *l > 0.0 && l.is_finite()), "{observed:?} {found:?}");
        }
        let far = likelihoods(&[ALL[0], ALL[2]], Observed::Exact(1e6), 0.1)?;
        assert!((far[0] / far[1] - 1.0).abs() < 1e-9);
        assert!(likelihoods(&ALL, Observed::Exact(f64::NAN), 0.1).is_err());
        assert!(likelihoods(&ALL, Observed::Exact(1e308), 0.1).is_err());
        assert!(likelihoods(&ALL, Observed::Exact(1.0), 0.0).is_err());
        assert!(likelihoods(&[], Observed::Exact(1.0), 0.1).is_err());
        Ok(())
    }

    #[test]
    fn repeats_and_hole_levels() -> Result<(), GaugeError> {
        assert_eq!(combine_repeats(&[]), None);
        assert!(combine_repeats(&[12.0, 12.2, 12.4]).is_some_and(|m| (m - 12.2).abs() < 1e-12));
        let levels = hole_levels(&Distribution::LogNormal { median: 0.030, spread: 1.8 }, &[0.020, 0.040, 0.090])?;
        assert!((levels.iter().sum::<f64>() - 1.0).abs() < 1e-12 && levels.len() == 4);
        // ln(0.02/0.03)/ln 1.8 = -0.68982; Phi of it is 0.24515.
        assert!((levels[0] - 0.245_15).abs() < 1e-4, "{levels:?}");
        Ok(())
    }
}

//! What is the usual number of minutes or the usual price? Robust, mergeable, shrunk towards the shipped value. The
//! counts are a histogram, so memory does not grow with the jobs.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Width of a bin in ln: 2 %, well inside what anybody notes down.
const WIDTH: f64 = 0.02;

/// Amounts below this count as this: half a minute, or a cent's worth of parts.
const LEAST: f64 = 0.01;

/// Spread of ln of an amount from job to job, before any was seen: judgement, half to nearly double.
const USUAL_SPREAD: f64 = 0.5;

/// A histogram of positive amounts in bins of 2 %.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Histogram {
    bins: BTreeMap<i32, f64>,
}

/// The usual amount, with its interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Usual {
    /// The amount.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Jobs behind it.
    pub jobs: f64,
}

impl Histogram {
    /// The bin of an amount; nothing for what is negative or no number.
    #[must_use]
    pub fn bin(amount: f64) -> Option<i32> {
        #[expect(clippy::cast_possible_truncation, reason = "ln of a finite number over 0.02 is far inside i32")]
        (amount.is_finite() && amount >= 0.0).then(|| (amount.max(LEAST).ln() / WIDTH).round() as i32)
    }

    /// Counts jobs in a bin.
    pub fn add(&mut self, bin: i32, jobs: f64) {
        *self.bins.entry(bin).or_default() += jobs;
    }

    /// How many jobs.
    #[must_use]
    pub fn jobs(&self) -> f64 {
        self.bins.values().sum()
    }

    /// ln of the amount below which this share of the jobs lies, linear inside a bin; nothing when empty.
    fn ln_quantile(&self, share: f64) -> Option<f64> {
        let wanted = share * self.jobs();
        let mut below = 0.0;
        for (bin, jobs) in &self.bins {
            if below + jobs >= wanted && *jobs > 0.0 {
                return Some((f64::from(*bin) - 0.5 + (wanted - below) / jobs) * WIDTH);
            }
            below += jobs;
        }
        None
    }

    /// ln of the median, and the spread: from the quartiles, pulled towards the usual spread, worth 5 jobs; nothing when empty.
    fn middle(&self) -> Option<(f64, f64)> {
        let (q1, m, q3) = (self.ln_quantile(0.25)?, self.ln_quantile(0.5)?, self.ln_quantile(0.75)?);
        let (n, seen) = (self.jobs(), ((q3 - q1) / 1.349).max(WIDTH));
        Some((m, (n * seen + 5.0 * USUAL_SPREAD) / (n + 5.0)))
    }

    /// How far ln of the median lies from that of the shipped amount, the sampling variance of the median, and the variance of
    /// the shipped one where it is worth `weight` jobs; nothing when empty.
    #[must_use]
    pub fn off(&self, shipped: f64, weight: f64) -> Option<(f64, f64, f64)> {
        let (centre, spread) = self.middle()?;
        let one = (1.2533 * spread).powi(2);
        Some((centre - shipped.max(LEAST).ln(), one / self.jobs(), one / weight))
    }

    /// The median shrunk towards a shipped amount worth `weight` jobs, with a central interval.
    ///
    /// On the log scale: (w ln shipped + n ln median) / (w + n). The sd of a median is 1.2533 s / sqrt(n) for a normal
    /// spread s (H. Cramér, *Mathematical Methods of Statistics*, 1946, section 28.5), s taken from the quartiles,
    /// which three wild values in ten do not move far; with few jobs s is pulled towards `usual_spread`, worth 5 jobs.
    #[must_use]
    pub fn usual(&self, shipped: f64, weight: f64, level: f64) -> Usual {
        let n = self.jobs();
        let ln_shipped = shipped.max(LEAST).ln();
        let (centre, spread) = self.middle().unwrap_or((ln_shipped, USUAL_SPREAD));
        let ln_value = (weight * ln_shipped + n * centre) / (weight + n);
        let sd = 1.2533 * spread / (weight + n).sqrt();
        let z = normal_quantile(0.5 + 0.5 * level);
        Usual { value: ln_value.exp(), low: (ln_value - z * sd).exp(), high: (ln_value + z * sd).exp(), jobs: n }
    }
}

fn normal_quantile(share: f64) -> f64 {
    use statrs::distribution::{ContinuousCDF, Normal};
    Normal::standard().inverse_cdf(share)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(amounts: &[f64]) -> Histogram {
        let mut h = Histogram::default();
        amounts.iter().filter_map(|a| Histogram::bin(*a)).for_each(|b| h.add(b, 1.0));
        h
    }

    #[test]
    fn a_slip_of_the_pen_hardly_moves_it() {
        let sound = of(&[28.0, 30.0, 30.0, 31.0, 33.0, 29.0, 30.0, 32.0, 30.0]).usual(40.0, 3.0, 0.9);
        let slip = of(&[28.0, 30.0, 30.0, 31.0, 33.0, 29.0, 30.0, 32.0, 3000.0]).usual(40.0, 3.0, 0.9);
        assert!((sound.value / slip.value - 1.0).abs() < 0.03, "{sound:?} {slip:?}");
    }

    #[test]
    fn three_jobs_move_it_a_little_and_three_hundred_a_lot() {
        let few = of(&[60.0; 3]).usual(30.0, 15.0, 0.9);
        let many = of(&[60.0; 300]).usual(30.0, 15.0, 0.9);
        assert!(few.value < 35.0 && many.value > 57.0, "{few:?} {many:?}");
        assert!(few.high / few.low > many.high / many.low);
        let none = Histogram::default().usual(30.0, 15.0, 0.9);
        assert!((none.value - 30.0).abs() < 1e-9);
    }

    #[test]
    fn what_is_no_amount_has_no_bin() {
        assert!(Histogram::bin(-1.0).is_none() && Histogram::bin(f64::NAN).is_none());
        assert!(Histogram::bin(0.0).is_some());
    }
}

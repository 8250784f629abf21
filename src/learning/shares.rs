//! Which share of the jobs does each suspect have, and what prevalence on the road follows? A shop sees only cars
//! whose code was set; that is corrected here. How likely a suspect is to set a code comes from `selection`.

use super::proportion::Beta;

/// A Dirichlet distribution of the shares of jobs.
#[derive(Clone, Debug, PartialEq)]
pub struct Shares {
    /// Jobs for each suspect, pseudo-counts included.
    pub alpha: Vec<f64>,
}

/// Smallest pseudo-count, so that a suspect that the shop never met stays possible.
const SMALLEST: f64 = 1e-6;

impl Shares {
    /// The shares that follow from prevalences, worth so many jobs in all.
    ///
    /// A suspect's share of the jobs is proportional to prevalence × P(some code | suspect), `reach`. Assumes single
    /// faults, which at a total prevalence of 0.1 holds for some 95 % of faulty cars.
    #[must_use]
    pub fn expected(prevalence: &[f64], reach: &[f64], weight: f64) -> Self {
        let rate: Vec<f64> = prevalence.iter().zip(reach).map(|(p, r)| p * r).collect();
        let total: f64 = rate.iter().sum();
        Self { alpha: rate.iter().map(|r| (weight * r / total).max(SMALLEST)).collect() }
    }

    /// After so many more jobs of each suspect, which may be fractions.
    #[must_use]
    pub fn after(&self, jobs: &[f64]) -> Self {
        Self { alpha: self.alpha.iter().zip(jobs).map(|(a, n)| a + n).collect() }
    }

    /// Mean share of each suspect.
    #[must_use]
    pub fn means(&self) -> Vec<f64> {
        let total: f64 = self.alpha.iter().sum();
        self.alpha.iter().map(|a| a / total).collect()
    }

    /// The share of one suspect alone: a component of a Dirichlet is Beta distributed.
    #[must_use]
    pub fn of(&self, suspect: usize) -> Beta {
        let total: f64 = self.alpha.iter().sum();
        Beta { a: self.alpha[suspect], b: (total - self.alpha[suspect]).max(SMALLEST) }
    }
}

/// Prevalences that have these shares of the jobs, with the overall rate of jobs a car as it was:
/// p_i = share_i / reach_i × sum of prevalence × reach.
///
/// The overall rate cannot be learned from cars that all have a code, so it is kept.
#[must_use]
pub fn prevalence(shares: &[f64], reach: &[f64], rate: f64) -> Vec<f64> {
    shares.iter().zip(reach).map(|(s, r)| rate * s / r).collect()
}

/// The rate of jobs a car: the sum of prevalence × reach.
#[must_use]
pub fn rate(prevalence: &[f64], reach: &[f64]) -> f64 {
    prevalence.iter().zip(reach).map(|(p, r)| p * r).sum()
}

/// Factor on the overall prevalence that the jobs with two faults speak for, with its 90 % interval.
///
/// Under independent faults the odds of a second fault are `odds_of_two` at the shipped prevalence and proportional
/// to the factor. The number of such jobs is Poisson; the factor has a Gamma prior of mean 1 worth `weight` jobs.
/// Nothing when fewer than five such jobs were recorded: shops that write one cause a job say nothing by it.
#[must_use]
pub fn scale_from_pairs(single: f64, two: f64, odds_of_two: f64, weight: f64) -> Option<(f64, f64, f64)> {
    use statrs::distribution::{ContinuousCDF, Gamma};
    if two < 5.0 || odds_of_two <= 0.0 {
        return None;
    }
    let (shape, per) = (weight * odds_of_two + two, (weight + single) * odds_of_two);
    let d = Gamma::new(shape, per).ok()?;
    Some((shape / per, d.inverse_cdf(0.05), d.inverse_cdf(0.95)))
}

/// Odds of two faults against one among cars with a code: the sum over pairs of p_i p_j (1 - (1 - r_i)(1 - r_j)),
/// over the sum of p_i r_i.
#[must_use]
pub fn odds_of_two(prevalence: &[f64], reach: &[f64]) -> f64 {
    let mut pairs = 0.0;
    for i in 0..prevalence.len() {
        for j in 0..i {
            pairs += prevalence[i] * prevalence[j] * (1.0 - (1.0 - reach[i]) * (1.0 - reach[j]));
        }
    }
    pairs / rate(prevalence, reach)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn no_jobs_leave_every_prevalence_alone(p in prop::collection::vec(0.0005..0.02, 2..12), w in 1.0..40.0) {
            let reach: Vec<f64> = (0..p.len()).map(|i| 0.1 + 0.8 * i as f64 / p.len() as f64).collect();
            let shares = Shares::expected(&p, &reach, w).means();
            let back = prevalence(&shares, &reach, rate(&p, &reach));
            for (a, b) in p.iter().zip(&back) {
                prop_assert!((a / b - 1.0).abs() < 1e-4, "{a} {b}");
            }
        }

        #[test]
        fn the_overall_rate_stays(p in prop::collection::vec(0.0005..0.02, 3..9), n in 0.0..500.0) {
            let reach = vec![0.3; p.len()];
            let mut jobs = vec![1.0; p.len()];
            jobs[1] = n;
            let shares = Shares::expected(&p, &reach, 20.0).after(&jobs).means();
            let new = prevalence(&shares, &reach, rate(&p, &reach));
            prop_assert!((rate(&new, &reach) / rate(&p, &reach) - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn a_suspect_that_seldom_sets_a_code_is_commoner_than_its_jobs() {
        // Own example: as many jobs, a tenth of the reach, ten times the prevalence.
        let p = prevalence(&[0.5, 0.5], &[0.5, 0.05], 0.01);
        assert!((p[1] / p[0] - 10.0).abs() < 1e-12);
    }

    #[test]
    fn twice_the_expected_pairs_double_the_prevalence() {
        let (mean, low, high) = scale_from_pairs(10_000.0, 1000.0, 0.05, 20.0).unwrap();
        assert!((mean - 2.0).abs() < 0.01 && low > 1.8 && high < 2.2, "{mean} {low} {high}");
        assert!(scale_from_pairs(10_000.0, 3.0, 0.05, 20.0).is_none());
    }
}

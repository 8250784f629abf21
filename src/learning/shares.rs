//! Which share of the jobs does each suspect have, and what prevalence on the road follows? A shop sees only cars
//! whose code was set; that is corrected here. How likely a suspect is to set a code comes from `selection`.

use inference::gamma::{Sampler, Shape};

/// What is known of how often each suspect brings a car in.
///
/// A suspect's rate, prevalence × P(some code | suspect), is Gamma distributed with the shipped rate as mean and as
/// many faults as the shipped number is worth as shape. Jobs are Poisson with rate × cars on the road, a number
/// that the shop does not know. Where the shapes are proportional to the rates, the shares are Dirichlet with the
/// shapes as pseudo-counts. Assumes single faults, which at a total prevalence of 0.1 holds for some 95 % of faulty
/// cars.
#[derive(Clone, Debug, PartialEq)]
pub struct Rates {
    /// Shipped rates: jobs a car.
    rate: Vec<f64>,
    /// Faults that each is worth.
    worth: Vec<f64>,
}

impl Rates {
    /// The rates that follow from prevalences and P(some code | suspect), `reach`, each worth so many faults found.
    #[must_use]
    pub fn shipped(prevalence: &[f64], reach: &[f64], worth: &[f64]) -> Self {
        Self { rate: prevalence.iter().zip(reach).map(|(p, r)| p * r).collect(), worth: worth.to_vec() }
    }

    /// Jobs a car in all. It is kept: cars that all have a code say nothing of those that have none.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.rate.iter().sum()
    }

    /// Shares as shipped.
    #[must_use]
    pub fn shipped_shares(&self) -> Vec<f64> {
        let total = self.total();
        self.rate.iter().map(|r| r / total).collect()
    }

    /// Mean shares after so many jobs of each suspect, which may be fractions.
    ///
    /// rate_i = (worth_i + jobs_i) / (worth_i / shipped_i + cars), where the number of cars is the one at which the
    /// rates still add up to the shipped total.
    #[must_use]
    pub fn shares(&self, jobs: &[f64]) -> Vec<f64> {
        let total = self.total();
        let at = |cars: f64| -> Vec<f64> {
            (0..self.rate.len()).map(|i| (self.worth[i] + jobs[i]) / (self.worth[i] / self.rate[i] + cars)).collect()
        };
        // The sum falls from at least the shipped total at 0 cars, so there is one answer; it is below n / total × 2.
        let (mut low, mut high) = (0.0, 2.0 * jobs.iter().sum::<f64>() / total + 1.0);
        while at(high).iter().sum::<f64>() > total {
            high *= 2.0;
        }
        for _ in 0..100 {
            let middle = 0.5 * (low + high);
            if at(middle).iter().sum::<f64>() > total { low = middle } else { high = middle }
        }
        let rates = at(0.5 * (low + high));
        let sum: f64 = rates.iter().sum();
        rates.iter().map(|r| r / sum).collect()
    }

    /// One draw of the shares by turns (Gibbs sampling): rates given the cars, cars given the rates.
    pub(crate) fn draw(&self, sampler: &mut Sampler, jobs: &[f64], cars: &mut f64, out: &mut [f64]) {
        for i in 0..self.rate.len() {
            let shape = Shape::new(self.worth[i] + jobs[i]);
            out[i] = sampler.gamma(&shape) / (self.worth[i] / self.rate[i] + *cars);
        }
        let sum: f64 = out.iter().sum();
        let n: f64 = jobs.iter().sum();
        *cars = if n > 0.0 { sampler.gamma(&Shape::new(n)) / sum } else { 0.0 };
        out.iter_mut().for_each(|x| *x /= sum);
    }
}

/// Prevalences that have these shares of the jobs, with the overall rate of jobs a car as it was:
/// p_i = share_i / reach_i × sum of prevalence × reach.
#[must_use]
pub fn prevalence(shares: &[f64], reach: &[f64], rate: f64) -> Vec<f64> {
    shares.iter().zip(reach).map(|(s, r)| rate * s / r).collect()
}

/// Jobs that the shipped overall prevalence is worth against jobs with two faults.
const WEIGHT_OF_TOTAL: f64 = 20.0;

/// Factor on the overall prevalence that the jobs with two faults speak for, with its 90 % interval.
///
/// Under independent faults the odds of a second fault are `odds_of_two` at the shipped prevalence and proportional
/// to the factor. The number of such jobs is Poisson; the factor has a Gamma prior of mean 1. Nothing when fewer than
/// five such jobs were recorded: shops that write one cause a job say nothing by it.
#[must_use]
pub fn scale_from_pairs(single: f64, two: f64, odds_of_two: f64) -> Option<(f64, f64, f64)> {
    use statrs::distribution::{ContinuousCDF, Gamma};
    if two < 5.0 || odds_of_two <= 0.0 {
        return None;
    }
    let (shape, per) = (WEIGHT_OF_TOTAL * odds_of_two + two, (WEIGHT_OF_TOTAL + single) * odds_of_two);
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
    pairs / prevalence.iter().zip(reach).map(|(p, r)| p * r).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn no_jobs_leave_every_share_alone(p in prop::collection::vec(0.0005..0.02, 2..12), w in 0.5..9.0) {
            let reach: Vec<f64> = (0..p.len()).map(|i| 0.1 + 0.8 * i as f64 / p.len() as f64).collect();
            let rates = Rates::shipped(&p, &reach, &vec![w; p.len()]);
            let back = prevalence(&rates.shares(&vec![0.0; p.len()]), &reach, rates.total());
            for (a, b) in p.iter().zip(&back) {
                prop_assert!((a / b - 1.0).abs() < 1e-9, "{a} {b}");
            }
        }

        #[test]
        fn many_jobs_become_the_shares(n in prop::collection::vec(1.0..900.0, 3..9)) {
            let p = vec![0.004; n.len()];
            let jobs: Vec<f64> = n.iter().map(|n| n * 1e6).collect();
            let shares = Rates::shipped(&p, &vec![0.3; p.len()], &vec![3.0; p.len()]).shares(&jobs);
            let total: f64 = n.iter().sum();
            for (s, n) in shares.iter().zip(&n) {
                prop_assert!((s - n / total).abs() < 1e-4);
            }
        }

        #[test]
        fn worth_in_proportion_is_a_dirichlet(n in prop::collection::vec(0.0..90.0, 3..9)) {
            let p: Vec<f64> = (1..=n.len()).map(|i| 0.001 * i as f64).collect();
            let worth: Vec<f64> = p.iter().map(|p| p * 2000.0).collect();
            let shares = Rates::shipped(&p, &vec![0.5; p.len()], &worth).shares(&n);
            let total: f64 = n.iter().chain(&worth).sum();
            for i in 0..n.len() {
                prop_assert!((shares[i] - (n[i] + worth[i]) / total).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn a_suspect_that_seldom_sets_a_code_is_commoner_than_its_jobs() {
        // Own example: as many jobs, a tenth of the reach, ten times the prevalence.
        let p = prevalence(&[0.5, 0.5], &[0.5, 0.05], 0.01);
        assert!((p[1] / p[0] - 10.0).abs() < 1e-12);
    }

    #[test]
    fn three_jobs_move_a_share_a_little_and_three_hundred_a_lot() {
        let rates = Rates::shipped(&[0.002; 20], &[0.4; 20], &[2.5; 20]);
        let with = |n: f64| {
            let mut jobs = vec![n / 19.0; 20];
            jobs[0] = n;
            rates.shares(&jobs)[0]
        };
        assert!(with(3.0) < 0.12 && with(300.0) > 0.4, "{} {}", with(3.0), with(300.0));
    }

    #[test]
    fn twice_the_expected_pairs_double_the_prevalence() {
        let (mean, low, high) = scale_from_pairs(10_000.0, 1000.0, 0.05).unwrap();
        assert!((mean - 2.0).abs() < 0.01 && low > 1.8 && high < 2.2, "{mean} {low} {high}");
        assert!(scale_from_pairs(10_000.0, 3.0, 0.05).is_none());
    }
}

//! What do hits and misses say about one probability? Beta distributions; knows nothing of what is counted.

use statrs::distribution::{Beta as StatrsBeta, ContinuousCDF};

/// A Beta(a, b) distribution of a probability.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beta {
    /// Hits, pseudo-counts included; above 0.
    pub a: f64,
    /// Misses, pseudo-counts included; above 0.
    pub b: f64,
}

/// Smallest shape: an exact 0 would make a value impossible for ever.
const SMALLEST: f64 = 1e-9;

impl Beta {
    /// A probability that is worth so many jobs: Beta(p w, (1 - p) w).
    #[must_use]
    pub fn worth(p: f64, weight: f64) -> Self {
        Self { a: (p * weight).max(SMALLEST), b: ((1.0 - p) * weight).max(SMALLEST) }
    }

    /// After so many more hits and misses, which may be fractions of jobs. Conjugate updating (A. Gelman et al.,
    /// *Bayesian Data Analysis*, 3rd ed., section 2.4). Assumes that the jobs are exchangeable.
    #[must_use]
    pub fn after(self, hits: f64, misses: f64) -> Self {
        Self { a: self.a + hits, b: self.b + misses }
    }

    /// The mean, a / (a + b).
    #[must_use]
    pub fn mean(self) -> f64 {
        self.a / (self.a + self.b)
    }

    /// The standard deviation.
    #[must_use]
    pub fn sd(self) -> f64 {
        let m = self.mean();
        (m * (1.0 - m) / (self.a + self.b + 1.0)).sqrt()
    }

    /// The value below which this share of the distribution lies.
    #[must_use]
    pub fn quantile(self, share: f64) -> f64 {
        // The library's search does not end well for shapes far below 1; there the lower tail is x^a / (a B(a, b)).
        if self.a < 0.02 || self.b < 0.02 {
            return self.quantile_of_small(share);
        }
        StatrsBeta::new(self.a, self.b).map_or_else(|_| self.mean(), |d| d.inverse_cdf(share))
    }

    /// Bisection on the distribution function in log odds, for shapes so small that the mass sits at the ends.
    fn quantile_of_small(self, share: f64) -> f64 {
        let Ok(d) = StatrsBeta::new(self.a, self.b) else { return self.mean() };
        let at = |t: f64| 1.0 / (1.0 + (-t).exp());
        let (mut low, mut high) = (-700.0, 36.0);
        for _ in 0..100 {
            let middle = 0.5 * (low + high);
            if d.cdf(at(middle)) < share { low = middle } else { high = middle }
        }
        at(0.5 * (low + high))
    }

    /// The central interval that holds this share, for example 0.90.
    #[must_use]
    pub fn interval(self, level: f64) -> (f64, f64) {
        let tail = 0.5 * (1.0 - level);
        (self.quantile(tail), self.quantile(1.0 - tail))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn counting_in_two_goes_is_counting_once(p in 0.01..0.99, w in 0.5..50.0, h in 0.0..90.0, m in 0.0..90.0) {
            let once = Beta::worth(p, w).after(h, m);
            let twice = Beta::worth(p, w).after(h / 2.0, 0.0).after(h / 2.0, m);
            prop_assert!((once.mean() - twice.mean()).abs() < 1e-12);
            // The posterior mean lies between the prior mean and the share seen.
            if h + m > 0.0 {
                let seen = h / (h + m);
                prop_assert!(once.mean() >= p.min(seen) - 1e-12 && once.mean() <= p.max(seen) + 1e-12);
            }
        }

        #[test]
        fn quantiles_invert_the_distribution(a in 0.05..80.0, b in 0.05..80.0, q in 0.05..0.95) {
            let x = Beta { a, b }.quantile(q);
            let back = StatrsBeta::new(a, b).unwrap().cdf(x);
            // Where the density is so steep that neighbouring numbers differ in the distribution, only order holds.
            prop_assert!((back - q).abs() < 1e-6 || !(1e-12..=1.0 - 1e-12).contains(&x), "{a} {b} {q} {x} {back}");
        }
    }

    #[test]
    fn tiny_shapes_keep_their_order() {
        let b = Beta::worth(0.001, 1.0);
        let (low, high) = b.interval(0.9);
        assert!(low >= 0.0 && low < high && high < 0.01, "{low} {high}");
    }
}

//! One draw for everything that folds into a suspect. Answers for how likely the suspect is to leave a number of findings
//! at their lowest level when each of those probabilities is uncertain; which findings these are is `sample`'s business.
//!
//! A car with three codes has some five hundred links to findings without a code. Each P(lowest level) is
//! Beta(a, b), only their product counts, and minus the logarithm of a Beta variable has the mean psi(a + b) - psi(a) and the
//! variance psi'(a) - psi'(a + b) (psi the digamma function; Johnson, Kotz and Balakrishnan, *Continuous Univariate
//! Distributions* 2, 1995, ch. 25, from memory). For small b it is nearly gamma distributed already, so the sum is drawn
//! as the gamma variable with the same mean and variance.

use super::lanes::Real;

/// The links of one suspect to findings at their lowest level in one epoch.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Folded {
    /// What is known exactly, multiplied.
    known: f64,
    mean: f64,
    variance: f64,
}

impl Folded {
    pub fn new() -> Self {
        Self { known: 1.0, mean: 0.0, variance: 0.0 }
    }

    /// Adds a link whose P(lowest level) is Beta(a, b).
    pub fn add(&mut self, a: f64, b: f64) {
        let ((psi_a, slope_a), (psi_sum, slope_sum)) = (psi(a), psi(a + b));
        self.mean += psi_sum - psi_a;
        self.variance += slope_a - slope_sum;
    }

    /// Adds a link whose P(lowest level) is known.
    pub fn add_known(&mut self, p: f64) {
        self.known *= p;
    }

    /// What a draw needs, if anything is uncertain: the shape and the scale of the gamma variable.
    pub fn ready(&self) -> Option<(f64, f64)> {
        (self.mean > 0.0).then(|| (self.mean * self.mean / self.variance, self.variance / self.mean))
    }

    /// The product, from a variate of this shape and scale.
    pub fn product<T: Real>(&self, variate: T, scale: f64) -> T {
        T::each(|k| self.known * (-scale * variate.lane(k)).exp().max(f64::MIN_POSITIVE))
    }

    /// The product, where nothing is uncertain.
    pub fn known(&self) -> f64 {
        self.known
    }
}

/// psi(x) and its derivative for x > 0: recurrence up to 8, then the asymptotic series (Abramowitz and Stegun 1964,
/// 6.3.18 and 6.4.12), to about 1e-12.
fn psi(x: f64) -> (f64, f64) {
    let (mut x, mut value, mut slope) = (x, 0.0, 0.0);
    while x < 8.0 {
        value -= 1.0 / x;
        slope += 1.0 / (x * x);
        x += 1.0;
    }
    let r = 1.0 / (x * x);
    value +=
        x.ln() - 0.5 / x - r * (1.0 / 12.0 - r * (1.0 / 120.0 - r * (1.0 / 252.0 - r * (1.0 / 240.0 - r / 132.0))));
    slope += 1.0 / x
        + 0.5 * r
        + r / x * (1.0 / 6.0 - r * (1.0 / 30.0 - r * (1.0 / 42.0 - r * (1.0 / 30.0 - r * 5.0 / 66.0))));
    (value, slope)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gamma::{Sampler, Shape};
    use crate::rng::Rng;
    use std::f64::consts::PI;

    #[test]
    fn psi_has_its_known_values() {
        const EULER: f64 = 0.577_215_664_901_532_9;
        let (value, slope) = psi(1.0);
        assert!((value + EULER).abs() < 1e-11 && (slope - PI * PI / 6.0).abs() < 1e-11, "{value} {slope}");
        let (value, slope) = psi(0.5);
        assert!((value + EULER + 2.0 * 2.0_f64.ln()).abs() < 1e-11 && (slope - PI * PI / 2.0).abs() < 1e-11);
    }

    /// The product of Beta variables drawn one by one has the same quantiles, up to what the draws leave open.
    #[test]
    fn one_draw_is_distributed_as_the_product_of_all() {
        let links = [(19.0, 1.0), (17.6, 2.4), (19.8, 0.2), (6.0, 14.0), (24.7, 0.3), (11.4, 0.6)];
        let mut folded = Folded::new();
        for (a, b) in links {
            folded.add(a, b);
        }
        folded.add_known(0.75);
        let (shape, scale) = folded.ready().unwrap();
        let (mut sampler, mut one, mut all) = (Sampler::new(Rng::new(3, 0)), Vec::new(), Vec::new());
        for _ in 0..40_000 {
            one.push(folded.product(sampler.gamma(&Shape::new(shape)), scale));
            let mut product = 0.75;
            for (a, b) in links {
                let mut out = [0.0; 2];
                sampler.dirichlet(&[a, b].map(Shape::new), &mut out);
                product *= out[0];
            }
            all.push(product);
        }
        one.sort_by(f64::total_cmp);
        all.sort_by(f64::total_cmp);
        for q in [2_000, 10_000, 20_000, 30_000, 38_000] {
            assert!((one[q] / all[q] - 1.0).abs() < 0.03, "quantile {q} of 40000: {} and {}", one[q], all[q]);
        }
    }
}

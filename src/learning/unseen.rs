//! Of a shop's jobs each had some code; how many cars with the same fault had none and never came in? Their number is summed
//! out, without a draw and to within a rule of integration, which gives the marginal likelihood of the jobs and the mean of every P(code). Knows hits and misses only.

use statrs::function::gamma::ln_gamma;

/// P(some level | suspect) of one monitor, and the jobs at which there was one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    /// As shipped.
    pub a: f64,
    /// How many jobs that is worth: Beta(a × weight, (1 - a) × weight). From [`STATED`] on it is exact.
    pub weight: f64,
    /// Jobs with a level.
    pub hits: f64,
}

/// Weight from which a number counts as exact.
pub const STATED: f64 = 1e8;

/// How many cars never came in: places with their probabilities, and the marginal likelihood.
///
/// With independent a_m of the monitors, `n` jobs that all had some code have the likelihood
///
/// ```text
/// prod a_m^(n_m) (1 - a_m)^(n - n_m) / (1 - z)^n,   z = prod (1 - a_m)
/// ```
///
/// Writing the cut as a sum over the cars k that never came in, (1 - z)^-n = sum over k of C(n + k - 1, k) z^k, every term of the
/// likelihood's expectation is a product of Beta integrals, and given k each a_m is Beta distributed:
///
/// ```text
/// sum over k of C(n + k - 1, k) prod B(alpha_m + n_m, beta_m + n - n_m + k) / B(alpha_m, beta_m)
/// ```
///
/// Terms fall as a power of k: 24 are added one by one, the rest is an integral over ln k by an adaptive rule.
#[derive(Clone, Debug, PartialEq)]
pub struct Unseen {
    n: f64,
    cars: Vec<(f64, f64)>,
    /// ln P(jobs | the numbers as uncertain as they are).
    ln: f64,
}

impl Unseen {
    /// Of `n` jobs, more than 0.
    #[must_use]
    pub fn of(monitors: &[Rate], n: f64) -> Self {
        // What does not depend on k comes first.
        let (mut before, mut ln_none, mut unsure) = (-ln_gamma(n), 0.0, Vec::new());
        for m in monitors {
            if m.weight >= STATED {
                before += m.hits * m.a.ln() + (n - m.hits) * (-m.a).ln_1p();
                ln_none += (-m.a).ln_1p();
            } else {
                let (some, none) = (m.a * m.weight, (1.0 - m.a) * m.weight);
                before += ln_gamma(some + m.hits) - ln_gamma(some) + ln_gamma(m.weight) - ln_gamma(none);
                unsure.push((none + n - m.hits, m.weight + n));
            }
        }
        let term = |k: f64| -> f64 {
            let beta: f64 = unsure.iter().map(|(none, all)| ln_gamma(none + k) - ln_gamma(all + k)).sum();
            before + k * ln_none + ln_gamma(n + k) - ln_gamma(k + 1.0) + beta
        };
        let (mut cars, ln) = sum(&term);
        let all: f64 = cars.iter().map(|(_, p)| p).sum();
        cars.iter_mut().for_each(|(_, p)| *p /= all);
        Self { n, cars, ln: ln + all.ln() }
    }

    /// ln P(jobs | the numbers as uncertain as they are) less ln P(jobs | exactly the shipped numbers).
    #[must_use]
    pub fn ln_ratio(&self, monitors: &[Rate]) -> f64 {
        let one = |m: &Rate| m.hits * m.a.ln() + (self.n - m.hits) * (-m.a).ln_1p();
        let z: f64 = monitors.iter().map(|m| 1.0 - m.a).product();
        self.ln - monitors.iter().map(one).sum::<f64>() + self.n * (-z).ln_1p()
    }

    /// Mean of a after the jobs.
    #[must_use]
    pub fn mean(&self, m: &Rate) -> f64 {
        if m.weight >= STATED {
            return m.a;
        }
        self.cars.iter().map(|(k, p)| p * (m.a * m.weight + m.hits) / (m.weight + self.n + k)).sum()
    }
}

/// Places k with what they add to the sum of e^term(k) over k = 0, 1, 2, …, over e to the second answer.
fn sum(term: &dyn Fn(f64) -> f64) -> (Vec<(f64, f64)>, f64) {
    const ONE_BY_ONE: u32 = 24;
    let (from, to) = ((f64::from(ONE_BY_ONE) - 0.5).ln(), 1e9_f64.ln());
    let at = |y: f64| term(y.exp()) + y;
    // The highest place, roughly: the rule below must not step over it.
    let (mut low, mut high) = (from, to);
    while high - low > 0.01 {
        let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if at(a) < at(b) { low = a } else { high = b }
    }
    let first: Vec<f64> = (0..ONE_BY_ONE).map(|k| term(f64::from(k))).collect();
    let most = first.iter().copied().fold(at(low), f64::max);
    let mut out: Vec<(f64, f64)> = first.iter().enumerate().map(|(k, x)| (k as f64, (x - most).exp())).collect();
    let e = |y: f64| (at(y) - most).exp();
    for (a, b) in [(from, low), (low, to)] {
        let (fa, fm, fb) = (e(a), e(0.5 * (a + b)), e(b));
        simpson(&e, [a, b], [fa, fm, fb], 20, &mut out);
    }
    // Beyond, terms fall as a power of k.
    let falls = (at(to - 1.0) - at(to)).max(1e-3);
    out.push((to.exp(), e(to) / falls));
    (out, most)
}

/// Adaptive Simpson rule over y: places e^y and what they add.
fn simpson(f: &dyn Fn(f64) -> f64, [a, b]: [f64; 2], [fa, fm, fb]: [f64; 3], deep: u32, out: &mut Vec<(f64, f64)>) {
    const OFF: f64 = 1e-6;
    let m = 0.5 * (a + b);
    let (l, r) = (0.5 * (a + m), 0.5 * (m + b));
    let (fl, fr) = (f(l), f(r));
    let h = (b - a) / 12.0;
    if deep == 0 || (h * (4.0 * (fl + fr) - fa - fb - 6.0 * fm)).abs() < OFF {
        let parts = [(a, fa), (l, 4.0 * fl), (m, 2.0 * fm), (r, 4.0 * fr), (b, fb)];
        out.extend(parts.iter().filter(|(_, x)| *x > 0.0).map(|(y, x)| (y.exp(), h * x)));
        return;
    }
    simpson(f, [a, m], [fa, fl, fm], deep - 1, out);
    simpson(f, [m, b], [fm, fr, fb], deep - 1, out);
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]
        /// Two monitors, by the midpoint rule on a fine grid of both.
        #[test]
        fn the_cut_is_undone_as_by_integration(
            a in 0.1_f64..0.8, b in 0.1_f64..0.8, w in 3.0_f64..30.0, both in 0_u32..9, one in 1_u32..9, two in 0_u32..9,
        ) {
            prop_assume!(w * a.min(b).min(1.0 - a).min(1.0 - b) > 1.5);
            let n = f64::from(both + one + two);
            let rates = [
                Rate { a, weight: w, hits: f64::from(both + one) },
                Rate { a: b, weight: w, hits: f64::from(both + two) },
            ];
            let ln_density = |m: &Rate, x: f64| {
                let (some, none) = (m.a * m.weight, (1.0 - m.a) * m.weight);
                ln_gamma(m.weight) - ln_gamma(some) - ln_gamma(none)
                    + (some - 1.0 + m.hits) * x.ln() + (none - 1.0 + n - m.hits) * (-x).ln_1p()
            };
            let (steps, mut sum, mut mean) = (150_u32, 0.0, 0.0);
            let at = |i: u32| (f64::from(i) + 0.5) / f64::from(steps);
            for x in (0..steps).map(at) {
                for y in (0..steps).map(at) {
                    let cut = n * (-(1.0 - x) * (1.0 - y)).ln_1p();
                    let p = (ln_density(&rates[0], x) + ln_density(&rates[1], y) - cut).exp();
                    sum += p;
                    mean += p * x;
                }
            }
            let unseen = Unseen::of(&rates, n);
            let ln = (sum / f64::from(steps * steps)).ln();
            prop_assert!((unseen.ln - ln).abs() < 5e-3, "{} {ln}", unseen.ln);
            prop_assert!((unseen.mean(&rates[0]) - mean / sum).abs() < 2e-3, "{} {}", unseen.mean(&rates[0]), mean / sum);
        }

        /// With one monitor such jobs say nothing of how often there is no code.
        #[test]
        fn one_monitor_says_nothing(a in 0.05_f64..0.95, w in 0.5_f64..40.0, n in 1.0_f64..5_000.0) {
            let rate = [Rate { a, weight: w, hits: n }];
            let unseen = Unseen::of(&rate, n);
            // Where hardly a car comes in, what is left beyond the last place decides.
            prop_assert!(unseen.ln_ratio(&rate).abs() < 5e-3, "{}", unseen.ln_ratio(&rate));
            prop_assert!((unseen.mean(&rate[0]) / a - 1.0).abs() < 0.02, "{}", unseen.mean(&rate[0]));
        }

        /// Numbers that are exact are neither moved nor spoken for or against.
        #[test]
        fn what_is_stated_stays(a in 0.05_f64..0.9, b in 0.05_f64..0.9, one in 1.0_f64..90.0, two in 0.0_f64..90.0) {
            let rates = [Rate { a, weight: STATED, hits: one }, Rate { a: b, weight: STATED, hits: two }];
            let unseen = Unseen::of(&rates, one + two);
            prop_assert!(unseen.ln_ratio(&rates).abs() < 5e-3 && unseen.mean(&rates[0]) == a);
        }
    }
}

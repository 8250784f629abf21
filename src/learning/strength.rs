//! Do a shop's jobs agree with the shipped numbers? One multiplier on the shipped weights for each kind of number and
//! family, by the marginal likelihood of the jobs: a shop that agrees with the base to within chance leaves it alone, a
//! shop that differs overrules it. Knows counts and shapes, not what they stand for.

use super::number::What;
use super::pooling::ln_rising;
use std::collections::BTreeMap;

/// Multipliers that are weighed. A sixteenth: the base counts for next to nothing; 32: it is all but right.
pub const TIMES: [f64; 10] = [0.0625, 0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0];

/// ln of the odds against "the base is right for this shop" from which it is moved: twenty to one. Where the base is right,
/// odds of k to 1 against it come up at most once in k shops, whatever the numbers (Markov's inequality on the Bayes factor).
pub const MOVED_FROM: f64 = 2.995_732_3;

/// Numbers whose own odds are no worse than this against moving go along where those beside them speak for it: e² to 1.
const GOES_ALONG: f64 = -2.0;

/// Spread of the prior on ln of the multiplier of a kind, around the shipped weights themselves: judgement, a factor of four.
const PRIOR_SPREAD: f64 = 2.0 * std::f64::consts::LN_2;

/// The same of a family around its kind: a factor of two.
const FAMILY_SPREAD: f64 = std::f64::consts::LN_2;

/// ln P(jobs | multiplier) less ln P(jobs | the base is right), for each of [`TIMES`]. Evidence of independent numbers adds up.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Evidence {
    ln: [f64; TIMES.len()],
    /// Jobs behind it.
    pub jobs: f64,
}

impl Evidence {
    /// Of one rate: `n` jobs where the base expects `expected`, its rate being worth `worth` faults found. Negative binomial
    /// against Poisson.
    #[must_use]
    pub fn of_rate(n: f64, expected: f64, worth: f64) -> Self {
        let one = |times: f64| {
            let a = times * worth;
            ln_rising(a, n) - a * (expected / a).ln_1p() - n * (a + expected).ln() + expected
        };
        Self { ln: TIMES.map(one), jobs: n }
    }

    /// Of one distribution over categories: jobs and shipped shares of those that were seen, which are worth `worth` jobs.
    /// Dirichlet-multinomial against multinomial.
    #[must_use]
    pub fn of_shares(seen: &[(f64, f64)], worth: f64) -> Self {
        let n: f64 = seen.iter().map(|(n, _)| n).sum();
        let one = |times: f64| {
            let k = times * worth;
            let of = |(n, p): &(f64, f64)| {
                let p = p.max(1e-12);
                ln_rising(k * p, *n) - n * p.ln()
            };
            seen.iter().map(of).sum::<f64>() - ln_rising(k, n)
        };
        Self { ln: TIMES.map(one), jobs: n }
    }

    /// Of one usual amount: the ln of the median lies `off` from that of the shipped one, with a sampling variance, and the
    /// shipped one has the variance `doubt` as shipped. Normal against a point.
    #[must_use]
    pub fn of_amount(off: f64, sampling: f64, doubt: f64, jobs: f64) -> Self {
        let one = |times: f64| {
            let wide = sampling + doubt / times;
            0.5 * ((sampling / wide).ln() + off * off * (1.0 / sampling - 1.0 / wide))
        };
        Self { ln: TIMES.map(one), jobs }
    }

    /// Adds the evidence of an independent number.
    pub fn add(&mut self, other: &Self) {
        self.ln.iter_mut().zip(other.ln).for_each(|(a, b)| *a += b);
        self.jobs += other.jobs;
    }

    /// ln of the odds that the shop differs from the base, over those before any job was seen: integrated over the multiplier.
    #[must_use]
    pub fn ln_odds(&self) -> f64 {
        let all = self.weighed(1.0, PRIOR_SPREAD);
        let most = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        most + all.iter().map(|x| (x - most).exp()).sum::<f64>().ln()
    }

    /// The multiplier, if the shop differs: mean of its logarithm, with a prior around another multiplier.
    fn times(&self, around: f64, spread: f64) -> f64 {
        let all = self.weighed(around, spread);
        let most = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let parts = all.map(|x| (x - most).exp());
        let sum: f64 = parts.iter().sum();
        (parts.iter().zip(TIMES).map(|(p, t)| p * t.ln()).sum::<f64>() / sum).exp()
    }

    /// With the prior on the multiplier.
    fn weighed(&self, around: f64, spread: f64) -> [f64; TIMES.len()] {
        let prior = TIMES.map(|t| (-0.5 * ((t / around).ln() / spread).powi(2)).exp());
        let sum: f64 = prior.iter().sum();
        std::array::from_fn(|k| self.ln[k] + (prior[k] / sum).ln())
    }
}

/// What the jobs of a shop say of one kind of number in one family.
#[derive(Clone, Debug, PartialEq)]
pub struct Strength {
    /// Kind of number.
    pub what: What,
    /// Family.
    pub family: String,
    /// Jobs behind it.
    pub jobs: f64,
    /// ln of the odds that the shop differs from the base, before the jobs being even.
    pub ln_odds: f64,
    /// Times the shipped weights; none where the base is left alone.
    pub times: Option<f64>,
}

/// Multipliers by kind and family.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Strengths {
    all: BTreeMap<(What, String), Strength>,
    /// Whether every shipped weight is taken as it stands, whatever the jobs say.
    pub as_shipped: bool,
}

/// A weight so large that no number of jobs moves what has it.
const FIXED: f64 = 1e9;

impl Strengths {
    /// Every shipped weight as it stands: for comparison.
    #[must_use]
    pub fn shipped() -> Self {
        Self { as_shipped: true, ..Self::default() }
    }

    /// Decides what is moved, from the evidence of each kind and family.
    ///
    /// What fails and what it shows are of one piece: where prevalences, codes and readings together speak for a shop of its own,
    /// kinds and families that say little by themselves go along. Minutes and prices are another matter and take nobody along.
    pub fn decide(&mut self, evidence: BTreeMap<(What, String), Evidence>) {
        if self.as_shipped {
            return;
        }
        let mut kinds: BTreeMap<What, Evidence> = BTreeMap::new();
        for ((what, _), e) in &evidence {
            kinds.entry(*what).or_default().add(e);
        }
        let beliefs = |what: What| !matches!(what, What::Minutes | What::Price);
        let together: f64 = kinds.iter().filter(|(w, _)| beliefs(**w)).map(|(_, e)| e.ln_odds()).sum();
        for ((what, family), e) in evidence {
            let (own, kind) = (e.ln_odds(), kinds[&what].ln_odds());
            let kind_moved = kind >= MOVED_FROM || (beliefs(what) && together >= MOVED_FROM && kind >= GOES_ALONG);
            let moved = own >= MOVED_FROM || (kind_moved && own >= GOES_ALONG);
            let times = moved.then(|| e.times(kinds[&what].times(1.0, PRIOR_SPREAD), FAMILY_SPREAD));
            self.all.insert((what, family.clone()), Strength { what, family, jobs: e.jobs, ln_odds: own, times });
        }
    }

    /// Whether numbers of this kind and family stay as shipped.
    #[must_use]
    pub fn leaves(&self, what: What, family: &str) -> bool {
        !self.as_shipped && self.get(what, family).is_none_or(|s| s.times.is_none())
    }

    /// Factor on a shipped weight for intervals: never above 1, and 1 where the number is left alone, since that the base is
    /// not spoken against does not make it surer than it says.
    #[must_use]
    pub fn for_draws(&self, what: What, family: &str) -> f64 {
        self.get(what, family).and_then(|s| s.times).map_or(1.0, |times| times.min(1.0))
    }

    /// Factor on a shipped weight for the mean: beyond all jobs where the number is left alone.
    #[must_use]
    pub fn for_means(&self, what: What, family: &str) -> f64 {
        if self.leaves(what, family) {
            return FIXED;
        }
        self.get(what, family).and_then(|s| s.times).unwrap_or(1.0)
    }

    /// All of them.
    pub fn iter(&self) -> impl Iterator<Item = &Strength> {
        self.all.values()
    }

    fn get(&self, what: What, family: &str) -> Option<&Strength> {
        self.all.get(&(what, family.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use statrs::function::gamma::ln_gamma;

    proptest! {
        /// P(n | gamma-distributed rate) / P(n | rate) by summing the definition over a fine grid of the rate.
        #[test]
        fn rates_are_integrated_exactly(n in 0_u32..30, expected in 0.2_f64..12.0, worth in 0.8_f64..6.0) {
            let e = Evidence::of_rate(f64::from(n), expected, worth);
            let k = TIMES.iter().position(|t| *t == 1.0).unwrap();
            // The factor x on the rate has the density of Gamma(worth, worth).
            let steps = 40_000;
            // What is integrated is gamma-shaped with this mean and deviation; beyond twelve deviations there is nothing.
            let (shape, rate) = (worth + f64::from(n), worth + expected);
            let top = (shape + 12.0 * shape.sqrt() + 20.0) / rate;
            let mut sum = 0.0;
            for i in 0..steps {
                let x = (f64::from(i) + 0.5) * top / f64::from(steps);
                let ln_density = worth * worth.ln() - ln_gamma(worth) + (worth - 1.0) * x.ln() - worth * x;
                sum += (ln_density + f64::from(n) * x.ln() - expected * (x - 1.0)).exp() * top / f64::from(steps);
            }
            prop_assert!((e.ln[k] - sum.ln()).abs() < 0.02, "{} {}", e.ln[k], sum.ln());
        }

        /// Whatever is seen, weights beyond all bounds are the base itself: evidence for them tends to nothing.
        #[test]
        fn an_endless_weight_is_the_base(n in 0.0_f64..20.0, m in 0.0_f64..20.0, p in 0.05_f64..0.95) {
            let e = Evidence::of_shares(&[(n, p), (m, 1.0 - p)], 1e9);
            prop_assert!(e.ln.iter().all(|x| x.abs() < 1e-3), "{e:?}");
        }

        /// Categories that were not seen change nothing, and jobs in one lump count as jobs one by one.
        #[test]
        fn order_of_jobs_does_not_matter(n in 1_u32..12, m in 1_u32..12, p in 0.1_f64..0.9, w in 0.5_f64..40.0) {
            let e = Evidence::of_shares(&[(f64::from(n), p), (f64::from(m), 1.0 - p)], w);
            // One after another: Polya's urn.
            let (mut a, mut b, mut ln) = (w * p, w * (1.0 - p), 0.0);
            for _ in 0..n { ln += (a / (a + b)).ln() - p.ln(); a += 1.0; }
            for _ in 0..m { ln += (b / (a + b)).ln() - (1.0 - p).ln(); b += 1.0; }
            let k = TIMES.iter().position(|t| *t == 1.0).unwrap();
            prop_assert!((e.ln[k] - ln).abs() < 1e-8, "{} {ln}", e.ln[k]);
        }
    }

    #[test]
    fn amounts_are_a_normal_against_a_point() {
        let e = Evidence::of_amount(0.3, 0.01, 0.02, 5.0);
        let normal = |x: f64, v: f64| -0.5 * (x * x / v + v.ln());
        let k = TIMES.iter().position(|t| *t == 2.0).unwrap();
        assert!((e.ln[k] - (normal(0.3, 0.02) - normal(0.3, 0.01))).abs() < 1e-12);
    }

    #[test]
    fn agreement_leaves_and_difference_overrules() {
        let evidence = |seen: &[(f64, f64)]| {
            let mut all = Evidence::default();
            (0..10).for_each(|_| all.add(&Evidence::of_shares(seen, 15.0)));
            all
        };
        let (alike, unlike) = (evidence(&[(30.0, 0.3), (70.0, 0.7)]), evidence(&[(60.0, 0.3), (40.0, 0.7)]));
        let mut s = Strengths::default();
        let key = |f: &str| (What::Sets, f.to_owned());
        s.decide([(key("a"), alike), (key("b"), unlike)].into());
        assert!(s.leaves(What::Sets, "a") && !s.leaves(What::Sets, "b"), "{s:?}");
        assert!(s.for_means(What::Sets, "a") > 1e6 && s.for_draws(What::Sets, "a") == 1.0);
        assert!(s.for_means(What::Sets, "b") < 1.0, "{s:?}");
        assert!(s.leaves(What::Sets, "nobody asked") && !Strengths::shipped().leaves(What::Sets, "a"));
    }
}

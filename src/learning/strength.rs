//! Do a shop's jobs agree with the shipped numbers? One question for the shop, by the marginal likelihood of all its jobs: a
//! shop that agrees with the base to within chance leaves it alone, a shop that differs has a multiplier on the shipped
//! weights for each kind of number and family. Knows counts and shapes, not what they stand for.

use super::hierarchy::{Each, RIGHT, TIMES, believed_below, differs, told_above};
use super::number::What;
use super::pooling::ln_rising;
use std::collections::BTreeMap;

/// ln of the odds that what fails and what it shows differ from the base, from which they are moved: four to one.
///
/// Markov's inequality alone allows one shop in four that agrees to be moved (`differs`). On the square root of the odds it says
/// more: P(odds >= k) is at most E[sqrt(odds)] / sqrt(k). Over a hundred shops drawn from the shipped base the mean of the root was a
/// tenth at 300 jobs and a fiftieth at 1,000, which would be one shop in twenty, then one in a hundred: an estimate, not a bound.
/// `bench/README.md` has what was counted.
pub const BELIEFS_FROM: f64 = 2.0 * std::f64::consts::LN_2;

/// The same of minutes or of prices: twenty to one, since their likelihood is an approximation.
pub const AMOUNTS_FROM: f64 = 2.995_732_3;

/// P(the base is right for a family, though the shop differs) from which it is left alone there: twenty to one.
const LEFT_FROM: f64 = 20.0 / 21.0;

/// ln P(jobs | multiplier) less ln P(jobs | the base is right), for each of `TIMES`. Evidence of independent numbers adds up.
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

    /// Of any numbers: ln P(jobs | multiplier) less ln P(jobs | the base is right), given outright.
    #[must_use]
    pub fn of(ln_ratio: impl Fn(f64) -> f64, jobs: f64) -> Self {
        Self { ln: TIMES.map(ln_ratio), jobs }
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

    /// With that of a base that is right, which is 0.
    fn each(&self) -> Each {
        std::array::from_fn(|k| self.ln.get(k).copied().unwrap_or(0.0))
    }
}

/// The multiplier of a family if it differs: mean of its logarithm. None where the base is all but certainly right for it.
fn times(believed: &Each) -> Option<f64> {
    let ln: f64 = believed.iter().zip(TIMES).map(|(p, t)| p * t.ln()).sum();
    (believed[RIGHT] < LEFT_FROM).then(|| (ln / (1.0 - believed[RIGHT])).exp())
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
    /// ln of the odds that the shop differs from the base by these numbers alone, before the jobs being even.
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
    /// What fails and what it shows are of one piece, so there is one question: is the base right for this shop? All families of
    /// all four kinds answer it together, and where it is right everything stays as shipped. A shop that differs has a multiplier,
    /// its kinds have theirs around it and their families around those (`hierarchy`); so a family that says little by
    /// itself goes with the others, and one that clearly agrees with the base is left alone. Minutes and prices are questions of
    /// their own.
    pub fn decide(&mut self, evidence: BTreeMap<(What, String), Evidence>) {
        if self.as_shipped {
            return;
        }
        let question = |what: What| if matches!(what, What::Minutes | What::Price) { Some(what) } else { None };
        let add = |all: &mut Each, ln: &Each| all.iter_mut().zip(told_above(ln)).for_each(|(a, b)| *a += b);
        let mut kinds: BTreeMap<What, Each> = BTreeMap::new();
        for ((what, _), e) in &evidence {
            add(kinds.entry(*what).or_default(), &e.each());
        }
        let mut shop: BTreeMap<Option<What>, Each> = BTreeMap::new();
        for (what, ln) in &kinds {
            add(shop.entry(question(*what)).or_default(), ln);
        }
        for ((what, family), e) in evidence {
            let question = question(what);
            let (odds, believed) = differs(&shop[&question]);
            let moved = odds >= if question.is_some() { AMOUNTS_FROM } else { BELIEFS_FROM };
            let own = || believed_below(&e.each(), &believed_below(&kinds[&what], &believed));
            let times = if moved { times(&own()) } else { None };
            let ln_odds = differs(&e.each()).0;
            self.all.insert((what, family.clone()), Strength { what, family, jobs: e.jobs, ln_odds, times });
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

    /// Jobs that differ from the base in one family, and agree with it in another as far as these do.
    #[test]
    fn a_shop_that_differs_takes_along_whoever_says_little() {
        let of = |n: f64, m: f64, how_many: usize| {
            let mut all = Evidence::default();
            (0..how_many).for_each(|_| all.add(&Evidence::of_shares(&[(n, 0.3), (m, 0.7)], 15.0)));
            all
        };
        let key = |what, f: &str| (what, f.to_owned());
        let decided = |evidence: &[((What, String), Evidence)]| {
            let mut s = Strengths::default();
            s.decide(evidence.iter().cloned().collect());
            s
        };
        let (unlike, little) = (of(60.0, 40.0, 10), of(1.0, 2.0, 1));
        let s = decided(&[
            (key(What::Sets, "a"), little),
            (key(What::Sets, "b"), unlike),
            (key(What::Prior, "c"), little),
            (key(What::Minutes, "b"), little),
        ]);
        assert!(!s.leaves(What::Sets, "a") && !s.leaves(What::Prior, "c"), "{s:?}");
        assert!(s.leaves(What::Minutes, "b"), "{s:?}");
        // Without the one that differs all is left, and minutes that differ take nobody along.
        let s = decided(&[(key(What::Sets, "a"), little), (key(What::Minutes, "b"), unlike)]);
        assert!(s.leaves(What::Sets, "a") && !s.leaves(What::Minutes, "b"), "{s:?}");
        // The multiplier of a family that says little is that of the others.
        let s = decided(&[(key(What::Sets, "a"), little), (key(What::Sets, "b"), unlike)]);
        let times = |f: &str| s.get(What::Sets, f).unwrap().times.unwrap();
        assert!(times("b") < 0.5 && times("a") < 0.8, "{s:?}");
    }

    proptest! {
        /// Where the base is right the odds against it are 1 on average, so that Markov's inequality holds: over all outcomes
        /// of two numbers of different kinds.
        #[test]
        fn odds_against_a_base_that_is_right_are_even_on_average(
            n in 1_u32..12, m in 1_u32..12, p in 0.05_f64..0.95, q in 0.05_f64..0.95, w in 0.5_f64..30.0,
        ) {
            let binomial = |n: u32, k: u32, p: f64| {
                let ln = |x: u32| ln_gamma(f64::from(x) + 1.0);
                (ln(n) - ln(k) - ln(n - k) + f64::from(k) * p.ln() + f64::from(n - k) * (-p).ln_1p()).exp()
            };
            let kind = |n: u32, k: u32, p: f64| {
                let seen = [(f64::from(k), p), (f64::from(n - k), 1.0 - p)];
                told_above(&told_above(&Evidence::of_shares(&seen, w).each()))
            };
            let mut mean = 0.0;
            let others: Vec<Each> = (0..=m).map(|j| kind(m, j, q)).collect();
            for i in 0..=n {
                let one = kind(n, i, p);
                for (j, other) in (0..).zip(&others) {
                    let shop: Each = std::array::from_fn(|k| one[k] + other[k]);
                    mean += binomial(n, i, p) * binomial(m, j, q) * differs(&shop).0.exp();
                }
            }
            prop_assert!((mean - 1.0).abs() < 1e-6, "{mean}");
        }
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

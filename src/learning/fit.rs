//! From counts to numbers: shares, `sets`, `detects`, false alarms, minutes, prices and groups, each with a 90 %
//! interval. Pure: reads a base and counts, writes nothing.

use super::counts::Counts;
use super::em::{Unsure, fractions};
use super::model::Model;
pub use super::number::{Number, What};
use super::open_jobs::{Dealt, OpenJobs};
use super::overlay::slot;
use super::readings::{self, Seen};
use super::scores::quantile;
use super::selection;
use super::shares::{Rates, odds_of_two, prevalence, scale_from_pairs};
use super::strength::{Evidence, Strength, Strengths};
use super::tally::Tally;
use inference::Rng;
use inference::gamma::Sampler;
use knowledge::base::Base;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Draws from which intervals are read.
pub const DRAWS: usize = 400;

/// Level of all intervals.
pub const LEVEL: f64 = 0.90;

/// How much commoner a part's faults are in a group than in the whole shop.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupNumber {
    /// `make`, `model`, `engine` or `age`.
    pub by: String,
    /// Which one.
    pub value: String,
    /// Part.
    pub of: String,
    /// Factor on the prevalence of each of its suspects.
    pub times: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Jobs of the group.
    pub jobs: f64,
}

/// How strongly groups are pooled as to one part.
#[derive(Clone, Debug, PartialEq)]
pub struct Pooled {
    /// `make`, `model`, `engine` or `age`.
    pub by: String,
    /// Part.
    pub of: String,
    /// How many groups.
    pub groups: usize,
    /// How many jobs the shop's share is worth to a group.
    pub strength: f64,
    /// ln of the likelihood ratio against one pool.
    pub ln_ratio: f64,
}

/// Everything learned.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Learned {
    /// All jobs counted.
    pub jobs: f64,
    /// Jobs with one confirmed cause that the base knows.
    pub confirmed: f64,
    /// Jobs without a confirmed cause.
    pub unsure: f64,
    /// Jobs whose codes the confirmed cause does not set.
    pub odd: f64,
    /// Jobs whose cause, or all whose codes, the base does not know.
    pub unknown: f64,
    /// The numbers, by what they are and whom they speak of.
    pub numbers: Vec<Number>,
    /// Share of the shop's jobs of each suspect: id, shipped, learned, low, high.
    pub shares: Vec<(String, f64, f64, f64, f64)>,
    /// Factors of groups.
    pub groups: Vec<GroupNumber>,
    /// Ways of grouping.
    pub pooled: Vec<Pooled>,
    /// How far the jobs agree with the base, by kind of number and family.
    pub strengths: Vec<Strength>,
    /// Factor on all prevalences that jobs with two faults speak for, and its interval.
    pub overall: Option<(f64, f64, f64)>,
}

/// Learns from the counts.
#[must_use]
pub fn fit(base: &Base, counts: &Counts, seed: u64) -> Learned {
    fit_with(base, &Model::new(base), counts, seed, DRAWS)
}

/// As [`fit`], with a model at hand and that many draws; with 0 draws there are no intervals and little work.
#[must_use]
pub fn fit_with(base: &Base, model: &Model, counts: &Counts, seed: u64, draws: usize) -> Learned {
    fit_trusting(base, model, counts, seed, draws, Strengths::default())
}

/// As [`fit_with`], with the strengths given where they are not to be learned: [`Strengths::shipped`].
#[must_use]
pub fn fit_trusting(
    base: &Base,
    model: &Model,
    counts: &Counts,
    seed: u64,
    draws: usize,
    mut strengths: Strengths,
) -> Learned {
    let mut out = Learned { jobs: counts.jobs(), ..Learned::default() };
    let mut tally = Tally::new(model, counts, &mut out);
    let open = OpenJobs::new(model, counts, &mut out);
    let shipped: Vec<f64> = model.suspects.iter().map(|s| s.prior).collect();
    let shipped_reach: Vec<f64> = model.suspects.iter().map(|s| s.reach()).collect();
    let rate: Vec<f64> = shipped.iter().zip(&shipped_reach).map(|(p, r)| p * r).collect();
    let rates = |strengths: &Strengths, draws: bool| {
        let times = |s: &super::model::Suspect| match draws {
            true => strengths.for_draws(What::Prior, &s.family),
            false => strengths.for_means(What::Prior, &s.family),
        };
        let worth: Vec<f64> = model.suspects.iter().map(|s| s.worth * times(s)).collect();
        Rates::shipped(&shipped, &shipped_reach, &worth)
    };
    let sure = tally.jobs.clone();
    let mut seen = Seen::confirmed(model, counts);
    let weigh = |strengths: &mut Strengths, tally: &Tally, seen: &Seen, more: &[f64]| {
        let mut evidence: BTreeMap<(What, String), Evidence> = BTreeMap::new();
        tally.evidence(model, &rate, more, &mut evidence);
        readings::evidence(model, seen, &mut evidence);
        super::amounts::evidence(base, counts, &mut evidence);
        strengths.decide(evidence);
    };
    let none = vec![0.0; shipped.len()];
    weigh(&mut strengths, &tally, &seen, &none);
    let with = |more: &[f64]| -> Vec<f64> { sure.iter().zip(more).map(|(a, b)| a + b).collect() };
    if !open.is_empty() {
        // Causes given the numbers, numbers given the causes, by turns.
        let (confirmed, confirmed_seen) = (tally.clone(), seen.clone());
        for _ in 0..ROUNDS {
            let sets = learn_sets(model, &tally, &strengths, 0, seed);
            let rates = rates(&strengths, false);
            let unsure = open.under(model, &sets, &readings::means(model, &seen, &strengths));
            let more = fractions(shipped.len(), &unsure, |more| rates.shares(&with(more)));
            (tally, seen) = (confirmed.clone(), confirmed_seen.clone());
            open.deal(&unsure, &rates.shares(&with(&more)), &mut |d| match d {
                Dealt::Codes { suspect, at, jobs, share } => {
                    tally.codes(model, suspect, at, jobs, share >= AS_GOOD_AS_SURE);
                }
                Dealt::Result { suspect, finding, level, jobs } => seen.add(model, suspect, finding, level, jobs),
            });
            weigh(&mut strengths, &tally, &seen, &more);
        }
    }
    let sets = learn_sets(model, &tally, &strengths, draws, seed);
    let reach: Vec<f64> = sets.iter().map(|s| s.reach).collect();
    let rates_of_means = rates(&strengths, false);
    let overall_rate = rates_of_means.total();
    let unsure = open.under(model, &sets, &readings::means(model, &seen, &strengths));
    let more = fractions(shipped.len(), &unsure, |more| rates_of_means.shares(&with(more)));
    out.overall = scale_from_pairs(out.confirmed, tally.pairs, odds_of_two(&shipped, &shipped_reach));
    let scale = match out.overall {
        // Only when the record clearly speaks against the shipped rate.
        Some((factor, low, high)) if low > 1.0 || high < 1.0 => factor,
        _ => 1.0,
    };
    let shares = rates_of_means.shares(&with(&more));
    let new = prevalence(&shares, &reach, overall_rate * scale);
    let drawn = draw_shares(&rates(&strengths, true), &sure, &shares, &unsure, draws, seed);
    let shipped_shares = rates_of_means.shipped_shares();
    for (i, s) in model.suspects.iter().enumerate() {
        let mut of_jobs: Vec<f64> = drawn.iter().map(|d| d[i]).collect();
        let mut of_cars: Vec<f64> = drawn
            .iter()
            .enumerate()
            .map(|(k, d)| {
                // Where hardly anything is known of a fault that hardly sets a code, any prevalence up to all cars may be behind it.
                let reach = sets[i].draws[k % sets[i].draws.len().max(1)].1;
                (overall_rate * scale * d[i] / reach.max(f64::MIN_POSITIVE)).min(1.0)
            })
            .collect();
        let (low, high) = around(interval(&mut of_jobs, shares[i]), shares[i]);
        out.shares.push((s.id.clone(), shipped_shares[i], shares[i], low, high));
        let (low, high) = around(interval(&mut of_cars, new[i]), new[i]);
        let factor = new[i] / s.prior;
        // The base holds the prevalence before equipment and factors: the same factor applies there.
        let old = s.in_base;
        out.numbers.push(Number {
            what: What::Prior,
            of: s.id.clone(),
            on: String::new(),
            level: String::new(),
            old,
            new: old * factor,
            low: old * low / s.prior,
            high: old * high / s.prior,
            jobs: sure[i] + more[i],
        });
        set_numbers(model, i, &sets[i], &tally, &mut out);
    }
    readings::learn(model, &seen, &strengths, draws, seed, &mut out.numbers);
    super::amounts::learn(base, counts, &strengths, &mut out.numbers);
    super::groups::learn(model, counts, &mut out);
    out.strengths = strengths.iter().filter(|s| s.jobs > 0.0).cloned().collect();
    // What follows from the size of an opening stands nowhere in the base and cannot be laid over it.
    out.numbers.retain(|n| slot::stands(base, n));
    out.numbers.sort_by(|a, b| (a.what, &a.of, &a.on, &a.level).cmp(&(b.what, &b.of, &b.on, &b.level)));
    out
}

/// Share of a job from which its cause counts as sure when the strength of the base is weighed.
const AS_GOOD_AS_SURE: f64 = 0.5;

/// The interval, stretched to hold the value: one that was left as shipped may lie at the rim of what the jobs say.
pub(super) fn around((low, high): (f64, f64), value: f64) -> (f64, f64) {
    (low.min(value), high.max(value))
}

/// Central interval of the draws, or the value itself when there are none.
pub(super) fn interval(draws: &mut [f64], value: f64) -> (f64, f64) {
    if draws.is_empty() {
        return (value, value);
    }
    draws.sort_unstable_by(f64::total_cmp);
    (quantile(draws, 0.5 - 0.5 * LEVEL), quantile(draws, 0.5 + 0.5 * LEVEL))
}

fn set_numbers(model: &Model, i: usize, sets: &selection::Sets, tally: &Tally, out: &mut Learned) {
    let s = &model.suspects[i];
    if tally.fitting[i] <= 0.0 {
        return;
    }
    // What follows from the size of an opening is no number that jobs could move.
    for (m, link) in s.monitors.iter().enumerate().filter(|(_, l)| l.own) {
        for level in 1..link.levels.len() {
            if link.levels[level] <= 0.0 {
                continue;
            }
            let mut draws: Vec<f64> = sets.draws.iter().map(|d| d.0[m][level]).collect();
            let new = sets.monitors[m].mean[level];
            let (low, high) = around(interval(&mut draws, new), new);
            out.numbers.push(Number {
                what: What::Sets,
                of: s.id.clone(),
                on: model.monitors[link.monitor].levels[level].clone(),
                level: String::new(),
                old: link.levels[level],
                new,
                low,
                high,
                jobs: tally.levels[i][m][level],
            });
        }
    }
}

/// Draws of the shares by turns (Gibbs sampling): unsure jobs are dealt out by the shares, shares drawn given the
/// jobs. So the doubt about causes widens the intervals, which fractions of jobs alone would not.
fn draw_shares(
    rates: &Rates,
    sure: &[f64],
    start: &[f64],
    unsure: &[Unsure],
    draws: usize,
    seed: u64,
) -> Vec<Vec<f64>> {
    let mut sampler = Sampler::new(Rng::new(seed, u64::MAX));
    let mut rng = Rng::new(seed, u64::MAX - 1);
    let mut shares = start.to_vec();
    let mut cars = sure.iter().sum::<f64>() / rates.total();
    let mut out = Vec::with_capacity(draws);
    let (mut parts, warm_up) = (Vec::new(), if draws == 0 { 0 } else { 50 });
    let unsure = likeliest_first(unsure, start);
    for sweep in 0..draws + warm_up {
        let mut jobs = sure.to_vec();
        for u in &unsure {
            u.responsibilities(&shares, &mut parts);
            let (mut left, mut mass) = (u.jobs, 1.0);
            for ((c, _), r) in u.likelihood.iter().zip(&parts) {
                let now = binomial(&mut rng, &mut sampler, left, if mass > 0.0 { (r / mass).min(1.0) } else { 0.0 });
                jobs[*c] += now;
                left -= now;
                mass -= r;
                if left <= 0.0 {
                    break;
                }
            }
        }
        rates.draw(&mut sampler, &jobs, &mut cars, &mut shares);
        if sweep >= warm_up {
            out.push(shares.clone());
        }
    }
    out
}

/// The same jobs with the likeliest categories first, so that few are left to be dealt out after some.
fn likeliest_first(unsure: &[Unsure], shares: &[f64]) -> Vec<Unsure> {
    let mut sorted = unsure.to_vec();
    for u in &mut sorted {
        u.likelihood.sort_by(|a, b| (shares[b.0] * b.1).total_cmp(&(shares[a.0] * a.1)).then(a.0.cmp(&b.0)));
    }
    sorted
}

/// Most expected jobs that are drawn exactly.
const COUNTED: f64 = 30.0;

/// Jobs out of `n` that fall to a share `p`: of whole jobs by inversion (L. Devroye, *Non-Uniform Random Variate Generation*, 1986,
/// section X.4), by the normal approximation where many are expected on both sides; a fraction of a job falls as a whole.
fn binomial(rng: &mut Rng, sampler: &mut Sampler, n: f64, p: f64) -> f64 {
    if n <= 0.0 || p <= 0.0 {
        return 0.0;
    }
    if p >= 1.0 {
        return n;
    }
    if p > 0.5 {
        return n - binomial(rng, sampler, n, 1.0 - p);
    }
    let whole = n.floor();
    let left = n - whole;
    let of_left = if left > 0.0 && rng.unit() < p { left } else { 0.0 };
    let expected = whole * p;
    if expected > COUNTED {
        let drawn = expected + (expected * (1.0 - p)).sqrt() * sampler.normal();
        return of_left + drawn.round().clamp(0.0, whole);
    }
    let mut u = rng.unit();
    // Bernoulli: (1 - p)^n >= 1 - n p, so mostly there is nothing to compute.
    if u < 1.0 - expected {
        return of_left;
    }
    let (mut hits, mut chance) = (0.0, (whole * (-p).ln_1p()).exp());
    while u >= chance && hits < whole {
        u -= chance;
        hits += 1.0;
        chance *= (whole - hits + 1.0) / hits * (p / (1.0 - p));
    }
    of_left + hits
}

/// Rounds between causes and numbers: the second moves the shares of the demo by less than a thousandth.
const ROUNDS: usize = 3;

fn learn_sets(model: &Model, tally: &Tally, strengths: &Strengths, draws: usize, seed: u64) -> Vec<selection::Sets> {
    let one = |i: usize| {
        let s = &model.suspects[i];
        let n = tally.fitting[i];
        let left = strengths.leaves(What::Sets, &s.family) || s.monitors.iter().all(|l| !l.own);
        let told = |times: f64| tally.told(model, i, times);
        let best = match left {
            true => s.as_shipped(),
            false => selection::means(&told(strengths.for_means(What::Sets, &s.family)), n),
        };
        if draws == 0 {
            return best;
        }
        // The draws say how far the number could lie; a number that is left stays as it is.
        let told = told(strengths.for_draws(What::Sets, &s.family));
        selection::Sets { draws: selection::learn(&told, n, draws, seed, i as u64).draws, ..best }
    };
    (0..model.suspects.len()).into_par_iter().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{Binomial, Discrete as _, DiscreteCDF as _};

    /// Counts of draws against the distribution itself, over ranges on both sides of each way to draw.
    #[test]
    fn jobs_fall_as_binomial_says() {
        let (mut rng, mut sampler) = (Rng::new(11, 0), Sampler::new(Rng::new(11, 1)));
        for (n, p) in [(1.0, 0.3), (7.0, 0.02), (40.0, 0.6), (500.0, 0.001), (90.0, 0.3), (5000.0, 0.4)] {
            let truth = Binomial::new(p, n as u64).unwrap();
            let draws: Vec<f64> = (0..20_000).map(|_| binomial(&mut rng, &mut sampler, n, p)).collect();
            // The five quintiles, as far as whole numbers allow.
            for q in [0.2, 0.4, 0.6, 0.8, 0.95] {
                let at = truth.inverse_cdf(q);
                let wanted = truth.cdf(at);
                let seen = draws.iter().filter(|d| **d <= at as f64).count() as f64 / 20_000.0;
                // Four standard errors; the normal approximation is off by up to a tenth of one step.
                let error = 4.0 * (wanted * (1.0 - wanted) / 20_000.0).sqrt()
                    + 0.1 * truth.pmf(at) * f64::from(n * p > COUNTED);
                assert!((seen - wanted).abs() <= error, "{n} {p} {q}: {seen} {wanted}");
            }
        }
        let halves: f64 = (0..20_000).map(|_| binomial(&mut rng, &mut sampler, 2.5, 0.2)).sum();
        assert!((halves / 20_000.0 - 0.5).abs() < 0.02, "{halves}");
    }
}

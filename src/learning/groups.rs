//! Do makes, models, engines or ages of cars, or shops, differ in which part fails? Partial pooling towards the whole shop, its
//! strength estimated from the data, part by part, since a design's weak spot is a part.

use super::counts::{Counts, Kind};
use super::fit::{GroupNumber, LEVEL, Learned, Pooled};
use super::model::Model;
use super::pooling::{STRONGEST, Strength, strength};
use super::proportion::Beta;
use knowledge::base::NOT_LISTED_PREFIX;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Evidence, as ln of a likelihood ratio, from which groups are told apart. With some thirty parts looked at, chance
/// alone goes beyond it about once in thirty shops (half of a chi-square of one degree beyond 8).
const TELLS_APART: f64 = 4.0;

/// Learns the factors of groups.
pub(super) fn learn(model: &Model, counts: &Counts, out: &mut Learned) {
    let mut by: BTreeMap<&str, BTreeMap<&str, BTreeMap<&str, f64>>> = BTreeMap::new();
    for (key, jobs) in counts.of(Kind::Group) {
        // Rare causes that were lumped belong to no part, but to the size of the group.
        let counts = key.subject.is_empty() || model.suspect(&key.subject).is_some();
        if let (Some((by_what, value)), true) = (key.group.split_once(':'), counts) {
            let part = key.subject.split('/').next().unwrap_or_default();
            *by.entry(by_what).or_default().entry(value).or_default().entry(part).or_default() += jobs;
        }
    }
    for (by_what, values) in by {
        let parts: BTreeSet<&str> = values.values().flat_map(|g| g.keys().copied()).collect();
        let jobs_of = |g: &BTreeMap<&str, f64>| -> f64 { g.values().sum() };
        let all: f64 = values.values().map(jobs_of).sum();
        let parts: Vec<&str> =
            parts.into_iter().filter(|p| !p.is_empty() && format!("{p}/") != NOT_LISTED_PREFIX).collect();
        let pooled = |part: &&str| {
            let here = |g: &BTreeMap<&str, f64>| g.get(part).copied().unwrap_or(0.0);
            let common = (values.values().map(here).sum::<f64>() + 0.5) / (all + 1.0);
            let sparse: Vec<Vec<(usize, f64)>> =
                values.values().map(|g| vec![(0, here(g)), (1, jobs_of(g) - here(g))]).collect();
            (common, strength(&sparse, &[common, 1.0 - common], TELLS_APART))
        };
        let strengths: Vec<(f64, Strength)> = parts.par_iter().map(pooled).collect();
        for (part, (common, k)) in parts.into_iter().zip(strengths) {
            let here = |g: &BTreeMap<&str, f64>| g.get(part).copied().unwrap_or(0.0);
            if k.ln_ratio < TELLS_APART || k.jobs >= STRONGEST {
                continue;
            }
            let (by, of, groups) = (by_what.to_owned(), part.to_owned(), values.len());
            out.pooled.push(Pooled { by: by.clone(), of: of.clone(), groups, strength: k.jobs, ln_ratio: k.ln_ratio });
            for (value, group) in &values {
                let (jobs, hits) = (jobs_of(group), here(group));
                let shape = Beta::worth(common, k.jobs).after(hits, jobs - hits);
                // The other parts stay, so the factor on the prevalence is the ratio of the odds.
                let odds = |p: f64| (p / (1.0 - p)) / (common / (1.0 - common));
                let (low, high) = shape.interval(LEVEL);
                let (value, times) = ((*value).to_owned(), odds(shape.mean()));
                out.groups.push(GroupNumber {
                    by: by.clone(),
                    value,
                    of: of.clone(),
                    times,
                    low: odds(low),
                    high: odds(high),
                    jobs,
                });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::counts::Counter;
    use crate::job::{Cause, ClosedJob};

    fn learned(of_heron: usize) -> Learned {
        let mut counter = Counter::default();
        for (model, hits) in [("Finch", 20), ("Heron", of_heron), ("Lark", 19), ("Dale", 21)] {
            for i in 0..200 {
                let mut job = ClosedJob::on(jiff::civil::date(2024, 1, 1));
                (job.make, job.model, job.codes) = (Some("Orlo".into()), Some(model.into()), vec!["P0442".into()]);
                job.cause =
                    Cause::Found(if i < hits { "vent-valve/stuck-open" } else { "filler-cap/seal-worn" }.into());
                counter.add(&job);
            }
        }
        let mut out = Learned::default();
        learn(&Model::new(&shipped::base().unwrap()), &counter.finish(), &mut out);
        out
    }

    #[test]
    fn a_weak_spot_is_found_and_equal_groups_are_one_pool() {
        assert!(learned(22).groups.is_empty());
        let l = learned(70);
        let heron = l.groups.iter().find(|g| g.value == "orlo heron" && g.of == "vent-valve").unwrap();
        // Raw odds 70 : 130 against 130 : 670 in all, 2.8 times; pooled a little less.
        assert!(heron.low > 1.3 && heron.times < 2.8, "{heron:?}");
        assert!(l.pooled.iter().all(|p| p.by == "model"), "one make only: {:?}", l.pooled);
    }
}

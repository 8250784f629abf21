//! Jobs without a confirmed cause: how likely is what they showed under each cause that it may have been, and what each
//! cause gets of them? One half of expectation maximisation; the numbers themselves are learned elsewhere.

use super::counts::{Counts, Kind};
use super::em::Unsure;
use super::fit::Learned;
use super::model::Model;
use super::readings::Qualities;
use super::selection::Sets;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Jobs that look alike.
struct Alike {
    jobs: f64,
    /// Level of each monitor that spoke.
    at: BTreeMap<usize, usize>,
    /// Readings and their levels.
    results: Vec<(usize, usize)>,
    /// Suspects that it may have been, with what was believed of each.
    candidates: Vec<(usize, f64)>,
}

/// All jobs without a confirmed cause.
pub(super) struct OpenJobs {
    all: Vec<Alike>,
}

/// A part of a job that a suspect gets.
pub(super) enum Dealt<'a> {
    /// The codes; `share` is the part of each job that falls to the suspect.
    Codes { suspect: usize, at: &'a BTreeMap<usize, usize>, jobs: f64, share: f64 },
    /// A reading.
    Result { suspect: usize, finding: usize, level: usize, jobs: f64 },
}

/// A suspect that a person named is never believed less than this.
const LEAST_BELIEF: f64 = 0.05;

/// A suspect that is this many times less likely than the best one gets nothing.
const HOPELESS: f64 = 1e-9;

/// Parts of a job below this are not counted: a billion of them would not make a job.
const NOTHING: f64 = 1e-9;

impl OpenJobs {
    /// The jobs of the counts; those whose codes the base does not know are counted as unknown.
    pub fn new(model: &Model, counts: &Counts, out: &mut Learned) -> Self {
        let mut all = Vec::new();
        for (key, jobs) in counts.of(Kind::Unsure) {
            out.unsure += jobs;
            let at = model.levels_of(&key.object);
            if at.is_empty() {
                out.unknown += jobs;
                continue;
            }
            let told: BTreeMap<usize, f64> = key
                .subject
                .split(' ')
                .filter_map(|w| w.rsplit_once('='))
                .filter_map(|(s, b)| Some((model.suspect(s)?, b.parse::<f64>().ok()?.max(LEAST_BELIEF))))
                .collect();
            let candidates = if told.is_empty() {
                (0..model.suspects.len()).map(|i| (i, 1.0)).collect()
            } else {
                told.into_iter().collect()
            };
            all.push(Alike { jobs, at, results: model.results_of(&key.level), candidates });
        }
        Self { all }
    }

    pub fn is_empty(&self) -> bool {
        self.all.is_empty()
    }

    /// The likelihood of what was seen under each candidate, with these numbers. Jobs that no candidate explains have
    /// no likelihoods.
    pub fn under(&self, model: &Model, sets: &[Sets], tests: &Qualities) -> Vec<Unsure> {
        let one = |a: &Alike| {
            let p = |(i, belief): &(usize, f64)| {
                (*i, belief * model.codes_given(*i, &sets[*i], &a.at) * model.results_given(*i, &a.results, tests))
            };
            let mut likelihood: Vec<(usize, f64)> = a.candidates.iter().map(p).collect();
            let best = likelihood.iter().map(|(_, l)| *l).fold(0.0, f64::max);
            likelihood.retain(|(_, l)| *l > HOPELESS * best);
            Unsure { jobs: a.jobs, likelihood }
        };
        self.all.par_iter().with_min_len(16).map(one).collect()
    }

    /// Deals the jobs out: each candidate gets what the shares and the likelihoods say.
    pub fn deal(&self, under: &[Unsure], shares: &[f64], take: &mut dyn FnMut(Dealt<'_>)) {
        let mut parts = Vec::new();
        for (a, u) in self.all.iter().zip(under) {
            u.responsibilities(shares, &mut parts);
            for ((suspect, _), part) in u.likelihood.iter().zip(&parts).filter(|(_, p)| **p > NOTHING) {
                let (suspect, jobs) = (*suspect, a.jobs * part);
                take(Dealt::Codes { suspect, at: &a.at, jobs, share: *part });
                for (finding, level) in &a.results {
                    take(Dealt::Result { suspect, finding: *finding, level: *level, jobs });
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::counts::Counter;
    use crate::fit::{Number, What, fit_trusting};
    use crate::job::{Cause, ClosedJob};
    use crate::readings::{Seen, means};
    use crate::selection;
    use crate::strength::Strengths;
    use crate::world::{Manner, World};

    /// What the jobs teach, whether or not they speak for a shop of its own: that is looked at elsewhere.
    fn numbers(jobs: &[ClosedJob]) -> Vec<Number> {
        let mut counter = Counter::default();
        jobs.iter().for_each(|j| counter.add(j));
        let base = shipped::base().unwrap();
        let trusted = Strengths::shipped();
        fit_trusting(&base, &Model::new(&base), &counter.finish(), 3, 0, trusted).numbers
    }

    const NOTED: Manner = Manner { doubt: 4.0, unsure: 0.0, noted: 0.3 };

    #[test]
    fn a_job_with_one_possible_cause_teaches_what_a_confirmed_one_does() {
        let base = shipped::base().unwrap();
        let mut world = World::draw(&base, NOTED, 5).unwrap();
        let confirmed: Vec<ClosedJob> = (0..400).map(|_| world.job(NOTED)).collect();
        let open = |j: &ClosedJob| {
            let Cause::Found(id) = &j.cause else { return j.clone() };
            ClosedJob { cause: Cause::Unsure(vec![(id.clone(), 1.0)]), ..j.clone() }
        };
        let half: Vec<ClosedJob> =
            confirmed.iter().enumerate().map(|(i, j)| if i % 2 == 0 { open(j) } else { j.clone() }).collect();
        let (one, other) = (numbers(&confirmed), numbers(&half));
        assert_eq!(one.len(), other.len());
        let mut moved = 0;
        for (a, b) in one.iter().zip(&other) {
            assert_eq!((a.what, &a.of, &a.on, &a.level), (b.what, &b.of, &b.on, &b.level));
            assert!((a.new - b.new).abs() < 1e-6 && (a.jobs - b.jobs).abs() < 1e-6, "{a:?} {b:?}");
            moved += usize::from(matches!(a.what, What::Sets | What::Detects) && (a.new - a.old).abs() > 0.01);
        }
        assert!(moved > 20, "{moved}");
    }

    #[test]
    fn unsure_jobs_lead_sets_and_detects_not_away_from_the_truth() {
        let base = shipped::base().unwrap();
        let manner = Manner { doubt: 4.0, unsure: 0.6, noted: 0.3 };
        let (mut with, mut without) = (0.0, 0.0);
        for seed in 0..2 {
            let mut world = World::draw(&base, manner, seed).unwrap();
            let jobs: Vec<ClosedJob> = (0..900).map(|_| world.job(manner)).collect();
            let sure: Vec<ClosedJob> = jobs.iter().filter(|j| matches!(j.cause, Cause::Found(_))).cloned().collect();
            let truth: std::collections::BTreeMap<_, f64> =
                world.truth.iter().map(|n| ((n.what, n.of.clone(), n.on.clone(), n.level.clone()), n.new)).collect();
            let (all, few) = (numbers(&jobs), numbers(&sure));
            let few: std::collections::BTreeMap<_, f64> =
                few.iter().map(|n| ((n.what, n.of.clone(), n.on.clone(), n.level.clone()), n.new)).collect();
            for n in all.iter().filter(|n| matches!(n.what, What::Sets | What::Detects)) {
                let key = (n.what, n.of.clone(), n.on.clone(), n.level.clone());
                let Some(truth) = truth.get(&key) else { continue };
                with += (n.new - truth).powi(2);
                without += (few.get(&key).copied().unwrap_or(n.old) - truth).powi(2);
            }
        }
        // Numbers that follow from the size of an opening are not learned; what is left gains so little from jobs without a
        // cause that two worlds cannot tell it from nothing. It must not lose, but for a twentieth.
        assert!(with < 1.05 * without, "{with} {without}");
    }

    /// With the very steps that learning takes: the likelihood of the open jobs under what a round ends with is not
    /// below that under the shipped numbers.
    #[test]
    fn rounds_raise_the_likelihood_of_what_was_seen() {
        let base = shipped::base().unwrap();
        let manner = Manner { doubt: 4.0, unsure: 1.0, noted: 0.3 };
        let mut world = World::draw(&base, manner, 8).unwrap();
        let mut counter = Counter::default();
        (0..300).for_each(|_| counter.add(&world.job(manner)));
        let counts = counter.finish();
        let model = Model::new(&base);
        let open = OpenJobs::new(&model, &counts, &mut Learned::default());
        let mut jobs: Vec<Vec<selection::Told>> = model
            .suspects
            .iter()
            .map(|s| {
                let told = |l: &crate::model::Link| selection::Told {
                    levels: l.levels.clone(),
                    weight: l.weight,
                    jobs: vec![0.0; l.levels.len()],
                };
                s.monitors.iter().map(told).collect()
            })
            .collect();
        let rates: Vec<f64> = model.suspects.iter().map(|s| s.prior * s.reach()).collect();
        let mut shares: Vec<f64> = rates.iter().map(|r| r / rates.iter().sum::<f64>()).collect();
        let mut seen = Seen::default();
        let mut ln = Vec::new();
        for _ in 0..3 {
            let fitting =
                |told: &[selection::Told]| told.iter().map(|t| t.jobs[1..].iter().sum::<f64>()).fold(0.0, f64::max);
            let sets: Vec<Sets> = jobs.iter().map(|t| selection::means(t, fitting(t))).collect();
            let under = open.under(&model, &sets, &means(&model, &seen, &Strengths::shipped()));
            let of = |u: &Unsure| u.jobs * u.likelihood.iter().map(|(c, l)| shares[*c] * l).sum::<f64>().ln();
            ln.push(under.iter().map(of).sum::<f64>());
            (seen, jobs) = (Seen::default(), jobs);
            jobs.iter_mut().flatten().for_each(|t| t.jobs.fill(0.0));
            let mut got = vec![0.0; shares.len()];
            open.deal(&under, &shares, &mut |d| match d {
                Dealt::Codes { suspect, at, jobs: n, .. } => {
                    got[suspect] += n;
                    for (link, told) in model.suspects[suspect].monitors.iter().zip(&mut jobs[suspect]) {
                        told.jobs[at.get(&link.monitor).copied().unwrap_or(0)] += n;
                    }
                }
                Dealt::Result { suspect, finding, level, jobs } => seen.add(&model, suspect, finding, level, jobs),
            });
            let total: f64 = got.iter().sum::<f64>() + 60.0;
            shares = got.iter().zip(&rates).map(|(n, r)| (n + 60.0 * r / rates.iter().sum::<f64>()) / total).collect();
        }
        assert!(ln.windows(2).all(|w| w[1] > w[0]), "{ln:?}");
    }
}

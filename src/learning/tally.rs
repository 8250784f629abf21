//! Jobs by suspect and by what its monitors showed: what learning of prevalences and codes starts from. Pure.

use super::counts::{Counts, Kind};
use super::fit::Learned;
use super::model::{Link, Model};
use super::number::What;
use super::readings::both;
use super::selection::{Told, ln_ratio};
use super::strength::Evidence;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Weight of what cannot be moved.
const FIXED: f64 = 1e9;

/// Jobs by suspect and level.
#[derive(Clone)]
pub(super) struct Tally {
    /// Jobs of each suspect.
    pub jobs: Vec<f64>,
    /// Those of them whose codes the suspect sets.
    pub fitting: Vec<f64>,
    /// By monitor of the suspect and level.
    pub levels: Vec<Vec<Vec<f64>>>,
    /// Jobs with two causes.
    pub pairs: f64,
    /// Of those whose cause is as good as sure: how many, and by monitor of the suspect and level, whatever set it.
    sure: BTreeMap<usize, (f64, Vec<Vec<f64>>)>,
}

impl Tally {
    pub fn new(model: &Model, counts: &Counts, out: &mut Learned) -> Self {
        let n = model.suspects.len();
        let levels =
            model.suspects.iter().map(|s| s.monitors.iter().map(|l| vec![0.0; l.levels.len()]).collect()).collect();
        let mut t = Self { jobs: vec![0.0; n], fitting: vec![0.0; n], levels, pairs: 0.0, sure: BTreeMap::new() };
        for (key, jobs) in counts.of(Kind::Cause) {
            let Some(i) = model.suspect(&key.subject) else {
                out.unknown += jobs;
                continue;
            };
            out.confirmed += jobs;
            t.jobs[i] += jobs;
            if !t.codes(model, i, &model.levels_of(&key.object), jobs, true) {
                out.odd += jobs;
            }
        }
        for (key, jobs) in counts.of(Kind::Pair) {
            t.pairs += jobs;
            for id in [&key.subject, &key.object] {
                if let Some(i) = model.suspect(id) {
                    t.jobs[i] += jobs;
                }
            }
        }
        t
    }

    /// Counts the codes of so many jobs of a suspect; false when it sets none of them, and then nothing is counted.
    pub fn codes(&mut self, model: &Model, i: usize, seen: &BTreeMap<usize, usize>, jobs: f64, sure: bool) -> bool {
        let monitors = &model.suspects[i].monitors;
        let at: Vec<usize> = monitors.iter().map(|l| seen.get(&l.monitor).copied().unwrap_or(0)).collect();
        if !monitors.iter().zip(&at).any(|(l, at)| *at > 0 && l.levels[*at] > 0.0) {
            return false;
        }
        self.fitting[i] += jobs;
        if sure {
            let none = || (0.0, monitors.iter().map(|l| vec![0.0; l.levels.len()]).collect());
            let (n, levels) = self.sure.entry(i).or_insert_with(none);
            *n += jobs;
            levels.iter_mut().zip(&at).for_each(|(of, at)| of[*at] += jobs);
        }
        for (m, l) in at.into_iter().enumerate() {
            // A level that this suspect never sets came from elsewhere.
            if monitors[m].levels[l] > 0.0 {
                self.levels[i][m][l] += jobs;
            }
        }
        true
    }

    pub fn told(&self, model: &Model, i: usize, times: f64) -> Vec<Told> {
        let s = &model.suspects[i];
        s.monitors
            .iter()
            .zip(&self.levels[i])
            .map(|(l, jobs)| {
                // What the base does not hold as a number of its own cannot be moved, and is taken as it is.
                let weight = if l.own { l.weight * times } else { FIXED };
                Told { levels: l.levels.clone(), weight, jobs: jobs.clone() }
            })
            .collect()
    }

    /// What the jobs say of how far the shipped prevalences and codes hold, by family.
    pub fn evidence(&self, model: &Model, rates: &[f64], more: &[f64], out: &mut BTreeMap<(What, String), Evidence>) {
        let n: f64 = self.jobs.iter().chain(more).sum();
        let total: f64 = rates.iter().sum();
        for (i, s) in model.suspects.iter().enumerate() {
            let told = Evidence::of_rate(self.jobs[i] + more[i], n * rates[i] / total, s.worth);
            out.entry((What::Prior, s.family.clone())).or_default().add(&told);
        }
        // What the suspect sets and what comes by itself are seen together, so the shipped numbers are those of both.
        let told = |i: usize, n: f64, seen: &[Vec<f64>]| {
            let of = |times: f64| {
                let one = |(l, jobs): (&Link, &Vec<f64>)| Told {
                    levels: both(&model.monitors[l.monitor].leak, &l.levels),
                    weight: if l.own { l.weight * times } else { FIXED },
                    jobs: jobs.clone(),
                };
                ln_ratio(&model.suspects[i].monitors.iter().zip(seen).map(one).collect::<Vec<_>>(), n)
            };
            (model.suspects[i].family.clone(), Evidence::of(of, n))
        };
        let movable = |i: usize| model.suspects[i].monitors.iter().any(|l| l.own);
        let sure = self.sure.par_iter().filter(|(i, _)| movable(**i));
        let all: Vec<(String, Evidence)> = sure.map(|(i, (n, seen))| told(*i, *n, seen)).collect();
        for (family, told) in all {
            out.entry((What::Sets, family)).or_default().add(&told);
        }
    }
}

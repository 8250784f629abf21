//! Jobs by suspect and by what its monitors showed: what learning of prevalences and codes starts from. Pure.

use super::counts::{Counts, Kind};
use super::fit::Learned;
use super::model::Model;
use super::number::What;
use super::selection::{Sets, Told};
use super::strength::Evidence;
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
    /// Jobs by suspect and the codes that came with it, of those whose cause is as good as sure.
    patterns: BTreeMap<(usize, Vec<(usize, usize)>), f64>,
}

impl Tally {
    pub fn new(model: &Model, counts: &Counts, out: &mut Learned) -> Self {
        let n = model.suspects.len();
        let levels =
            model.suspects.iter().map(|s| s.monitors.iter().map(|l| vec![0.0; l.levels.len()]).collect()).collect();
        let mut t = Self { jobs: vec![0.0; n], fitting: vec![0.0; n], levels, pairs: 0.0, patterns: BTreeMap::new() };
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
            *self.patterns.entry((i, seen.iter().map(|(m, l)| (*m, *l)).collect())).or_default() += jobs;
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
        let mut by_suspect: BTreeMap<usize, Vec<(f64, f64)>> = BTreeMap::new();
        let as_shipped: BTreeMap<usize, Sets> =
            self.patterns.keys().map(|(i, _)| (*i, model.suspects[*i].as_shipped())).collect();
        for ((i, at), jobs) in &self.patterns {
            let p = model.codes_given(*i, &as_shipped[i], &at.iter().copied().collect());
            by_suspect.entry(*i).or_default().push((*jobs, p));
        }
        for (i, seen) in by_suspect {
            let s = &model.suspects[i];
            let own: Vec<f64> = s.monitors.iter().filter(|l| l.own).map(|l| l.weight).collect();
            if own.is_empty() {
                continue;
            }
            // P(code | came in) is P(code) / P(some code): relative to its own size it is as uncertain as a share that is
            // worth so many of the jobs that came in.
            let worth = s.reach() * own.iter().sum::<f64>() / own.len() as f64;
            out.entry((What::Sets, s.family.clone())).or_default().add(&Evidence::of_shares(&seen, worth));
        }
    }
}

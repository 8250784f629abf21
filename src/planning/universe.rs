//! Every world a job can pass through, numbered, with what each would show and what each repair makes of it.
//!
//! A reading then updates a state by one vector product, and a repair by looking up a split.

use super::Spend;
use super::problem::{Problem, ReadingModel, RepairStep, bits};
use rayon::prelude::*;
use std::collections::{BTreeMap, HashMap};

/// A set of present suspects, and those of them that keep the complaint up; bits are places in [`Problem::suspects`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Truth {
    /// Present.
    pub present: u128,
    /// Must go before the complaint is gone; a subset of `present`.
    pub need: u128,
}

/// What a repair makes of a world.
#[derive(Clone, Debug, PartialEq)]
pub struct Effect {
    /// The repair.
    pub repair: usize,
    /// P(the complaint is gone afterwards).
    pub clears: f64,
    /// The worlds in which the complaint stays, with their probabilities.
    pub leaves: Vec<(usize, f64)>,
    /// The worlds in which it is gone, with theirs: of use only while nobody has looked.
    pub ends: Vec<(usize, f64)>,
    /// Share of what the world still needs, by its cost with the faults known, that the repair takes away on average.
    pub progress: f64,
}

impl Effect {
    /// Whether the repair can take away a part of what a world needs and leave the rest.
    #[must_use]
    pub fn partial(&self, world: usize) -> bool {
        self.leaves.iter().any(|l| l.0 != world)
    }
}

/// Worlds, numbered.
#[derive(Clone, Debug)]
pub struct Universe {
    /// The worlds.
    pub worlds: Vec<Truth>,
    /// For each world, the repairs that touch it.
    pub effects: Vec<Vec<Effect>>,
    /// Cost of each repair with what it costs in vain on top: what chances are divided by to order repairs (moving the one
    /// before the other changes the expected cost by `p_j (c_i + v_i) - p_i (c_j + v_j)`).
    pub repair_costs: Vec<f64>,
    /// What each world still costs others after handing on; see [`Problem::owed`].
    pub owed: Vec<Spend>,
    /// The same as the one number that is kept small.
    pub owed_cost: Vec<f64>,
    /// What each world costs at least, the faults being known; see `bound`.
    pub known: Vec<f64>,
    /// Worlds with one number are dealt with in the same way once they are known, and need not be told apart.
    pub kind: Vec<usize>,
    /// How many kinds there are.
    pub kinds: usize,
    /// The state at the start: world and probability, which add up to 1.
    pub start: Vec<(usize, f64)>,
    /// P(level | world), all worlds of one level of one reading side by side.
    likelihood: Vec<f64>,
    /// Where the levels of a reading start.
    at: Vec<usize>,
}

impl Universe {
    /// Numbers the worlds given, and all that repairs can leave of them.
    #[must_use]
    pub fn new(problem: &Problem, start: &[(Truth, f64)]) -> Self {
        let total: f64 = start.iter().map(|w| w.1).sum();
        let mut it = Numbering::default();
        let start = start.iter().map(|&(truth, p)| (it.number(truth), p / total.max(f64::MIN_POSITIVE))).collect();
        let mut effects = Vec::new();
        let mut next = 0;
        while let Some(&truth) = it.worlds.get(next) {
            let touching = problem.repairs.iter().enumerate().filter(|(_, r)| r.removes & truth.present != 0);
            effects.push(touching.map(|(r, repair)| it.effect(problem, truth, r, repair)).collect());
            next += 1;
        }
        let (likelihood, at) = likelihoods(problem, &it.worlds);
        let repair_costs = problem.repairs.iter().map(|r| (r.spend + r.vain).cost(problem.aim)).collect();
        let owed: Vec<Spend> = it.worlds.iter().map(|w| problem.owed(w.need)).collect();
        let owed_cost = owed.iter().map(|o| o.cost(problem.aim)).collect();
        let (known, kind) = (Vec::new(), Vec::new());
        let worlds = it.worlds;
        let mut out =
            Self { worlds, effects, repair_costs, owed, owed_cost, known, kind, kinds: 0, start, likelihood, at };
        let (known, ways) = super::bound::known_costs(problem, &out);
        let mut kinds: BTreeMap<u128, usize> = BTreeMap::new();
        for way in ways {
            let next = kinds.len();
            out.kind.push(*kinds.entry(way).or_insert(next));
        }
        out.kinds = kinds.len();
        for (world, effects) in out.effects.iter_mut().enumerate() {
            for e in effects {
                let left: f64 = e.leaves.iter().map(|l| l.1 * known[l.0]).sum();
                e.progress = if known[world] > 0.0 { (1.0 - left / known[world]).max(0.0) } else { 0.0 };
            }
        }
        out.known = known;
        out
    }

    /// P(level of the reading | world), for all worlds.
    #[must_use]
    pub fn likelihood(&self, reading: usize, level: usize) -> &[f64] {
        let n = self.worlds.len();
        let from = (self.at[reading] + level) * n;
        &self.likelihood[from..from + n]
    }

    /// Number of levels of the reading.
    #[must_use]
    pub fn levels(&self, reading: usize) -> usize {
        self.at[reading + 1] - self.at[reading]
    }

    /// What the repair makes of the world; nothing when it does not touch it.
    #[must_use]
    pub fn effect(&self, world: usize, repair: usize) -> Option<&Effect> {
        self.effects[world].iter().find(|e| e.repair == repair)
    }
}

#[derive(Default)]
struct Numbering {
    worlds: Vec<Truth>,
    numbers: HashMap<Truth, usize>,
}

impl Numbering {
    fn number(&mut self, truth: Truth) -> usize {
        *self.numbers.entry(truth).or_insert_with(|| {
            self.worlds.push(truth);
            self.worlds.len() - 1
        })
    }

    /// Each suspect that the repair touches goes away with `1 - fails`, independently, and comes back with the chance
    /// that a cause left behind brings it about again.
    fn effect(&mut self, problem: &Problem, truth: Truth, repair: usize, it: &RepairStep) -> Effect {
        let mut outcomes = vec![(truth, 1.0)];
        for suspect in bits(it.removes & truth.present) {
            let left = truth.present & !it.removes;
            let brought = problem.returns.iter().filter(|r| r.victim == suspect && left >> r.cause & 1 == 1);
            let stays = 1.0 - (1.0 - it.fails) * brought.map(|r| 1.0 - r.chance).product::<f64>();
            let gone = !(1_u128 << suspect);
            let without = outcomes
                .iter()
                .map(|(t, p)| (Truth { present: t.present & gone, need: t.need & gone }, p * (1.0 - stays)));
            let mut both: Vec<(Truth, f64)> = without.collect();
            if stays > 0.0 {
                both.extend(outcomes.iter().map(|(t, p)| (*t, p * stays)));
            }
            outcomes = both;
        }
        let clears = outcomes.iter().filter(|(t, _)| t.need == 0).map(|(_, p)| p).sum();
        let mut number = |gone: bool| {
            let of = outcomes.iter().filter(|(t, _)| (t.need == 0) == gone);
            of.map(|(t, p)| (self.number(*t), *p)).collect()
        };
        let (ends, leaves) = (number(true), number(false));
        Effect { repair, clears, leaves, ends, progress: 0.0 }
    }
}

fn likelihoods(problem: &Problem, worlds: &[Truth]) -> (Vec<f64>, Vec<usize>) {
    let mut at = vec![0];
    for r in &problem.readings {
        at.push(at[at.len() - 1] + r.background.len());
    }
    let n = worlds.len();
    let of = |reading: &ReadingModel| -> Vec<f64> {
        let mut out = vec![0.0; reading.background.len() * n];
        let mut cdf = Vec::new();
        for (w, truth) in worlds.iter().enumerate() {
            reading.cumulative(truth.present, &mut cdf);
            let mut below = 0.0;
            for (level, c) in cdf.iter().enumerate() {
                out[level * n + w] = (c - below).max(0.0);
                below = *c;
            }
        }
        out
    };
    let parts: Vec<Vec<f64>> = problem.readings.par_iter().with_min_len(16).map(of).collect();
    (parts.concat(), at)
}

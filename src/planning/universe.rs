//! Every world a job can pass through, numbered, with what each would show and what each repair makes of it.
//!
//! A reading then updates a state by one vector product, and a repair by looking up a split.

use super::Spend;
use super::problem::{Problem, ReadingModel, RepairStep, bits};
use std::collections::{BTreeMap, HashMap};
use std::sync::OnceLock;

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
    /// What each repair removes, as bits.
    removes: Vec<u128>,
    /// What each repair does to each world, in short, the worlds one after the other.
    touches: Vec<Touch>,
    /// Where those of a world start.
    touches_at: Vec<usize>,
    /// Worlds of which a repair can take away a part of what is needed and leave the rest.
    pub several: Vec<bool>,
    /// What each reading shows in each world, worked out when it is first asked for: a plan looks at few.
    shown: Vec<OnceLock<Shown>>,
    readings: Vec<ReadingModel>,
}

/// What a repair does to a world, in short: [`Effect`] without where it leads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Touch {
    /// The repair.
    pub repair: usize,
    /// As in [`Effect`].
    pub clears: f64,
    /// As in [`Effect`].
    pub progress: f64,
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
        let repair_costs = problem.repairs.iter().map(|r| (r.spend + r.vain).cost(problem.aim)).collect();
        let owed: Vec<Spend> = it.worlds.iter().map(|w| problem.owed(w.need)).collect();
        let owed_cost = owed.iter().map(|o| o.cost(problem.aim)).collect();
        let (known, kind) = (Vec::new(), Vec::new());
        let worlds = it.worlds;
        let mut out = Self {
            worlds,
            effects,
            repair_costs,
            owed,
            owed_cost,
            known,
            kind,
            kinds: 0,
            start,
            removes: problem.repairs.iter().map(|r| r.removes).collect(),
            touches: Vec::new(),
            touches_at: vec![0],
            several: Vec::new(),
            shown: problem.readings.iter().map(|_| OnceLock::new()).collect(),
            readings: problem.readings.clone(),
        };
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
        for (world, effects) in out.effects.iter().enumerate() {
            let short = |e: &Effect| Touch { repair: e.repair, clears: e.clears, progress: e.progress };
            out.touches.extend(effects.iter().map(short));
            out.touches_at.push(out.touches.len());
            out.several.push(effects.iter().any(|e| e.partial(world)));
        }
        out
    }

    /// What each repair that touches the world does to it, in short.
    #[must_use]
    pub fn touches(&self, world: usize) -> &[Touch] {
        &self.touches[self.touches_at[world]..self.touches_at[world + 1]]
    }

    /// The suspects that the reading shows, as bits, and the worlds that hold any of them.
    #[must_use]
    pub fn shows(&self, reading: usize) -> (u128, &[usize]) {
        let shown = self.shown(reading);
        (shown.suspects, &shown.worlds)
    }

    /// P(level of the reading) in a world that holds nothing that it shows.
    #[must_use]
    pub fn plain(&self, reading: usize, level: usize) -> f64 {
        self.shown(reading).plain[level]
    }

    fn shown(&self, reading: usize) -> &Shown {
        self.shown[reading].get_or_init(|| Shown::of(&self.readings[reading], &self.worlds))
    }

    /// P(level of the reading | world), for all worlds.
    #[must_use]
    pub fn likelihood(&self, reading: usize, level: usize) -> &[f64] {
        let n = self.worlds.len();
        &self.shown(reading).likelihood[level * n..(level + 1) * n]
    }

    /// Number of levels of the reading.
    #[must_use]
    pub fn levels(&self, reading: usize) -> usize {
        self.readings[reading].background.len()
    }

    /// What the repair makes of the world; nothing when it does not touch it.
    #[must_use]
    pub fn effect(&self, world: usize, repair: usize) -> Option<&Effect> {
        if self.worlds[world].present & self.removes[repair] == 0 {
            return None;
        }
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

/// What a reading shows.
#[derive(Clone, Debug)]
struct Shown {
    /// The suspects that it shows, as bits.
    suspects: u128,
    /// The worlds that hold any of them: all others look alike.
    worlds: Vec<usize>,
    /// P(level) in those others.
    plain: Vec<f64>,
    /// P(level | world), all worlds of one level side by side.
    likelihood: Vec<f64>,
}

impl Shown {
    fn of(reading: &ReadingModel, worlds: &[Truth]) -> Self {
        let levels = |present: u128, p: &mut Vec<f64>| {
            reading.cumulative(present, p);
            let mut below = 0.0;
            for c in p {
                (*c, below) = ((*c - below).max(0.0), *c);
            }
        };
        let n = worlds.len();
        let (mut plain, mut p) = (Vec::new(), Vec::new());
        levels(0, &mut plain);
        let mut likelihood = Vec::with_capacity(plain.len() * n);
        plain.iter().for_each(|p| likelihood.resize(likelihood.len() + n, *p));
        let suspects = reading.links.iter().fold(0_u128, |all, l| all | 1 << l.0);
        let held: Vec<usize> = (0..n).filter(|&w| worlds[w].present & suspects != 0).collect();
        for &w in &held {
            levels(worlds[w].present, &mut p);
            p.iter().enumerate().for_each(|(level, p)| likelihood[level * n + w] = *p);
        }
        Self { suspects, worlds: held, plain, likelihood }
    }
}

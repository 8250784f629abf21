//! What is known at one point of a job: worlds with their probabilities, what is paid for, what has been done.

use super::problem::Problem;
use super::universe::Universe;
use super::{Spend, Step};

/// A state of knowledge. The masses add up to the probability of getting here, so values computed from states of one
/// job add up as they are.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// World number and mass, in the order of the numbers, no mass zero.
    pub worlds: Vec<(usize, f64)>,
    /// Sum of the masses.
    pub mass: f64,
    /// Setups paid for.
    pub paid: u128,
    /// Tests done since the last repair that touches what they look at.
    pub done: u128,
    /// Repairs made at least once, and twice: no repair is made a third time.
    pub made: [u128; 2],
}

/// Masses are compared after rounding to this many parts: states that differ by rounding only are one.
const PARTS: f64 = 1e11;

/// A state as 128 bits. Two different states of one search share them with a chance of about 1e-26, which is less than
/// that of a memory error.
pub(super) type Key = (u64, u64);

/// The finaliser of splitmix64: every bit of the input reaches every bit of the output.
fn spread(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// World number and mass.
type World = (usize, f64);

/// Two lists in the order of their numbers as one.
fn merged(a: &[World], b: &[World]) -> Vec<World> {
    let mut out = Vec::with_capacity(a.len() + b.len());
    let mut b = b.iter().copied().peekable();
    for &w in a {
        while let Some(before) = b.next_if(|b| b.0 < w.0) {
            out.push(before);
        }
        out.push(w);
    }
    out.extend(b);
    out
}

/// Share of the mass in which a repair leaves another need behind, from which on it may be made without a re-test.
const MEND_FROM: f64 = 0.1;

impl State {
    /// The state in which the problem is posed.
    #[must_use]
    pub fn start(problem: &Problem, universe: &Universe) -> Self {
        let made = [0, 0];
        Self::new(universe.start.clone(), problem.paid, problem.done, made)
    }

    /// Sorts, merges and adds up.
    pub(super) fn new(mut worlds: Vec<(usize, f64)>, paid: u128, done: u128, made: [u128; 2]) -> Self {
        if !worlds.is_sorted_by_key(|w| w.0) {
            worlds.sort_unstable_by_key(|w| w.0);
        }
        worlds.dedup_by(|b, a| {
            let same = a.0 == b.0;
            if same {
                a.1 += b.1;
            }
            same
        });
        worlds.retain(|w| w.1 > 0.0);
        let mass = worlds.iter().map(|w| w.1).sum();
        Self { worlds, mass, paid, done, made }
    }

    /// What tells it from others, whatever its mass.
    pub(super) fn key(&self) -> Key {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of 1 times 1e11 fits")]
        let round = |m: f64| (m / self.mass * PARTS).round() as u64;
        let mut key: Key = (0x243f_6a88_85a3_08d3, 0x1319_8a2e_0370_7344);
        let mut mix =
            |v: u64| key = (spread(key.0 ^ v), spread(key.1.rotate_left(29) ^ v.wrapping_mul(0x9e37_79b9_7f4a_7c15)));
        for &(w, m) in &self.worlds {
            let m = round(m);
            if m > 0 {
                mix(w as u64);
                mix(m);
            }
        }
        for set in [self.paid, self.done, self.made[0], self.made[1]] {
            #[expect(clippy::cast_possible_truncation, reason = "both halves are taken")]
            [set as u64, (set >> 64) as u64].into_iter().for_each(&mut mix);
        }
        key
    }

    /// Whether the repair may still be made.
    #[must_use]
    pub fn may_repair(&self, repair: usize) -> bool {
        self.made[1] >> repair & 1 == 0
    }

    /// Whether the test may be done now.
    #[must_use]
    pub fn may_test(&self, test: usize) -> bool {
        self.done >> test & 1 == 0
    }

    /// Mass of the worlds in which the complaint is gone already.
    #[must_use]
    pub fn gone(&self, universe: &Universe) -> f64 {
        self.worlds.iter().filter(|w| universe.worlds[w.0].need == 0).map(|w| w.1).sum()
    }

    /// A repair or a re-test with the complaint still there afterwards.
    #[must_use]
    pub fn still_there(&self, problem: &Problem, universe: &Universe, step: Step) -> Self {
        let Step::Repair(repair) = step else {
            let worlds = self.worlds.iter().copied().filter(|w| universe.worlds[w.0].need != 0).collect();
            return Self::new(worlds, self.paid, self.done, self.made);
        };
        let (mut same, mut moved) = (Vec::with_capacity(self.worlds.len()), Vec::new());
        for &(w, m) in &self.worlds {
            match universe.effect(w, repair) {
                Some(e) => moved.extend(e.leaves.iter().map(|&(to, p)| (to, m * p))),
                None if universe.worlds[w].need == 0 => {}
                None => same.push((w, m)),
            }
        }
        self.with_repair(problem, same, moved, repair)
    }

    /// The repair made, nobody having looked whether the complaint is gone.
    #[must_use]
    pub fn mended(&self, problem: &Problem, universe: &Universe, repair: usize) -> Self {
        let (mut same, mut moved) = (Vec::with_capacity(self.worlds.len()), Vec::new());
        for &(w, m) in &self.worlds {
            match universe.effect(w, repair) {
                Some(e) => moved.extend(e.leaves.iter().chain(&e.ends).map(|&(to, p)| (to, m * p))),
                None => same.push((w, m)),
            }
        }
        self.with_repair(problem, same, moved, repair)
    }

    /// The worlds that the repair did not touch, in their order, and what it made of the others, which are few.
    fn with_repair(&self, problem: &Problem, same: Vec<World>, mut moved: Vec<World>, repair: usize) -> Self {
        let bit = 1_u128 << repair;
        let made = [self.made[0] | bit, self.made[1] | (self.made[0] & bit)];
        let mut worlds = same;
        if !moved.is_empty() {
            moved.sort_unstable_by_key(|w| w.0);
            worlds = merged(&worlds, &moved);
        }
        Self::new(worlds, self.paid, self.done & !problem.again[repair], made)
    }

    /// Mass of the worlds in which the repair finds nothing to remove.
    #[must_use]
    pub fn in_vain(&self, universe: &Universe, repair: usize) -> f64 {
        self.worlds.iter().filter(|w| universe.effect(w.0, repair).is_none()).map(|w| w.1).sum()
    }

    /// Mass of the worlds in which the repair takes away something that is needed.
    #[must_use]
    pub fn needed(&self, universe: &Universe, repair: usize) -> f64 {
        let helps = |w: usize| universe.effect(w, repair).is_some_and(|e| e.progress > 0.0);
        self.worlds.iter().filter(|w| helps(w.0)).map(|w| w.1).sum()
    }

    /// Whether the repair is on offer without a re-test: only where it would often take away a part of what is needed
    /// and leave the rest. With one fault to be expected, every repair is tried before the next.
    #[must_use]
    pub fn may_mend(&self, universe: &Universe, repair: usize) -> bool {
        let partial = self.worlds.iter().filter(|w| universe.effect(w.0, repair).is_some_and(|e| e.partial(w.0)));
        self.may_repair(repair) && partial.map(|w| w.1).sum::<f64>() >= MEND_FROM * self.mass
    }

    /// What handing on costs from here, the repair by others included, times the mass.
    #[must_use]
    pub fn hand_on(&self, problem: &Problem, universe: &Universe) -> f64 {
        let owed: f64 = self.worlds.iter().map(|&(w, m)| m * universe.owed_cost[w]).sum();
        self.mass * problem.cost(Step::HandOn, self.paid) + owed
    }

    /// The same as money and minutes.
    #[must_use]
    pub fn hand_on_spend(&self, problem: &Problem, universe: &Universe) -> Spend {
        let flat = problem.hand_on.times(self.mass);
        self.worlds.iter().fold(flat, |sum, &(w, m)| sum + universe.owed[w].times(m))
    }

    /// Sum over the worlds of mass times what the world costs with the faults known: no plan does better.
    #[must_use]
    pub fn known(&self, universe: &Universe) -> f64 {
        self.worlds.iter().map(|&(w, m)| m * universe.known[w]).sum()
    }

    /// Drops the least likely worlds that together hold less than `share` of the mass, and scales the others up.
    #[must_use]
    pub fn trimmed(mut self, share: f64) -> Self {
        let limit = share * self.mass;
        // No heavier world can be among those that are dropped.
        let mut masses: Vec<f64> = self.worlds.iter().map(|w| w.1).filter(|m| *m <= limit).collect();
        masses.sort_unstable_by(f64::total_cmp);
        let mut sum = 0.0;
        let mut floor = 0.0;
        for m in masses {
            sum += m;
            if sum > limit {
                break;
            }
            floor = m;
        }
        if floor > 0.0 {
            self.worlds.retain(|w| w.1 > floor);
            let kept: f64 = self.worlds.iter().map(|w| w.1).sum();
            let times = if kept > 0.0 { self.mass / kept } else { 1.0 };
            self.worlds.iter_mut().for_each(|w| w.1 *= times);
        }
        self
    }
}

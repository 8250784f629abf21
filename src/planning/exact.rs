//! The true optimum of a small problem, by searching all states that can come about (dynamic programming with bounds).

use super::branch::split;
use super::problem::Problem;
use super::one_ahead::{Grain, Search};
use super::state::State;
use super::universe::Universe;
use super::{Step, lower_bound};
use std::collections::HashMap;

/// Masses are compared after rounding to this many parts: states that differ by rounding only are one.
const PARTS: f64 = 1e11;

/// Every outcome and every test, for the first guess at a state.
const WHOLE: Grain = Grain { lump: 0.0, trim: 0.0, tests: usize::MAX / 2, between: 1.0 };

/// Most worlds of a state for which exact search is tried at all.
const MOST_WORLDS: usize = 40;

/// Expected cost per unit of mass of the best plan from this state and its first step, every outcome told apart;
/// nothing when more than `nodes` states would have to be looked into.
#[must_use]
pub fn exact(problem: &Problem, universe: &Universe, state: &State, nodes: usize) -> Option<(f64, Step)> {
    let mut search = Exhaustive { problem, universe, left: nodes, seen: HashMap::new(), rough: Search::new(problem, universe, WHOLE) };
    search.best(state)
}

#[derive(PartialEq, Eq, Hash)]
struct Key {
    worlds: Vec<(usize, u64)>,
    paid: u128,
    done: u128,
    made: [u128; 2],
}

impl Key {
    fn of(state: &State) -> Self {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of 1 times 1e11 fits")]
        let round = |m: f64| (m / state.mass * PARTS).round() as u64;
        let worlds = state.worlds.iter().map(|&(w, m)| (w, round(m))).filter(|w| w.1 > 0).collect();
        Self { worlds, paid: state.paid, done: state.done, made: state.made }
    }
}

pub(super) struct Exhaustive<'a> {
    problem: &'a Problem,
    universe: &'a Universe,
    left: usize,
    seen: HashMap<Key, (f64, Step)>,
    rough: Search<'a>,
}

impl Exhaustive<'_> {
    /// As [`exact`], only where it has a chance.
    pub fn try_on(problem: &Problem, universe: &Universe, state: &State, nodes: usize) -> Option<(f64, Step)> {
        let worthwhile = nodes > 0 && state.mass > 0.0 && state.worlds.len() <= MOST_WORLDS;
        if worthwhile { exact(problem, universe, state, nodes) } else { None }
    }

    fn best(&mut self, state: &State) -> Option<(f64, Step)> {
        if state.mass <= 0.0 {
            return Some((0.0, Step::HandOn));
        }
        let key = Key::of(state);
        if let Some(&found) = self.seen.get(&key) {
            return Some(found);
        }
        self.left = self.left.checked_sub(1)?;
        let base = self.rough.one_ahead(state);
        let mut best = (base.value, base.first);
        let known = state.known(self.universe);
        let mut steps = self.steps(state);
        // What looks cheap first, so that the rest can be given up early.
        let cost = |s: Step| state.mass * self.problem.cost(s, state.paid);
        steps.sort_by(|a, b| cost(*a).total_cmp(&cost(*b)).then(a.cmp(b)));
        for step in steps {
            let mut value = cost(step);
            if matches!(step, Step::Test(_)) && value + known >= best.0 {
                continue;
            }
            let next: Vec<State> = match step {
                Step::Test(t) => split(self.problem, self.universe, state, t, 0.0).into_iter().map(|s| s.state).collect(),
                _ => vec![state.still_there(self.problem, self.universe, step)],
            };
            let bounds: Vec<f64> = next.iter().map(|s| s.mass * lower_bound(self.problem, self.universe, s)).collect();
            let mut least: f64 = bounds.iter().sum();
            for (after, bound) in next.iter().zip(bounds) {
                if value + least >= best.0 {
                    value = f64::INFINITY;
                    break;
                }
                least = (least - bound).max(0.0);
                value += self.best(after)?.0 * after.mass;
            }
            if value < best.0 * (1.0 - 1e-12) {
                best = (value, step);
            }
        }
        let found = (best.0 / state.mass, best.1);
        self.seen.insert(key, found);
        Some(found)
    }

    fn steps(&self, state: &State) -> Vec<Step> {
        let mut clears = 0_u128;
        for &(w, _) in &state.worlds {
            clears |= self.universe.effects[w].iter().fold(0, |all, e| all | 1 << e.repair);
        }
        let tests = (0..self.problem.tests.len()).filter(|&t| state.may_test(t)).map(Step::Test);
        let repairs = super::problem::bits(clears).filter(|&r| state.may_repair(r)).map(Step::Repair);
        let verify = (state.gone(self.universe) > 0.0).then_some(Step::Verify);
        tests.chain(repairs).chain(verify).collect()
    }
}

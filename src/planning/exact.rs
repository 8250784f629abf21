//! The true optimum of a small problem, by searching all states that can come about (dynamic programming with bounds).

use super::branch::split;
use super::problem::Problem;
use super::search::{Grain, Search};
use super::state::{Key, State};
use super::universe::Universe;
use super::{Step, lower_bound};
use std::collections::HashMap;

/// Every outcome and every test, for the first guess at a state.
const WHOLE: Grain = Grain {
    lump: 0.0,
    trim: 0.0,
    tests: usize::MAX / 2,
    between: 1.0,
    small: 0.0,
    depth: 0,
    many: usize::MAX,
    visits: usize::MAX,
};

/// Most worlds of a state for which exact search is tried at all.
const MOST_WORLDS: usize = 40;

/// Most tests that tell anything and repairs that help, together.
const MOST_STEPS: usize = 14;

/// Expected cost per unit of mass of the best plan from this state and its first step, every outcome told apart;
/// nothing when more than `nodes` states would have to be looked into.
#[must_use]
pub fn exact(problem: &Problem, universe: &Universe, state: &State, nodes: usize) -> Option<(f64, Step)> {
    Exhaustive::new(problem, universe, nodes).best(state)
}

/// A step with what can follow it.
struct Way {
    step: Step,
    cost: f64,
    /// No plan that starts with it costs less.
    least: f64,
    next: Vec<State>,
    bounds: Vec<f64>,
}

pub(super) struct Exhaustive<'a> {
    problem: &'a Problem,
    universe: &'a Universe,
    left: usize,
    seen: HashMap<Key, (f64, Step)>,
    rough: Search<'a>,
}

impl<'a> Exhaustive<'a> {
    fn new(problem: &'a Problem, universe: &'a Universe, nodes: usize) -> Self {
        Self { problem, universe, left: nodes, seen: HashMap::new(), rough: Search::new(problem, universe, WHOLE) }
    }

    /// As [`exact`], only where it has a chance.
    pub fn try_on(problem: &'a Problem, universe: &'a Universe, state: &State, nodes: usize) -> Option<(f64, Step)> {
        if nodes == 0 || state.mass <= 0.0 || state.worlds.len() > MOST_WORLDS {
            return None;
        }
        let steps = Self::new(problem, universe, nodes).steps(state);
        if steps.len() <= MOST_STEPS { exact(problem, universe, state, nodes) } else { None }
    }

    fn best(&mut self, state: &State) -> Option<(f64, Step)> {
        if state.mass <= 0.0 {
            return Some((0.0, Step::HandOn));
        }
        let key = state.key();
        if let Some(&found) = self.seen.get(&key) {
            return Some(found);
        }
        self.left = self.left.checked_sub(1)?;
        let base = self.rough.one_ahead(state);
        let mut best = (base.value, base.first);
        let mut options: Vec<Way> = Vec::new();
        for step in self.steps(state) {
            let cost = self.problem.pay(self.universe, state, step);
            let next: Vec<State> = match step {
                Step::Test(t) => {
                    split(self.problem, self.universe, state, t, 0.0).into_iter().map(|s| s.state).collect()
                }
                Step::Mend(r) => vec![state.mended(self.problem, self.universe, r)],
                _ => vec![state.still_there(self.problem, self.universe, step)],
            };
            let bounds: Vec<f64> = next.iter().map(|s| s.mass * lower_bound(self.problem, self.universe, s)).collect();
            let least = cost + bounds.iter().sum::<f64>();
            if least < best.0 {
                options.push(Way { step, cost, least, next, bounds });
            }
        }
        // What can be cheapest first, so that the rest can be given up early.
        options.sort_by(|a, b| a.least.total_cmp(&b.least).then(a.step.cmp(&b.step)));
        for option in options {
            let (mut value, mut least) = (option.cost, option.least - option.cost);
            for (after, bound) in option.next.iter().zip(option.bounds) {
                if value + least >= best.0 {
                    value = f64::INFINITY;
                    break;
                }
                least -= bound;
                value += self.best(after)?.0 * after.mass;
            }
            if value < best.0 * (1.0 - 1e-12) {
                best = (value, option.step);
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
        let tells = |t: &usize| {
            self.problem.tests[*t].readings.iter().any(|&r| {
                (0..self.universe.levels(r)).any(|level| {
                    let likelihood = self.universe.likelihood(r, level);
                    state.worlds.windows(2).any(|w| likelihood[w[0].0] != likelihood[w[1].0])
                })
            })
        };
        let tests = (0..self.problem.tests.len()).filter(|&t| state.may_test(t)).filter(tells).map(Step::Test);
        let open = || super::problem::bits(clears).filter(|&r| state.may_repair(r));
        let repairs = open().map(Step::Repair);
        let mends = open().filter(|&r| state.may_mend(self.universe, r)).map(Step::Mend);
        let verify = (state.gone(self.universe) > 0.0).then_some(Step::Verify);
        tests.chain(repairs).chain(mends).chain(verify).collect()
    }
}

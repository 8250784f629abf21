//! Other ways to choose the next step, to measure the tool's own against. None of them is used for advice.

use super::Step;
use super::branch::split;
use super::problem::Problem;
use super::search::{Grain, Search};
use super::state::State;
use super::universe::Universe;
use std::collections::BTreeMap;

/// Outcomes as coarse as this are told apart by the rivals too.
const GRAIN: Grain = Grain {
    lump: 0.0,
    trim: 0.0,
    tests: usize::MAX / 2,
    between: 1.0,
    small: 0.0,
    depth: 0,
    many: usize::MAX,
    visits: usize::MAX,
};

/// No test at all: repairs by chance over cost.
#[must_use]
pub fn repairs_only(problem: &Problem, universe: &Universe, state: &State) -> Step {
    Search::new(problem, universe, GRAIN).repairs_only(state).first
}

/// One test ahead, every outcome told apart.
#[must_use]
pub fn one_ahead(problem: &Problem, universe: &Universe, state: &State) -> Step {
    Search::new(problem, universe, GRAIN).one_ahead(state).first
}

/// The test that tells most about what must go, in bits per unit of cost; repairs as soon as one of them is more
/// likely than not to clear the complaint, or when no test tells a hundredth of a bit.
#[must_use]
pub fn information(problem: &Problem, universe: &Universe, state: &State) -> Step {
    if best_chance(universe, state) >= 0.5 * state.mass {
        return repairs_only(problem, universe, state);
    }
    let before = entropy(universe, state) * state.mass;
    let mut best = (0.0, None);
    for t in (0..problem.tests.len()).filter(|&t| state.may_test(t)) {
        let after: f64 =
            split(problem, universe, state, t, 0.002).iter().map(|s| entropy(universe, &s.state) * s.state.mass).sum();
        let gain = (before - after) / state.mass;
        let ratio = gain / problem.cost(Step::Test(t), state.paid).max(1e-9);
        if gain > 0.01 && ratio > best.0 {
            best = (ratio, Some(Step::Test(t)));
        }
    }
    best.1.unwrap_or_else(|| repairs_only(problem, universe, state))
}

/// Tests in a fixed order, whatever was found before; a repair as soon as one is more likely than not to clear the
/// complaint, repairs only when the list is at its end.
#[must_use]
pub fn fixed_order(problem: &Problem, universe: &Universe, state: &State, order: &[usize]) -> Step {
    if best_chance(universe, state) >= 0.5 * state.mass {
        return repairs_only(problem, universe, state);
    }
    let next = order.iter().find(|&&t| state.may_test(t));
    next.map_or_else(|| repairs_only(problem, universe, state), |&t| Step::Test(t))
}

fn best_chance(universe: &Universe, state: &State) -> f64 {
    let mut clears: BTreeMap<usize, f64> = BTreeMap::new();
    for &(w, m) in &state.worlds {
        for e in &universe.effects[w] {
            *clears.entry(e.repair).or_default() += m * e.clears;
        }
    }
    clears.into_values().fold(0.0, f64::max)
}

/// Entropy of what must go, in bits.
fn entropy(universe: &Universe, state: &State) -> f64 {
    let mut groups: BTreeMap<u128, f64> = BTreeMap::new();
    for &(w, m) in &state.worlds {
        *groups.entry(universe.worlds[w].need).or_default() += m / state.mass;
    }
    groups.into_values().filter(|p| *p > 0.0).map(|p| -p * p.log2()).sum()
}

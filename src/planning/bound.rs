//! What a job costs at least. No plan can know more than everything, and none can avoid its first step.

use super::Step;
use super::problem::Problem;
use super::state::State;
use super::universe::Universe;

/// What each world costs at least when the faults are known, and the repairs that then deal with it, as bits:
/// `K(w) = min(hand on + repair by others,
/// min over repairs of (cost without re-test + sum of what it makes of w x K) / (1 - what it leaves as it was))`, with
/// what setups may save taken off, and the cost of one re-test for a world whose complaint is gone without anybody having
/// looked. Without limit on repetitions, so it is at most what any plan costs; a repair with a re-test that shows the complaint gone costs just
/// that.
pub(super) fn known_costs(problem: &Problem, universe: &Universe) -> (Vec<f64>, Vec<u128>) {
    let hand_on = problem.cost(Step::HandOn, 0);
    let looked = problem.cost(Step::Verify, 0).min(hand_on);
    let mut order: Vec<usize> = (0..universe.worlds.len()).collect();
    // What a repair leaves has fewer suspects present, so counting up visits it first.
    order.sort_by_key(|&w| universe.worlds[w].present.count_ones());
    let (mut known, mut ways) = (vec![0.0; universe.worlds.len()], vec![0; universe.worlds.len()]);
    for w in order {
        if universe.worlds[w].need == 0 {
            (known[w], ways[w]) = (looked, u128::MAX);
            continue;
        }
        known[w] = hand_on + universe.owed_cost[w];
        for e in &universe.effects[w] {
            let same: f64 = e.leaves.iter().filter(|l| l.0 == w).map(|l| l.1).sum();
            let rest: f64 = e.leaves.iter().filter(|l| l.0 != w).map(|l| l.1 * known[l.0]).sum();
            let rest = rest + e.ends.iter().map(|l| l.1).sum::<f64>() * looked;
            let ends = 1.0 - same;
            let cost = (problem.cost(Step::Mend(e.repair), u128::MAX) + rest) / ends;
            if ends > 0.0 && cost < known[w] {
                let likeliest = e.leaves.iter().filter(|l| l.0 != w).max_by(|a, b| a.1.total_cmp(&b.1));
                let after = likeliest.filter(|l| l.1 > e.clears).map_or(0, |l| ways[l.0]);
                (known[w], ways[w]) = (cost, 1 << e.repair | after);
            }
        }
    }
    (known, ways)
}

/// A lower bound on the expected cost of any plan from this state, per unit of mass.
///
/// With the faults known the job costs `K` on average, and handing on costs what it costs. Any plan but handing on
/// pays for its first step before it learns anything:
/// `bound = min(hand on, cheapest step that could start a plan + what K says comes after it)`. A test leaves the
/// average of `K` as it was; a repair first meets the worlds it does not touch.
#[must_use]
pub fn lower_bound(problem: &Problem, universe: &Universe, state: &State) -> f64 {
    if state.mass <= 0.0 {
        return 0.0;
    }
    let known = state.known(universe) / state.mass;
    let mut best = state.hand_on(problem, universe) / state.mass;
    for t in (0..problem.tests.len()).filter(|&t| state.may_test(t)) {
        best = best.min(problem.cost(Step::Test(t), state.paid) + known);
    }
    // What each repair takes off the known cost of the worlds it touches.
    let mut taken = vec![0.0; problem.repairs.len()];
    for &(w, m) in &state.worlds {
        for e in &universe.effects[w] {
            let left: f64 = e.leaves.iter().chain(&e.ends).map(|l| l.1 * universe.known[l.0]).sum();
            taken[e.repair] += m * (universe.known[w] - left);
        }
    }
    for (r, taken) in taken.into_iter().enumerate().filter(|(r, _)| state.may_repair(*r)) {
        // With or without a re-test: the cost without it, and what is left by then, one re-test included.
        best = best.min(problem.cost(Step::Mend(r), state.paid) + known - taken / state.mass);
    }
    if state.gone(universe) > 0.0 {
        best = best.min(problem.cost(Step::Verify, state.paid) + known);
    }
    best
}

//! The base under everything: no test at all, repairs in the order of chance over cost, handing on at the best point.

use super::Step;
use super::problem::Problem;
use super::state::State;
use super::universe::Universe;

/// Buffers, kept between calls.
#[derive(Clone, Debug, Default)]
pub(super) struct Scratch {
    worlds: Vec<(usize, f64)>,
    clears: Vec<f64>,
    /// Worlds and repairs gone through so far: the measure of work.
    pub visits: usize,
}

impl Scratch {
    /// The highest mass that any single repair would clear.
    pub fn best_chance(&mut self, problem: &Problem, universe: &Universe, state: &State) -> f64 {
        self.clears.clear();
        self.clears.resize(problem.repairs.len(), 0.0);
        for &(w, m) in &state.worlds {
            add(universe, &mut self.clears, w, m);
        }
        self.clears.iter().copied().fold(0.0, f64::max)
    }
}

/// Value and first step of a policy.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Valued {
    /// Expected cost to the end, times the mass of the state.
    pub value: f64,
    /// What to do first.
    pub first: Step,
}

/// Repairs whose chance to clear is below this are not worth a thought.
const NO_CHANCE: f64 = 1e-7;

/// Expected cost (times mass) of repairing without testing: always the repair with the highest
/// P(this repair clears the complaint) / cost, brought up to date after each (Kadane & Simon 1977; Heckerman, Breese
/// & Rommelse 1995), handing on at the best point of that order.
///
/// On a list of worlds the chance is a direct sum: over the worlds that the repair clears, mass times the chance that
/// the repair takes. Worlds with several faults count only where the repair removes all that remain.
pub(super) fn repairs_only(problem: &Problem, universe: &Universe, state: &State, scratch: &mut Scratch) -> Valued {
    let hand_on = problem.cost(Step::HandOn, state.paid);
    let mut best = Valued { value: state.hand_on(problem, universe), first: Step::HandOn };
    let Scratch { worlds, clears, visits } = scratch;
    *visits += state.worlds.len();
    clears.clear();
    clears.resize(problem.repairs.len(), 0.0);
    worlds.clear();
    let (mut gone, mut owed) = (0.0, 0.0);
    for &(w, m) in &state.worlds {
        if universe.worlds[w].need == 0 {
            gone += m;
        } else {
            worlds.push((w, m));
            owed += m * universe.owed_cost[w];
            add(universe, clears, w, m);
        }
    }
    let mut made = state.made;
    let verify = problem.cost(Step::Verify, state.paid);
    let (mut alive, mut cost, mut first) = (state.mass, 0.0, None);
    for _ in 0..=2 * problem.repairs.len() {
        let (mut step, mut top) = (None, 0.0);
        for (r, (&p, &c)) in clears.iter().zip(&universe.repair_costs).enumerate() {
            // Compared without dividing first, because most repairs fall out here.
            if p > NO_CHANCE * alive && p + gone > top * c && made[1] >> r & 1 == 0 {
                (step, top) = (Some(Step::Repair(r)), (p + gone) / c);
            }
        }
        if gone > NO_CHANCE * alive && gone > top * verify {
            (step, top) = (Some(Step::Verify), gone / verify);
        }
        let Some(step) = step else { break };
        let step_cost = if let Step::Repair(r) = step { universe.repair_costs[r] } else { verify };
        // Where a step ends less than half of what handing on, and the repair by others, would have to cost for it to
        // pay, later ones will not.
        if top * (hand_on + step_cost) < 0.5 * alive {
            break;
        }
        *visits += worlds.len() + clears.len();
        cost += alive * step_cost;
        if cost >= best.value {
            break;
        }
        alive -= gone;
        gone = 0.0;
        if let Step::Repair(r) = step {
            alive -= clears[r];
            let bit = 1_u128 << r;
            made = [made[0] | bit, made[1] | (made[0] & bit)];
            owed = (owed + apply(problem, universe, worlds, clears, r)).max(0.0);
        }
        alive = alive.max(0.0);
        let first = *first.get_or_insert(step);
        let value = cost + alive * hand_on + owed;
        if value < best.value {
            best = Valued { value, first };
        }
    }
    best
}

fn add(universe: &Universe, clears: &mut [f64], world: usize, mass: f64) {
    for e in &universe.effects[world] {
        clears[e.repair] += mass * e.clears;
    }
}

/// Makes the repair; returns by how much what others would have to repair changes, times mass.
fn apply(
    problem: &Problem,
    universe: &Universe,
    worlds: &mut Vec<(usize, f64)>,
    clears: &mut [f64],
    repair: usize,
) -> f64 {
    let mut owed = 0.0;
    let removes = problem.repairs[repair].removes;
    let mut i = 0;
    let mut end = worlds.len();
    while i < end {
        let (w, m) = worlds[i];
        if universe.worlds[w].present & removes == 0 {
            i += 1;
            continue;
        }
        // The last untouched world takes the place of this one; what the repair leaves is added at the end.
        end -= 1;
        worlds.swap(i, end);
        worlds.swap_remove(end);
        if let Some(effect) = universe.effect(w, repair) {
            add(universe, clears, w, -m);
            owed -= m * universe.owed_cost[w];
            for &(to, p) in &effect.leaves {
                worlds.push((to, m * p));
                owed += m * p * universe.owed_cost[to];
                add(universe, clears, to, m * p);
            }
        }
    }
    owed
}

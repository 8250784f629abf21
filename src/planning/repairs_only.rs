//! The base under everything: no test at all, repairs in the order of what they do for their cost, handing on at the
//! best point.

use super::Step;
use super::problem::Problem;
use super::state::State;
use super::universe::{Touch, Universe};

/// Buffers, kept between calls.
#[derive(Clone, Debug, Default)]
pub(super) struct Scratch {
    worlds: Vec<(usize, f64)>,
    scores: Vec<f64>,
    clears: Vec<f64>,
    touched: Vec<f64>,
    /// Worlds and repairs gone through so far: the measure of work.
    pub visits: usize,
}

impl Scratch {
    /// The highest mass that any single repair would clear.
    pub fn best_chance(&mut self, problem: &Problem, universe: &Universe, state: &State) -> f64 {
        self.clears.clear();
        self.clears.resize(problem.repairs.len(), 0.0);
        for &(w, m) in &state.worlds {
            for e in universe.touches(w) {
                self.clears[e.repair] += m * e.clears;
            }
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

/// What a repair is ordered by, over its cost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Order {
    /// The chance that it clears the complaint, each followed by a re-test.
    Clears,
    /// How much it takes off what is still needed, re-tests where they pay.
    Progress,
}

impl Order {
    fn of(self, e: Touch) -> f64 {
        match self {
            Self::Clears => e.clears,
            Self::Progress => e.progress,
        }
    }
}

/// Repairs whose chance to clear is below this are not worth a thought.
const NO_CHANCE: f64 = 1e-7;

/// Expected cost (times mass) of repairing without testing, the lesser of two orders.
///
/// One takes the repair with the highest P(this repair clears the complaint) / cost, brought up to date after each
/// (Kadane & Simon 1977; Heckerman, Breese & Rommelse 1995), handing on at the best point of that order. On a list of
/// worlds the chance is a direct sum: over the worlds that the repair clears, mass times the chance that the repair takes.
/// Worlds with several faults count only where the repair removes all that remain, so where most worlds have several
/// the other order is better: the repair that takes away most of what is still needed for its cost, and one re-test when
/// it is likely enough that nothing is left.
pub(super) fn repairs_only(problem: &Problem, universe: &Universe, state: &State, scratch: &mut Scratch) -> Valued {
    let best = Valued { value: state.hand_on(problem, universe), first: Step::HandOn };
    let best = greedy(problem, universe, state, Order::Clears, best, scratch);
    // With one fault in each world both orders are the same.
    let several: f64 = state.worlds.iter().filter(|w| universe.several[w.0]).map(|w| w.1).sum();
    if several < SEVERAL * state.mass {
        return best;
    }
    greedy(problem, universe, state, Order::Progress, best, scratch)
}

/// Share of the mass with several faults from which on the second order is looked at.
const SEVERAL: f64 = 0.03;

fn greedy(
    problem: &Problem,
    universe: &Universe,
    state: &State,
    order: Order,
    mut best: Valued,
    scratch: &mut Scratch,
) -> Valued {
    let hand_on = problem.cost(Step::HandOn, state.paid);
    let Scratch { worlds, scores, clears, touched, visits } = scratch;
    *visits += state.worlds.len();
    let mut sums = Sums { order, owed: 0.0, scores, clears, touched };
    sums.start(problem.repairs.len());
    worlds.clear();
    let mut gone = 0.0;
    for &(w, m) in &state.worlds {
        if universe.worlds[w].need == 0 {
            gone += m;
        } else {
            worlds.push((w, m));
            sums.add(universe, w, m);
        }
    }
    let mut made = state.made;
    let verify = problem.cost(Step::Verify, state.paid);
    let (mut alive, mut cost, mut first) = (state.mass, 0.0, None);
    for _ in 0..=3 * problem.repairs.len() {
        let (mut chosen, mut top) = (None, 0.0);
        // Where a re-test goes with every repair, what is gone already shows up with any of them.
        let shown = if order == Order::Clears { gone } else { 0.0 };
        for (r, (&p, &c)) in sums.scores.iter().zip(&universe.repair_costs).enumerate() {
            // Compared without dividing first, because most repairs fall out here.
            if p > NO_CHANCE * alive && p + shown > top * c && made[1] >> r & 1 == 0 {
                (chosen, top) = (Some(r), (p + shown) / c);
            }
        }
        let mut step = chosen.map(Step::Repair);
        if gone > NO_CHANCE * alive && gone > top * verify {
            (step, top) = (Some(Step::Verify), gone / verify);
        }
        let Some(mut step) = step else { break };
        if order == Order::Progress
            && let Step::Repair(r) = step
            && state.may_mend(universe, r)
        {
            // A re-test pays where what it ends would otherwise meet another repair as dear as this one.
            let (after, next) = (gone + sums.clears[r], problem.cost(Step::Mend(r), state.paid));
            if after * next < alive * verify {
                step = Step::Mend(r);
            }
        }
        let step_cost = problem.cost(step, state.paid);
        // Where a step ends less than half of what handing on, and the repair by others, would have to cost for it to
        // pay, later ones will not.
        if order == Order::Clears && top * (hand_on + step_cost) < 0.5 * alive {
            break;
        }
        *visits += worlds.len() + sums.scores.len();
        cost += alive * step_cost;
        if let Some(r) = step.repair() {
            cost += problem.repairs[r].vain.cost(problem.aim) * (alive - sums.touched[r]).max(0.0);
        }
        if cost >= best.value {
            break;
        }
        if let Some(r) = step.repair() {
            gone += sums.clears[r];
            let bit = 1_u128 << r;
            made = [made[0] | bit, made[1] | (made[0] & bit)];
            sums.apply(problem, universe, worlds, r);
        }
        if !matches!(step, Step::Mend(_)) {
            alive = (alive - gone).max(0.0);
            gone = 0.0;
        }
        let first = *first.get_or_insert(step);
        let value = cost + alive * hand_on + sums.owed.max(0.0);
        if value < best.value {
            best = Valued { value, first };
        }
    }
    best
}

/// What the worlds add up to: for each repair what it is ordered by, what it clears and where it finds something to
/// remove, and what others would have to repair.
struct Sums<'a> {
    order: Order,
    owed: f64,
    scores: &'a mut Vec<f64>,
    clears: &'a mut Vec<f64>,
    touched: &'a mut Vec<f64>,
}

impl Sums<'_> {
    fn start(&mut self, repairs: usize) {
        for list in [&mut *self.scores, &mut *self.clears, &mut *self.touched] {
            list.clear();
            list.resize(repairs, 0.0);
        }
    }

    fn add(&mut self, universe: &Universe, world: usize, mass: f64) {
        self.owed += mass * universe.owed_cost[world];
        for e in universe.touches(world) {
            self.scores[e.repair] += mass * self.order.of(*e);
            self.clears[e.repair] += mass * e.clears;
            self.touched[e.repair] += mass;
        }
    }

    /// Makes the repair.
    fn apply(&mut self, problem: &Problem, universe: &Universe, worlds: &mut Vec<(usize, f64)>, repair: usize) {
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
                self.add(universe, w, -m);
                for &(to, p) in &effect.leaves {
                    worlds.push((to, m * p));
                    self.add(universe, to, m * p);
                }
            }
        }
    }
}

//! The tool's policy: every candidate step is scored by the full expected cost of taking it and then going on one
//! test ahead at a time; small problems are searched to the end.

use super::exact::Exhaustive;
use super::one_ahead::{ANY_GAIN, Base, Grain, Search};
use super::problem::Problem;
use super::state::State;
use super::universe::Universe;
use super::{Spend, Step, lower_bound};
use rayon::prelude::*;

/// Tests and worlds of a small problem, at most.
const SMALL_TESTS: usize = 12;
const SMALL_WORLDS: usize = 60;

/// How much to think. More gives better steps and takes longer; the answer depends on nothing else, above all not on
/// the clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effort {
    /// Tests that are followed to the end; those that look worse one ahead are not.
    pub tests: usize,
    /// Repairs that are followed to the end.
    pub repairs: usize,
    /// Branches below this share of the state are valued by repairs only.
    pub small: f64,
    /// Outcomes of a test below this share of the state come together as one.
    pub lump: f64,
    /// Least likely worlds dropped after a test, as a share.
    pub trim: f64,
    /// Steps in a row that are decided one test ahead.
    pub depth: usize,
    /// Above so many worlds only the most telling test is followed, not one test ahead as well.
    pub many: usize,
    /// Tests looked at on the way, by what they tell per cost; half as many more by what they tell.
    pub inner: usize,
    /// Where the cost of a branch below `small` is taken to lie between knowing the faults (0) and repairing without
    /// tests (1). On the shipped base 0.7 gave the cheapest plans (330 against 337 with 0.5 and
    /// 352 with 1, P0455).
    pub between: f64,
    /// Nodes that an exact search may visit before it gives up; 0 for no exact search.
    pub exact_nodes: usize,
}

impl Effort {
    /// For one answer within a few milliseconds.
    #[must_use]
    pub fn quick() -> Self {
        Self {
            tests: 2,
            repairs: 2,
            small: 0.05,
            lump: 0.02,
            trim: 0.001,
            depth: 8,
            many: 24,
            inner: 4,
            between: 0.7,
            exact_nodes: 40,
        }
    }

    /// For answers that may take longer; nothing is cut off that could matter.
    #[must_use]
    pub fn thorough() -> Self {
        Self {
            tests: 64,
            repairs: 64,
            small: 1e-4,
            lump: 1e-4,
            trim: 0.0,
            depth: 40,
            many: usize::MAX,
            inner: 64,
            between: 1.0,
            exact_nodes: 20_000,
        }
    }

    /// Small problems can afford to be thought through whatever the effort.
    fn fitted(self, problem: &Problem, universe: &Universe) -> Self {
        let small = problem.tests.len() <= SMALL_TESTS && universe.start.len() <= SMALL_WORLDS;
        if small { Self { exact_nodes: self.exact_nodes, ..Self::thorough() } } else { self }
    }

    pub(super) fn grain(&self) -> Grain {
        Grain { lump: self.lump, trim: self.trim, tests: self.inner, between: self.between }
    }
}

/// One candidate with its score.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scored {
    /// What to do.
    pub step: Step,
    /// What it costs, setups not yet paid for included.
    pub spend: Spend,
    /// Expected cost of the whole rest of the job when this is done now.
    pub expected: f64,
    /// Whether that was followed to the end; otherwise it is at least as much: the lower of "then repairs only" and, for
    /// a test, of its own cost on top of the best candidate.
    pub followed: bool,
    /// For a test, the chance that any of its readings is not normal; for a repair or a re-test, that the complaint is
    /// gone afterwards.
    pub chance: f64,
}

/// The candidates, best first; tests that differ by less than can be told, the cheapest first.
#[derive(Clone, Debug, PartialEq)]
pub struct Steps {
    /// Best first.
    pub steps: Vec<Scored>,
    /// No plan at all costs less than this on average.
    pub bound: f64,
    /// Whether the first step was found by exact search.
    pub exact: bool,
    /// Expected cost of the best way from here without any test.
    pub repairs_only: f64,
    /// Chance that the complaint is gone already.
    pub gone: f64,
}

/// Scores the candidates of a state. Nothing to score when the state is empty.
#[must_use]
pub fn next_steps(problem: &Problem, universe: &Universe, state: &State, effort: &Effort) -> Steps {
    let effort = &effort.fitted(problem, universe);
    let (mut rough, telling) = candidates(problem, universe, state, effort);
    let mass = state.mass.max(f64::MIN_POSITIVE);
    let repairs_only = Search::new(problem, universe, effort.grain()).repairs_only(state).value / mass;
    let known_exactly = Exhaustive::try_on(problem, universe, state, effort.exact_nodes);
    let followed: Vec<(usize, f64)> = chosen(&rough, &telling, effort)
        .into_par_iter()
        .map(|i| {
            let mut search = Search::new(problem, universe, effort.grain());
            let small = effort.small * state.mass;
            (i, value(&mut search, state, rough[i].step, small, effort, f64::INFINITY) / mass)
        })
        .collect();
    for (i, value) in followed {
        rough[i].expected = rough[i].expected.min(value);
        rough[i].followed = true;
    }
    at_most_added(problem, state, &mut rough);
    if let Some((best, others)) = earlier(&rough) {
        let sooner: Vec<(usize, f64)> = others
            .into_par_iter()
            .map(|i| {
                let mut search = Search::new(problem, universe, effort.grain());
                (i, then_either(&mut search, state, rough[i].step, rough[best].step, effort) / mass)
            })
            .collect();
        for (i, value) in sooner {
            rough[i].expected = rough[i].expected.min(value);
        }
    }
    let mut exact = false;
    if let Some((value, step)) = known_exactly
        && let Some(best) = rough.iter_mut().find(|s| s.step == step)
    {
        // What the exact search found is the true optimum, and no other candidate can cost less.
        best.expected = value;
        rough.iter_mut().for_each(|s| s.expected = s.expected.max(value));
        exact = true;
        rough.sort_by(|a, b| (b.step == step).cmp(&(a.step == step)).then(by_cost(a, b)));
    } else {
        rough.sort_by(by_cost);
        if state.worlds.len() > effort.many
            && let Some(cheaper) = cheapest_of_equals(&rough, EQUAL)
        {
            rough[..=cheaper].rotate_right(1);
        }
    }
    let bound = lower_bound(problem, universe, state);
    Steps { steps: rough, bound, exact, repairs_only, gone: state.gone(universe) / mass }
}

/// The best step alone, for the nodes of a plan.
#[must_use]
pub fn best_step(problem: &Problem, universe: &Universe, state: &State, effort: &Effort) -> Step {
    best_step_counted(problem, universe, state, effort, &mut 0)
}

/// The same, adding the world visits that it took. Candidates that cannot come close to winning are dropped early.
pub(super) fn best_step_counted(
    problem: &Problem,
    universe: &Universe,
    state: &State,
    effort: &Effort,
    work: &mut usize,
) -> Step {
    let effort = &effort.fitted(problem, universe);
    if let Some((_, step)) = Exhaustive::try_on(problem, universe, state, effort.exact_nodes) {
        return step;
    }
    let (mut rough, telling) = candidates(problem, universe, state, effort);
    let mut search = Search::new(problem, universe, effort.grain());
    let mut best = (f64::INFINITY, Step::HandOn);
    for i in chosen(&rough, &telling, effort) {
        let step = rough[i].step;
        let value = value(&mut search, state, step, effort.small * state.mass, effort, best.0 * (1.0 + CLOSE));
        let value = value.min(rough[i].expected * state.mass);
        rough[i].expected = value / state.mass;
        rough[i].followed = value.is_finite();
        if value < best.0 * (1.0 - 1e-12) {
            best = (value, step);
        }
    }
    if let Some((first, others)) = earlier(&rough) {
        for i in others {
            let value = then_either(&mut search, state, rough[i].step, rough[first].step, effort);
            rough[i].expected = rough[i].expected.min(value / state.mass);
            if value < best.0 * (1.0 - 1e-12) {
                best = (value, rough[i].step);
            }
        }
    }
    if state.worlds.len() > effort.many {
        rough.sort_by(by_cost);
        if rough.first().is_some_and(|s| s.step == best.1)
            && let Some(cheaper) = cheapest_of_equals(&rough, EQUAL_LATER)
        {
            best.1 = rough[cheaper].step;
        }
    }
    // The candidates were scored side by side; what that took is taken as a round figure.
    *work += search.work() + 8 * rough.len() * state.worlds.len();
    best.1
}

/// A test done first costs at most itself on top of the best: what it shows can be ignored. The base policies do not
/// always find the way back to the best step, and would make such a test look worse than it is.
fn at_most_added(problem: &Problem, state: &State, rough: &mut [Scored]) {
    let followed = |s: &&Scored| s.followed && s.expected.is_finite();
    let Some(best) = rough.iter().filter(followed).map(|s| s.expected).min_by(f64::total_cmp) else { return };
    for s in rough.iter_mut().filter(|s| matches!(s.step, Step::Test(_))) {
        s.expected = s.expected.min(best + problem.cost(s.step, state.paid));
    }
}

/// How far behind the best a candidate may be to get a second look, as a share.
const CLOSE: f64 = 0.05;

/// The best of the followed candidates if it is a test, and the cheaper tests close behind it: would it be better
/// still to do one of these first and that afterwards? The base policies do not always come back to it.
fn earlier(rough: &[Scored]) -> Option<(usize, Vec<usize>)> {
    let followed = |s: &Scored| s.followed && s.expected.is_finite();
    let best = (0..rough.len()).filter(|&i| followed(&rough[i])).min_by(|&a, &b| by_cost(&rough[a], &rough[b]))?;
    let top = rough[best];
    let cheaper = |s: &Scored| s.spend.money < top.spend.money || s.spend.minutes < top.spend.minutes;
    let close = |s: &Scored| followed(s) && s.expected <= top.expected * (1.0 + CLOSE) && cheaper(s);
    let others =
        (0..rough.len()).filter(|&i| i != best && matches!(rough[i].step, Step::Test(_)) && close(&rough[i])).collect();
    matches!(top.step, Step::Test(_)).then_some((best, others))
}

/// Expected cost, times mass, of the test, then in each outcome the better of the base policy and of `second`.
fn then_either(search: &mut Search<'_>, state: &State, first: Step, second: Step, effort: &Effort) -> f64 {
    let (Step::Test(t), Step::Test(u)) = (first, second) else { return f64::INFINITY };
    let small = effort.small * state.mass;
    let mut value = state.mass * search.problem.cost(first, state.paid);
    for after in search.outcomes(state, t) {
        let base = search.follow(&after, Base::Telling, small, effort.depth);
        let other = if after.mass >= small && after.may_test(u) {
            search.step_then_follow(&after, second, Base::Telling, small, effort.depth, base)
        } else {
            f64::INFINITY
        };
        value += base.min(other);
    }
    value
}

/// The step's cost followed to the end by the better of the base policies. Where there are many worlds one test ahead
/// sees too little to be worth its time.
fn value(search: &mut Search<'_>, state: &State, step: Step, small: f64, effort: &Effort, limit: f64) -> f64 {
    let telling = search.step_then_follow(state, step, Base::Telling, small, effort.depth, limit);
    if state.worlds.len() > effort.many {
        return telling;
    }
    let limit = limit.min(telling);
    telling.min(search.step_then_follow(state, step, Base::OneAhead, small, effort.depth, limit))
}

/// The better of the steps that the base policies would take: a decision for nodes that are seldom reached.
pub(super) fn base_step(
    problem: &Problem,
    universe: &Universe,
    state: &State,
    effort: &Effort,
    work: &mut usize,
) -> Step {
    let mut search = Search::new(problem, universe, effort.grain());
    let (telling, ahead) = (search.most_telling(state).first, search.one_ahead(state).first);
    if telling == ahead {
        *work += search.work();
        return telling;
    }
    let small = effort.small * state.mass;
    let by_telling = search.step_then_follow(state, telling, Base::Telling, small, effort.depth, f64::INFINITY);
    let by_ahead = value(&mut search, state, ahead, small, effort, by_telling);
    *work += search.work();
    if by_ahead < by_telling { ahead } else { telling }
}

/// Where there are many worlds, following base policies does not tell candidates apart that differ by less than this
/// share.
const EQUAL: f64 = 0.01;
/// The same for the nodes of a plan. A cheap test that tells little may win at each of many nodes in a row, and what that
/// costs adds up (with 0.01 here, and cheap tests counted by `at_most_added`, plans for P0455 cost 332 instead of 329, for
/// P0442 400 instead of 388).
const EQUAL_LATER: f64 = 0.004;

/// Of the candidates, sorted, the test that costs least now among those that cannot be told from the head, which is a
/// test or a repair: looking first is never the worse of two equals.
fn cheapest_of_equals(sorted: &[Scored], share: f64) -> Option<usize> {
    let first = sorted.first().filter(|s| s.followed && matches!(s.step, Step::Test(_) | Step::Repair(_)))?;
    let equal =
        |s: &Scored| s.followed && matches!(s.step, Step::Test(_)) && s.expected <= first.expected * (1.0 + share);
    let cheaper = |s: &Scored| s.spend.money <= first.spend.money && s.spend.minutes <= first.spend.minutes;
    let list = sorted.iter().enumerate().skip(1).filter(|(_, s)| equal(s) && cheaper(s));
    let cheapest = list.min_by(|a, b| a.1.spend.money.total_cmp(&b.1.spend.money).then(a.0.cmp(&b.0)))?;
    (cheapest.1.spend != first.spend).then_some(cheapest.0)
}

fn by_cost(a: &Scored, b: &Scored) -> std::cmp::Ordering {
    a.expected.total_cmp(&b.expected).then(a.step.cmp(&b.step))
}

/// All candidates, each with the cost of "this, then repairs only", and the tests that tell most per cost.
fn candidates(problem: &Problem, universe: &Universe, state: &State, effort: &Effort) -> (Vec<Scored>, Vec<usize>) {
    let mut steps: Vec<Step> = (0..problem.tests.len()).filter(|&t| state.may_test(t)).map(Step::Test).collect();
    let mut touched = 0_u128;
    for &(w, _) in &state.worlds {
        for e in universe.effects[w].iter().filter(|e| e.clears > 0.0) {
            touched |= 1 << e.repair;
        }
    }
    steps.extend(super::problem::bits(touched).filter(|&r| state.may_repair(r)).map(Step::Repair));
    steps.push(Step::HandOn);
    if state.gone(universe) > 0.0 {
        steps.push(Step::Verify);
    }
    let mass = state.mass.max(f64::MIN_POSITIVE);
    let score = |search: &mut Search<'_>, step: Step| {
        let value = match step {
            Step::Test(t) => search.then_repairs(state, t, f64::INFINITY),
            Step::HandOn => state.hand_on(problem, universe),
            Step::Repair(_) | Step::Verify => {
                let after = state.still_there(problem, universe, step);
                state.mass * problem.cost(step, state.paid) + search.repairs_only(&after).value
            }
        };
        let spend = problem.spend(step, state.paid);
        let chance = chance(problem, universe, state, step) / mass;
        Scored { step, spend, expected: value / mass, followed: step == Step::HandOn, chance }
    };
    let fresh = || Search::new(problem, universe, effort.grain());
    let telling = fresh().telling(state, effort.tests, ANY_GAIN);
    let scored = if state.worlds.len() < 64 {
        let mut search = fresh();
        steps.into_iter().map(|s| score(&mut search, s)).collect()
    } else {
        steps.into_par_iter().with_min_len(8).map_init(fresh, score).collect()
    };
    (scored, telling)
}

/// Mass with an abnormal reading after a test, or without the complaint after a repair or re-test.
fn chance(problem: &Problem, universe: &Universe, state: &State, step: Step) -> f64 {
    match step {
        Step::Test(t) => {
            let readings = &problem.tests[t].readings;
            let normal = |w: usize| readings.iter().map(|&r| universe.likelihood(r, 0)[w]).product::<f64>();
            state.worlds.iter().map(|&(w, m)| m * (1.0 - normal(w))).sum()
        }
        Step::Repair(_) | Step::Verify => (state.mass - state.still_there(problem, universe, step).mass).max(0.0),
        Step::HandOn => 0.0,
    }
}

/// Which candidates are followed to the end: the tests that tell most, the best tests and repairs one ahead, and the
/// end of the job.
fn chosen(rough: &[Scored], telling: &[usize], effort: &Effort) -> Vec<usize> {
    let mut order: Vec<usize> = (0..rough.len()).collect();
    order.sort_by(|&a, &b| by_cost(&rough[a], &rough[b]));
    let (mut tests, mut repairs) = (effort.tests, effort.repairs);
    order.retain(|&i| match rough[i].step {
        Step::Test(t) => telling.contains(&t) || tests.checked_sub(1).map(|n| tests = n).is_some(),
        Step::Repair(_) => repairs.checked_sub(1).map(|n| repairs = n).is_some(),
        Step::Verify | Step::HandOn => true,
    });
    order
}

//! The tool's policy: every candidate step is scored by the full expected cost of taking it and then going on by the
//! cheapest of the base policies; small problems are searched to the end.

use super::candidates::{Candidates, Scored, by_cost};
use super::effort::Effort;
use super::exact::Exhaustive;
use super::preference::proposed;
use super::problem::Problem;
use super::search::Search;
use super::state::State;
use super::universe::Universe;
use super::{Step, lower_bound};
use rayon::prelude::*;

/// The candidates, best first.
#[derive(Clone, Debug, PartialEq)]
pub struct Steps {
    /// Best first; in the order of their expected costs, those that cannot be told apart having the same.
    pub steps: Vec<Scored>,
    /// No plan at all costs less than this on average.
    pub bound: f64,
    /// Whether the first step was found by exact search.
    pub exact: bool,
    /// Expected cost of the best way from here without any test.
    pub repairs_only: f64,
    /// Chance that the complaint is gone already.
    pub gone: f64,
    /// Expected cost of the first step by looking ahead alone, whatever a plan makes of it.
    pub ahead: f64,
}

/// Scores the candidates of a state. Nothing to score when the state is empty.
#[must_use]
pub fn next_steps(problem: &Problem, universe: &Universe, state: &State, effort: &Effort) -> Steps {
    let effort = &effort.fitted(problem, universe);
    let mass = state.mass.max(f64::MIN_POSITIVE);
    let grain = effort.grain(state.mass);
    let fresh = || Search::new(problem, universe, grain);
    let Candidates { mut list, follow, unknown } = Candidates::of(problem, universe, state, effort);
    let exactly = Exhaustive::try_on(problem, universe, state, effort.exact_nodes);
    let one = |&i: &usize| {
        let mut search = fresh();
        (i, search.ahead(state, list[i].step, f64::INFINITY) / mass, search)
    };
    let followed: Vec<(usize, f64, Search<'_>)> = follow.par_iter().map(one).collect();
    for (i, value, _) in &followed {
        list[*i].expected = list[*i].expected.min(*value);
        list[*i].followed = true;
    }
    if let Some((best, others)) = earlier(&list) {
        let then = list[best].step;
        let again = followed.into_par_iter().filter(|(i, ..)| others.contains(i));
        let one = |(i, _, mut search): (usize, f64, Search<'_>)| {
            (i, then_either(&mut search, state, list[i].step, then) / mass)
        };
        let values: Vec<(usize, f64)> = again.map(one).collect();
        for (i, value) in values {
            list[i].expected = list[i].expected.min(value);
        }
    }
    if let Some((value, step)) = exactly
        && let Some(best) = list.iter_mut().find(|s| s.step == step)
    {
        // What the exact search found is the true optimum, and no other candidate can cost less.
        (best.expected, best.followed) = (value, true);
        list.iter_mut().for_each(|s| s.expected = s.expected.max(value));
    }
    let bound = lower_bound(problem, universe, state);
    let repairs_only = fresh().repairs_only(state).value / mass;
    let steps = advised(&mut fresh(), state, list, unknown, exactly.map(|e| e.1), effort);
    let ahead = steps.first().map_or(0.0, |s| s.expected);
    Steps { steps, bound, exact: exactly.is_some(), repairs_only, gone: state.gone(universe) / mass, ahead }
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
    let Candidates { mut list, follow, unknown } = Candidates::of(problem, universe, state, effort);
    let mut search = Search::new(problem, universe, effort.grain(state.mass));
    let mut best = f64::INFINITY;
    for i in follow {
        let value = search.ahead(state, list[i].step, best * (1.0 + CLOSE));
        let value = value.min(list[i].expected * state.mass);
        (list[i].expected, list[i].followed) = (value / state.mass, value.is_finite());
        best = best.min(value);
    }
    if let Some((first, others)) = earlier(&list) {
        let then = list[first].step;
        for i in others {
            let value = then_either(&mut search, state, list[i].step, then);
            list[i].expected = list[i].expected.min(value / state.mass);
        }
    }
    // The candidates were scored side by side; what that took is taken as a round figure.
    *work += search.work() + 8 * list.len() * state.worlds.len();
    let steps = advised(&mut search, state, list, unknown, None, effort);
    steps.first().map_or(Step::HandOn, |s| s.step)
}

/// The candidates as they are proposed.
fn advised(
    search: &mut Search<'_>,
    state: &State,
    mut list: Vec<Scored>,
    unknown: f64,
    exact: Option<Step>,
    effort: &Effort,
) -> Vec<Scored> {
    if !effort.sense {
        list.sort_by(|a, b| (Some(b.step) == exact).cmp(&(Some(a.step) == exact)).then(by_cost(a, b)));
        return list;
    }
    proposed(search, state, list, unknown, exact)
}

/// How far behind the best a candidate may be to get a second look, as a share.
const CLOSE: f64 = 0.05;

/// The best of the followed candidates, and the tests close behind it: would it be better still to do one of these first
/// and that afterwards? The base policies do not always come back to it.
fn earlier(list: &[Scored]) -> Option<(usize, Vec<usize>)> {
    let followed = |s: &Scored| s.followed && s.expected.is_finite();
    let best = (0..list.len()).filter(|&i| followed(&list[i])).min_by(|&a, &b| by_cost(&list[a], &list[b]))?;
    let top = list[best];
    let close = |s: &Scored| followed(s) && s.expected <= top.expected * (1.0 + CLOSE);
    let test = |i: &usize| *i != best && matches!(list[*i].step, Step::Test(_)) && close(&list[*i]);
    Some((best, (0..list.len()).filter(test).collect()))
}

/// Expected cost, times mass, of the test, then in each outcome the better of the base policies and of `second`.
fn then_either(search: &mut Search<'_>, state: &State, first: Step, second: Step) -> f64 {
    search.anew();
    search.sum(state, first, f64::INFINITY, &mut |search, after, _| {
        let base = search.least(after);
        let open = match second {
            Step::Test(t) => after.may_test(t),
            Step::Repair(r) | Step::Mend(r) => after.may_repair(r),
            Step::Verify | Step::HandOn => false,
        };
        if open && after.mass >= search.grain.small { base.min(search.on(after, second, base)) } else { base }
    })
}

/// The better of the steps that the base policies would take: a decision for nodes that are seldom reached.
pub(super) fn base_step(
    problem: &Problem,
    universe: &Universe,
    state: &State,
    effort: &Effort,
    work: &mut usize,
) -> Step {
    let mut search = Search::new(problem, universe, effort.grain(state.mass));
    let repairs = search.repairs_only(state);
    let telling = search.most_telling(state, repairs.value).unwrap_or(repairs.first);
    let ahead = search.one_ahead(state).first;
    if telling == ahead {
        *work += search.work();
        return telling;
    }
    let by_telling = search.ahead(state, telling, f64::INFINITY);
    let by_ahead = search.ahead(state, ahead, by_telling);
    *work += search.work();
    let (least, step) = if by_ahead < by_telling { (by_ahead, ahead) } else { (by_telling, telling) };
    if repairs.value < least { repairs.first } else { step }
}

//! Which steps are worth following to the end: all that are open, each with a first guess.

use super::effort::Effort;
use super::grounds::{PROVEN, SHOWN, needed, shows};
use super::problem::{Backing, Problem, bits};
use super::search::{Search, Told};
use super::state::State;
use super::universe::Universe;
use super::{Spend, Step};

/// One candidate with its score.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scored {
    /// What to do.
    pub step: Step,
    /// What it costs, setups not yet paid for included.
    pub spend: Spend,
    /// Expected cost of the whole rest of the job when this is done now.
    pub expected: f64,
    /// Whether that was followed to the end; otherwise only repairs were taken to follow.
    pub followed: bool,
    /// For a test, the chance that any of its readings is not normal; for a repair with a re-test or a re-test, that the
    /// complaint is gone afterwards; for a repair without one, that it removes something that is needed.
    pub chance: f64,
    /// For a test, what it tells about what has to be done, in bits.
    pub bits: f64,
    /// For a repair, whether it fits a part, which cannot be taken back when it was not the cause.
    pub fits: bool,
    /// For a repair, what speaks for it.
    pub backing: Backing,
    /// For a repair, the chance that it takes away something that is needed.
    pub needed: f64,
}

/// All open steps with the cost of "this, then repairs only", and which of them are to be followed.
pub(super) struct Candidates {
    pub list: Vec<Scored>,
    pub follow: Vec<usize>,
    /// Entropy of what has to be done, in bits.
    pub unknown: f64,
}

impl Candidates {
    pub fn of(problem: &Problem, universe: &Universe, state: &State, effort: &Effort) -> Self {
        let mut search = Search::new(problem, universe, effort.grain(state.mass));
        let told = search.told(state, 0.0);
        let list: Vec<Scored> =
            open(problem, universe, state, &told).into_iter().map(|s| scored(&mut search, state, s, &told)).collect();
        let follow = chosen(&list, problem, state, effort);
        Self { list, follow, unknown: search.unknown(state) }
    }
}

/// A step scored by itself, only repairs following it; nothing for a test that tells nothing in this state.
#[must_use]
pub fn score(problem: &Problem, universe: &Universe, state: &State, step: Step, effort: &Effort) -> Option<Scored> {
    let effort = &effort.fitted(problem, universe);
    let mut search = Search::new(problem, universe, effort.grain(state.mass));
    let told = search.told(state, 0.0);
    let tells = !matches!(step, Step::Test(_)) || told.iter().any(|t| Step::Test(t.test) == step);
    tells.then(|| scored(&mut search, state, step, &told))
}

/// Tests that tell anything, repairs that touch anything, the re-test where the complaint may be gone, handing on.
fn open(problem: &Problem, universe: &Universe, state: &State, told: &[Told]) -> Vec<Step> {
    let mut steps: Vec<Step> = told.iter().map(|t| Step::Test(t.test)).collect();
    let mut touched = 0_u128;
    for &(w, _) in &state.worlds {
        for e in universe.effects[w].iter().filter(|e| e.progress > 0.0) {
            touched |= 1 << e.repair;
        }
    }
    let repairs = || bits(touched).filter(|&r| state.may_repair(r));
    steps.extend(repairs().map(Step::Repair));
    steps.extend(repairs().filter(|&r| state.may_mend(universe, r)).map(Step::Mend));
    steps.push(Step::HandOn);
    if state.gone(universe) > 0.0 {
        steps.push(Step::Verify);
    }
    debug_assert!(steps.iter().all(|s| s.repair().is_none_or(|r| r < problem.repairs.len())));
    steps
}

fn scored(search: &mut Search<'_>, state: &State, step: Step, told: &[Told]) -> Scored {
    let (problem, universe) = (search.problem, search.universe);
    let mass = state.mass.max(f64::MIN_POSITIVE);
    let value = match step {
        Step::Test(t) => search.then_repairs(state, t, f64::INFINITY),
        _ => search.sum(state, step, f64::INFINITY, &mut |s, after, _| s.repairs_only(after).value),
    };
    let bits = match step {
        // The readings of one test may tell the same thing twice, so what they tell together is taken from the outcomes.
        Step::Test(t) => {
            let apart = told.iter().find(|x| x.test == t).map_or(0.0, |x| x.gain);
            let after: f64 = search.outcomes(state, t).iter().map(|s| search.unknown(s) * s.mass).sum();
            (search.unknown(state) - after / mass).clamp(0.0, apart)
        }
        _ => 0.0,
    };
    Scored {
        step,
        spend: problem.spend(step, state.paid),
        expected: value / mass,
        followed: step == Step::HandOn,
        chance: chance(problem, universe, state, step) / mass,
        bits,
        fits: step.repair().is_some_and(|r| problem.repairs[r].parts > 0.0),
        backing: step.repair().map_or(Backing::Codes, |r| backing(search, state, r)),
        needed: step.repair().map_or(0.0, |r| state.needed(universe, r)) / mass,
    }
}

/// What speaks for the repair in this state: what did when the problem was posed, and what was read on the way here. A state does
/// not hold how its tests came out; where a reading was taken and what it shows is likely now, it was not normal.
fn backing(search: &Search<'_>, state: &State, repair: usize) -> Backing {
    let (problem, posed) = (search.problem, search.problem.repairs[repair].backing);
    let (removes, made) = (problem.repairs[repair].removes, state.done & !problem.done);
    let mut out = posed;
    for &reading in bits(made).flat_map(|t| &problem.tests[t].readings) {
        let shown = shows(problem, reading);
        if shown & removes == 0 {
            continue;
        }
        let there = needed(search, state, shown & removes);
        if there >= PROVEN && shown & !removes == 0 {
            return Backing::Shown;
        }
        if there >= SHOWN {
            out = out.max(Backing::Reading);
        }
    }
    out
}

/// Mass with an abnormal reading after a test, without the complaint after a repair or re-test, or with something to
/// remove for a repair without one.
fn chance(problem: &Problem, universe: &Universe, state: &State, step: Step) -> f64 {
    match step {
        Step::Test(t) => {
            let readings = &problem.tests[t].readings;
            let normal = |w: usize| readings.iter().map(|&r| universe.likelihood(r, 0)[w]).product::<f64>();
            state.worlds.iter().map(|&(w, m)| m * (1.0 - normal(w))).sum()
        }
        Step::Repair(_) | Step::Verify => (state.mass - state.still_there(problem, universe, step).mass).max(0.0),
        Step::Mend(r) => (state.mass - state.in_vain(universe, r)).max(0.0),
        Step::HandOn => 0.0,
    }
}

/// Which candidates are followed to the end: the tests that tell most, the best tests and repairs one ahead, the repairs
/// that most likely help, and the end of the job.
fn chosen(list: &[Scored], problem: &Problem, state: &State, effort: &Effort) -> Vec<usize> {
    let mut out: Vec<usize> = Vec::new();
    let mut take = |wanted: &dyn Fn(&Scored) -> bool, key: &dyn Fn(&Scored) -> f64, most: usize| {
        let mut order: Vec<usize> = (0..list.len()).filter(|&i| wanted(&list[i])).collect();
        order.sort_by(|&a, &b| key(&list[a]).total_cmp(&key(&list[b])).then(a.cmp(&b)));
        for i in order.into_iter().take(most) {
            if !out.contains(&i) {
                out.push(i);
            }
        }
    };
    let test = |s: &Scored| matches!(s.step, Step::Test(_));
    let repair = |s: &Scored| matches!(s.step, Step::Repair(_));
    let mend = |s: &Scored| matches!(s.step, Step::Mend(_));
    let cost = |s: &Scored| problem.cost(s.step, state.paid).max(1e-9);
    take(&test, &|s| s.expected, effort.tests);
    take(&test, &|s| -s.bits / cost(s), effort.tests);
    take(&test, &|s| -s.bits, effort.tests / 2);
    for kind in [&repair as &dyn Fn(&Scored) -> bool, &mend] {
        take(kind, &|s| s.expected, effort.repairs);
        take(kind, &|s| -s.chance / cost(s), effort.repairs);
        take(kind, &|s| -s.chance, effort.repairs);
    }
    take(&|s| matches!(s.step, Step::Verify | Step::HandOn), &|s| s.expected, 2);
    // What looks best first, so that the others can be given up early.
    out.sort_by(|&a, &b| by_cost(&list[a], &list[b]));
    out
}

pub(super) fn by_cost(a: &Scored, b: &Scored) -> std::cmp::Ordering {
    a.expected.total_cmp(&b.expected).then(a.step.cmp(&b.step))
}

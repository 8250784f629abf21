//! What cannot be told apart by its cost: which of several steps comes first then, and which tests are about what was found.

use super::Step;
use super::candidates::{Scored, by_cost};
use super::grounds::{SHOWN, SPOKEN_FOR, looks_at, needed, overturns, removes};
use super::problem::{Backing, Problem};
use super::search::Search;
use super::state::State;

/// Expected costs that differ by less than this share are not told apart: what is cut off while looking ahead leaves
/// them uncertain by about as much.
pub const EQUAL: f64 = 0.015;

/// Of what the most telling of equals tells, a test must tell this share to be taken for being cheap.
const ENOUGH: f64 = 0.15;

/// What any test costs beside its own time, for comparing equals: walking, washing hands, writing down.
const BESIDE: f64 = 5.0;

/// A test that overturns so often the repair that readings speak for is about it.
pub(super) const FOLLOWS: f64 = 0.10;

/// From this chance of being needed on, a repair that readings speak for waits only for a test that is about it.
pub(super) const LEADS: f64 = 0.6;

/// What else a test looks at is far-fetched below this chance.
const FAR_FETCHED: f64 = 0.15;

/// Whether the test looks at what is removed, or at something else that is likely enough to have been meant.
pub(super) fn is_about(search: &Search<'_>, state: &State, test: usize, removed: u128) -> bool {
    let looks = looks_at(search, test);
    looks & removed != 0 || needed(search, state, looks & !removed) >= FAR_FETCHED
}

/// Those that cannot be told apart get the same cost, and among them comes first what settles more. A repair that
/// readings make likely does not wait for a test that is not about it.
pub(super) fn settle_equals(problem: &Problem, list: &mut [Scored], lead: Option<&Scored>, trail: &[Step]) {
    let Some(least) = list.first().map(|s| s.expected) else { return };
    let equals = list.iter().take_while(|s| s.expected <= least * (1.0 + EQUAL)).count();
    let equals = &mut list[..equals];
    equals.iter_mut().for_each(|s| s.expected = least);
    let followed = equals.iter().any(|s| trail.contains(&s.step));
    let lead = lead.filter(|s| s.needed >= LEADS && !followed);
    let lead = lead.and_then(|lead| equals.iter().position(|s| s.step == lead.step));
    if let Some(first) = lead.or_else(|| first_of_equals(problem, equals, trail)) {
        equals[..=first].rotate_right(1);
    }
}

/// The repair that readings speak for most, and the tests that may overturn it, where it is likely by a look at its fault or at what
/// else it may well be: a reading was not as it should be, and whoever read it follows that up before looking elsewhere.
pub(super) fn on_the_trail(search: &mut Search<'_>, state: &State, list: &[Scored]) -> (Option<Scored>, Vec<Step>) {
    let spoken_for = list.iter().filter(|s| s.step.repair().is_some() && s.backing != Backing::Codes);
    let lead = spoken_for.max_by(|a, b| a.needed.total_cmp(&b.needed)).copied().filter(|s| s.needed >= SPOKEN_FOR);
    let Some(lead) = lead else { return (None, Vec::new()) };
    let removed = removes(search, &lead);
    let mut trail = Vec::new();
    for s in list {
        if let Step::Test(t) = s.step
            && (lead.needed < LEADS || is_about(search, state, t, removed))
            && overturns(search, state, t, lead.step) >= FOLLOWS
        {
            trail.push(s.step);
        }
    }
    (Some(lead), trail)
}

/// Which of the equals comes first: a measurement before a part; of several tests the one that tells most for its cost among
/// those that tell enough.
fn first_of_equals(problem: &Problem, equals: &[Scored], trail: &[Step]) -> Option<usize> {
    let aim = problem.aim;
    let head = equals.first()?;
    if head.step.repair().is_some() && !head.fits || matches!(head.step, Step::Verify) {
        return Some(0);
    }
    let most = equals.iter().map(|s| s.bits).fold(0.0, f64::max);
    if most <= 0.0 {
        // Of repairs that cannot be told apart the cheapest of those that more likely help than not, else the likeliest.
        let repairs = || equals.iter().enumerate().filter(|(_, s)| s.step.repair().is_some());
        let helps = repairs().filter(|(_, s)| s.chance >= SHOWN);
        let cheapest = helps.min_by(|a, b| a.1.spend.cost(aim).total_cmp(&b.1.spend.cost(aim)).then(a.0.cmp(&b.0)));
        let likeliest = || repairs().max_by(|a, b| a.1.chance.total_cmp(&b.1.chance).then(b.0.cmp(&a.0)));
        return cheapest.or_else(likeliest).map(|(i, _)| i);
    }
    // Their costs are in what makes them equal, so here they count for less.
    let rate = |s: &Scored| s.bits / (s.spend.cost(aim) + BESIDE).powf(0.9);
    let followed = equals.iter().any(|s| trail.contains(&s.step));
    let enough = equals.iter().enumerate().filter(|(_, s)| s.bits > 0.0 && s.bits >= ENOUGH * most);
    let enough: Vec<(usize, &Scored)> = enough.filter(|(_, s)| !followed || trail.contains(&s.step)).collect();
    // Whoever took some of its readings has been there; what else there was to see was hardly missed.
    let begun = |s: &Scored| matches!(s.step, Step::Test(t) if problem.tests[t].begun);
    let fresh = enough.iter().any(|(_, s)| !begun(s));
    let enough = enough.into_iter().filter(|(_, s)| !fresh || !begun(s));
    enough.max_by(|a, b| rate(a.1).total_cmp(&rate(b.1)).then(b.0.cmp(&a.0))).map(|(i, _)| i)
}

/// Of these tests the cheapest, and of those that cannot be told apart the one that tells most for its cost.
pub(super) fn cheapest_and_telling(problem: &Problem, mut tests: Vec<Scored>) -> Option<Scored> {
    tests.sort_by(by_cost);
    let least = tests.first()?.expected;
    tests.retain(|s| s.expected <= least * (1.0 + EQUAL));
    first_of_equals(problem, &tests, &[]).map(|i| tests[i])
}

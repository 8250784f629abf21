//! What a state of knowledge and a test say of a repair: what it removes that is there, what would bring that back, and how often
//! the test would show, settle or overturn it.

use super::Step;
use super::candidates::Scored;
use super::problem::{Problem, bits};
use super::search::Search;
use super::state::State;

/// From this chance of being needed on a repair for which a reading speaks is as good as proven,
pub(super) const PROVEN: f64 = 0.85;

/// and one whose fault was shown from this one on: the rest is what the numbers of the reading leave open, and those are
/// rough.
pub(super) const SHOWN: f64 = 0.5;

/// A test that shows a suspect this often looks at it. And from this chance of being needed on, a repair that readings speak for
/// is followed up.
pub(super) const SPOKEN_FOR: f64 = 0.3;

/// One that shows it this often is what is asked before the repair, where the base names nothing else.
const WELL: f64 = 0.6;

/// A result overturns a repair that it leaves with less than this share of its chance of being needed.
const OVERTURNED: f64 = 0.6;

/// The faults that a repair removes.
pub(super) fn removes(search: &Search<'_>, s: &Scored) -> u128 {
    s.step.repair().map_or(0, |r| search.problem.repairs[r].removes)
}

/// Whether a repair goes further than another: it costs more and takes away nothing more that is likely there.
pub(super) fn further(search: &Search<'_>, s: &Scored, than: &Scored, likely: u128) -> bool {
    let alone = |s: &Scored| s.step.repair().map_or(0.0, |r| search.problem.repairs[r].alone.cost(search.problem.aim));
    removes(search, than) & likely == removes(search, s) & likely && alone(than) < alone(s)
}

/// The suspects that are more likely there than not.
pub(super) fn likely(search: &Search<'_>, state: &State) -> u128 {
    let mut chance = vec![0.0; search.problem.suspects.len()];
    for &(w, m) in &state.worlds {
        bits(search.universe.worlds[w].present).for_each(|s| chance[s] += m);
    }
    let half = 0.5 * state.mass;
    chance.iter().enumerate().filter(|(_, c)| **c > half).fold(0, |all, (s, _)| all | 1 << s)
}

/// What would bring back something that is removed and is there, and how likely any of it is there.
pub(super) fn causes(search: &Search<'_>, state: &State, removes: u128) -> (u128, f64) {
    let (mut causes, mut there) = (0_u128, 0.0);
    for &(w, m) in &state.worlds {
        let present = search.universe.worlds[w].present;
        let (gone, left) = (present & removes, present & !removes);
        let back = search.problem.returns.iter().filter(|r| gone >> r.victim & 1 == 1 && left >> r.cause & 1 == 1);
        let mut any = false;
        back.for_each(|r| {
            causes |= 1 << r.cause;
            any = true;
        });
        if any {
            there += m;
        }
    }
    (causes, there / state.mass.max(f64::MIN_POSITIVE))
}

/// The suspects that the test often shows.
pub(super) fn looks_at(search: &Search<'_>, test: usize) -> u128 {
    search.problem.tests[test].readings.iter().fold(0, |all, &r| all | shows(search.problem, r))
}

/// The suspects that the test shows more often than not.
pub(super) fn shown_well(search: &Search<'_>, test: usize) -> u128 {
    search.problem.tests[test].readings.iter().fold(0, |all, &r| all | shows_at_least(search.problem, r, WELL))
}

/// The suspects that the reading often shows.
pub(super) fn shows(problem: &Problem, reading: usize) -> u128 {
    shows_at_least(problem, reading, SPOKEN_FOR)
}

fn shows_at_least(problem: &Problem, reading: usize, often: f64) -> u128 {
    let often = problem.readings[reading].links.iter().filter(|(_, cdf)| 1.0 - cdf[0] >= often);
    often.fold(0, |all, (s, _)| all | 1_u128 << s)
}

/// Chance that any of these has to be removed.
pub(super) fn needed(search: &Search<'_>, state: &State, set: u128) -> f64 {
    let worlds = state.worlds.iter().filter(|(w, _)| search.universe.worlds[*w].need & set != 0);
    worlds.map(|(_, m)| m).sum::<f64>() / state.mass.max(f64::MIN_POSITIVE)
}

/// How often the test shows that something is there which would bring back what is removed.
pub(super) fn finds_cause(search: &mut Search<'_>, state: &State, test: usize, removed: u128) -> f64 {
    let after = search.outcomes(state, test);
    let found = after.iter().filter(|s| causes(search, s, removed).1 >= SHOWN);
    found.map(|s| s.mass).sum::<f64>() / state.mass
}

/// How often the test leaves the repair as good as proven.
pub(super) fn settles(search: &mut Search<'_>, state: &State, test: usize, repair: Step) -> f64 {
    let Some(r) = repair.repair() else { return 0.0 };
    let universe = search.universe;
    let after = search.outcomes(state, test);
    let sure = after.iter().filter(|s| s.needed(universe, r) >= PROVEN * s.mass);
    sure.map(|s| s.mass).sum::<f64>() / state.mass
}

/// How often the test shows what leaves the repair with much less of its chance of being needed.
pub(super) fn overturns(search: &mut Search<'_>, state: &State, test: usize, repair: Step) -> f64 {
    let Some(r) = repair.repair() else { return 0.0 };
    let universe = search.universe;
    let least = OVERTURNED * state.needed(universe, r) / state.mass;
    let after = search.outcomes(state, test);
    let over = after.iter().filter(|s| s.needed(universe, r) < least * s.mass);
    over.map(|s| s.mass).sum::<f64>() / state.mass
}

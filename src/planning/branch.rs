//! What a test can show: joint outcomes of its readings, the rare ones lumped together.

use super::problem::Problem;
use super::state::State;
use super::universe::Universe;

/// One outcome of a test.
#[derive(Clone, Debug)]
pub(super) struct Shown {
    /// Level of each reading; empty for "anything else".
    pub levels: Vec<u8>,
    /// What is known then.
    pub state: State,
}

/// Levels so far, worlds with their masses, and the mass of all of them.
type Part = (Vec<u8>, Vec<(usize, f64)>, f64);

/// Splits the state by the outcomes of the test. Outcomes with less than `floor` of the state's mass come together
/// as one, last.
pub(super) fn split(problem: &Problem, universe: &Universe, state: &State, test: usize, floor: f64) -> Vec<Shown> {
    let t = &problem.tests[test];
    let (paid, done) = (state.paid | t.leaves, state.done | 1 << test);
    let mut parts: Vec<Part> = vec![(Vec::new(), state.worlds.clone(), state.mass)];
    let mut rest: Vec<(usize, f64)> = Vec::new();
    let least = floor * state.mass;
    for &reading in &t.readings {
        let mut next = Vec::with_capacity(parts.len() * 2);
        for (levels, worlds, _) in parts {
            for level in 0..universe.levels(reading) {
                let likelihood = universe.likelihood(reading, level);
                let mut mass = 0.0;
                let part: Vec<(usize, f64)> = worlds
                    .iter()
                    .map(|&(w, m)| {
                        let m = m * likelihood[w];
                        mass += m;
                        (w, m)
                    })
                    .collect();
                if mass > least {
                    let mut levels = levels.clone();
                    levels.push(u8::try_from(level).unwrap_or(u8::MAX));
                    next.push((levels, part, mass));
                } else if mass > 0.0 {
                    rest.extend(part);
                }
            }
        }
        parts = next;
    }
    let mut out: Vec<Shown> = parts
        .into_iter()
        .map(|(levels, mut worlds, mass)| {
            worlds.retain(|w| w.1 > 0.0);
            Shown { levels, state: State { worlds, mass, paid, done, made: state.made } }
        })
        .collect();
    if !rest.is_empty() {
        out.push(Shown { levels: Vec::new(), state: State::new(rest, paid, done, state.made) });
    }
    out
}

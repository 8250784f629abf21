//! The base policies of the rollout. One test ahead: is any test worth its cost if only repairs follow it? And the most
//! telling: the test that tells most for its cost, until a repair is more likely than not to end the job.

use super::Step;
use super::branch::split;
use super::problem::Problem;
use super::repairs_only::{Scratch, Valued, repairs_only};
use super::state::State;
use super::universe::Universe;

/// How finely outcomes and worlds are told apart while looking ahead.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Grain {
    /// Outcomes below this share of a state come together as one.
    pub lump: f64,
    /// Least likely worlds that together hold less than this share are dropped after a test.
    pub trim: f64,
    /// Tests looked at one ahead: so many by what they tell per cost and half as many by what they tell.
    pub tests: usize,
    /// Where the cost of a branch that is not followed lies between knowing the faults (0) and repairing without
    /// tests (1).
    pub between: f64,
}

/// A way to decide that is cheap enough to be followed to the end many times.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Base {
    /// One test ahead: strong where one test decides.
    OneAhead,
    /// The most telling test: strong where many tests have to come together.
    Telling,
}

/// A gain below this share is rounding.
pub(super) const ANY_GAIN: f64 = 1e-9;

/// Least gain, as a share of what is there, for which the most telling test is done.
const LEAST_GAIN: f64 = 0.004;

/// A search over one problem, with its buffers.
#[derive(Debug)]
pub(super) struct Search<'a> {
    pub problem: &'a Problem,
    pub universe: &'a Universe,
    pub grain: Grain,
    pub scratch: Scratch,
    /// World visits so far, but for those of repairs only.
    spent: usize,
}

impl<'a> Search<'a> {
    pub fn new(problem: &'a Problem, universe: &'a Universe, grain: Grain) -> Self {
        Self { problem, universe, grain, scratch: Scratch::default(), spent: 0 }
    }

    pub fn repairs_only(&mut self, state: &State) -> Valued {
        repairs_only(self.problem, self.universe, state, &mut self.scratch)
    }

    /// World visits so far: the measure of work.
    pub fn work(&self) -> usize {
        self.spent + self.scratch.visits
    }

    /// The outcomes of a test, each ready to be looked into.
    pub fn outcomes(&mut self, state: &State, test: usize) -> Vec<State> {
        self.spent += state.worlds.len() * self.problem.tests[test].readings.len();
        let shown = split(self.problem, self.universe, state, test, self.grain.lump);
        shown
            .into_iter()
            .map(|s| if self.grain.trim > 0.0 { s.state.trimmed(self.grain.trim) } else { s.state })
            .collect()
    }

    /// The tests that tell most, without computing what follows: `most` by gain per cost, half as many by gain, none
    /// that gains less than the share `least`.
    ///
    /// The gain is that of the expected sum of squared probabilities, `sum over outcomes of sum_w m_w^2 / M`: it
    /// orders tests much as entropy does and needs no logarithm. The readings of a test count one by one.
    pub fn telling(&mut self, state: &State, most: usize, least: f64) -> Vec<usize> {
        let tests: Vec<usize> = (0..self.problem.tests.len()).filter(|&t| state.may_test(t)).collect();
        if tests.len() <= most.saturating_add(most / 2) && least <= ANY_GAIN {
            return tests;
        }
        let before: f64 = state.worlds.iter().map(|w| w.1 * w.1).sum::<f64>() / state.mass;
        let mut scored = Vec::with_capacity(tests.len());
        for t in tests {
            let mut gain = 0.0_f64;
            for &reading in &self.problem.tests[t].readings {
                self.spent += state.worlds.len();
                let mut after = -before;
                for level in 0..self.universe.levels(reading) {
                    let likelihood = self.universe.likelihood(reading, level);
                    let (mut sum, mut squares) = (0.0, 0.0);
                    for &(w, m) in &state.worlds {
                        let m = m * likelihood[w];
                        sum += m;
                        squares += m * m;
                    }
                    if sum > 0.0 {
                        after += squares / sum;
                    }
                }
                // Several readings of one test tell about different places, so what they tell adds up.
                gain += after.max(0.0);
            }
            if gain > least * before {
                scored.push((t, gain, gain / self.problem.cost(Step::Test(t), state.paid).max(1e-9)));
            }
        }
        scored.sort_by(|a, b| b.2.total_cmp(&a.2).then(a.0.cmp(&b.0)));
        let mut out: Vec<usize> = scored.iter().take(most).map(|s| s.0).collect();
        scored.drain(..most.min(scored.len()));
        scored.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        out.extend(scored.iter().take(most / 2).map(|s| s.0));
        out
    }

    /// Expected cost, times mass, of the test with only repairs after it; gives up, with infinity, as soon as the
    /// faults being known for the rest would not bring it below `limit`.
    pub fn then_repairs(&mut self, state: &State, test: usize, limit: f64) -> f64 {
        let mut value = state.mass * self.problem.cost(Step::Test(test), state.paid);
        let mut least = state.known(self.universe);
        if value + least >= limit {
            return f64::INFINITY;
        }
        for shown in self.outcomes(state, test) {
            least -= shown.known(self.universe);
            value += self.repairs_only(&shown).value;
            if value + least.max(0.0) >= limit {
                return f64::INFINITY;
            }
        }
        value
    }

    /// The best of repairing now and of every single test followed by repairs only.
    pub fn one_ahead(&mut self, state: &State) -> Valued {
        let mut best = self.repairs_only(state);
        for test in self.telling(state, self.grain.tests, ANY_GAIN) {
            let value = self.then_repairs(state, test, best.value);
            // A test that changes nothing must not win by a rounding error.
            if value < best.value * (1.0 - 1e-12) {
                best = Valued { value, first: Step::Test(test) };
            }
        }
        best
    }

    /// The most telling test for its cost, unless a repair is more likely than not to clear the complaint or no test
    /// tells anything. The value is that of handing on, which is always open.
    pub fn most_telling(&mut self, state: &State) -> Valued {
        let value = state.hand_on(self.problem, self.universe);
        self.spent += state.worlds.len();
        if self.scratch.best_chance(self.problem, self.universe, state) < 0.5 * state.mass
            && let Some(&test) = self.telling(state, 1, LEAST_GAIN).first()
        {
            return Valued { value, first: Step::Test(test) };
        }
        self.repairs_only(state)
    }

    /// Expected cost, times mass, of taking the step and going on by the base policy. Below `small` mass what
    /// repairs alone would cost is taken instead. Gives up, with infinity, when it cannot come below `limit`.
    pub fn step_then_follow(
        &mut self,
        state: &State,
        step: Step,
        base: Base,
        small: f64,
        depth: usize,
        limit: f64,
    ) -> f64 {
        let mut value = state.mass * self.problem.cost(step, state.paid);
        let next = match step {
            Step::HandOn => return state.hand_on(self.problem, self.universe),
            Step::Test(t) => self.outcomes(state, t),
            Step::Repair(_) | Step::Verify => vec![state.still_there(self.problem, self.universe, step)],
        };
        let mut least: f64 = next.iter().map(|s| s.known(self.universe)).sum();
        for after in next {
            if value + least >= limit {
                return f64::INFINITY;
            }
            least = (least - after.known(self.universe)).max(0.0);
            if after.mass > 0.0 {
                value += self.follow(&after, base, small, depth);
            }
        }
        value
    }

    /// Expected cost, times mass, of deciding by the base policy at every step.
    pub fn follow(&mut self, state: &State, base: Base, small: f64, depth: usize) -> f64 {
        if state.mass < small || depth == 0 {
            let known = state.known(self.universe);
            return known + self.grain.between * (self.repairs_only(state).value - known);
        }
        let now = match base {
            Base::OneAhead => self.one_ahead(state),
            Base::Telling => self.most_telling(state),
        };
        if now.first == Step::HandOn {
            return now.value;
        }
        self.step_then_follow(state, now.first, base, small, depth - 1, f64::INFINITY).min(now.value)
    }
}

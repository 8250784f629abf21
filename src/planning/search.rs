//! Looking ahead: what a test can show, which tests tell most, and what a job costs when one of the base policies decides
//! at every step.

use super::Step;
use super::branch::split;
use super::problem::Problem;
use super::repairs_only::{Scratch, Valued, repairs_only};
use super::state::{Key, State};
use super::tally::Buffers;
use super::universe::Universe;
use std::collections::HashMap;

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
    /// Branches below this mass are not followed.
    pub small: f64,
    /// Steps in a row that are followed.
    pub depth: usize,
    /// Above so many worlds only the most telling test is followed, not one test ahead as well.
    pub many: usize,
    /// World visits for following one candidate.
    pub visits: usize,
}

/// A way to decide that is cheap enough to be followed to the end many times. Each may stop testing at any point, and
/// go on with repairs only.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Base {
    /// One test ahead: strong where one test decides.
    OneAhead,
    /// The test that tells most for its cost: strong where many tests have to come together.
    Telling,
}

/// A gain, in bits, below this is rounding.
pub(super) const ANY_GAIN: f64 = 1e-6;

/// Least gain, in bits, for which the most telling test is done.
const LEAST_GAIN: f64 = 0.01;

/// A test and what it tells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Told {
    pub test: usize,
    /// Bits about what has to be done, on average, times nothing: per job that comes here.
    pub gain: f64,
    /// The same per unit of cost.
    pub rate: f64,
}

/// A search over one problem, with its buffers.
#[derive(Debug)]
pub(super) struct Search<'a> {
    pub problem: &'a Problem,
    pub universe: &'a Universe,
    pub grain: Grain,
    pub scratch: Scratch,
    tally: Buffers,
    /// What states cost by the cheapest of the base policies: a second look at a candidate comes to the same ones.
    known: HashMap<(Key, u64), (f64, usize)>,
    /// World visits so far, but for those of repairs only.
    spent: usize,
    /// Visits at which no branch is followed any further.
    until: usize,
}

impl<'a> Search<'a> {
    pub fn new(problem: &'a Problem, universe: &'a Universe, grain: Grain) -> Self {
        let tally = Buffers::new(universe);
        Self {
            problem,
            universe,
            grain,
            scratch: Scratch::default(),
            tally,
            known: HashMap::new(),
            spent: 0,
            until: usize::MAX,
        }
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

    /// What each open test tells about what has to be done, in bits: the expected loss of entropy over the kinds of
    /// worlds. Faults that one repair deals with are one kind, so telling them apart is worth nothing. The readings of
    /// a test count one by one: they tell about different places, so what they tell adds up.
    pub fn told(&mut self, state: &State, least: f64) -> Vec<Told> {
        let (problem, universe) = (self.problem, self.universe);
        let mut out = Vec::new();
        let Some(mut tally) = self.tally.take(universe, state) else { return out };
        for t in (0..problem.tests.len()).filter(|&t| state.may_test(t)) {
            let readings = &problem.tests[t].readings;
            self.spent += state.worlds.len() * readings.len();
            let gain = readings.iter().map(|&r| tally.gain(r)).sum::<f64>() / state.mass;
            if gain > least {
                let cost = problem.cost(Step::Test(t), state.paid).max(1e-9);
                out.push(Told { test: t, gain, rate: gain / cost });
            }
        }
        out
    }

    /// Entropy over the kinds of worlds, in bits: what is not known about what has to be done.
    pub fn unknown(&mut self, state: &State) -> f64 {
        self.tally.entropy(self.universe, state) / state.mass.max(f64::MIN_POSITIVE)
    }

    /// The tests that tell most: `most` by gain per cost, half as many more by gain.
    pub fn telling(&mut self, state: &State, most: usize) -> Vec<usize> {
        let mut told = self.told(state, ANY_GAIN);
        told.sort_by(|a, b| b.rate.total_cmp(&a.rate).then(a.test.cmp(&b.test)));
        let mut out: Vec<usize> = told.iter().take(most).map(|s| s.test).collect();
        told.drain(..most.min(told.len()));
        told.sort_by(|a, b| b.gain.total_cmp(&a.gain).then(a.test.cmp(&b.test)));
        out.extend(told.iter().take(most / 2).map(|s| s.test));
        out
    }

    /// Expected cost, times mass, of the test with only repairs after it; gives up, with infinity, as soon as the
    /// faults being known for the rest would not bring it below `limit`.
    pub fn then_repairs(&mut self, state: &State, test: usize, limit: f64) -> f64 {
        let mut value = self.problem.pay(self.universe, state, Step::Test(test));
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
        for test in self.telling(state, self.grain.tests) {
            let value = self.then_repairs(state, test, best.value);
            // A test that changes nothing must not win by a rounding error.
            if value < best.value * (1.0 - 1e-12) {
                best = Valued { value, first: Step::Test(test) };
            }
        }
        best
    }

    /// The most telling test for its cost, of those that can pay: knowing everything after it must cost less than
    /// `repairs`, what repairing now without any test costs.
    pub fn most_telling(&mut self, state: &State, repairs: f64) -> Option<Step> {
        let known = state.known(self.universe);
        if known >= repairs {
            return None;
        }
        let pays = |t: &Told| known + self.problem.cost(Step::Test(t.test), state.paid) * state.mass < repairs;
        let told = self.told(state, LEAST_GAIN);
        let best = told.into_iter().filter(pays).max_by(|a, b| a.rate.total_cmp(&b.rate).then(b.test.cmp(&a.test)));
        best.map(|t| Step::Test(t.test))
    }

    /// What is known after the step, each part ready to be looked into.
    pub fn after(&mut self, state: &State, step: Step) -> Vec<State> {
        match step {
            Step::HandOn => Vec::new(),
            Step::Test(t) => self.outcomes(state, t),
            Step::Mend(r) => vec![state.mended(self.problem, self.universe, r)],
            Step::Repair(_) | Step::Verify => vec![state.still_there(self.problem, self.universe, step)],
        }
    }

    /// Expected cost, times mass, of taking the step and going on, in every outcome, by whichever base policy is the
    /// cheapest there (parallel rollout; Bertsekas 2019). Gives up, with infinity, when it cannot come below `limit`.
    pub fn ahead(&mut self, state: &State, step: Step, limit: f64) -> f64 {
        self.anew();
        self.on(state, step, limit)
    }

    /// The same within the visits of what is being followed.
    pub fn on(&mut self, state: &State, step: Step, limit: f64) -> f64 {
        self.sum(state, step, limit, &mut |search, after, _| search.least(after))
    }

    /// Begins to follow something: its visits are counted from here.
    pub fn anew(&mut self) {
        self.until = self.work().saturating_add(self.grain.visits);
    }

    /// Expected cost, times mass, by the cheapest of the base policies.
    pub fn least(&mut self, state: &State) -> f64 {
        let key = (state.key(), state.mass.to_bits());
        if let Some(&(known, work)) = self.known.get(&key) {
            // How far to look depends on the work, which must not depend on what was looked at before.
            self.spent += work;
            return known;
        }
        let before = self.work();
        let least = self.by_policies(state);
        // Where the visits ran out it was cut short, and a later look may go further.
        if self.work() < self.until {
            self.known.insert(key, (least, self.work() - before));
        }
        least
    }

    fn by_policies(&mut self, state: &State) -> f64 {
        let telling = self.follow(state, Base::Telling, self.grain.depth);
        if state.worlds.len() > self.grain.many || state.mass < self.grain.small {
            return telling;
        }
        telling.min(self.follow(state, Base::OneAhead, self.grain.depth))
    }

    /// The step's own cost and, over what it can show, the sum of `value`.
    pub fn sum(
        &mut self,
        state: &State,
        step: Step,
        limit: f64,
        value: &mut dyn FnMut(&mut Self, &State, f64) -> f64,
    ) -> f64 {
        let mut sum = self.problem.pay(self.universe, state, step);
        if step == Step::HandOn {
            return sum;
        }
        let next = self.after(state, step);
        let mut least: f64 = next.iter().map(|s| s.known(self.universe)).sum();
        for after in next {
            if sum + least >= limit {
                return f64::INFINITY;
            }
            least = (least - after.known(self.universe)).max(0.0);
            if after.mass > 0.0 {
                sum += value(self, &after, limit - sum - least);
            }
        }
        sum
    }

    /// Expected cost, times mass, of deciding by the base policy at every step.
    pub fn follow(&mut self, state: &State, base: Base, depth: usize) -> f64 {
        if state.mass < self.grain.small || depth == 0 || self.work() > self.until {
            let known = state.known(self.universe);
            return known + self.grain.between * (self.repairs_only(state).value - known);
        }
        let then = |search: &mut Self, first: Step, limit: f64| {
            let on = &mut |search: &mut Self, after: &State, _: f64| search.follow(after, base, depth - 1);
            search.sum(state, first, limit, on).min(limit)
        };
        if base == Base::OneAhead {
            let now = self.one_ahead(state);
            return if now.first == Step::HandOn { now.value } else { then(self, now.first, now.value) };
        }
        let repairs = self.repairs_only(state);
        let mut value = repairs.value;
        if let Some(test) = self.most_telling(state, value) {
            value = then(self, test, value);
            // A repair that may well end it can also come before the tests.
            let chance = self.scratch.best_chance(self.problem, self.universe, state);
            if chance >= 0.5 * state.mass && repairs.first.repair().is_some() {
                value = then(self, repairs.first, value);
            }
        }
        value
    }
}

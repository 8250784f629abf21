//! The plan: what to do next for every outcome, until the complaint is gone or the vehicle is handed on.
//!
//! A plan is any policy written out. Growing it takes a decision at each node; what it costs is then computed from
//! the finished tree over all worlds, exactly, whatever the decisions were based on.

use super::branch::split;
use super::one_ahead::Search;
use super::problem::Problem;
use super::rollout::{Effort, base_step, best_step};
use super::state::State;
use super::universe::Universe;
use super::{Posed, Spend, Step};
use rayon::prelude::*;

/// What a step showed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Shows {
    /// These levels of the test's readings, in their order.
    Levels(Vec<u8>),
    /// Anything not named by another branch.
    Else,
    /// The re-test says that the complaint is gone.
    Gone,
    /// The re-test says that it is still there.
    StillThere,
}

/// One outcome of a node's step.
#[derive(Clone, Debug, PartialEq)]
pub struct Branch {
    /// What was shown.
    pub shows: Shows,
    /// Probability of coming here from the start.
    pub mass: f64,
    /// What then; nothing when the job is done.
    pub then: Option<Node>,
}

/// One point of the plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Node {
    /// What to do.
    pub step: Step,
    /// What it costs here.
    pub spend: Spend,
    /// Probability of coming here from the start.
    pub mass: f64,
    /// Expected spending from here to the end, this step included.
    pub ahead: Spend,
    /// What can be shown; empty after handing on.
    pub branches: Vec<Branch>,
}

/// A policy written out.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The first step; nothing when there is nothing to do.
    pub root: Option<Node>,
    /// Every way in which the job can end.
    pub endings: Vec<Ending>,
}

/// One way in which the job ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Ending {
    /// Its probability.
    pub mass: f64,
    /// What it costs.
    pub spend: Spend,
    /// The repairs made, in order.
    pub repairs: Vec<usize>,
    /// Whether the complaint is gone; otherwise the vehicle is handed on.
    pub fixed: bool,
}

/// How far a plan is worked out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Detail {
    /// Outcomes below this share of the node are not told apart.
    pub lump: f64,
    /// Nodes reached with less than this probability are decided by the better base policy.
    pub full: f64,
    /// Nodes reached with less than this probability go on with repairs only.
    pub ahead: f64,
    /// Least likely worlds dropped after a test, as a share.
    pub trim: f64,
    /// Longest chain of steps.
    pub depth: usize,
}

impl Detail {
    /// For a plan within a fraction of a second.
    #[must_use]
    pub fn quick() -> Self {
        Self { lump: 0.01, full: 0.01, ahead: 0.001, trim: 0.001, depth: 40 }
    }

    /// Everything told apart and thought through.
    #[must_use]
    pub fn thorough() -> Self {
        Self { lump: 0.0, full: 0.0, ahead: 0.0, trim: 0.0, depth: 60 }
    }
}

/// The tool's own plan: rollout where it is likely to come, the better base policy where it is less so, repairs only
/// where it hardly matters. Decided on the worlds for looking ahead, its expectation taken over all of them.
#[must_use]
pub fn plan(posed: &Posed, effort: &Effort, detail: &Detail) -> Plan {
    let (problem, lean) = (&posed.problem, &posed.universe);
    let decide = |state: &State| {
        if state.mass >= detail.full {
            best_step(problem, lean, state, effort)
        } else if state.mass >= detail.ahead {
            base_step(problem, lean, state, effort)
        } else {
            Search::new(problem, lean, effort.grain()).repairs_only(state).first
        }
    };
    let start = State::start(problem, lean);
    let (root, full) = rayon::join(|| root(problem, lean, &start, detail, &decide), || posed.full_universe());
    finish(problem, root, &full)
}

/// Writes out any policy and computes what it costs over the worlds of `full`.
pub fn grow(
    problem: &Problem,
    universe: &Universe,
    full: &Universe,
    detail: &Detail,
    decide: &(dyn Fn(&State) -> Step + Sync),
) -> Plan {
    finish(problem, root(problem, universe, &State::start(problem, universe), detail, decide), full)
}

fn root(
    problem: &Problem,
    universe: &Universe,
    start: &State,
    detail: &Detail,
    decide: &(dyn Fn(&State) -> Step + Sync),
) -> Option<Node> {
    let nothing_to_do = start.mass <= 0.0 || start.gone(universe) >= start.mass * (1.0 - 1e-12);
    (!nothing_to_do).then(|| node(problem, universe, start, detail, detail.depth, decide))
}

fn finish(problem: &Problem, mut root: Option<Node>, full: &Universe) -> Plan {
    let mut endings = Vec::new();
    if let Some(root) = &mut root {
        let from = State::start(problem, full);
        let mut walk = Walk { problem, universe: full, endings: &mut endings, repairs: Vec::new() };
        walk.node(root, &from, Spend::default());
    }
    Plan { root, endings }
}

fn node(
    problem: &Problem,
    universe: &Universe,
    state: &State,
    detail: &Detail,
    depth: usize,
    decide: &(dyn Fn(&State) -> Step + Sync),
) -> Node {
    let step = if depth == 0 { Step::HandOn } else { decide(state) };
    let spend = problem.spend(step, state.paid);
    let below = |s: &State| node(problem, universe, s, detail, depth - 1, decide);
    let branches = match step {
        Step::HandOn => Vec::new(),
        Step::Repair(_) | Step::Verify => {
            let after = state.still_there(problem, universe, step);
            let mut out = vec![Branch { shows: Shows::Gone, mass: 0.0, then: None }];
            if after.mass > 0.0 {
                out.push(Branch { shows: Shows::StillThere, mass: 0.0, then: Some(below(&after)) });
            }
            out
        }
        Step::Test(t) => {
            let shown = split(problem, universe, state, t, detail.lump);
            let branch = |s: super::branch::Shown| {
                let shows = if s.levels.is_empty() { Shows::Else } else { Shows::Levels(s.levels) };
                let state = if detail.trim > 0.0 { s.state.trimmed(detail.trim) } else { s.state };
                Branch { shows, mass: 0.0, then: Some(below(&state)) }
            };
            if state.mass > detail.ahead && state.mass > 0.01 {
                shown.into_par_iter().map(branch).collect()
            } else {
                shown.into_iter().map(branch).collect()
            }
        }
    };
    Node { step, spend, mass: 0.0, ahead: Spend::default(), branches }
}

/// Carries worlds through a finished tree.
struct Walk<'a> {
    problem: &'a Problem,
    universe: &'a Universe,
    endings: &'a mut Vec<Ending>,
    repairs: Vec<usize>,
}

impl Walk<'_> {
    /// Returns the expected spending from here, times mass.
    fn node(&mut self, node: &mut Node, state: &State, before: Spend) -> Spend {
        let spent = before + node.spend;
        node.mass = state.mass;
        let mut ahead = times(node.spend, state.mass);
        match node.step {
            Step::HandOn => self.end(state.mass, spent, false),
            Step::Repair(_) | Step::Verify => {
                let after = state.still_there(self.problem, self.universe, node.step);
                if let Step::Repair(r) = node.step {
                    self.repairs.push(r);
                }
                for b in &mut node.branches {
                    if b.shows == Shows::Gone {
                        b.mass = (state.mass - after.mass).max(0.0);
                        self.end(b.mass, spent, true);
                    }
                }
                let still = node.branches.iter_mut().find(|b| b.shows == Shows::StillThere);
                ahead = ahead + self.branch(still, &after, spent);
                if let Step::Repair(_) = node.step {
                    self.repairs.pop();
                }
            }
            Step::Test(t) => {
                let mut rest = state.worlds.clone();
                for b in &mut node.branches {
                    if let Shows::Levels(levels) = &b.shows {
                        let after = self.shown(state, t, levels, &mut rest);
                        ahead = ahead + self.branch(Some(b), &after, spent);
                    }
                }
                // What is left over after subtraction is rounding unless it is a real share.
                rest.retain(|w| w.1 > 1e-15);
                let test = &self.problem.tests[t];
                let rest = State::new(rest, state.paid | test.setups, state.done | 1 << t, state.made);
                let other = node.branches.iter_mut().find(|b| b.shows == Shows::Else);
                if other.is_some() || rest.mass > 1e-12 {
                    ahead = ahead + self.branch(other, &rest, spent);
                }
            }
        }
        if state.mass > 0.0 {
            node.ahead = times(ahead, 1.0 / state.mass);
        }
        ahead
    }

    /// A branch that the tree does not have hands on.
    fn branch(&mut self, branch: Option<&mut Branch>, state: &State, spent: Spend) -> Spend {
        if let Some(b) = branch {
            b.mass = state.mass;
            if let Some(node) = &mut b.then {
                return self.node(node, state, spent);
            }
        }
        self.end(state.mass, spent + self.problem.hand_on, false);
        times(self.problem.hand_on, state.mass)
    }

    fn shown(&self, state: &State, test: usize, levels: &[u8], rest: &mut [(usize, f64)]) -> State {
        let t = &self.problem.tests[test];
        let mut worlds = state.worlds.clone();
        for (&reading, &level) in t.readings.iter().zip(levels) {
            let likelihood = self.universe.likelihood(reading, usize::from(level));
            worlds.iter_mut().for_each(|w| w.1 *= likelihood[w.0]);
        }
        rest.iter_mut().zip(&worlds).for_each(|(r, w)| r.1 -= w.1);
        State::new(worlds, state.paid | t.setups, state.done | 1 << test, state.made)
    }

    fn end(&mut self, mass: f64, spend: Spend, fixed: bool) {
        if mass > 0.0 {
            self.endings.push(Ending { mass, spend, repairs: self.repairs.clone(), fixed });
        }
    }
}

fn times(s: Spend, by: f64) -> Spend {
    Spend { money: s.money * by, minutes: s.minutes * by }
}

impl Plan {
    /// Expected spending from start to end.
    #[must_use]
    pub fn expected(&self) -> Spend {
        self.endings.iter().fold(Spend::default(), |sum, e| sum + times(e.spend, e.mass))
    }

    /// Number of steps written down.
    #[must_use]
    pub fn nodes(&self) -> usize {
        fn count(node: &Node) -> usize {
            1 + node.branches.iter().filter_map(|b| b.then.as_ref()).map(count).sum::<usize>()
        }
        self.root.as_ref().map_or(0, count)
    }
}

//! The plan: what to do next for every outcome, until the complaint is gone or the vehicle is handed on.
//!
//! A plan is any policy written out. Growing it takes a decision at each node; what it costs is then computed from
//! the finished tree over all worlds, exactly, whatever the decisions were based on.

use super::branch::split;
use super::one_ahead::Search;
use super::problem::Problem;
use super::rollout::{Effort, base_step, best_step_counted, next_steps};
use super::state::State;
use super::universe::Universe;
use super::{Posed, Spend, Step};
use rayon::prelude::*;
use std::cmp::Ordering;
use std::collections::BinaryHeap;

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
    /// World visits that thinking took.
    pub work: usize,
    /// Whether the work was used up, so that likelier nodes than usual go on with repairs only.
    pub cut_short: bool,
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
    /// World visits after which thinking ends.
    pub work: usize,
}

impl Detail {
    /// For a plan within a fraction of a second.
    #[must_use]
    pub fn quick() -> Self {
        Self { lump: 0.01, full: 0.01, ahead: 0.001, trim: 0.001, depth: 40, work: 50_000_000 }
    }

    /// Everything told apart and thought through.
    #[must_use]
    pub fn thorough() -> Self {
        Self { lump: 0.0, full: 0.0, ahead: 0.0, trim: 0.0, depth: 60, work: usize::MAX }
    }
}

/// The tool's own plan, decided on the worlds for looking ahead, its expectation taken over all of them.
///
/// The likeliest nodes are decided first: by rollout while they are likely and the work allows, then by the better
/// base policy, and where it hardly matters, or when the work is used up, by repairs only.
#[must_use]
pub fn plan(posed: &Posed, effort: &Effort, detail: &Detail) -> Plan {
    let (problem, lean) = (&posed.problem, &posed.universe);
    let (thought, full) = rayon::join(|| Draft::new(problem, lean, effort, detail), || posed.full_universe());
    let mut plan = finish(problem, thought.root(), &full);
    plan.work = thought.work;
    plan.cut_short = thought.cut_short;
    plan
}

/// Writes out any policy and computes what it costs over the worlds of `full`.
pub fn grow(
    problem: &Problem,
    universe: &Universe,
    full: &Universe,
    detail: &Detail,
    decide: &(dyn Fn(&State) -> Step + Sync),
) -> Plan {
    let start = State::start(problem, universe);
    let root =
        (!nothing_to_do(universe, &start)).then(|| node(problem, universe, &start, detail, detail.depth, decide));
    finish(problem, root, full)
}

fn nothing_to_do(universe: &Universe, start: &State) -> bool {
    start.mass <= 0.0 || start.gone(universe) >= start.mass * (1.0 - 1e-12)
}

fn finish(problem: &Problem, mut root: Option<Node>, full: &Universe) -> Plan {
    let walk = Walk { problem, universe: full };
    let endings = match &mut root {
        Some(root) => walk.node(root, State::start(problem, full), Spend::default(), &[]).1,
        None => Vec::new(),
    };
    Plan { root, endings, work: 0, cut_short: false }
}

/// What the step can show, with what is known then; nothing is known when the job is done.
fn follow_ups(
    problem: &Problem,
    universe: &Universe,
    state: &State,
    step: Step,
    detail: &Detail,
) -> Vec<(Shows, Option<State>)> {
    match step {
        Step::HandOn => Vec::new(),
        Step::Repair(_) | Step::Verify => {
            let after = state.still_there(problem, universe, step);
            let still = (after.mass > 0.0).then_some((Shows::StillThere, Some(after)));
            std::iter::once((Shows::Gone, None)).chain(still).collect()
        }
        Step::Test(t) => {
            let shown = split(problem, universe, state, t, detail.lump).into_iter();
            let branch = |s: super::branch::Shown| {
                let shows = if s.levels.is_empty() { Shows::Else } else { Shows::Levels(s.levels) };
                (shows, Some(if detail.trim > 0.0 { s.state.trimmed(detail.trim) } else { s.state }))
            };
            shown.map(branch).collect()
        }
    }
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
    let branch = |(shows, after): (Shows, Option<State>)| {
        let then = after.map(|s| node(problem, universe, &s, detail, depth - 1, decide));
        Branch { shows, mass: 0.0, then }
    };
    let next = follow_ups(problem, universe, state, step, detail);
    let branches = if state.mass > 0.01 {
        next.into_par_iter().map(branch).collect()
    } else {
        next.into_iter().map(branch).collect()
    };
    Node { step, spend: problem.spend(step, state.paid), mass: 0.0, ahead: Spend::default(), branches }
}

/// A plan being thought out, likeliest nodes first.
struct Draft {
    nodes: Vec<DraftNode>,
    work: usize,
    cut_short: bool,
}

struct DraftNode {
    /// Until it is decided.
    state: Option<State>,
    depth: usize,
    step: Step,
    spend: Spend,
    branches: Vec<(Shows, Option<usize>)>,
}

/// Nodes decided side by side. Fixed, so that the plan does not depend on the number of threads.
const TOGETHER: usize = 8;

impl Draft {
    fn new(problem: &Problem, universe: &Universe, effort: &Effort, detail: &Detail) -> Self {
        let start = State::start(problem, universe);
        let mut draft = Self { nodes: Vec::new(), work: 0, cut_short: false };
        if nothing_to_do(universe, &start) {
            return draft;
        }
        let mut waiting = BinaryHeap::new();
        draft.push(start, detail.depth, &mut waiting);
        while !waiting.is_empty() {
            let left = detail.work.saturating_sub(draft.work);
            let batch: Vec<(usize, State, usize)> = (0..TOGETHER)
                .map_while(|_| waiting.pop())
                .filter_map(|Waiting { node, .. }| {
                    Some((node, draft.nodes[node].state.take()?, draft.nodes[node].depth))
                })
                .collect();
            draft.cut_short |= left == 0 && batch.iter().any(|b| b.1.mass >= detail.ahead);
            let decide = |(node, state, depth): (usize, State, usize)| {
                let mut work = 0;
                // A third of the work is kept for the many nodes that are decided by the base policies.
                let step = if depth == 0 {
                    Step::HandOn
                } else if node == 0 {
                    // The same words for the same question: a plan starts with what `next` puts first.
                    next_steps(problem, universe, &state, effort).steps.first().map_or(Step::HandOn, |s| s.step)
                } else if state.mass >= detail.full && left > detail.work / 3 {
                    best_step_counted(problem, universe, &state, effort, &mut work)
                } else if state.mass >= detail.ahead && left > 0 {
                    base_step(problem, universe, &state, effort, &mut work)
                } else {
                    Search::new(problem, universe, effort.grain()).repairs_only(&state).first
                };
                let next = follow_ups(problem, universe, &state, step, detail);
                (node, step, problem.spend(step, state.paid), next, work)
            };
            let decided: Vec<_> = batch.into_par_iter().map(decide).collect();
            for (node, step, spend, next, work) in decided {
                draft.work += work;
                let depth = draft.nodes[node].depth.saturating_sub(1);
                let mut branches = Vec::with_capacity(next.len());
                for (shows, state) in next {
                    branches.push((shows, state.map(|s| draft.push(s, depth, &mut waiting))));
                }
                let n = &mut draft.nodes[node];
                (n.step, n.spend, n.branches) = (step, spend, branches);
            }
        }
        draft
    }

    fn push(&mut self, state: State, depth: usize, waiting: &mut BinaryHeap<Waiting>) -> usize {
        let node = self.nodes.len();
        waiting.push(Waiting { mass: state.mass, node });
        let (step, spend) = (Step::HandOn, Spend::default());
        self.nodes.push(DraftNode { state: Some(state), depth, step, spend, branches: Vec::new() });
        node
    }

    fn root(&self) -> Option<Node> {
        (!self.nodes.is_empty()).then(|| self.written(0))
    }

    fn written(&self, at: usize) -> Node {
        let n = &self.nodes[at];
        let branch = |(shows, then): &(Shows, Option<usize>)| Branch {
            shows: shows.clone(),
            mass: 0.0,
            then: then.map(|t| self.written(t)),
        };
        let branches = n.branches.iter().map(branch).collect();
        Node { step: n.step, spend: n.spend, mass: 0.0, ahead: Spend::default(), branches }
    }
}

/// A node that waits to be decided: the likeliest first, then the one that came first.
#[derive(PartialEq)]
struct Waiting {
    mass: f64,
    node: usize,
}

impl Eq for Waiting {}

impl PartialOrd for Waiting {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Waiting {
    fn cmp(&self, other: &Self) -> Ordering {
        self.mass.total_cmp(&other.mass).then(other.node.cmp(&self.node))
    }
}

/// Carries worlds through a finished tree, likelier branches side by side.
#[derive(Clone, Copy)]
struct Walk<'a> {
    problem: &'a Problem,
    universe: &'a Universe,
}

/// Worlds whose share of a state is below this leave it, and the others are scaled up: of ten thousand worlds, together
/// less than a thousandth.
const NEGLIGIBLE: f64 = 1e-7;

impl Walk<'_> {
    /// Returns the expected spending from here, times mass, and the ways in which the job ends.
    fn node(&self, node: &mut Node, state: State, before: Spend, repairs: &[usize]) -> (Spend, Vec<Ending>) {
        let spent = before + node.spend;
        let mass = state.mass;
        node.mass = mass;
        let mut made = repairs.to_vec();
        if let Step::Repair(r) = node.step {
            made.push(r);
        }
        let hand_on = || state.hand_on_spend(self.problem, self.universe).times(1.0 / mass.max(f64::MIN_POSITIVE));
        if node.step == Step::HandOn {
            // What others have to repair is part of what handing on costs here.
            let hand_on = hand_on();
            node.spend = hand_on;
            node.ahead = hand_on;
            return (hand_on.times(mass), end(mass, before + hand_on, &made, false));
        }
        let own = node.spend.times(mass);
        // A branch that the tree does not have hands on.
        let (parts, stray) = self.parts(node, &state);
        let hand_on = if stray > 0.0 { hand_on() } else { Spend::default() };
        drop(state);
        let below = |(b, after): (&mut Branch, State)| {
            b.mass = after.mass;
            match &mut b.then {
                Some(then) => self.node(then, negligible_dropped(after), spent, &made),
                None => (Spend::default(), end(after.mass, spent, &made, true)),
            }
        };
        let mut branches: Vec<&mut Branch> = node.branches.iter_mut().collect();
        let pairs: Vec<(&mut Branch, State)> = branches.drain(..).zip(parts).collect();
        let below: Vec<(Spend, Vec<Ending>)> = if mass > 0.01 {
            pairs.into_par_iter().map(below).collect()
        } else {
            pairs.into_iter().map(below).collect()
        };
        let mut ahead = own + hand_on.times(stray);
        let mut endings = end(stray, spent + hand_on, &made, false);
        for (spend, more) in below {
            ahead = ahead + spend;
            endings.extend(more);
        }
        if mass > 0.0 {
            node.ahead = ahead.times(1.0 / mass);
        }
        (ahead, endings)
    }

    /// The state of each branch, and the mass for which there is none.
    fn parts(&self, node: &Node, state: &State) -> (Vec<State>, f64) {
        let none = || State::new(Vec::new(), state.paid, state.done, state.made);
        let Step::Test(t) = node.step else {
            let after = state.still_there(self.problem, self.universe, node.step);
            let gone = (state.mass - after.mass).max(0.0);
            let mut stray = after.mass;
            let parts = node.branches.iter().map(|b| match b.shows {
                // Where the job is done only the mass counts.
                Shows::Gone => State { mass: gone, ..none() },
                _ => {
                    stray = 0.0;
                    after.clone()
                }
            });
            return (parts.collect(), stray);
        };
        let mut rest = state.worlds.clone();
        let mut parts: Vec<State> = Vec::with_capacity(node.branches.len());
        for b in &node.branches {
            parts.push(match &b.shows {
                Shows::Levels(levels) => self.shown(state, t, levels, &mut rest),
                _ => none(),
            });
        }
        // What is left over after subtraction is rounding unless it is a real share.
        rest.retain(|w| w.1 > 1e-15);
        let test = &self.problem.tests[t];
        let rest = State::new(rest, state.paid | test.setups, state.done | 1 << t, state.made);
        match node.branches.iter().position(|b| b.shows == Shows::Else) {
            Some(other) => {
                parts[other] = rest;
                (parts, 0.0)
            }
            None if rest.mass > 1e-12 => (parts, rest.mass),
            None => (parts, 0.0),
        }
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
}

fn end(mass: f64, spend: Spend, repairs: &[usize], fixed: bool) -> Vec<Ending> {
    if mass > 0.0 { vec![Ending { mass, spend, repairs: repairs.to_vec(), fixed }] } else { Vec::new() }
}

fn negligible_dropped(mut state: State) -> State {
    let least = NEGLIGIBLE * state.mass;
    state.worlds.retain(|w| w.1 >= least);
    let kept: f64 = state.worlds.iter().map(|w| w.1).sum();
    if kept > 0.0 {
        let by = state.mass / kept;
        state.worlds.iter_mut().for_each(|w| w.1 *= by);
    }
    state
}

impl Plan {
    /// Expected spending from start to end.
    #[must_use]
    pub fn expected(&self) -> Spend {
        self.endings.iter().fold(Spend::default(), |sum, e| sum + e.spend.times(e.mass))
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

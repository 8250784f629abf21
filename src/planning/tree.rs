//! The plan: what to do next for every outcome, until the complaint is gone or the vehicle is handed on.
//!
//! A plan is any policy written out. Growing it takes a decision at each node (`draft`); what it costs is then computed
//! from the finished tree over all worlds, exactly, whatever the decisions were based on (`walk`).

use super::branch::split;
use super::draft::Draft;
use super::effort::Effort;
use super::problem::Problem;
use super::rollout::{Steps, next_steps};
use super::state::State;
use super::universe::Universe;
use super::walk::Walk;
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
    /// Nothing: a repair without a re-test.
    Unseen,
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
    /// Nodes reached with less than this probability are decided by looking one test ahead,
    pub ahead: f64,
    /// and with less than this by repairs only.
    pub near: f64,
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
        Self { lump: 0.01, full: 0.5, ahead: 0.05, near: 0.001, trim: 0.001, depth: 40, work: 20_000_000 }
    }

    /// Everything told apart and thought through.
    #[must_use]
    pub fn thorough() -> Self {
        Self { lump: 0.0, full: 0.0, ahead: 0.0, near: 0.0, trim: 0.0, depth: 60, work: usize::MAX }
    }
}

/// The tool's own plan, decided on the worlds for looking ahead, its expectation taken over all of them.
///
/// The likeliest nodes are decided first: by rollout while they are likely and the work allows, then by the better
/// base policy, then, or when the work is used up, by one test ahead, and where it hardly matters by repairs only.
#[must_use]
pub fn plan(posed: &Posed, effort: &Effort, detail: &Detail) -> Plan {
    with_steps(posed, effort, detail).1
}

/// The candidates for the first step and the plan that begins with the best of them. What a candidate is expected to cost
/// is what the plan costs, over all worlds, and what beginning with the candidate costs more: one figure for one question.
#[must_use]
pub fn with_steps(posed: &Posed, effort: &Effort, detail: &Detail) -> (Steps, Plan) {
    let (problem, lean) = (&posed.problem, &posed.universe);
    let start = State::start(problem, lean);
    let think = || {
        let steps = next_steps(problem, lean, &start, effort);
        let first = steps.steps.first().map_or(Step::HandOn, |s| s.step);
        (Draft::new(problem, lean, effort, detail, first), steps)
    };
    let ((thought, mut steps), full) = rayon::join(think, || posed.full_universe());
    let mut plan = finish(problem, thought.root(), &full);
    plan.work = thought.work;
    plan.cut_short = thought.cut_short;
    if let Some(first) = steps.steps.first().filter(|_| plan.root.is_some()) {
        let by = plan.expected().cost(problem.aim) - first.expected;
        steps.steps.iter_mut().for_each(|s| s.expected += by);
    }
    (steps, plan)
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

pub(super) fn nothing_to_do(universe: &Universe, start: &State) -> bool {
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
pub(super) fn follow_ups(
    problem: &Problem,
    universe: &Universe,
    state: &State,
    step: Step,
    detail: &Detail,
) -> Vec<(Shows, Option<State>)> {
    match step {
        Step::HandOn => Vec::new(),
        Step::Mend(r) => vec![(Shows::Unseen, Some(state.mended(problem, universe, r)))],
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

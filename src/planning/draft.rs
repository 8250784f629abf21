//! Thinking a plan out: which step is taken at each node, the likeliest nodes first and most carefully.

use super::effort::Effort;
use super::problem::Problem;
use super::rollout::{base_step, best_step_counted};
use super::search::Search;
use super::state::State;
use super::tree::{Branch, Detail, Node, Shows, follow_ups, nothing_to_do};
use super::universe::Universe;
use super::{Spend, Step};
use rayon::prelude::*;
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// A plan being thought out, likeliest nodes first.
pub(super) struct Draft {
    nodes: Vec<DraftNode>,
    pub work: usize,
    pub cut_short: bool,
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
    pub fn new(problem: &Problem, universe: &Universe, effort: &Effort, detail: &Detail, first: Step) -> Self {
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
                    first
                } else if state.mass >= detail.full && left > detail.work / 3 {
                    best_step_counted(problem, universe, &state, effort, &mut work)
                } else if state.mass >= detail.ahead && left > 0 {
                    base_step(problem, universe, &state, effort, &mut work)
                } else {
                    let mut search = Search::new(problem, universe, effort.grain(state.mass));
                    if state.mass >= detail.near {
                        search.one_ahead(&state).first
                    } else {
                        search.repairs_only(&state).first
                    }
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

    pub fn root(&self) -> Option<Node> {
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

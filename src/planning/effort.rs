//! How much to think before an answer is given.

use super::problem::Problem;
use super::search::Grain;
use super::universe::Universe;

/// Tests and worlds of a small problem, at most.
const SMALL_TESTS: usize = 6;
const SMALL_WORLDS: usize = 40;

/// How much to think. More gives better steps and takes longer; the answer depends on nothing else, above all not on
/// the clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effort {
    /// Tests that are followed to the end by what they tell for their cost, half as many by what they tell, and as many
    /// by their cost with only repairs after them.
    pub tests: usize,
    /// Repairs that are followed to the end.
    pub repairs: usize,
    /// Branches below this share of the state are valued between repairs only and the faults being known.
    pub small: f64,
    /// The same for the nodes of a plan, as a share of the whole job.
    pub floor: f64,
    /// Outcomes of a test below this share of the state come together as one.
    pub lump: f64,
    /// Least likely worlds dropped after a test, as a share.
    pub trim: f64,
    /// Steps in a row that are decided by a base policy.
    pub depth: usize,
    /// Above so many worlds only the most telling test is followed, not one test ahead as well.
    pub many: usize,
    /// Tests looked at on the way, by what they tell per cost; half as many more by what they tell.
    pub inner: usize,
    /// Where the cost of a branch below `small` is taken to lie between knowing the faults (0) and repairing without
    /// tests (1).
    pub between: f64,
    /// World visits after which one candidate is not followed any further: its branches are then valued as small ones.
    pub visits: usize,
    /// Whether candidates are proposed as a technician would have them (`preference`); otherwise by their cost alone.
    pub sense: bool,
    /// Nodes that an exact search may visit before it gives up; 0 for no exact search.
    pub exact_nodes: usize,
}

impl Effort {
    /// For one answer within a fraction of a second.
    #[must_use]
    pub fn quick() -> Self {
        Self {
            tests: 6,
            repairs: 3,
            small: 0.01,
            floor: 0.003,
            lump: 0.01,
            trim: 0.001,
            depth: 12,
            many: 16,
            inner: 4,
            between: 0.7,
            visits: 3_000_000,
            sense: true,
            exact_nodes: 40,
        }
    }

    /// For answers that may take longer; nothing is cut off that could matter.
    #[must_use]
    pub fn thorough() -> Self {
        Self {
            tests: 64,
            repairs: 64,
            small: 1e-4,
            floor: 0.0,
            lump: 1e-4,
            trim: 0.0,
            depth: 40,
            many: usize::MAX,
            inner: 64,
            between: 1.0,
            visits: 50_000_000,
            sense: false,
            exact_nodes: 20_000,
        }
    }

    /// Small problems can afford to be thought through whatever the effort.
    pub(super) fn fitted(self, problem: &Problem, universe: &Universe) -> Self {
        let small = problem.tests.len() <= SMALL_TESTS && universe.start.len() <= SMALL_WORLDS;
        let Self { exact_nodes, visits, sense, .. } = self;
        if small { Self { exact_nodes, visits, sense, small: 1e-3, ..Self::thorough() } } else { self }
    }

    /// How finely a state of this mass is looked into.
    pub(super) fn grain(&self, mass: f64) -> Grain {
        Grain {
            lump: self.lump,
            trim: self.trim,
            tests: self.inner,
            between: self.between,
            small: (self.small * mass).max(self.floor),
            depth: self.depth,
            many: self.many,
            visits: self.visits,
        }
    }
}

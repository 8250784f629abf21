//! Depth-first search for the most probable sets of suspects, with an exact upper bound. What the sets are for is
//! not known here.

use super::kernels::dot;
use super::layout::{Layout, Step};
use super::plan::Plan;
use super::scaled::Scaled;
use super::sweep::{Spare, Sweep, Work, rescale};
use super::worlds::{Scope, When, World, Worlds};
use super::{Evidence, InferenceError, Prepared};
use network::Network;

/// Cells that a search may compute before it stops and says so; about half a second.
const WORK_LIMIT: usize = 1 << 27;

/// Bounds are raised by this much so that rounding never cuts off what it should keep.
const SLACK: f64 = 1.0 + 1e-9;

/// What to look for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Search {
    pub when: When,
    pub scope: Scope,
    pub max_size: usize,
    pub max: usize,
    pub min_mass: f64,
}

impl Search {
    fn is_present(&self, plan: &Plan, variant: usize) -> bool {
        match self.when {
            When::Now => plan.lives.now(variant),
            When::Start => plan.lives.present(variant, 0),
        }
    }
}

/// Lists the worlds (suspects present now) of at least `min_mass`, of any size, at most `max` of them.
pub fn worlds(
    network: &Network,
    evidence: &Evidence,
    scope: Scope,
    max: usize,
    min_mass: f64,
) -> Result<Worlds, InferenceError> {
    let mut prepared = Prepared::new(network, evidence)?;
    prepared.worlds(scope, max, min_mass)
}

impl Prepared<'_> {
    /// As [`worlds`], with the priors in force.
    pub fn worlds(&mut self, scope: Scope, max: usize, min_mass: f64) -> Result<Worlds, InferenceError> {
        search(self, Search { when: When::Now, scope, max_size: usize::MAX, max, min_mass })
    }
}

/// Finds the sets. A suspect whose marginal is below the smallest probability wanted is in none of them, so it
/// is fixed as absent first, which leaves a much smaller problem.
pub(crate) fn search(prepared: &mut Prepared, what: Search) -> Result<Worlds, InferenceError> {
    let z = prepared.run()?;
    let (plan, variants) = (&prepared.plan, &prepared.variants);
    let mut numbers = prepared.numbers.clone();
    let mut factor = numbers.scale;
    let (mut entangled, mut free, mut apart) = (Vec::new(), Vec::new(), Vec::new());
    let mut branches = vec![false; numbers.priors.len()];
    for (suspect, branch) in branches.iter_mut().enumerate() {
        if what.scope == Scope::Relevant && !plan.relevant[suspect] {
            // The totals of those that are free are part of the scale.
            apart.extend(plan.mask(suspect).map(|_| suspect));
            continue;
        }
        let range = plan.lives.of(suspect);
        if plan.is_free(suspect) {
            // Its total is already part of the scale, so its own probabilities take the place of its weights.
            numbers.weights[range.clone()].copy_from_slice(&variants[range.clone()]);
        }
        let present: f64 = range.clone().filter(|&v| what.is_present(plan, v)).map(|v| variants[v]).sum();
        *branch = present > 0.0 && present * SLACK >= what.min_mass;
        let absent = || range.clone().filter(|&v| !what.is_present(plan, v));
        // Whoever has to do with causes passes in any case: what is absent matters to its victims.
        if !*branch && plan.mask(suspect).is_none() && absent().all(|v| plan.acts_of(v).is_empty()) {
            factor.times(absent().map(|v| numbers.weights[v]).sum());
        } else if plan.is_free(suspect) {
            free.push(suspect);
        } else {
            entangled.push(suspect);
        }
    }
    if !apart.is_empty() {
        // Causes and victims that nothing found has to do with: whatever they are, they are a factor of everything.
        let layout = Layout { untouched: Vec::new(), ..plan.lay_out(&apart, &[])? };
        let mut numbers = numbers.clone();
        numbers.scale = Scaled::ONE;
        let total = Sweep::default().evidence(Work { plan, layout: &layout, numbers: &numbers });
        factor.times(total.mantissa);
        factor.exponent += total.exponent;
    }
    let layout = plan.lay_out(&entangled, &free)?;
    let work = Work { plan, layout: &layout, numbers: &numbers };
    factor.times(work.untouched());
    let mut hunt = Hunt { work, what, branches, z, turns: Vec::new(), found: Vec::new(), spent: 0 };
    hunt.look_ahead();
    if what.max > 0 && !factor.is_zero() {
        hunt.descend(0, vec![1.0], factor, &mut Vec::new());
    }
    let missing = (1.0 - hunt.found.iter().map(|w| w.probability).sum::<f64>()).max(0.0);
    Ok(Worlds { list: hunt.found, missing, complete: hunt.spent <= WORK_LIMIT })
}

struct Hunt<'a> {
    work: Work<'a>,
    what: Search,
    /// Whether a suspect may be present in a listed set.
    branches: Vec<bool>,
    z: Scaled,
    /// What may be chosen at each step.
    turns: Vec<Turn>,
    found: Vec<World>,
    spent: usize,
}

/// The choices of one step: its suspect absent, and present where that may be listed.
struct Turn {
    choices: Vec<Choice>,
    /// The power of two that all bounds of the step are short of.
    exponent: i64,
}

struct Choice {
    present: bool,
    /// The ways in which the suspect is so, with their weights.
    ways: Vec<(usize, f64)>,
    /// The most that each cell of the opened table can still yield in any one completion.
    bound: Vec<f64>,
}

impl<'a> Hunt<'a> {
    fn steps(&self) -> &'a [Step] {
        let layout: &'a Layout = self.work.layout;
        &layout.steps
    }

    fn choice(&self, suspect: usize, present: bool) -> Choice {
        let mut ways = Vec::new();
        self.work.ways(suspect, |v| self.what.is_present(self.work.plan, v) == present, &mut ways);
        Choice { present, ways, bound: Vec::new() }
    }

    /// Fills the turns from the end: `M[t]` is the maximum over present and absent of the transposed step on `M[t + 1]`.
    ///
    /// The best completion of a table f is max over sets of <f, b_set>, which is at most <f, M> with M the
    /// cell-wise maximum of all b_set, since nothing is negative. With A the step, <A f, M> is <f, A' M>: what a choice can
    /// still yield is known before it is made.
    fn look_ahead(&mut self) {
        let (mut next, mut exponent, mut spare) = (vec![1.0], 0, Spare::default());
        for step in self.steps().iter().rev() {
            self.work.unclose(step, &mut next, &mut spare.table);
            let mut choices = vec![self.choice(step.suspect, false)];
            if self.branches[step.suspect] {
                choices.push(self.choice(step.suspect, true));
            }
            for choice in &mut choices {
                choice.bound.clone_from(&next);
                self.work.unpass(step, &choice.ways, &mut choice.bound, &mut spare);
            }
            next.clone_from(&choices[0].bound);
            for other in &choices[1..] {
                next.iter_mut().zip(&other.bound).for_each(|(a, p)| *a = a.max(*p));
            }
            self.work.unopen(step, &mut next);
            self.turns.push(Turn { choices, exponent });
            exponent += rescale(&mut next);
        }
        self.turns.reverse();
    }

    fn worth(&self, bound: f64) -> bool {
        let full = self.found.len() >= self.what.max;
        let least = self.found.last().map_or(0.0, |w| w.probability);
        bound > 0.0
            && bound * SLACK >= self.what.min_mass
            && (!full || bound * SLACK >= least)
            && self.spent <= WORK_LIMIT
    }

    /// Goes through the steps from `t`; where only one choice is worth it, in place.
    fn descend(&mut self, mut t: usize, mut table: Vec<f64>, mut factor: Scaled, set: &mut Vec<usize>) {
        let (steps, before) = (self.steps(), set.len());
        let mut spare = Spare::default();
        while let Some(step) = steps.get(t) {
            self.work.open(step, &mut table, &mut spare.table);
            self.spent += 4 * step.cells + 16;
            let mut bounds = [0.0; 2];
            for (bound, choice) in bounds.iter_mut().zip(&self.turns[t].choices) {
                if !choice.present || set.len() < self.what.max_size {
                    let mut value = factor;
                    value.exponent += self.turns[t].exponent;
                    value.times(dot(&table, &choice.bound));
                    *bound = value.over(&self.z);
                }
            }
            let first = usize::from(bounds[1] > bounds[0]);
            if self.worth(bounds[1 - first]) {
                for index in [first, 1 - first] {
                    // Asked again, because the first may have raised what is asked of the second.
                    if self.worth(bounds[index]) {
                        let (mut child, mut own) = (table.clone(), factor);
                        self.choose(t, index, &mut child, &mut own, set, &mut spare);
                        self.descend(t + 1, child, own, set);
                        if index == 1 {
                            set.pop();
                        }
                    }
                }
                set.truncate(before);
                return;
            }
            if !self.worth(bounds[first]) {
                set.truncate(before);
                return;
            }
            self.choose(t, first, &mut table, &mut factor, set, &mut spare);
            t += 1;
        }
        self.record(&table, factor, set);
        set.truncate(before);
    }

    /// Takes the table over a step by one of its choices.
    fn choose(
        &self,
        t: usize,
        index: usize,
        table: &mut Vec<f64>,
        factor: &mut Scaled,
        set: &mut Vec<usize>,
        spare: &mut Spare,
    ) {
        let (step, choice) = (&self.work.layout.steps[t], &self.turns[t].choices[index]);
        self.work.pass(step, &choice.ways, table, spare);
        self.work.close(step, table);
        factor.exponent += rescale(table);
        if choice.present {
            set.push(step.suspect);
        }
    }

    fn record(&mut self, table: &[f64], mut factor: Scaled, set: &[usize]) {
        factor.times(table.iter().sum());
        let probability = factor.over(&self.z);
        if probability < self.what.min_mass || probability <= 0.0 {
            return;
        }
        let mut suspects = set.to_vec();
        suspects.sort_unstable();
        let world = World { suspects, probability };
        let before =
            |w: &World| w.probability.total_cmp(&probability).then_with(|| world.suspects.cmp(&w.suspects)).is_gt();
        let at = self.found.partition_point(before);
        self.found.insert(at, world);
        self.found.truncate(self.what.max);
    }
}

//! Drawing the uncertain parameters that matter to one inference. The distributions are in `gamma`.

use super::InferenceError;
use super::folded::Folded;
use super::gamma::{Sampler, Shape};
use super::numbers::Numbers;
use super::plan::Plan;
use crate::network::Network;
use std::collections::BTreeMap;

/// One Dirichlet to draw: shapes in `Parameters::shapes`, results where they are needed.
#[derive(Clone, Debug)]
struct Block {
    shapes: std::ops::Range<usize>,
    /// Readings that use it, and where their group probabilities for it start.
    uses: Vec<(usize, usize)>,
    /// Whether the shapes are those of the single reading's groups, or those of the finding's levels.
    grouped: bool,
}

/// Shapes of everything that is drawn. Links of findings that were not observed do not matter and are left out.
#[derive(Clone, Debug)]
pub(crate) struct Parameters {
    /// Suspect and the two shapes of its prior, Beta(p w, (1 - p) w).
    priors: Vec<(usize, [Shape; 2])>,
    /// Suspect and the shapes of its grades' shares: Dirichlet(share × number of faults that the prior is known from).
    grades: Vec<(usize, Vec<Shape>)>,
    /// Bring and the two shapes of its chance.
    brings: Vec<(usize, [Shape; 2])>,
    shapes: Vec<Shape>,
    blocks: Vec<Block>,
    /// What folds into each suspect in each epoch, drawn at once.
    folded: Vec<(Folded, (Shape, f64))>,
    longest: usize,
}

impl Parameters {
    /// Collects the shapes. Infinite weights, and probabilities of 0 or 1, are known exactly and not drawn.
    ///
    /// The groups of one reading are sums of levels, and sums of Dirichlet components are Dirichlet with the sums
    /// of their shapes, so groups are drawn directly. A finding read in several epochs has one set of parameters,
    /// which is drawn by level and then summed for each reading. A finding at its lowest level is one factor of each
    /// suspect that touches it; those of one suspect are drawn together, see `folded`.
    pub fn new(plan: &Plan, numbers: &Numbers, network: &Network) -> Result<Self, InferenceError> {
        let mut out = Self {
            priors: Vec::new(),
            grades: Vec::new(),
            brings: Vec::new(),
            shapes: Vec::new(),
            blocks: Vec::new(),
            folded: Vec::new(),
            longest: 0,
        };
        let mut folded: BTreeMap<(usize, usize, usize), Folded> = BTreeMap::new();
        for (index, suspect) in network.suspects.iter().enumerate() {
            let (p, w) = (numbers.priors[index], checked("weight of suspect", index, suspect.weight)?);
            if w.is_finite() && p > 0.0 && p < 1.0 {
                out.priors.push((index, [p * w, (1.0 - p) * w].map(Shape::new)));
                if suspect.grades.len() > 1 {
                    out.grades.push((index, suspect.grades.iter().map(|g| Shape::new(g.share * p * w)).collect()));
                    out.longest = out.longest.max(suspect.grades.len());
                }
            }
        }
        for (index, b) in network.brings.iter().enumerate() {
            let weight = checked("weight of bringing about", index, b.weight)?;
            if weight.is_finite() && b.p > 0.0 && b.p < 1.0 {
                out.brings.push((index, [b.p * weight, (1.0 - b.p) * weight].map(Shape::new)));
            }
        }
        let mut first = 0;
        while first < plan.readings.len() {
            let finding = plan.readings[first].finding;
            let same = plan.readings[first..].iter().take_while(|r| r.finding == finding).count();
            let f = &network.findings[finding];
            let one = &plan.readings[first];
            // A finding at its lowest level, read once: its background is a factor of the evidence and of no suspect.
            let lowest = same == 1 && one.grouping.group_of.len() == 1;
            if !lowest {
                let weight = checked("background weight of finding", finding, f.leak_weight)?;
                out.add_block(plan, first..first + same, &|r| plan.readings[r].at, &f.leak, weight);
            }
            for (k, link) in f.links.iter().enumerate() {
                let weight = checked("link weight of finding", finding, link.weight)?;
                let plain = std::slice::from_ref(&link.levels);
                let graded = !link.by_grade.is_empty();
                for (row, levels) in if graded { &link.by_grade[..] } else { plain }.iter().enumerate() {
                    if !lowest {
                        let at = |r: usize| {
                            let r = &plan.readings[r];
                            plan.rows[r.links_at + k] + row * r.grouping.len()
                        };
                        out.add_block(plan, first..first + same, &at, levels, weight);
                    } else if weight.is_finite() && levels[0] > 0.0 && levels[0] < 1.0 {
                        let p = levels[0];
                        // What is the same for all grades is drawn together, apart from what differs.
                        let grade = if graded { row + 1 } else { 0 };
                        let entry = folded.entry((link.suspect, one.epoch, grade)).or_insert_with(Folded::new);
                        entry.add(plan.rows[one.links_at + k] + row, p * weight, (1.0 - p) * weight);
                    }
                }
            }
            first += same;
        }
        let ready = |f: Folded| {
            let ready = f.ready();
            (f, ready)
        };
        out.folded = folded.into_values().map(ready).collect();
        Ok(out)
    }

    fn add_block(
        &mut self,
        plan: &Plan,
        readings: std::ops::Range<usize>,
        at: &dyn Fn(usize) -> usize,
        levels: &[f64],
        weight: f64,
    ) {
        if !weight.is_finite() || levels.iter().filter(|&&p| p > 0.0).count() < 2 {
            return;
        }
        let start = self.shapes.len();
        let grouped = readings.len() == 1;
        if grouped {
            let grouping = &plan.readings[readings.start].grouping;
            // One component more than there are groups, for the impossible levels at the top.
            let mut sums = vec![0.0; grouping.len() + 1];
            for (level, p) in levels.iter().enumerate() {
                sums[grouping.group_of.get(level).copied().unwrap_or(grouping.len())] += p * weight;
            }
            if sums.iter().filter(|&&a| a > 0.0).count() < 2 {
                return;
            }
            self.shapes.extend(sums.into_iter().map(Shape::new));
        } else {
            self.shapes.extend(levels.iter().map(|p| Shape::new(p * weight)));
        }
        self.longest = self.longest.max(self.shapes.len() - start);
        let uses = readings.map(|r| (r, at(r))).collect();
        self.blocks.push(Block { shapes: start..self.shapes.len(), uses, grouped });
    }

    /// Draws everything into `numbers` and computes the weights that follow.
    pub fn draw(&self, plan: &Plan, sampler: &mut Sampler, numbers: &mut Numbers) {
        let mut out = vec![0.0; self.longest.max(2)];
        for &(suspect, shapes) in &self.priors {
            sampler.dirichlet(&shapes, &mut out[..2]);
            numbers.priors[suspect] = out[0];
        }
        for (suspect, shapes) in &self.grades {
            let from = numbers.grades_at[*suspect];
            sampler.dirichlet(shapes, &mut out[..shapes.len()]);
            numbers.grade_shares[from..from + shapes.len()].copy_from_slice(&out[..shapes.len()]);
        }
        for &(bring, shapes) in &self.brings {
            sampler.dirichlet(&shapes, &mut out[..2]);
            numbers.brings[bring] = out[0];
        }
        for block in &self.blocks {
            let shapes = &self.shapes[block.shapes.clone()];
            let out = &mut out[..shapes.len()];
            sampler.dirichlet(shapes, out);
            for &(reading, at) in &block.uses {
                let grouping = &plan.readings[reading].grouping;
                let to = &mut numbers.groups[at..at + grouping.len()];
                if block.grouped {
                    to.copy_from_slice(&out[..grouping.len()]);
                } else {
                    grouping.sum_into(out, to);
                }
            }
        }
        for (folded, ready) in &self.folded {
            folded.draw(*ready, sampler, &mut numbers.groups);
        }
        numbers.weigh(plan, None);
    }
}

fn checked(what: &'static str, index: usize, weight: f64) -> Result<f64, InferenceError> {
    if weight > 0.0 { Ok(weight) } else { Err(InferenceError::BadNumber { what, index, value: weight }) }
}

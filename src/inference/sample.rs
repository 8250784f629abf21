//! Drawing the uncertain parameters that matter to one inference. The variates come from the `pool`.

use super::InferenceError;
use super::folded::Folded;
use super::lanes::{LANES, Lanes, Real as _};
use super::numbers::{Numbers, Silence};
use super::plan::Plan;
use super::pool::{Pool, Variate, name};
use network::Network;
use std::collections::BTreeMap;

/// One Dirichlet to draw: its gamma variates in `Parameters::variates`, results where they are needed.
#[derive(Clone, Debug)]
struct Block {
    variates: std::ops::Range<usize>,
    /// Readings that use it, and where their group probabilities for it start.
    uses: Vec<(usize, usize)>,
    /// Whether the shapes are those of the single reading's groups, or those of the finding's levels.
    grouped: bool,
}

/// A variate and what it is multiplied by, if anything is drawn.
type Drawn = Option<(Variate, f64)>;

/// Everything that is drawn. Links of findings that were not observed do not matter and are left out.
#[derive(Clone, Debug)]
pub(crate) struct Parameters {
    pool: Pool,
    /// Suspect and the two variates of its prior, Beta(p w, (1 - p) w).
    priors: Vec<(usize, [Option<Variate>; 2])>,
    /// Suspect and the variates of its grades' shares: Dirichlet(share × number of faults that the prior is known from).
    grades: Vec<(usize, Vec<Option<Variate>>)>,
    /// Bring and the two variates of its chance.
    brings: Vec<(usize, [Option<Variate>; 2])>,
    variates: Vec<Option<Variate>>,
    blocks: Vec<Block>,
    /// Whether a reading is at its lowest level and read once, and so folds into the suspects that touch it.
    folds: Vec<bool>,
    /// What folds into each suspect in each epoch, drawn at once: its variate, if any, and the scale of that.
    folded: Vec<(Silence, Folded, Drawn)>,
    longest: usize,
}

impl Parameters {
    /// Collects the shapes. Infinite weights, and probabilities of 0 or 1, are known exactly and not drawn.
    ///
    /// The groups of one reading are sums of levels, and sums of Dirichlet components are Dirichlet with the sums
    /// of their shapes, so groups are drawn directly. A finding read in several epochs has one set of parameters,
    /// which is drawn by level and then summed for each reading. A finding at its lowest level is one factor of each
    /// suspect that touches it; those of one suspect are drawn together, see `folded`.
    pub fn new(
        plan: &Plan,
        numbers: &Numbers,
        network: &Network,
        draws: usize,
        seed: u64,
    ) -> Result<Self, InferenceError> {
        let mut out = Self {
            pool: Pool::new(draws, seed),
            priors: Vec::new(),
            grades: Vec::new(),
            brings: Vec::new(),
            variates: Vec::new(),
            blocks: Vec::new(),
            folds: vec![false; plan.readings.len()],
            folded: Vec::new(),
            longest: 0,
        };
        let mut folded: BTreeMap<Silence, Folded> = BTreeMap::new();
        for (index, suspect) in network.suspects.iter().enumerate() {
            let (p, w) = (numbers.priors[index], checked("weight of suspect", index, suspect.weight)?);
            if w.is_finite() && p > 0.0 && p < 1.0 {
                let own = out.variates_of([p * w, (1.0 - p) * w], (&suspect.id, "prior"));
                out.priors.push((index, [own[0], own[1]]));
                if suspect.grades.len() > 1 {
                    let shapes = suspect.grades.iter().map(|g| g.share * p * w);
                    let own = out.variates_of(shapes, (&suspect.id, "grades"));
                    out.grades.push((index, own));
                    out.longest = out.longest.max(suspect.grades.len());
                }
            }
        }
        for (index, b) in network.brings.iter().enumerate() {
            let weight = checked("weight of bringing about", index, b.weight)?;
            if weight.is_finite() && b.p > 0.0 && b.p < 1.0 {
                let about = (network.suspects[b.cause].id.as_str(), network.suspects[b.victim].id.as_str());
                let own = out.variates_of([b.p * weight, (1.0 - b.p) * weight], about);
                out.brings.push((index, [own[0], own[1]]));
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
            out.folds[first] = lowest;
            if !lowest {
                let weight = checked("background weight of finding", finding, f.leak_weight)?;
                let at = |r: usize| plan.readings[r].at;
                out.add_block(plan, first..first + same, &at, (&f.leak, weight), (&f.id, "", 0));
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
                        let about = (f.id.as_str(), network.suspects[link.suspect].id.as_str(), row as u64);
                        out.add_block(plan, first..first + same, &at, (levels, weight), about);
                        continue;
                    }
                    // What is the same for all grades is drawn together, apart from what differs.
                    let of = Silence { suspect: link.suspect, epoch: one.epoch, grade: graded.then_some(row) };
                    let (own, p) = (folded.entry(of).or_insert_with(Folded::new), levels[0]);
                    if weight.is_finite() && p > 0.0 && p < 1.0 {
                        own.add(p * weight, (1.0 - p) * weight);
                    } else {
                        own.add_known(p);
                    }
                }
            }
            first += same;
        }
        for (of, f) in folded {
            let part = of.epoch * 64 + of.grade.map_or(0, |grade| grade + 1);
            let own = name(&network.suspects[of.suspect].id, "silent", part as u64);
            let drawn = f.ready().map(|(shape, scale)| (out.pool.variate(shape, own, 0), scale));
            out.folded.push((of, f, drawn));
        }
        Ok(out)
    }

    /// A variate for each of these shapes, none for a shape of zero; named after what they are about.
    fn variates_of(&mut self, shapes: impl IntoIterator<Item = f64>, about: (&str, &str)) -> Vec<Option<Variate>> {
        let own = name(about.0, about.1, 0);
        let one = |(k, a): (usize, f64)| (a > 0.0).then(|| self.pool.variate(a, own, k));
        shapes.into_iter().enumerate().map(one).collect()
    }

    fn add_block(
        &mut self,
        plan: &Plan,
        readings: std::ops::Range<usize>,
        at: &dyn Fn(usize) -> usize,
        (levels, weight): (&[f64], f64),
        (of, and, row): (&str, &str, u64),
    ) {
        if !weight.is_finite() || levels.iter().filter(|&&p| p > 0.0).count() < 2 {
            return;
        }
        let start = self.variates.len();
        let grouped = readings.len() == 1;
        let shapes: Vec<f64> = if grouped {
            let grouping = &plan.readings[readings.start].grouping;
            // One component more than there are groups, for the impossible levels at the top.
            let mut sums = vec![0.0; grouping.len() + 1];
            for (level, p) in levels.iter().enumerate() {
                sums[grouping.group_of.get(level).copied().unwrap_or(grouping.len())] += p * weight;
            }
            if sums.iter().filter(|&&a| a > 0.0).count() < 2 {
                return;
            }
            sums
        } else {
            levels.iter().map(|p| p * weight).collect()
        };
        let own = name(of, and, row);
        for (k, a) in shapes.into_iter().enumerate() {
            self.variates.push((a > 0.0).then(|| self.pool.variate(a, own, k)));
        }
        self.longest = self.longest.max(self.variates.len() - start);
        let uses = readings.map(|r| (r, at(r))).collect();
        self.blocks.push(Block { variates: start..self.variates.len(), uses, grouped });
    }

    /// Blocks of eight draws; the last may reach beyond the draws asked for.
    pub fn blocks(&self) -> usize {
        self.pool.blocks()
    }

    /// Draws eight of everything into `numbers` and computes the weights that follow.
    pub fn draw(&self, plan: &Plan, block: usize, numbers: &mut Numbers<Lanes>) {
        let first = block * LANES;
        let mut out = vec![Lanes::default(); self.longest.max(2)];
        for (suspect, own) in &self.priors {
            self.pool.dirichlet(own, first, &mut out[..2]);
            numbers.priors[*suspect] = out[0];
        }
        for (suspect, own) in &self.grades {
            let from = numbers.grades_at[*suspect];
            self.pool.dirichlet(own, first, &mut out[..own.len()]);
            numbers.grade_shares[from..from + own.len()].copy_from_slice(&out[..own.len()]);
        }
        for (bring, own) in &self.brings {
            self.pool.dirichlet(own, first, &mut out[..2]);
            numbers.brings[*bring] = out[0];
        }
        for block in &self.blocks {
            let own = &self.variates[block.variates.clone()];
            let out = &mut out[..own.len()];
            self.pool.dirichlet(own, first, out);
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
        let product = |(of, f, drawn): &(Silence, Folded, Drawn)| {
            let drawn = drawn.map(|(variate, scale)| f.product(self.pool.lanes(variate, first), scale));
            (*of, drawn.unwrap_or(Lanes::of(f.known())))
        };
        let silences: Vec<(Silence, Lanes)> = self.folded.iter().map(product).collect();
        numbers.weigh_with(plan, |reading| self.folds[reading], &silences);
    }
}

fn checked(what: &'static str, index: usize, weight: f64) -> Result<f64, InferenceError> {
    if weight > 0.0 { Ok(weight) } else { Err(InferenceError::BadNumber { what, index, value: weight }) }
}

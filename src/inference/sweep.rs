//! Passing the suspects through the table, forward for P(evidence) and backward for every marginal. Order and
//! places come from the layout, numbers from the caller.

use super::kernels::{Rise, blend, contract, dot, expand, fall, rise};
use super::layout::{Layout, Step};
use super::numbers::{Numbers, expected};
use super::plan::Plan;
use super::scaled::{Scaled, exponent_of, pow2};

/// Steps between two rescalings of a table. A step takes at most a few decimal exponents off it.
const RESCALE_EVERY: usize = 8;

/// Buffers of a pass, kept between runs.
#[derive(Clone, Debug, Default)]
pub(crate) struct Sweep {
    table: Vec<f64>,
    spare: Vec<f64>,
    tape: Vec<f64>,
    tape_at: Vec<usize>,
    starts: Vec<Vec<f64>>,
    ways: Vec<(usize, f64)>,
}

/// Everything a pass reads.
#[derive(Clone, Copy)]
pub(crate) struct Work<'a> {
    pub plan: &'a Plan,
    pub layout: &'a Layout,
    pub numbers: &'a Numbers,
}

impl<'a> Work<'a> {
    /// Likelihood of each group of a digit.
    pub fn likelihood(&self, digit: usize) -> &'a [f64] {
        &self.plan.readings[self.plan.digits[digit]].grouping.likelihood
    }

    /// Background of a digit: P(group | no suspect).
    pub fn leak(&self, digit: usize) -> &'a [f64] {
        let r = &self.plan.readings[self.plan.digits[digit]];
        &self.numbers.groups[r.at..r.at + r.grouping.len()]
    }

    /// The `k`-th effect of the suspect of a step.
    pub fn effect(&self, step: &Step, k: usize) -> Rise<'a> {
        let op = self.plan.ops_of(step.suspect)[k];
        let range = op.at..op.at + self.plan.digit_groups(op.digit);
        Rise {
            stride: self.layout.strides[step.strides.start + k],
            c: &self.numbers.cumulative[range.clone()],
            p: &self.numbers.groups[range],
        }
    }

    /// The different ways in which a suspect acts: number of effects and weight, fewest effects first.
    pub fn ways(&self, suspect: usize, wanted: impl Fn(usize) -> bool, out: &mut Vec<(usize, f64)>) {
        out.clear();
        for v in self.plan.lives.of(suspect).filter(|&v| wanted(v)) {
            let (reach, weight) = (self.plan.reach[v], self.numbers.weights[v]);
            match out.last_mut() {
                Some((last, sum)) if *last == reach => *sum += weight,
                _ => out.push((reach, weight)),
            }
        }
    }

    /// Factor of the digits that no suspect of the layout touches.
    pub fn untouched(&self) -> f64 {
        self.layout.untouched.iter().map(|&d| expected(self.leak(d), self.likelihood(d))).product()
    }

    /// Opens the digits of a step.
    pub fn open(&self, step: &Step, table: &mut Vec<f64>, spare: &mut Vec<f64>) {
        for &d in &self.layout.opens[step.opens.clone()] {
            expand(table, table.len(), self.leak(d), spare);
            std::mem::swap(table, spare);
        }
    }

    /// Closes the digits of a step.
    pub fn close(&self, step: &Step, table: &mut Vec<f64>) {
        for &(d, stride) in &self.layout.closes[step.closes.clone()] {
            contract(table, stride, self.likelihood(d));
        }
    }

    /// Transpose of [`Self::open`].
    pub fn unopen(&self, step: &Step, table: &mut Vec<f64>) {
        for &d in self.layout.opens[step.opens.clone()].iter().rev() {
            let leak = self.leak(d);
            contract(table, table.len() / leak.len(), leak);
        }
    }

    /// Transpose of [`Self::close`].
    pub fn unclose(&self, step: &Step, table: &mut Vec<f64>, spare: &mut Vec<f64>) {
        for &(d, stride) in self.layout.closes[step.closes.clone()].iter().rev() {
            expand(table, stride, self.likelihood(d), spare);
            std::mem::swap(table, spare);
        }
    }

    /// Replaces the table by the sum of what each way makes of it. `spare` is overwritten.
    pub fn pass(&self, step: &Step, ways: &[(usize, f64)], table: &mut Vec<f64>, spare: &mut Vec<f64>) {
        self.mix(step, ways, table, spare, rise);
    }

    /// Transpose of [`Self::pass`].
    pub fn unpass(&self, step: &Step, ways: &[(usize, f64)], table: &mut Vec<f64>, spare: &mut Vec<f64>) {
        self.mix(step, ways, table, spare, fall);
    }

    fn mix(
        &self,
        step: &Step,
        ways: &[(usize, f64)],
        table: &mut Vec<f64>,
        spare: &mut Vec<f64>,
        act: fn(&mut [f64], Rise),
    ) {
        if !ways.is_empty() && ways.iter().all(|w| w.0 == 0) {
            let weight: f64 = ways.iter().map(|w| w.1).sum();
            table.iter_mut().for_each(|x| *x *= weight);
            return;
        }
        spare.clone_from(table);
        let (mut done, mut keep) = (0, 0.0);
        for &(reach, weight) in ways {
            for k in done..reach {
                act(spare, self.effect(step, k));
            }
            done = reach;
            blend(table, keep, weight, spare);
            keep = 1.0;
        }
        if ways.is_empty() {
            table.fill(0.0);
        }
    }
}

impl Sweep {
    /// P(evidence); likelihoods enter as given.
    pub fn evidence(&mut self, work: Work) -> Scaled {
        self.forward(work, false)
    }

    fn forward(&mut self, work: Work, record: bool) -> Scaled {
        let mut z = work.numbers.scale;
        z.times(work.untouched());
        self.starts.resize(work.layout.segments.len(), Vec::new());
        self.table.clear();
        self.table.push(1.0);
        for k in 0..work.layout.segments.len() {
            if record && k > 0 {
                self.starts[k].clone_from(&self.table);
            }
            let last = k + 1 == work.layout.segments.len();
            z.exponent += self.run_segment(work, k, record && last);
            if self.table.iter().all(|&x| x == 0.0) {
                return Scaled::ZERO;
            }
        }
        z.times(self.table.iter().sum());
        z
    }

    /// Runs one segment from the current table, recording the tables if asked; returns the exponent taken off.
    fn run_segment(&mut self, work: Work, k: usize, record: bool) -> i64 {
        let mut exponent = 0;
        if record {
            self.tape.clear();
            self.tape_at.clear();
        }
        for t in work.layout.segment(k) {
            let step = &work.layout.steps[t];
            work.open(step, &mut self.table, &mut self.spare);
            if record {
                self.tape_at.push(self.tape.len());
                self.tape.extend_from_slice(&self.table);
            }
            work.ways(step.suspect, |_| true, &mut self.ways);
            work.pass(step, &self.ways, &mut self.table, &mut self.spare);
            work.close(step, &mut self.table);
            if t % RESCALE_EVERY == RESCALE_EVERY - 1 {
                exponent += rescale(&mut self.table);
            }
        }
        exponent
    }

    /// P(evidence), and P(life variant | evidence) into `variants`. For impossible evidence, only the first.
    ///
    /// With F the table before a suspect and B the transpose of all that follows it, a way w of that suspect has
    /// probability proportional to `weight × <A_w F, B> = weight × <F, A_w' B>`.
    pub fn marginals(&mut self, work: Work, variants: &mut Vec<f64>) -> Scaled {
        let z = self.forward(work, true);
        if z.is_zero() {
            return z;
        }
        variants.clone_from(&work.numbers.weights);
        let mut back = vec![1.0];
        for k in (0..work.layout.segments.len()).rev() {
            if k + 1 < work.layout.segments.len() {
                if k == 0 {
                    self.table.clear();
                    self.table.push(1.0);
                } else {
                    std::mem::swap(&mut self.table, &mut self.starts[k]);
                }
                self.run_segment(work, k, true);
            }
            let segment = work.layout.segment(k);
            let first = segment.start;
            for t in segment.rev() {
                let step = &work.layout.steps[t];
                work.unclose(step, &mut back, &mut self.spare);
                let from = self.tape_at[t - first];
                back_step(work, step, &self.tape[from..from + step.cells], &mut back, &mut self.spare, variants);
                work.unopen(step, &mut back);
                if t % RESCALE_EVERY == 0 {
                    rescale(&mut back);
                }
            }
        }
        for suspect in 0..work.numbers.priors.len() {
            let range = work.plan.lives.of(suspect);
            let total: f64 = variants[range.clone()].iter().sum();
            variants[range].iter_mut().for_each(|v| *v /= total);
        }
        z
    }
}

/// Multiplies the variants of the step's suspect by their scalar products, and takes `back` over the step.
fn back_step(work: Work, step: &Step, front: &[f64], back: &mut Vec<f64>, spare: &mut Vec<f64>, variants: &mut [f64]) {
    spare.clone_from(back);
    let (mut done, mut keep, mut product) = (0, 0.0, None);
    for v in work.plan.lives.of(step.suspect) {
        let reach = work.plan.reach[v];
        if reach > done {
            (done..reach).for_each(|k| fall(spare, work.effect(step, k)));
            done = reach;
            product = None;
        }
        blend(back, keep, variants[v], spare);
        keep = 1.0;
        variants[v] *= *product.get_or_insert_with(|| dot(front, spare));
    }
}

/// Divides a table by a power of two so that its sum is in [1, 2); returns the exponent taken off.
pub(crate) fn rescale(table: &mut [f64]) -> i64 {
    let e = exponent_of(table.iter().sum());
    if e.abs() < 32 {
        return 0;
    }
    table.iter_mut().for_each(|x| *x *= pow2(-e));
    e
}

//! Passing the suspects through the table, forward for P(evidence) and backward for every marginal. Order and
//! places come from the layout, numbers from the caller.

use super::kernels::{Rise, blend, contract, dot, expand, fall, rise};
use super::lanes::{Real, sum};
use super::layout::{Layout, Step};
use super::mask::{Mask, masked};
use super::numbers::{Numbers, expected};
use super::plan::{Act, Plan};
use super::scaled::{Scaled, exponent_of, pow2};

/// Steps between two rescalings of a table. A step takes at most a few decimal exponents off it.
const RESCALE_EVERY: usize = 8;

/// Buffers of one step.
#[derive(Clone, Debug, Default)]
pub(crate) struct Spare<T = f64> {
    /// For opening digits.
    pub table: Vec<T>,
    /// What one way makes of the table.
    one: Vec<T>,
    /// The table as it was, for ways that start anew.
    origin: Vec<T>,
    /// The sum over lives.
    before: Vec<T>,
    /// What the ways of one life make of the table.
    life: Vec<T>,
}

/// Buffers of a pass, kept between runs.
#[derive(Clone, Debug, Default)]
pub(crate) struct Sweep<T = f64> {
    table: Vec<T>,
    spare: Spare<T>,
    tape: Vec<T>,
    tape_at: Vec<usize>,
    starts: Vec<Vec<T>>,
    ways: Vec<(usize, T)>,
}

/// Everything a pass reads.
#[derive(Clone, Copy)]
pub(crate) struct Work<'a, T: Real = f64> {
    pub plan: &'a Plan,
    pub layout: &'a Layout,
    pub numbers: &'a Numbers<T>,
}

impl<'a, T: Real> Work<'a, T> {
    /// Likelihood of each group of a digit; of lives, ones.
    pub fn likelihood(&self, digit: usize) -> &'a [f64] {
        match self.plan.reading_of(digit) {
            Some(r) => &r.grouping.likelihood,
            None => self.plan.ones(self.plan.digit_groups(digit)),
        }
    }

    /// Background of a digit: P(group | no suspect); none of lives, since the suspect itself keeps its own.
    pub fn leak(&self, digit: usize) -> Option<&'a [T]> {
        let r = self.plan.reading_of(digit)?;
        Some(&self.numbers.groups[r.at..r.at + r.grouping.len()])
    }

    /// One effect of the suspect of a step.
    pub fn effect(&self, step: &Step, act: Act) -> Rise<'a, T> {
        let op = self.plan.ops_of(step.suspect)[act.op];
        let range = act.at..act.at + self.plan.digit_groups(op.digit);
        Rise {
            stride: self.layout.strides[step.strides.start + act.op],
            c: &self.numbers.cumulative[range.clone()],
            p: &self.numbers.groups[range],
        }
    }

    /// The strides of the live digits that the suspect of a step looks at, with its mask.
    fn mask(&self, step: &Step) -> Option<(&'a Mask, &'a [usize])> {
        let mask = self.plan.mask(step.suspect)?;
        Some((mask, &self.layout.strides[step.strides.end - mask.digits.len()..step.strides.end]))
    }

    /// The factors of one life of a masked suspect.
    fn factors(&self, mask: &Mask, life: usize) -> &'a [T] {
        let at = mask.at + life * mask.classes;
        &self.numbers.masks[at..at + mask.classes]
    }

    /// The different ways in which a suspect acts: a variant that stands for all like it, and their weight; by life.
    pub fn ways(&self, suspect: usize, wanted: impl Fn(usize) -> bool, out: &mut Vec<(usize, T)>) {
        out.clear();
        for v in self.plan.lives.of(suspect).filter(|&v| wanted(v)) {
            let (like, weight) = (self.plan.like[v], self.numbers.weights[v]);
            match out.iter_mut().find(|w| w.0 == like) {
                Some((_, sum)) => *sum += weight,
                None => out.push((like, weight)),
            }
        }
    }

    /// Factor of the digits that no suspect of the layout touches. Lives that nobody looks at are no factor.
    pub fn untouched(&self) -> T {
        let readings = self.layout.untouched.iter().filter_map(|&d| Some(expected(self.leak(d)?, self.likelihood(d))));
        readings.fold(T::of(1.0), |all, one| all * one)
    }

    /// Opens the digits of a step.
    pub fn open(&self, step: &Step, table: &mut Vec<T>, spare: &mut Vec<T>) {
        for &d in &self.layout.opens[step.opens.clone()] {
            match self.leak(d) {
                Some(leak) => expand(table, table.len(), leak, spare),
                None => expand(table, table.len(), self.likelihood(d), spare),
            }
            std::mem::swap(table, spare);
        }
    }

    /// Closes the digits of a step.
    pub fn close(&self, step: &Step, table: &mut Vec<T>) {
        for &(d, stride) in &self.layout.closes[step.closes.clone()] {
            contract(table, stride, self.likelihood(d));
        }
    }

    /// Transpose of [`Self::open`].
    pub fn unopen(&self, step: &Step, table: &mut Vec<T>) {
        for &d in self.layout.opens[step.opens.clone()].iter().rev() {
            match self.leak(d) {
                Some(leak) => contract(table, table.len() / leak.len(), leak),
                None => {
                    let ones = self.likelihood(d);
                    contract(table, table.len() / ones.len(), ones);
                }
            }
        }
    }

    /// Transpose of [`Self::close`].
    pub fn unclose(&self, step: &Step, table: &mut Vec<T>, spare: &mut Vec<T>) {
        for &(d, stride) in self.layout.closes[step.closes.clone()].iter().rev() {
            expand(table, stride, self.likelihood(d), spare);
            std::mem::swap(table, spare);
        }
    }

    /// The weight of ways that leave the table as it is, if these all do.
    fn idle(&self, ways: &[(usize, T)]) -> Option<T> {
        ways.iter().all(|w| self.plan.acts_of(w.0).is_empty()).then(|| sum(ways.iter().map(|w| w.1)))
    }

    /// Replaces the table by the sum of what each way makes of it.
    pub fn pass(&self, step: &Step, ways: &[(usize, T)], table: &mut Vec<T>, spare: &mut Spare<T>) {
        let Some((mask, strides)) = self.mask(step) else { return self.mix(step, ways, table, spare, rise) };
        let before = std::mem::take(&mut spare.before);
        let (mut life_table, mut sum) = (std::mem::take(&mut spare.life), before);
        sum.clear();
        sum.resize(table.len(), T::default());
        for of_life in ways.chunk_by(|a, b| self.plan.lives.life[a.0] == self.plan.lives.life[b.0]) {
            let factors = self.factors(mask, self.plan.lives.life[of_life[0].0]);
            if let Some(weight) = self.idle(of_life) {
                masked(mask, strides, (factors, weight), table, &mut sum, true);
                continue;
            }
            life_table.clone_from(table);
            self.mix(step, of_life, &mut life_table, spare, rise);
            masked(mask, strides, (factors, T::of(1.0)), &life_table, &mut sum, true);
        }
        std::mem::swap(table, &mut sum);
        (spare.before, spare.life) = (sum, life_table);
    }

    /// Transpose of [`Self::pass`].
    pub fn unpass(&self, step: &Step, ways: &[(usize, T)], table: &mut Vec<T>, spare: &mut Spare<T>) {
        let Some((mask, strides)) = self.mask(step) else { return self.mix(step, ways, table, spare, fall) };
        let (mut life_table, mut sum) = (std::mem::take(&mut spare.life), std::mem::take(&mut spare.before));
        sum.clear();
        sum.resize(table.len(), T::default());
        for of_life in ways.chunk_by(|a, b| self.plan.lives.life[a.0] == self.plan.lives.life[b.0]) {
            let factors = self.factors(mask, self.plan.lives.life[of_life[0].0]);
            if let Some(weight) = self.idle(of_life) {
                masked(mask, strides, (factors, weight), table, &mut sum, true);
                continue;
            }
            life_table.resize(table.len(), T::default());
            masked(mask, strides, (factors, T::of(1.0)), table, &mut life_table, false);
            self.mix(step, of_life, &mut life_table, spare, fall);
            blend(&mut sum, T::of(1.0), T::of(1.0), &life_table);
        }
        std::mem::swap(table, &mut sum);
        (spare.before, spare.life) = (sum, life_table);
    }

    /// Replaces the table by the sum of `weight × what act makes of it` over the ways. A way whose effects begin with those
    /// of the way before it goes on from there.
    fn mix(
        &self,
        step: &Step,
        ways: &[(usize, T)],
        table: &mut Vec<T>,
        spare: &mut Spare<T>,
        act: fn(&mut [T], Rise<T>),
    ) {
        let idle = sum(ways.iter().filter(|w| self.plan.acts_of(w.0).is_empty()).map(|w| w.1));
        let mut busy = ways.iter().map(|w| (self.plan.acts_of(w.0), w.1)).filter(|w| !w.0.is_empty()).peekable();
        if busy.peek().is_none() {
            table.iter_mut().for_each(|x| *x *= idle);
            return;
        }
        // The table is overwritten by the first sum; whoever starts anew needs it as it was.
        let mut before: &[Act] = &[];
        let starts_anew = busy.clone().any(|(acts, _)| !acts.starts_with(std::mem::replace(&mut before, acts)));
        if starts_anew {
            spare.origin.clone_from(table);
        }
        let (mut done, mut keep): (&[Act], T) = (&[], idle);
        spare.one.clone_from(table);
        for (acts, weight) in busy {
            if !acts.starts_with(done) {
                spare.one.clone_from(&spare.origin);
                done = &[];
            }
            acts[done.len()..].iter().for_each(|&a| act(&mut spare.one, self.effect(step, a)));
            done = acts;
            blend(table, keep, weight, &spare.one);
            keep = T::of(1.0);
        }
    }
}

impl<T: Real> Sweep<T> {
    /// P(evidence); likelihoods enter as given.
    pub fn evidence(&mut self, work: Work<T>) -> Scaled<T> {
        self.forward(work, false)
    }

    fn forward(&mut self, work: Work<T>, record: bool) -> Scaled<T> {
        let mut z = work.numbers.scale;
        z.times(work.untouched());
        self.starts.resize(work.layout.segments.len(), Vec::new());
        self.table.clear();
        self.table.push(T::of(1.0));
        for k in 0..work.layout.segments.len() {
            if record && k > 0 {
                self.starts[k].clone_from(&self.table);
            }
            let last = k + 1 == work.layout.segments.len();
            z.exponent += self.run_segment(work, k, record && last);
            if self.table.iter().all(|x| x.largest() == 0.0) {
                return Scaled { mantissa: T::default(), exponent: 0 };
            }
        }
        z.times(sum(self.table.iter().copied()));
        z
    }

    /// Runs one segment from the current table, recording the tables if asked; returns the exponent taken off.
    fn run_segment(&mut self, work: Work<T>, k: usize, record: bool) -> i64 {
        let mut exponent = 0;
        if record {
            self.tape.clear();
            self.tape_at.clear();
        }
        for t in work.layout.segment(k) {
            let step = &work.layout.steps[t];
            work.open(step, &mut self.table, &mut self.spare.table);
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
    pub fn marginals(&mut self, work: Work<T>, variants: &mut Vec<T>) -> Scaled<T> {
        let z = self.forward(work, true);
        if z.mantissa.largest() == 0.0 {
            return z;
        }
        variants.clone_from(&work.numbers.weights);
        let mut back = vec![T::of(1.0)];
        for k in (0..work.layout.segments.len()).rev() {
            if k + 1 < work.layout.segments.len() {
                if k == 0 {
                    self.table.clear();
                    self.table.push(T::of(1.0));
                } else {
                    std::mem::swap(&mut self.table, &mut self.starts[k]);
                }
                self.run_segment(work, k, true);
            }
            let segment = work.layout.segment(k);
            let first = segment.start;
            for t in segment.rev() {
                let step = &work.layout.steps[t];
                work.unclose(step, &mut back, &mut self.spare.table);
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
            let total = sum(variants[range.clone()].iter().copied());
            variants[range].iter_mut().for_each(|v| *v = *v / total);
        }
        z
    }
}

/// Multiplies the variants of the step's suspect by their scalar products, and takes `back` over the step.
fn back_step<T: Real>(
    work: Work<T>,
    step: &Step,
    front: &[T],
    back: &mut Vec<T>,
    spare: &mut Spare<T>,
    variants: &mut [T],
) {
    let (mask, lives) = (work.mask(step), &work.plan.lives);
    let (mut sum, mut start) = (std::mem::take(&mut spare.before), std::mem::take(&mut spare.life));
    sum.clear();
    sum.resize(back.len(), T::default());
    // The way so far: its life, its effects, its scalar product. Ordinary suspects start from `back` in every life.
    let (mut life, mut done, mut product): (usize, &[Act], Option<T>) = (usize::MAX, &[], None);
    for v in lives.of(step.suspect) {
        let (acts, own_life) = (work.plan.acts_of(v), if mask.is_some() { lives.life[v] } else { 0 });
        if own_life != life || !acts.starts_with(done) {
            if let Some((mask, strides)) = mask.filter(|_| own_life != life) {
                start.resize(back.len(), T::default());
                masked(mask, strides, (work.factors(mask, own_life), T::of(1.0)), back, &mut start, false);
            }
            (life, done, product) = (own_life, &[], None);
            spare.one.clone_from(if mask.is_some() { &start } else { back });
        }
        if acts.len() > done.len() || product.is_none() {
            acts[done.len()..].iter().for_each(|&a| fall(&mut spare.one, work.effect(step, a)));
            done = acts;
            product = None;
        }
        blend(&mut sum, T::of(1.0), variants[v], &spare.one);
        variants[v] *= *product.get_or_insert_with(|| dot(front, &spare.one));
    }
    std::mem::swap(back, &mut sum);
    (spare.before, spare.life) = (sum, start);
}

/// Divides a table by a power of two so that its sum is in [1, 2); returns the exponent taken off.
pub(crate) fn rescale<T: Real>(table: &mut [T]) -> i64 {
    let e = exponent_of(sum(table.iter().copied()).largest());
    if e.abs() < 32 {
        return 0;
    }
    table.iter_mut().for_each(|x| *x = *x * pow2(-e));
    e
}

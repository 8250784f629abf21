//! Arithmetic on the tables: opening and closing a digit, and one suspect's effect on a digit, with transposes.
//! Knows nothing of suspects or findings.
//!
//! A table is indexed by mixed-radix digits. A digit of stride `s` with `n` states splits the table into blocks
//! of `n × s` cells; inside a block, state `g` is the run `g × s .. (g + 1) × s`.

use super::lanes::{Real, sum};
use std::ops::Mul;

/// One suspect's effect on one digit when present: state g stays with weight `c[g]` = P(level in groups <= g)
/// and rises to h > g with weight `p[h]` = P(level in group h).
#[derive(Clone, Copy)]
pub(crate) struct Rise<'a, T = f64> {
    pub stride: usize,
    pub c: &'a [T],
    pub p: &'a [T],
}

/// Multiplies each state of a digit by its factor and adds the states up: closes the digit.
pub(crate) fn contract<T: Real + Mul<F, Output = T>, F: Copy>(table: &mut Vec<T>, stride: usize, factors: &[F]) {
    let block = stride * factors.len();
    let blocks = table.len() / block;
    for b in 0..blocks {
        let (to, from) = (b * stride, b * block);
        for i in 0..stride {
            let mut sum = T::default();
            for (g, &f) in factors.iter().enumerate() {
                sum += table[from + g * stride + i] * f;
            }
            table[to + i] = sum;
        }
    }
    table.truncate(blocks * stride);
}

/// Transpose of [`contract`]; with `stride` equal to the length of `from`, opens a digit in the outermost place.
pub(crate) fn expand<T: Real + Mul<F, Output = T>, F: Copy>(from: &[T], stride: usize, factors: &[F], to: &mut Vec<T>) {
    to.clear();
    to.reserve(from.len() * factors.len());
    for run in from.chunks_exact(stride) {
        for &f in factors {
            to.extend(run.iter().map(|&x| x * f));
        }
    }
}

/// Applies a suspect's presence to one digit, in place: `new[g] = c[g] old[g] + p[g] × sum of old[h]`, h < g.
pub(crate) fn rise<T: Real>(table: &mut [T], r: Rise<T>) {
    let s = r.stride;
    if let (&[c0, c1], &[_, p1]) = (r.c, r.p) {
        for block in table.chunks_exact_mut(2 * s) {
            let (low, high) = block.split_at_mut(s);
            for (l, h) in low.iter_mut().zip(high) {
                *h = *h * c1 + *l * p1;
                *l *= c0;
            }
        }
        return;
    }
    for block in table.chunks_exact_mut(r.c.len() * s) {
        for i in 0..s {
            let mut below = T::default();
            for (g, (&c, &p)) in r.c.iter().zip(r.p).enumerate() {
                let old = block[g * s + i];
                block[g * s + i] = old * c + below * p;
                below += old;
            }
        }
    }
}

/// Transpose of [`rise`], in place: `new[g] = c[g] old[g] + sum over h > g of p[h] old[h]`.
pub(crate) fn fall<T: Real>(table: &mut [T], r: Rise<T>) {
    let s = r.stride;
    if let (&[c0, c1], &[_, p1]) = (r.c, r.p) {
        for block in table.chunks_exact_mut(2 * s) {
            let (low, high) = block.split_at_mut(s);
            for (l, h) in low.iter_mut().zip(high) {
                *l = *l * c0 + *h * p1;
                *h *= c1;
            }
        }
        return;
    }
    for block in table.chunks_exact_mut(r.c.len() * s) {
        for i in 0..s {
            let mut above = T::default();
            for (g, (&c, &p)) in r.c.iter().zip(r.p).enumerate().rev() {
                let old = block[g * s + i];
                block[g * s + i] = old * c + above;
                above += old * p;
            }
        }
    }
}

/// `into = keep × into + add × from`.
pub(crate) fn blend<T: Real>(into: &mut [T], keep: T, add: T, from: &[T]) {
    for (x, &y) in into.iter_mut().zip(from) {
        *x = *x * keep + y * add;
    }
}

/// Scalar product, with four running sums so that it can use wide registers.
pub(crate) fn dot<T: Real>(a: &[T], b: &[T]) -> T {
    let mut sums = [T::default(); 4];
    let (a4, b4) = (a.chunks_exact(4), b.chunks_exact(4));
    let tail = sum(a4.remainder().iter().zip(b4.remainder()).map(|(&x, &y)| x * y));
    for (x, y) in a4.zip(b4) {
        for k in 0..4 {
            sums[k] += x[k] * y[k];
        }
    }
    (sums[0] + sums[1]) + (sums[2] + sums[3]) + tail
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn transposes_are_transposes() {
        // <A x, y> = <x, A' y> for each kernel, on a table of digits 2 × 3 × 2.
        let x: Vec<f64> = (0..12).map(|i| f64::from(i * i % 7) + 0.5).collect();
        let y: Vec<f64> = (0..12).map(|i| f64::from(i * 5 % 11) + 0.25).collect();
        let (c2, p2) = ([0.25, 0.75], [0.25, 0.5]);
        let (c3, p3) = ([0.25, 0.5, 1.0], [0.25, 0.25, 0.5]);
        for r in
            [Rise { stride: 1, c: &c2, p: &p2 }, Rise { stride: 2, c: &c3, p: &p3 }, Rise { stride: 6, c: &c2, p: &p2 }]
        {
            let (mut ax, mut aty) = (x.clone(), y.clone());
            rise(&mut ax, r);
            fall(&mut aty, r);
            assert_eq!(dot(&ax, &y), dot(&x, &aty));
            let mut cx = x.clone();
            contract(&mut cx, r.stride, r.c);
            let mut ety = Vec::new();
            expand(&y[..cx.len()], r.stride, r.c, &mut ety);
            assert_eq!(dot(&cx, &y[..cx.len()]), dot(&x, &ety));
        }
    }
}

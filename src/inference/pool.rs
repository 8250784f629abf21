//! Gamma variates made once for every shape and used by all parameters of that shape, each in an order of its own.
//! Which parameters there are is `sample`'s business.
//!
//! A question with one code or two draws some four hundred to eleven hundred variates, of two hundred to eight hundred shapes.
//! Four hundred of each shape are made, those of all shapes from the same normal variates; a parameter takes them in one of many
//! shuffled orders, begun at a place of its own. Its draws are then as they would be if drawn for it alone, and those of two
//! parameters go together by chance alone.

use super::gamma::{Common, Sampler, Shape};
use super::lanes::{LANES, Lanes, Real};
use super::rng::Rng;
use std::collections::HashMap;

/// Shuffled orders that are kept; with the place to begin there are some hundred times more.
const ORDERS: usize = 64;
/// The stream of what all shapes have in common.
const COMMON: u64 = 1 << 62;

/// A gamma-distributed number of one parameter: which variates, in which order, from where.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Variate {
    shape: usize,
    order: usize,
    from: usize,
}

/// Variates and orders.
#[derive(Clone, Debug)]
pub(crate) struct Pool {
    draws: usize,
    seed: u64,
    common: Common,
    by_shape: HashMap<u64, usize>,
    variates: Vec<f64>,
    orders: Vec<u32>,
}

impl Pool {
    /// A pool for this many draws, at least one.
    pub fn new(draws: usize, seed: u64) -> Self {
        let draws = draws.max(1);
        let mut orders = Vec::with_capacity(ORDERS * draws);
        for k in 0..ORDERS {
            let mut rng = Rng::new(seed, !(k as u64));
            let first = orders.len();
            orders.extend(0..draws as u32);
            rng.shuffle(&mut orders[first..]);
        }
        let common = Common::new(draws, &mut Rng::new(seed, COMMON));
        Self { draws, seed, common, by_shape: HashMap::new(), variates: Vec::new(), orders }
    }

    /// The number of this shape that belongs to this part of a parameter of this name. Parts of one parameter never share an
    /// order, as long as they are fewer than there are orders.
    pub fn variate(&mut self, shape: f64, name: u64, part: usize) -> Variate {
        let (draws, seed, common, variates) = (self.draws, self.seed, &self.common, &mut self.variates);
        let next = self.by_shape.len();
        let index = *self.by_shape.entry(shape.to_bits()).or_insert_with(|| {
            let mut sampler = Sampler::new(Rng::new(seed, shape.to_bits()));
            sampler.stratified(&Shape::new(shape), common, variates);
            next
        });
        let mut rng = Rng::new(self.seed, name);
        let order = (rng.below(ORDERS) + part) % ORDERS;
        Variate { shape: index * draws, order: order * draws, from: rng.below(draws) }
    }

    /// The variates of the draws `first .. first + 8`; those beyond the last begin anew.
    pub fn lanes(&self, of: Variate, first: usize) -> Lanes {
        let start = (of.from + first) % self.draws;
        let variates = &self.variates[of.shape..of.shape + self.draws];
        let order = &self.orders[of.order..of.order + self.draws];
        match order.get(start..start + LANES) {
            Some(eight) => Lanes::each(|k| variates[eight[k] as usize]),
            None => Lanes::each(|k| variates[order[(start + k) % self.draws] as usize]),
        }
    }

    /// A Dirichlet variate of eight draws: gamma variates divided by their sum. What is not there stays zero.
    pub fn dirichlet(&self, of: &[Option<Variate>], first: usize, out: &mut [Lanes]) {
        let mut total = Lanes::default();
        for (x, v) in out.iter_mut().zip(of) {
            *x = v.map_or(Lanes::default(), |v| self.lanes(v, first));
            total += *x;
        }
        for x in out.iter_mut() {
            *x = *x / total;
        }
    }

    /// Blocks of eight draws.
    pub fn blocks(&self) -> usize {
        self.draws.div_ceil(LANES)
    }
}

/// The name of a parameter: what it is about, and which part of it. Independent of who else is asked for.
pub(crate) fn name(of: &str, and: &str, part: u64) -> u64 {
    // FNV-1a, 64 bits (G. Fowler, L. C. Noll, K.-P. Vo; the constants from memory).
    let bytes = of.bytes().chain([0]).chain(and.bytes()).chain([0]).chain(part.to_le_bytes());
    bytes.fold(0xcbf2_9ce4_8422_2325, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0000_0100_0000_01b3))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mean and variance of a Beta variable drawn through the pool are those of the distribution, and two parameters of one
    /// shape are not correlated beyond chance.
    #[test]
    fn parameters_have_their_moments_and_go_their_own_ways() {
        let n = 4000;
        let mut pool = Pool::new(n, 7);
        for (k, (a, b)) in [(0.02, 1.0), (0.4, 9.6), (2.0, 3.0), (12.0, 400.0)].into_iter().enumerate() {
            let mut columns = Vec::new();
            for twin in 0..2 {
                let own = name(&format!("{k}"), &format!("{twin}"), 0);
                let of = [Some(pool.variate(a, own, 0)), Some(pool.variate(b, own, 1))];
                let mut column = Vec::new();
                for block in 0..pool.blocks() {
                    let mut out = [Lanes::default(); 2];
                    pool.dirichlet(&of, block * LANES, &mut out);
                    column.extend((0..LANES).map(|lane| out[0].lane(lane)));
                }
                columns.push(column);
            }
            let (m, v) = (a / (a + b), a * b / (a + b).powi(2) / (a + b + 1.0));
            let mean = |c: &[f64]| c.iter().sum::<f64>() / n as f64;
            for c in &columns {
                assert!((mean(c) - m).abs() < 5.0 * (v / n as f64).sqrt(), "mean of Beta({a}, {b}): {}", mean(c));
                let variance = c.iter().map(|x| (x - m).powi(2)).sum::<f64>() / n as f64;
                assert!((variance / v - 1.0).abs() < 0.35, "variance of Beta({a}, {b}): {variance} for {v}");
            }
            let both = columns[0].iter().zip(&columns[1]).map(|(x, y)| (x - m) * (y - m)).sum::<f64>() / n as f64;
            assert!((both / v).abs() < 0.12, "correlation {}", both / v);
        }
    }

    #[test]
    fn names_differ_and_stay() {
        assert_ne!(name("a", "b", 0), name("ab", "", 0));
        assert_ne!(name("a", "b", 0), name("a", "b", 1));
        assert_eq!(name("a", "b", 0), name("a", "b", 0));
    }
}

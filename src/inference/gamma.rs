//! Random numbers from the normal, gamma, beta and Dirichlet distributions. Which parameters are drawn is decided
//! in `sample`.

use super::rng::Rng;
use statrs::distribution::{ContinuousCDF as _, Normal};

/// Smallest probability a draw may give to something that is possible, so that a draw never turns possible
/// evidence into impossible evidence by underflow.
pub const FLOOR: f64 = 1e-200;

/// Shape below which a gamma variate may underflow and is handled by its logarithm.
const SMALL_SHAPE: f64 = 0.05;

/// Shape of a gamma distribution, with what its sampler needs worked out once.
#[derive(Clone, Copy, Debug)]
pub struct Shape {
    a: f64,
    inverse: f64,
    d: f64,
    c: f64,
}

impl Shape {
    /// The shape `a >= 0`.
    pub fn new(a: f64) -> Self {
        let d = if a >= 1.0 { a } else { a + 1.0 } - 1.0 / 3.0;
        Self { a, inverse: 1.0 / a, d, c: 1.0 / (9.0 * d).sqrt() }
    }
}

/// Standard normal variates by the polar method (G. Marsaglia and T. Bray, SIAM Review 6, 1964), two at a time.
#[derive(Clone, Debug)]
pub struct Sampler {
    rng: Rng,
    kept: Option<f64>,
}

impl Sampler {
    /// A sampler on this stream.
    pub fn new(rng: Rng) -> Self {
        Self { rng, kept: None }
    }

    /// Standard normal variate.
    pub fn normal(&mut self) -> f64 {
        if let Some(x) = self.kept.take() {
            return x;
        }
        loop {
            let (u, v) = (2.0 * self.rng.unit() - 1.0, 2.0 * self.rng.unit() - 1.0);
            let s = u * u + v * v;
            if s < 1.0 && s > 0.0 {
                let scale = (-2.0 * s.ln() / s).sqrt();
                self.kept = Some(v * scale);
                return u * scale;
            }
        }
    }

    /// Gamma variate of shape at least 1 and scale 1 (G. Marsaglia and W. W. Tsang, "A simple method for
    /// generating gamma variables", ACM Transactions on Mathematical Software 26, 2000); for a smaller shape that
    /// of the shape plus one, which the boost of the same paper then takes down.
    fn gamma_unboosted(&mut self, shape: &Shape) -> f64 {
        loop {
            let x = self.normal();
            let t = 1.0 + shape.c * x;
            if t <= 0.0 {
                continue;
            }
            let v = t * t * t;
            let u = self.rng.unit();
            if u < 1.0 - 0.0331 * (x * x) * (x * x) || u.ln() < 0.5 * x * x + shape.d * (1.0 - v + v.ln()) {
                return shape.d * v;
            }
        }
    }

    /// Gamma variate of any positive shape; below 1 by the boost, G(a) = G(a + 1) U^(1/a).
    pub fn gamma(&mut self, shape: &Shape) -> f64 {
        let g = self.gamma_unboosted(shape);
        if shape.a >= 1.0 { g } else { g * (self.rng.unit().ln() * shape.inverse).exp() }
    }

    /// As many variates as `common` is for, never below [`FLOOR`]; those of different shapes stand on the same numbers.
    pub fn stratified(&mut self, shape: &Shape, common: &Common, out: &mut Vec<f64>) {
        let small = shape.a < 1.0;
        out.extend(common.0.iter().map(|of| {
            let t = 1.0 + shape.c * of.x;
            let v = t * t * t;
            let taken = t > 0.0 && (of.squeezed || of.ln_u < 0.5 * of.x * of.x + shape.d * (1.0 - v + v.ln()));
            let g = if taken { shape.d * v } else { self.gamma_unboosted(shape) };
            let x = if small { g * (of.ln_boost * shape.inverse).exp() } else { g };
            x.max(FLOOR)
        }));
    }

    fn ln_gamma(&mut self, shape: &Shape) -> f64 {
        let ln_g = self.gamma_unboosted(shape).ln();
        if shape.a >= 1.0 { ln_g } else { ln_g + self.rng.unit().ln() * shape.inverse }
    }

    /// As [`Self::dirichlet`], for shapes that are drawn from once.
    pub fn dirichlet_once(&mut self, shapes: &[f64], out: &mut [f64]) {
        let shapes: Vec<Shape> = shapes.iter().map(|a| Shape::new(*a)).collect();
        self.dirichlet(&shapes, out);
    }

    /// Dirichlet variate: gamma variates divided by their sum. A component of shape zero stays zero.
    pub fn dirichlet(&mut self, shapes: &[Shape], out: &mut [f64]) {
        if shapes.iter().any(|s| s.a > 0.0 && s.a < SMALL_SHAPE) {
            for (x, s) in out.iter_mut().zip(shapes) {
                *x = if s.a > 0.0 { self.ln_gamma(s) } else { f64::NEG_INFINITY };
            }
            let largest = out.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            out.iter_mut().for_each(|x| *x = (*x - largest).exp());
        } else {
            for (x, s) in out.iter_mut().zip(shapes) {
                *x = if s.a > 0.0 { self.gamma(s) } else { 0.0 };
            }
        }
        let sum: f64 = out.iter().sum();
        for (x, s) in out.iter_mut().zip(shapes) {
            *x = if s.a > 0.0 { (*x / sum).max(FLOOR) } else { 0.0 };
        }
    }
}

/// What the variates of all shapes begin with: for each of some draws a normal variate to try, one from each of as many
/// equally likely slices of the distribution (Latin hypercube sampling: M. McKay, R. Beckman and W. Conover, Technometrics
/// 21, 1979, from memory), and a uniform one for the boost, sliced likewise. The few that are not taken are drawn afresh.
#[derive(Clone, Debug)]
pub struct Common(Vec<Candidate>);

#[derive(Clone, Copy, Debug)]
struct Candidate {
    x: f64,
    ln_u: f64,
    /// Taken whatever the shape: the squeeze of the method asks for the normal variate alone.
    squeezed: bool,
    ln_boost: f64,
}

impl Common {
    /// For this many draws.
    pub fn new(draws: usize, rng: &mut Rng) -> Self {
        let (normal, slices) = (Normal::standard(), draws as f64);
        let mut boosts: Vec<f64> = (0..draws).map(|i| ((i as f64 + rng.unit()) / slices).ln()).collect();
        rng.shuffle(&mut boosts);
        let one = |(i, ln_boost): (usize, f64)| {
            let (x, u) = (normal.inverse_cdf((i as f64 + rng.unit()) / slices), rng.unit());
            Candidate { x, ln_u: u.ln(), squeezed: u < 1.0 - 0.0331 * (x * x) * (x * x), ln_boost }
        };
        Self(boosts.into_iter().enumerate().map(one).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moments(n: u32, mut draw: impl FnMut() -> f64) -> (f64, f64) {
        let draws: Vec<f64> = (0..n).map(|_| draw()).collect();
        let mean = draws.iter().sum::<f64>() / f64::from(n);
        (mean, draws.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / f64::from(n - 1))
    }

    #[test]
    fn gamma_mean_and_variance_are_the_shape() {
        for (k, shape) in [0.02, 0.3, 0.9, 1.0, 2.5, 40.0].into_iter().enumerate() {
            let mut s = Sampler::new(Rng::new(11, k as u64));
            let (mean, variance) = moments(200_000, || s.gamma(&Shape::new(shape)));
            // Five standard errors: var(mean) = a / n; the variance's own error uses kurtosis 3 + 6 / a.
            let n = 200_000.0_f64;
            assert!((mean - shape).abs() < 5.0 * (shape / n).sqrt(), "{shape} {mean}");
            assert!((variance - shape).abs() < 5.0 * shape * ((2.0 + 6.0 / shape) / n).sqrt(), "{shape} {variance}");
        }
    }

    /// Variates on common numbers have the moments of their shape, more nearly than independent ones, and their tails.
    #[test]
    fn stratified_variates_are_of_their_shape() {
        let (n, mut rng) = (4000, Rng::new(3, 9));
        let common = Common::new(n, &mut rng);
        for (k, shape) in [0.015, 0.02, 0.3, 0.9, 1.0, 2.5, 40.0, 900.0].into_iter().enumerate() {
            let mut all = Vec::new();
            Sampler::new(Rng::new(12, k as u64)).stratified(&Shape::new(shape), &common, &mut all);
            assert_eq!(all.len(), n);
            let mean = all.iter().sum::<f64>() / n as f64;
            assert!((mean / shape - 1.0).abs() < 2.5 / (shape * n as f64).sqrt(), "{shape} {mean}");
            // Shares below quantiles that the reference library computes.
            let of = statrs::distribution::Gamma::new(shape, 1.0).unwrap();
            for (q, within) in [(0.05, 0.012), (0.5, 0.02), (0.95, 0.012)] {
                let share = all.iter().filter(|x| of.cdf(**x) < q).count() as f64 / n as f64;
                assert!((share - q).abs() < within, "{shape} {q} {share}");
            }
        }
    }

    #[test]
    fn dirichlet_and_beta_have_their_moments() {
        for (k, shapes) in [vec![0.5, 49.5], vec![0.02, 1.0, 3.0], vec![2.0, 3.0, 0.0, 5.0]].into_iter().enumerate() {
            let (sum, mut out) = (shapes.iter().sum::<f64>(), vec![0.0; shapes.len()]);
            let ready: Vec<Shape> = shapes.iter().map(|&a| Shape::new(a)).collect();
            for i in 0..shapes.len() {
                let mut s = Sampler::new(Rng::new(5, (10 * k + i) as u64));
                let (mean, variance) = moments(100_000, || {
                    s.dirichlet(&ready, &mut out);
                    out[i]
                });
                let m = shapes[i] / sum;
                let v = m * (1.0 - m) / (sum + 1.0);
                assert!((mean - m).abs() <= 5.0 * (v / 1e5).sqrt(), "{m} {mean}");
                assert!((variance - v).abs() <= 0.1 * v, "{v} {variance}");
            }
        }
    }

    #[test]
    fn tiny_shapes_never_give_zero() {
        let (mut s, mut out) = (Sampler::new(Rng::new(1, 1)), [0.0; 2]);
        for _ in 0..1000 {
            s.dirichlet(&[1e-5, 1.0].map(Shape::new), &mut out);
            assert!(out[0] > 0.0 && out[1] > 0.0 && out[0].is_finite());
        }
    }
}

//! Probability that a gauge of given resolution shows a number, for each shape of distribution. Smooth in the number; knows no levels.
//!
//! **Formula.** A reading is rounded to the gauge's resolution r, and where the rounding falls is itself uncertain by r. So the probability
//! of a reading x is the mean, over one step, of the interval probability: `1/r integral over x +- r/2 of F(y + r/2) - F(y - r/2) dy`.
//! A limit is `P(reading > x)`, the mean of the survival function over one step. Both are once continuously differentiable for every
//! shape, the uniform and exponential with their edges included, and sum to one over the steps.
//!
//! Normal and lognormal: eight-point Gauss-Legendre over the step when the step is narrower than the distribution, in the tail's own
//! function, so that nothing cancels; else differences of the integrated cdf. Uniform and exponential: closed forms.
//! Assumption that can be false: the gauge has no bias.

use knowledge::base::Distribution;
use statrs::distribution::{ContinuousCDF, Normal};

/// Nodes and weights of the eight-point Gauss-Legendre rule on -1 to 1 (Abramowitz & Stegun, table 25.4), one half.
const GAUSS: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_5),
    (0.960_289_856_497_536_3, 0.101_228_536_290_376_3),
];

/// Probability of an exact reading.
#[must_use]
pub fn exact(distribution: &Distribution, x: f64, resolution: f64) -> f64 {
    // Finer than this the interval is a difference of equal numbers; the ratio between levels no longer changes there.
    let r = resolution.max(1e-6 * width(distribution));
    let share = resolution / r;
    share
        * match *distribution {
            Distribution::Uniform { low, high } => {
                (triangle((high - x) / r) - triangle((low - x) / r)).max(0.0) * r / (high - low)
            }
            Distribution::Exponential { mean } if x >= r => {
                mean / r * (-(x - r) / mean).exp() * (-r / mean).exp_m1().powi(2)
            }
            Distribution::Normal { .. } | Distribution::LogNormal { .. } if r < width(distribution) => {
                let upper = x > centre(distribution);
                over_step(x, r, |y| {
                    let (a, b) = (y - r / 2.0, y + r / 2.0);
                    if upper {
                        survival(distribution, a) - survival(distribution, b)
                    } else {
                        cumulated(distribution, b) - cumulated(distribution, a)
                    }
                })
            }
            _ => {
                // Both integrals give the same; the smaller one loses less. They meet at the mean.
                let h = if x > mean(distribution) { above } else { below };
                let (left, middle, right) = (h(distribution, x - r), h(distribution, x), h(distribution, x + r));
                ((left - middle) - (middle - right)).max(0.0) / r
            }
        }
}

/// Cdf of the triangular distribution on -1 to 1: two roundings together.
fn triangle(u: f64) -> f64 {
    let u = u.clamp(-1.0, 1.0);
    if u < 0.0 { 0.5 * (1.0 + u).powi(2) } else { 1.0 - 0.5 * (1.0 - u).powi(2) }
}

/// Mean of a function over one step round x.
fn over_step(x: f64, r: f64, f: impl Fn(f64) -> f64) -> f64 {
    GAUSS.iter().map(|(node, weight)| 0.5 * weight * (f(x - 0.5 * r * node) + f(x + 0.5 * r * node))).sum()
}

/// Probability of a reading beyond a limit.
#[must_use]
pub fn beyond(distribution: &Distribution, x: f64, resolution: f64) -> f64 {
    let r = resolution.max(1e-6 * width(distribution));
    if is_smooth(distribution) && r < width(distribution) {
        return over_step(x, r, |y| survival(distribution, y));
    }
    ((above(distribution, x - r / 2.0) - above(distribution, x + r / 2.0)) / r).clamp(0.0, 1.0)
}

/// Probability of a reading short of a limit.
#[must_use]
pub fn short_of(distribution: &Distribution, x: f64, resolution: f64) -> f64 {
    let r = resolution.max(1e-6 * width(distribution));
    if is_smooth(distribution) && r < width(distribution) {
        return over_step(x, r, |y| cumulated(distribution, y));
    }
    ((below(distribution, x + r / 2.0) - below(distribution, x - r / 2.0)) / r).clamp(0.0, 1.0)
}

fn is_smooth(distribution: &Distribution) -> bool {
    matches!(distribution, Distribution::Normal { .. } | Distribution::LogNormal { .. })
}

/// How many standard deviations of the underlying normal a number lies above the median; for the two smooth shapes.
fn standing(distribution: &Distribution, x: f64) -> f64 {
    match *distribution {
        Distribution::LogNormal { median, spread } => (x.max(0.0) / median).ln() / spread.ln(),
        _ => (x - centre(distribution)) / width(distribution),
    }
}

fn cumulated(distribution: &Distribution, x: f64) -> f64 {
    cdf(standing(distribution, x))
}

fn survival(distribution: &Distribution, x: f64) -> f64 {
    sf(standing(distribution, x))
}

/// Median, or the middle of a uniform.
pub fn centre(distribution: &Distribution) -> f64 {
    match *distribution {
        Distribution::Normal { mean, .. } => mean,
        Distribution::LogNormal { median, .. } => median,
        Distribution::Exponential { mean } => mean * std::f64::consts::LN_2,
        Distribution::Uniform { low, high } => 0.5 * (low + high),
    }
}

/// A width in the sense of about one standard deviation.
pub fn width(distribution: &Distribution) -> f64 {
    match *distribution {
        Distribution::Normal { sd, .. } => sd,
        Distribution::LogNormal { median, spread } => median * spread.ln(),
        Distribution::Exponential { mean } => mean,
        Distribution::Uniform { low, high } => high - low,
    }
}

fn mean(distribution: &Distribution) -> f64 {
    match *distribution {
        Distribution::LogNormal { median, spread } => median * (0.5 * spread.ln().powi(2)).exp(),
        Distribution::Exponential { mean } => mean,
        _ => centre(distribution),
    }
}

fn cdf(z: f64) -> f64 {
    Normal::standard().cdf(z)
}

fn sf(z: f64) -> f64 {
    Normal::standard().sf(z)
}

fn pdf(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// Integral of the cdf up to x.
fn below(distribution: &Distribution, x: f64) -> f64 {
    match *distribution {
        Distribution::Normal { mean, sd } => {
            let z = (x - mean) / sd;
            sd * (z * cdf(z) + pdf(z)).max(0.0)
        }
        Distribution::LogNormal { median, spread } => {
            if x <= 0.0 {
                return 0.0;
            }
            let s = spread.ln();
            let z = (x / median).ln() / s;
            (x * cdf(z) - median * (0.5 * s * s).exp() * cdf(z - s)).max(0.0)
        }
        Distribution::Exponential { mean } => {
            let t = x.max(0.0) / mean;
            mean * (t + (-t).exp_m1()).max(0.0)
        }
        Distribution::Uniform { low, high } => {
            let inside = (x - low).clamp(0.0, high - low);
            0.5 * inside * inside / (high - low) + (x - high).max(0.0)
        }
    }
}

/// Integral of the survival function from x up.
fn above(distribution: &Distribution, x: f64) -> f64 {
    match *distribution {
        Distribution::Normal { mean, sd } => {
            let z = (x - mean) / sd;
            sd * (pdf(z) - z * sf(z)).max(0.0)
        }
        Distribution::LogNormal { median, spread } => {
            let s = spread.ln();
            let mean = median * (0.5 * s * s).exp();
            if x <= 0.0 {
                return mean - x;
            }
            let z = (x / median).ln() / s;
            (mean * sf(z - s) - x * sf(z)).max(0.0)
        }
        Distribution::Exponential { mean } => {
            if x <= 0.0 {
                mean - x
            } else {
                mean * (-x / mean).exp()
            }
        }
        Distribution::Uniform { low, high } => {
            let inside = (high - x).clamp(0.0, high - low);
            0.5 * inside * inside / (high - low) + (low - x).max(0.0)
        }
    }
}

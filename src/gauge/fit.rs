//! Which shape three or more points have: a hole (square root falls linearly) or a long narrow path (exponential). Draws no conclusion on parts.
//!
//! Each shape has two free numbers, start and rate, fitted by least squares in pressure (Gauss-Newton with damping), so that the
//! residuals of both are pressures and comparable. Scatter of one reading: half the last written place, at least 0.25 % of the start. One shape is preferred when
//! it makes the points 20 times more probable (difference of squared residuals over twice the variance above ln 20).
//! Assumption that can be false: scatter is independent from point to point; a sticking needle is not.

use crate::decay::Law;
use crate::error::GaugeError;
use serde::Serialize;

/// Nobody reads a needle better than this share of the highest point. Judgement.
pub const NEEDLE_SHARE: f64 = 0.0025;

/// What the points say about the shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Shape {
    /// A hole: clean edge, fast gas.
    Orifice,
    /// A long narrow path: a crack, a porous wall, a seal that weeps.
    Laminar,
    /// Both fit within what the gauge can tell.
    CannotTell,
    /// Neither fits: temperature, evaporation, or a leak that changed during the hold.
    Neither,
}

/// One shape laid through the points.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fitted {
    /// Fitted pressure at time zero, Pa.
    pub start_pa: f64,
    /// Fitted pressure at the last point, Pa.
    pub end_pa: f64,
    /// `Cd A / V` in 1/m for a hole: clock units (s/m, see [`Law::clock`]) a second; 1/s for a narrow path.
    pub rate: f64,
    /// Point minus curve, Pa, in the order of the points.
    pub residuals_pa: Vec<f64>,
    /// Root of the mean squared residual, Pa.
    pub rms_pa: f64,
}

/// Both shapes and the verdict.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// As a hole.
    pub orifice: Fitted,
    /// As a narrow path.
    pub laminar: Fitted,
    /// Which of them.
    pub shape: Shape,
}

/// Fits both shapes to (seconds, Pa) points; `scatter_pa` is the standard deviation of one reading.
///
/// # Errors
/// With fewer than three points, two always fit.
pub fn compare(law: &Law, points: &[(f64, f64)], scatter_pa: f64) -> Result<Comparison, GaugeError> {
    if points.len() < 3 {
        return Err(GaugeError::nonsense(
            "two points fit every shape; take a third reading to tell a hole from a narrow path",
        ));
    }
    let span = points.last().map_or(1.0, |p| p.0) - points.first().map_or(0.0, |p| p.0);
    let highest = points.iter().map(|p| p.1).fold(f64::MIN_POSITIVE, f64::max);
    // Both curves are written in numbers near one: start and loss over the whole hold.
    let unit = law.clock(highest);
    let hole = |a: f64, b: f64, t: f64| law.level_pa(unit * (a - b * t / span));
    let path = |a: f64, b: f64, t: f64| highest * a.max(0.0) * (-b * t / span).exp();
    let straight: Vec<(f64, f64)> = points.iter().map(|p| (p.0 / span, law.clock(p.1) / unit)).collect();
    let logs: Vec<(f64, f64)> =
        points.iter().filter(|p| p.1 > 0.0).map(|p| (p.0 / span, (p.1 / highest).ln())).collect();
    let (a, b) = line(&straight);
    let (hole_a, hole_b) = improve(points, (a, -b), &hole);
    let (ln_a, b) = line(&logs);
    let (path_a, path_b) = improve(points, (ln_a.exp(), -b), &path);
    let orifice = fitted(points, unit * hole_b / span, |t| hole(hole_a, hole_b, t));
    let laminar = fitted(points, path_b / span, |t| path(path_a, path_b, t));
    let scatter = scatter_pa.max(highest * NEEDLE_SHARE);
    let squares = |f: &Fitted| f.residuals_pa.iter().map(|r| r * r).sum::<f64>();
    let lead = (squares(&laminar) - squares(&orifice)) / (2.0 * scatter * scatter);
    #[expect(clippy::cast_precision_loss, reason = "a reading has at most a few hundred points")]
    let free = (points.len() - 2) as f64;
    let best = (squares(&orifice).min(squares(&laminar)) / free).sqrt();
    let shape = if best > 3.0 * scatter {
        Shape::Neither
    } else if lead > 20f64.ln() {
        Shape::Orifice
    } else if -lead > 20f64.ln() {
        Shape::Laminar
    } else {
        Shape::CannotTell
    };
    Ok(Comparison { orifice, laminar, shape })
}

fn fitted(points: &[(f64, f64)], rate: f64, curve: impl Fn(f64) -> f64) -> Fitted {
    let residuals_pa: Vec<f64> = points.iter().map(|p| p.1 - curve(p.0)).collect();
    #[expect(clippy::cast_precision_loss, reason = "a reading has at most a few hundred points")]
    let rms_pa = (residuals_pa.iter().map(|r| r * r).sum::<f64>() / residuals_pa.len() as f64).sqrt();
    let end = points.last().map_or(0.0, |p| p.0);
    Fitted { start_pa: curve(points.first().map_or(0.0, |p| p.0)), end_pa: curve(end), rate, residuals_pa, rms_pa }
}

/// Intercept and slope of the least-squares line.
fn line(points: &[(f64, f64)]) -> (f64, f64) {
    #[expect(clippy::cast_precision_loss, reason = "a reading has at most a few hundred points")]
    let n = points.len().max(1) as f64;
    let (mx, my) = (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
    let sxx: f64 = points.iter().map(|p| (p.0 - mx).powi(2)).sum();
    let sxy: f64 = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
    let slope = if sxx > 0.0 { sxy / sxx } else { 0.0 };
    (my - slope * mx, slope)
}

/// Damped Gauss-Newton on two parameters, numerical slopes. Never returns a worse pair than it was given.
fn improve(points: &[(f64, f64)], start: (f64, f64), curve: &impl Fn(f64, f64, f64) -> f64) -> (f64, f64) {
    let cost = |a: f64, b: f64| points.iter().map(|p| (p.1 - curve(a, b, p.0)).powi(2)).sum::<f64>();
    let (mut a, mut b) = start;
    let mut best = cost(a, b);
    let mut damping = 1e-6;
    for _ in 0..100 {
        let h = 1e-6;
        let (mut aa, mut ab, mut bb, mut ra, mut rb) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for &(t, p) in points {
            let da = (curve(a + h, b, t) - curve(a - h, b, t)) / (2.0 * h);
            let db = (curve(a, b + h, t) - curve(a, b - h, t)) / (2.0 * h);
            let r = p - curve(a, b, t);
            aa += da * da;
            ab += da * db;
            bb += db * db;
            ra += da * r;
            rb += db * r;
        }
        let (da, db) = (aa * (1.0 + damping), bb * (1.0 + damping));
        let det = da * db - ab * ab;
        if det.is_nan() || det.abs() <= 0.0 {
            break;
        }
        let (na, nb) = (a + (ra * db - rb * ab) / det, b + (rb * da - ra * ab) / det);
        let next = cost(na, nb);
        if next < best {
            let done = best - next <= 1e-14 * best;
            (a, b, best, damping) = (na, nb, next, damping * 0.3);
            if done {
                break;
            }
        } else {
            damping *= 10.0;
            if damping > 1e12 {
                break;
            }
        }
    }
    (a, b)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::atmosphere::Surroundings;
    use crate::decay::{laminar_left_pa, left_after_pa};
    use crate::quantity::Side;

    fn times() -> impl Iterator<Item = f64> {
        (0..7).map(|i| f64::from(i) * 20.0)
    }

    #[test]
    fn own_shapes_are_recognised() -> Result<(), GaugeError> {
        for side in [Side::Pressure, Side::Vacuum] {
            let law = Law::of_air(side, &Surroundings::default());
            let hole: Vec<(f64, f64)> =
                times().map(|t| (t, left_after_pa(&law, 0.05, 0.61, 5e-4, 3487.0, t))).collect();
            let path: Vec<(f64, f64)> = times().map(|t| (t, laminar_left_pa(3487.0, 0.012, t))).collect();
            let found = compare(&law, &hole, 12.5)?;
            assert_eq!(found.shape, Shape::Orifice);
            assert!((found.orifice.rate * 0.05 / 0.61 / crate::orifice::area_m2(5e-4) - 1.0).abs() < 1e-6);
            let found = compare(&law, &path, 12.5)?;
            assert_eq!(found.shape, Shape::Laminar);
            assert!((found.laminar.rate - 0.012).abs() < 1e-8);
        }
        Ok(())
    }

    #[test]
    fn says_frankly_when_it_cannot_tell() -> Result<(), GaugeError> {
        let law = Law::of_air(Side::Pressure, &Surroundings::default());
        let short = [(0.0, 3487.0), (60.0, 3400.0), (120.0, 3315.0)];
        assert_eq!(compare(&law, &short, 12.5)?.shape, Shape::CannotTell);
        assert_eq!(compare(&law, &[(0.0, 3000.0), (60.0, 3000.0), (120.0, 3000.0)], 12.5)?.shape, Shape::CannotTell);
        let odd = [(0.0, 3487.0), (30.0, 2000.0), (60.0, 3400.0), (90.0, 1500.0)];
        assert_eq!(compare(&law, &odd, 12.5)?.shape, Shape::Neither);
        assert!(compare(&law, &short[..2], 12.5).is_err());
        Ok(())
    }
}

//! How pressure or vacuum in a sealed volume falls through a hole: closed forms, forward and back. Knows no gauges and no uncertainty.
//!
//! **Law.** Gas at constant temperature in a rigid volume V loses (or gains) mass through a hole of effective area Cd A.
//! Both sides have the closed form `t = V (G(p0) - G(p1)) / (Cd A)` with a clock function G in s/m:
//! - pressure: `G(p) = sqrt(2 rho p) / p_air`, so the square root of pressure falls linearly;
//! - vacuum: with `r = 1 - p / p_air`, `c² = p_air / rho`, `u² = 1 - r^((k-1)/k)`: `G = sqrt(2k/(k-1)) u / c` above the
//!   critical ratio; below it (deeper than about 14 inHg) the flow is choked and G goes on as a straight line in r.
//!   The substitution u makes the isentropic flow integrate exactly; for shallow vacuum G is that of pressure.
//!
//! Source: Bernoulli and isentropic nozzle flow, integrated here; checked against Runge-Kutta in the tests.
//! Assumptions that can be false: constant temperature, nothing evaporates, one hole whose edge stays the same.

use crate::atmosphere::{AIR_KAPPA, Surroundings};
use crate::error::GaugeError;
use crate::orifice::{area_m2, critical_ratio, diameter_m};
use crate::quantity::Side;

/// A side of the air outside, and the air that decides how fast gas passes a hole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Law {
    /// Above or below the air outside.
    pub side: Side,
    /// Pressure outside, Pa.
    pub air_pa: f64,
    /// Density of the gas that passes the hole, counted at outside pressure, kg/m³.
    pub density_kg_m3: f64,
}

impl Law {
    /// The law for air under these surroundings.
    #[must_use]
    pub fn of_air(side: Side, surroundings: &Surroundings) -> Self {
        Self { side, air_pa: surroundings.air_pa, density_kg_m3: surroundings.density_kg_m3() }
    }

    /// Speed scale `sqrt(p_air / rho)`, m/s.
    fn speed(&self) -> f64 {
        (self.air_pa / self.density_kg_m3).sqrt()
    }

    /// The clock function G in s/m: time left to zero for a unit of `V / (Cd A)`.
    #[must_use]
    pub fn clock(&self, from_air_pa: f64) -> f64 {
        let p = from_air_pa.max(0.0);
        if self.side == Side::Pressure {
            return (2.0 * self.density_kg_m3 * p).sqrt() / self.air_pa;
        }
        let k = AIR_KAPPA;
        let r = (1.0 - p / self.air_pa).max(0.0);
        let turn = critical_ratio();
        let u_squared = -((k - 1.0) / k * r.max(turn).ln()).exp_m1();
        let slow = (2.0 * k / (k - 1.0) * u_squared).sqrt() / self.speed();
        if r >= turn { slow } else { slow + (turn - r) / (self.speed() * choked_speed()) }
    }

    /// The pressure at which the clock shows `clock`: the inverse of [`Law::clock`].
    #[must_use]
    pub fn level_pa(&self, clock: f64) -> f64 {
        let g = clock.max(0.0);
        if self.side == Side::Pressure {
            return (g * self.air_pa).powi(2) / (2.0 * self.density_kg_m3);
        }
        let k = AIR_KAPPA;
        let turn = critical_ratio();
        let at_turn = (2.0 * k / (k + 1.0)).sqrt() / self.speed();
        if g > at_turn {
            let r = turn - (g - at_turn) * self.speed() * choked_speed();
            return self.air_pa * (1.0 - r.max(0.0));
        }
        let u = g * self.speed() / (2.0 * k / (k - 1.0)).sqrt();
        -(k / (k - 1.0) * (-u * u).ln_1p()).exp_m1() * self.air_pa
    }
}

/// Choked mass flow per area over density outside and speed scale: `sqrt(k) (2/(k+1))^((k+1)/(2(k-1)))` = 0.685.
fn choked_speed() -> f64 {
    let k = AIR_KAPPA;
    k.sqrt() * (2.0 / (k + 1.0)).powf((k + 1.0) / (2.0 * (k - 1.0)))
}

/// Seconds for a fall from `from_pa` to `to_pa`.
#[must_use]
pub fn seconds_to_fall(law: &Law, volume_m3: f64, cd: f64, diameter_m: f64, from_pa: f64, to_pa: f64) -> f64 {
    volume_m3 * (law.clock(from_pa) - law.clock(to_pa)) / (cd * area_m2(diameter_m))
}

/// What is left after `seconds`, Pa from the air outside.
#[must_use]
pub fn left_after_pa(law: &Law, volume_m3: f64, cd: f64, diameter_m: f64, from_pa: f64, seconds: f64) -> f64 {
    law.level_pa(law.clock(from_pa) - cd * area_m2(diameter_m) * seconds / volume_m3)
}

/// Diameter of the hole that explains a fall, m; zero when nothing fell.
///
/// # Errors
/// When no time passed, there is no volume, or the end lies above the start.
pub fn hole_m(law: &Law, volume_m3: f64, cd: f64, from_pa: f64, to_pa: f64, seconds: f64) -> Result<f64, GaugeError> {
    if seconds.is_nan() || seconds <= 0.0 {
        return Err(GaugeError::nonsense("no time has passed, so nothing can be said about a leak"));
    }
    if volume_m3.is_nan() || volume_m3 <= 0.0 {
        return Err(GaugeError::nonsense("the volume must be above zero"));
    }
    if to_pa > from_pa {
        return Err(GaugeError::nonsense("the end lies above the start: a leak only lets it fall"));
    }
    Ok(diameter_m(volume_m3 * (law.clock(from_pa) - law.clock(to_pa)) / (cd * seconds)))
}

/// Mean leak over a hold, m³/s counted at the pressure outside: `V dp / (p_air t)`. Ideal gas, constant temperature.
#[must_use]
pub fn mean_leak_m3_s(volume_m3: f64, drop_pa: f64, air_pa: f64, seconds: f64) -> f64 {
    volume_m3 * drop_pa / (air_pa * seconds)
}

/// What is left of a decay through a long narrow path, where flow is proportional to pressure: `p0 exp(-k t)`.
///
/// Source: Hagen-Poiseuille; the shape CARB TP-201.3 uses for its allowed final pressure. For contrast with the hole.
#[must_use]
pub fn laminar_left_pa(from_pa: f64, rate_per_s: f64, seconds: f64) -> f64 {
    from_pa * (-rate_per_s * seconds).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn law(side: Side) -> Law {
        Law::of_air(side, &Surroundings::default())
    }

    #[test]
    fn clock_and_level_undo_each_other() {
        for side in [Side::Pressure, Side::Vacuum] {
            for p in [1.0, 100.0, 3487.0, 40_000.0, 47_800.0, 47_900.0, 67_000.0, 90_000.0] {
                let back = law(side).level_pa(law(side).clock(p));
                assert!((back / p - 1.0).abs() < 1e-9, "{side:?} {p} {back}");
            }
        }
    }

    #[test]
    fn shallow_vacuum_is_shallow_pressure() {
        let (a, b) = (law(Side::Pressure).clock(10.0), law(Side::Vacuum).clock(10.0));
        assert!((a / b - 1.0).abs() < 1e-4);
    }

    #[test]
    fn refuses_what_cannot_be() {
        let law = law(Side::Vacuum);
        assert!(hole_m(&law, 0.05, 0.6, 10.0, 11.0, 60.0).is_err());
        assert!(hole_m(&law, 0.05, 0.6, 10.0, 9.0, 0.0).is_err());
        assert!(hole_m(&law, 0.0, 0.6, 10.0, 9.0, 60.0).is_err());
        assert!(hole_m(&law, 0.05, 0.6, f64::NAN, 9.0, f64::NAN).is_err());
    }
}

//! Steady flow of gas through a small hole, and back from flow to hole. Knows nothing of volumes or time.

use crate::atmosphere::AIR_KAPPA;
use crate::error::GaugeError;
use std::f64::consts::PI;

/// Discharge coefficient of a clean sharp-edged hole at low speed; the value behind every headline.
pub const CD_USUAL: f64 = 0.61;
/// What a real hole can have: sharp edge 0.563 to 0.788, short tube 0.81 to 0.84.
/// Source: W. C. Unwin, "Hydraulics", Encyclopædia Britannica 11th ed., Weisbach's values for air, rounded outwards.
pub const CD_RANGE: (f64, f64) = (0.56, 0.84);

/// Area of a round hole, m².
#[must_use]
pub fn area_m2(diameter_m: f64) -> f64 {
    PI / 4.0 * diameter_m * diameter_m
}

/// Diameter of the round hole with this area, m.
#[must_use]
pub fn diameter_m(area_m2: f64) -> f64 {
    (4.0 * area_m2 / PI).sqrt()
}

/// Volume flow through a hole, `Q = Cd A sqrt(2 dp / rho)`, m³/s at the density given.
///
/// Source: Bernoulli with a discharge coefficient (Unwin, EB11). Assumption that can be false: the gas does not expand on its way,
/// good to 0.3 % below 30 inH2O of pressure and to 4 % at 30 inH2O of vacuum; and the hole is round and thin.
#[must_use]
pub fn flow_m3_s(cd: f64, diameter_m: f64, difference_pa: f64, density_kg_m3: f64) -> f64 {
    cd * area_m2(diameter_m) * (2.0 * difference_pa / density_kg_m3).sqrt()
}

/// Expansibility of gas through a nozzle far smaller than what it opens from.
///
/// `e² = k/(k-1) r^(2/k) (1 - r^((k-1)/k)) / (1 - r)`, r = downstream over upstream pressure. Source: isentropic flow, ISO 5167-3
/// with no approach velocity. Below the critical ratio 0.528 the flow no longer grows (choked).
#[must_use]
pub fn expansibility(ratio: f64) -> f64 {
    if ratio >= 1.0 {
        return 1.0;
    }
    let k = AIR_KAPPA;
    let r = ratio.max(critical_ratio());
    let flow = k / (k - 1.0) * r.powf(2.0 / k) * (1.0 - r.powf((k - 1.0) / k));
    (flow / (1.0 - ratio.max(0.0))).sqrt()
}

/// Pressure ratio below which flow is choked, `(2/(k+1))^(k/(k-1))` = 0.528 for air.
#[must_use]
pub fn critical_ratio() -> f64 {
    (2.0 / (AIR_KAPPA + 1.0)).powf(AIR_KAPPA / (AIR_KAPPA - 1.0))
}

/// Outside air drawn through a hole by a vacuum, m³/s at the density outside, expansion and choking included.
#[must_use]
pub fn flow_into_vacuum_m3_s(cd: f64, diameter_m: f64, vacuum_pa: f64, air_pa: f64, density_kg_m3: f64) -> f64 {
    flow_m3_s(cd, diameter_m, vacuum_pa, density_kg_m3) * expansibility(1.0 - vacuum_pa / air_pa)
}

/// Gas pushed out by a pressure, m³/s counted at the pressure outside, expansion included.
#[must_use]
pub fn flow_from_pressure_m3_s(
    cd: f64,
    diameter_m: f64,
    pressure_pa: f64,
    air_pa: f64,
    density_outside_kg_m3: f64,
) -> f64 {
    let upstream = air_pa + pressure_pa;
    let density = density_outside_kg_m3 * upstream / air_pa;
    flow_m3_s(cd, diameter_m, pressure_pa, density) * expansibility(air_pa / upstream) * density / density_outside_kg_m3
}

/// Diameter of the hole that passes this flow, m: the inverse of [`flow_m3_s`] with an expansibility.
///
/// # Errors
/// When the pressure difference is not above zero: without one nothing flows.
pub fn hole_from_flow_m(
    flow_m3_s: f64,
    cd: f64,
    difference_pa: f64,
    density_kg_m3: f64,
    expansibility: f64,
) -> Result<f64, GaugeError> {
    if difference_pa <= 0.0 {
        return Err(GaugeError::nonsense("a flow without a pressure difference says nothing about a hole"));
    }
    Ok(diameter_m(flow_m3_s / (cd * expansibility * (2.0 * difference_pa / density_kg_m3).sqrt())))
}

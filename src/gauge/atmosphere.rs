//! The air outside: its pressure by height, its density, and what an engine's idle vacuum can be in it.

use crate::error::GaugeError;
use crate::quantity::{Quantity, Reference};
use crate::units::Kind;
use serde::Serialize;

/// Standard pressure at sea level, Pa (U.S. Standard Atmosphere 1976).
pub const SEA_LEVEL_PA: f64 = 101_325.0;
/// Specific gas constant of dry air, J/(kg K): 8.31446 / 0.0289647 (molar mass of the same standard, to 5 digits).
pub const AIR_GAS_CONSTANT: f64 = 287.055;
/// Ratio of specific heats of air.
pub const AIR_KAPPA: f64 = 1.4;
/// 20 °C in K.
pub const ROOM_K: f64 = 293.15;
/// Idle vacuum of a sound petrol engine near sea level, inHg. Common practice, no source.
pub const IDLE_INHG: (f64, f64) = (15.0, 20.0);

/// Pressure at a geometric height in the troposphere, in Pa.
///
/// `p = p0 (1 - L H / T0)^(g M / R L)`, `H = r z / (r + z)`. Source: U.S. Standard Atmosphere 1976, layer 0 to 11 km.
/// Assumption that can be false: today's weather is the standard day; highs and lows move it by about 3 %.
#[must_use]
pub fn pressure_at_height_pa(height_m: f64) -> f64 {
    pressure_at_geopotential_pa(6_356_766.0 * height_m / (6_356_766.0 + height_m))
}

/// The same at a geopotential height, as tables in feet for aviation print it. The two differ by 3 Pa at 5,000 ft.
#[must_use]
pub fn pressure_at_geopotential_pa(geopotential_m: f64) -> f64 {
    SEA_LEVEL_PA * (1.0 - 0.0065 * geopotential_m / 288.15).powf(5.255_877)
}

/// Density of dry air as an ideal gas, kg/m³. At 20 °C and sea level within 0.1 % of the real, dry gas; moist air is up to 1 % lighter.
#[must_use]
pub fn air_density_kg_m3(pressure_pa: f64, temperature_k: f64) -> f64 {
    pressure_pa / (AIR_GAS_CONSTANT * temperature_k)
}

/// Idle vacuum to expect under this air pressure: low and high, in inHg.
///
/// The sea-level range times the ratio of air pressures. Common practice, no source: the throttled engine keeps about the same
/// *ratio* of manifold to outside pressure. False for engines idling with late cams, without a throttle or under load.
#[must_use]
pub fn idle_vacuum_inhg(air_pa: f64) -> (f64, f64) {
    let ratio = air_pa / SEA_LEVEL_PA;
    (IDLE_INHG.0 * ratio, IDLE_INHG.1 * ratio)
}

/// The air around the vehicle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Surroundings {
    /// Pressure of the air at the vehicle, Pa.
    pub air_pa: f64,
    /// Temperature of the air, K.
    pub air_k: f64,
    /// Whether somebody said so, or the standard values are assumed.
    pub stated: bool,
}

impl Default for Surroundings {
    fn default() -> Self {
        Self { air_pa: SEA_LEVEL_PA, air_k: ROOM_K, stated: false }
    }
}

impl Surroundings {
    /// From a height or a barometer, and a temperature; what is not given is standard.
    ///
    /// # Errors
    /// When both height and barometer are given, or one cannot be.
    pub fn from(
        height: Option<Quantity>,
        barometer: Option<Quantity>,
        temperature: Option<Quantity>,
    ) -> Result<Self, GaugeError> {
        let air_pa = match (height, barometer) {
            (Some(_), Some(_)) => return Err(GaugeError::nonsense("give a height or a barometer reading, not both")),
            (Some(height), None) => pressure_at_height_pa(height.must_be(Kind::Height)?.si()),
            (None, Some(barometer)) => barometer_pa(barometer)?,
            (None, None) => SEA_LEVEL_PA,
        };
        let air_k = temperature.map_or(Ok(ROOM_K), |t| t.must_be(Kind::Temperature).map(Quantity::si))?;
        if !(223.15..=343.15).contains(&air_k) {
            return Err(GaugeError::nonsense("the air round a vehicle is between -50 and 70 °C"));
        }
        Ok(Self { air_pa, air_k, stated: height.or(barometer).or(temperature).is_some() })
    }

    /// Density of this air, kg/m³.
    #[must_use]
    pub fn density_kg_m3(&self) -> f64 {
        air_density_kg_m3(self.air_pa, self.air_k)
    }
}

/// A barometer reading in Pa: absolute by nature, between the summit of Everest and the deepest high.
///
/// # Errors
/// When it is marked as gauge or vacuum, or lies outside 30 to 110 kPa.
pub fn barometer_pa(barometer: Quantity) -> Result<f64, GaugeError> {
    let pa = barometer.must_be(Kind::Pressure)?.si();
    if matches!(barometer.reference, Reference::Gauge | Reference::Vacuum) {
        return Err(GaugeError::nonsense(format!("{barometer}: a barometer reads absolute pressure")));
    }
    if !(30_000.0..=110_000.0).contains(&pa) {
        return Err(GaugeError::OutOfReach {
            what: barometer.to_string(),
            why: "a barometer reads between 9 and 32.5 inHg (30 to 110 kPa)".into(),
        });
    }
    Ok(pa)
}

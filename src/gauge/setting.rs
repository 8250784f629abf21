//! Everything around a hold or a flow except the needle: what is tested, its volume, gas, temperature, gauge and the air outside.

use crate::atmosphere::Surroundings;
use crate::decay::Law;
use crate::digits::tidy;
use crate::error::GaugeError;
use crate::limits::Subject;
use crate::quantity::{Quantity, Side};
use crate::space::VapourSpace;
use crate::units::Kind;

/// Density of what leaves a hole, as a multiple of air's: least (nitrogen), usual, most (37 % petrol vapour, from AP-42 ch. 7.1).
pub const GAS_DENSITY: (f64, f64, f64) = (0.967, 1.0, 1.5);

/// Everything around a hold except its needle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// What the gauge is connected to.
    pub subject: Subject,
    /// Pressure or vacuum, where the numbers do not say.
    pub side: Option<Side>,
    /// The volume behind the gauge.
    pub space: VapourSpace,
    /// How much warmer (or, negative, colder) the gas was at the end; a [`Kind::Warming`].
    pub warming: Option<Quantity>,
    /// What the gauge resolves, a pressure; without it the last place written.
    pub resolution: Option<Quantity>,
    /// The air outside.
    pub surroundings: Surroundings,
}

impl Default for Setting {
    fn default() -> Self {
        Self {
            subject: Subject::System,
            side: None,
            space: VapourSpace::Unknown,
            warming: None,
            resolution: None,
            surroundings: Surroundings::default(),
        }
    }
}

impl Setting {
    /// Density of the gas in the hole: outside air under vacuum, whatever fills the system under pressure.
    pub(crate) fn densities(&self, side: Side) -> (f64, f64, f64) {
        let air = self.surroundings.density_kg_m3();
        if side == Side::Vacuum || !self.subject.has_fuel() {
            (air, air, air)
        } else {
            (air * GAS_DENSITY.0, air, air * GAS_DENSITY.2)
        }
    }

    pub(crate) fn law(&self, side: Side, density_kg_m3: f64) -> Law {
        Law { side, air_pa: self.surroundings.air_pa, density_kg_m3 }
    }

    pub(crate) fn resolution_pa(&self, written: f64) -> Result<f64, GaugeError> {
        self.resolution.map_or(Ok(written), |resolution| {
            let pa = resolution.above_zero(Kind::Pressure, "the gauge's resolution")?;
            Ok(pa)
        })
    }

    pub(crate) fn air_words(&self) -> String {
        let air = &self.surroundings;
        let word = if air.stated { "air outside" } else { "air outside not stated: standard" };
        format!("{word} {} kPa, {} °C", tidy(air.air_pa / 1e3), tidy(air.air_k - 273.15))
    }
}

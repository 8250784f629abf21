//! Coils, lamps, series resistance and two-point sensors: plain direct-current arithmetic. Knows no wiring of any vehicle.

use crate::error::GaugeError;

/// Temperature coefficient of copper at 20 °C, per °C. Source: NBS Handbook 100 (annealed copper).
pub const COPPER_PER_C: f64 = 0.00393;
/// Between these the straight line is good to about 1 %, °C.
pub const COPPER_RANGE_C: (f64, f64) = (-60.0, 200.0);
/// Filament current goes with this power of voltage at least (0.5) and at most (1, a plain resistor). Rule of lamp makers, from memory (about 0.55).
pub const FILAMENT_EXPONENT: (f64, f64) = (0.5, 1.0);

/// A 21 W signal lamp takes at most this at this voltage: 26.5 W at 13.5 V. Source: UN Regulation 37.
pub const LAMP_21_W: (f64, f64) = (26.5, 13.5);

/// Factor by which copper's resistance at `celsius` exceeds that at 20 °C: `1 + 0.00393 (T - 20)`.
///
/// Assumption that can be false: the whole winding has this temperature, and is copper.
///
/// # Errors
/// Outside -60 to 200 °C, where the straight line does not hold.
pub fn copper_factor(celsius: f64) -> Result<f64, GaugeError> {
    if (COPPER_RANGE_C.0..=COPPER_RANGE_C.1).contains(&celsius) {
        Ok(1.0 + COPPER_PER_C * (celsius - 20.0))
    } else {
        Err(GaugeError::nonsense("a copper coil is computed between -60 and 200 °C only"))
    }
}

/// Resistance at one temperature from that at another, ohm.
///
/// # Errors
/// When a temperature is outside what copper's straight line covers.
pub fn coil_ohm_at(ohm: f64, from_celsius: f64, to_celsius: f64) -> Result<f64, GaugeError> {
    Ok(ohm * copper_factor(to_celsius)? / copper_factor(from_celsius)?)
}

/// Something that draws current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Load {
    /// A filament lamp: rated power at rated voltage.
    Lamp {
        /// Watts.
        watt: f64,
        /// Volts at which it takes them.
        volt: f64,
    },
    /// A coil or resistor.
    Coil {
        /// Ohms.
        ohm: f64,
    },
}

/// What flows and what is lost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circuit {
    /// Current, A.
    pub ampere: f64,
    /// Lost over the series resistance, V.
    pub lost_v: f64,
    /// Left for the load, V.
    pub load_v: f64,
}

/// Load in series with a resistance on a supply: `I = I0 (U/U0)^n` for the load, `U = supply - I R`.
///
/// `exponent` is 1 for a resistor; a warm filament lies between 0.5 and 1. Solved by bisection on the voltage of the load:
/// its current rises and the current left by the resistance falls, so there is exactly one crossing.
#[must_use]
pub fn series_circuit(load: Load, supply_v: f64, series_ohm: f64, exponent: f64) -> Circuit {
    let draw = |volt: f64| match load {
        Load::Lamp { watt, volt: rated } => watt / rated * (volt / rated).powf(exponent),
        Load::Coil { ohm } => volt / ohm,
    };
    let (mut low, mut high) = (0.0, supply_v);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle + draw(middle) * series_ohm > supply_v {
            high = middle;
        } else {
            low = middle;
        }
    }
    let load_v = 0.5 * (low + high);
    Circuit { ampere: draw(load_v), lost_v: supply_v - load_v, load_v }
}

/// The resistance that explains a voltage lost under a load, ohm.
///
/// # Errors
/// When the loss is not between zero and the supply.
pub fn series_ohm_from_loss(load: Load, supply_v: f64, lost_v: f64, exponent: f64) -> Result<f64, GaugeError> {
    if !(0.0..supply_v).contains(&lost_v) {
        return Err(GaugeError::nonsense("the voltage lost lies between zero and the supply voltage"));
    }
    let ampere = series_circuit(load, supply_v - lost_v, 0.0, exponent).ampere;
    Ok(lost_v / ampere)
}

/// A sensor known at two points: pressure in Pa and its voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoPoints {
    /// First (Pa, V).
    pub first: (f64, f64),
    /// Second (Pa, V).
    pub second: (f64, f64),
}

impl TwoPoints {
    /// Two different points.
    ///
    /// # Errors
    /// When pressures or voltages coincide, so that no line is defined.
    pub fn new(first: (f64, f64), second: (f64, f64)) -> Result<Self, GaugeError> {
        let all = [first.0, first.1, second.0, second.1];
        if all.iter().any(|x| !x.is_finite())
            || first.0.total_cmp(&second.0).is_eq()
            || first.1.total_cmp(&second.1).is_eq()
        {
            return Err(GaugeError::nonsense("the two calibration points must differ in pressure and in voltage"));
        }
        Ok(Self { first, second })
    }

    /// Voltage at a pressure, on the straight line through both points.
    #[must_use]
    pub fn volt_at(&self, pa: f64) -> f64 {
        self.first.1 + (pa - self.first.0) * (self.second.1 - self.first.1) / (self.second.0 - self.first.0)
    }

    /// Pressure at a voltage.
    #[must_use]
    pub fn pa_at(&self, volt: f64) -> f64 {
        self.first.0 + (volt - self.first.1) * (self.second.0 - self.first.0) / (self.second.1 - self.first.1)
    }

    /// Whether a pressure lies between the two points; outside, the line is a guess.
    #[must_use]
    pub fn covers(&self, pa: f64) -> bool {
        let (low, high) = (self.first.0.min(self.second.0), self.first.0.max(self.second.0));
        let slack = (high - low) * 1e-9;
        (low - slack..=high + slack).contains(&pa)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn loss_and_resistance_undo_each_other() -> Result<(), GaugeError> {
        for load in [Load::Lamp { watt: 26.5, volt: 13.5 }, Load::Coil { ohm: 26.0 }] {
            for exponent in [0.5, 0.55, 1.0] {
                let lost = series_circuit(load, 12.6, 1.3, exponent).lost_v;
                assert!((series_ohm_from_loss(load, 12.6, lost, exponent)? - 1.3).abs() < 1e-9);
            }
        }
        Ok(())
    }

    #[test]
    fn a_sensor_line_goes_both_ways() -> Result<(), GaugeError> {
        let line = TwoPoints::new((-3487.0, 0.5), (1245.0, 4.5))?;
        assert!((line.pa_at(line.volt_at(-100.0)) + 100.0).abs() < 1e-9);
        assert!(!line.covers(2000.0));
        assert!(TwoPoints::new((1.0, 0.5), (1.0, 4.5)).is_err());
        Ok(())
    }
}

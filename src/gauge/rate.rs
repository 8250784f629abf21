//! Molar leak rate of an evacuated volume, as exhaust-analyser rules compute it. Says nothing about hole sizes.

use crate::error::GaugeError;

/// Molar gas constant, J/(mol K). Exact since 2019.
pub const GAS_CONSTANT: f64 = 8.314_462_618;

/// Pressure and temperature at one moment of a vacuum hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// Absolute pressure, Pa.
    pub pressure_pa: f64,
    /// Temperature of the gas, K.
    pub temperature_k: f64,
    /// Time, s.
    pub seconds: f64,
}

/// Leak rate in mol/s: `n = V/R (p2/T2 - p1/T1) / (t2 - t1)`.
///
/// Source: 40 CFR 1065.644. Assumption that can be false: nothing evaporates inside; fuel in the tank does.
///
/// # Errors
/// When no time passes, a pressure or temperature cannot be, or the pressure fell with nothing to explain it.
pub fn vacuum_decay_mol_s(volume_m3: f64, first: Moment, last: Moment) -> Result<f64, GaugeError> {
    if !(volume_m3 > 0.0 && volume_m3.is_finite()) {
        return Err(GaugeError::nonsense("the volume must be above zero"));
    }
    if last.seconds.total_cmp(&first.seconds).is_le() {
        return Err(GaugeError::nonsense("no time has passed between the two moments"));
    }
    for moment in [first, last] {
        if !(moment.pressure_pa >= 0.0 && moment.pressure_pa.is_finite()) {
            return Err(GaugeError::nonsense("an absolute pressure cannot be below zero"));
        }
        if !(moment.temperature_k > 0.0 && moment.temperature_k.is_finite()) {
            return Err(GaugeError::nonsense("an absolute temperature must be above zero"));
        }
    }
    let amount = last.pressure_pa / last.temperature_k - first.pressure_pa / first.temperature_k;
    if amount < 0.0 {
        return Err(GaugeError::nonsense(
            "gas disappeared: the vacuum grew by more than the temperature explains; read the gauge again",
        ));
    }
    Ok(volume_m3 / GAS_CONSTANT * amount / (last.seconds - first.seconds))
}

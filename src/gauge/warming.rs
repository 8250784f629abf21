//! What a change of temperature does to a closed vapour space, and whether it could be the whole of a decay. Knows no holes.

use crate::digits::rough;
use crate::quantity::Side;

/// Reid vapour pressure assumed for petrol, psi: a summer grade. Winter petrol (up to 15) is worse.
pub const RVP_PSI: f64 = 9.0;
/// Change that a parked vehicle's vapour space can make unnoticed during a hold, K. Judgement.
pub const UNNOTICED_K: f64 = 2.0;

/// Dry gas in a rigid closed space: `dp/dT = p / T`, Pa per K. 1.39 inH2O/K at 20 °C and sea level. Ideal gas.
#[must_use]
pub fn dry_pa_per_k(absolute_pa: f64, temperature_k: f64) -> f64 {
    absolute_pa / temperature_k
}

/// Vapour pressure of petrol, Pa: `exp(A - B/T)` psi, T in degrees Rankine.
///
/// Source: US EPA AP-42 chapter 7.1, refined petroleum stocks with distillation slope 3, constants *from memory*;
/// RVP 9 at 20 °C gives 37 kPa, the 37 % of vapour that chapter's tables lead to.
#[must_use]
pub fn petrol_vapour_pa(rvp_psi: f64, temperature_k: f64) -> f64 {
    let (a, b) = petrol_constants(rvp_psi);
    (a - b / (temperature_k * 1.8)).exp() * 6894.757
}

/// Slope of [`petrol_vapour_pa`], Pa per K. About 5.1 inH2O/K at 20 °C for RVP 9.
///
/// Assumption that can be false, and then on the safe side: the vapour keeps up with the temperature. In a hold of minutes it partly does.
#[must_use]
pub fn petrol_pa_per_k(rvp_psi: f64, temperature_k: f64) -> f64 {
    let (_, b) = petrol_constants(rvp_psi);
    petrol_vapour_pa(rvp_psi, temperature_k) * b / (1.8 * temperature_k * temperature_k)
}

fn petrol_constants(rvp_psi: f64) -> (f64, f64) {
    let root = 3f64.sqrt();
    let ln_rvp = rvp_psi.ln();
    let a = 15.64 - 1.854 * root - (0.8742 - 0.3280 * root) * ln_rvp;
    let b = 8742.0 - 1042.0 * root - (1049.0 - 179.4 * root) * ln_rvp;
    (a, b)
}

/// Pa per K of a closed space: dry, and with petrol inside.
#[must_use]
pub fn slopes_pa_per_k(absolute_pa: f64, temperature_k: f64, petrol: bool) -> (f64, f64) {
    let dry = dry_pa_per_k(absolute_pa, temperature_k);
    let wet = if petrol { petrol_pa_per_k(RVP_PSI, temperature_k) } else { 0.0 };
    (dry, dry + wet)
}

/// The sentence that warns when temperature alone could have made a decay; none when it would take an obvious change.
#[must_use]
pub fn could_fake(drop_pa: f64, side: Side, slopes: (f64, f64)) -> Option<String> {
    let (most, least) = (drop_pa / slopes.0, drop_pa / slopes.1);
    if drop_pa <= 0.0 || least > UNNOTICED_K {
        return None;
    }
    let change = if side == Side::Pressure { "cooling" } else { "warming" };
    let span = if (most - least).abs() < 1e-9 {
        rough(least)
    } else {
        format!("{} (petrol vapour keeping up) to {} (dry)", rough(least), rough(most))
    };
    let how = if side == Side::Pressure {
        "a cold floor or fresh gas that settles"
    } else {
        "sun, a warm exhaust, evaporating fuel"
    };
    Some(format!(
        "{change} of the enclosed gas by {span} K would look the same without any leak ({how}): wait until it is steady and repeat, or state the change of temperature"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slopes_at_room_temperature() {
        // Source: ideal gas; AP-42 ch. 7.1 (constants from memory).
        assert!((dry_pa_per_k(101_325.0, 293.15) / 249.089 - 1.39).abs() < 0.005);
        assert!((petrol_pa_per_k(9.0, 293.15) / 249.089 - 5.1).abs() < 0.05);
        assert!((petrol_vapour_pa(9.0, 293.15) / 101_325.0 - 0.37).abs() < 0.005);
        let numeric = (petrol_vapour_pa(9.0, 293.16) - petrol_vapour_pa(9.0, 293.14)) / 0.02;
        assert!((numeric / petrol_pa_per_k(9.0, 293.15) - 1.0).abs() < 1e-6);
    }

    #[test]
    fn warns_only_where_temperature_could_do_it() {
        assert!(could_fake(249.0, Side::Pressure, (345.6, 1620.0)).is_some_and(|w| w.contains("cooling")));
        assert!(could_fake(6.0 * 249.0, Side::Vacuum, (345.6, 345.6)).is_none());
        assert!(could_fake(0.0, Side::Vacuum, (345.6, 345.6)).is_none());
    }
}

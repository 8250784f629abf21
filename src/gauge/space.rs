//! How large the closed vapour space is, as a range: from a stated volume, from tank and fuel level, or unknown.

use crate::digits::tidy;
use crate::error::GaugeError;
use crate::quantity::Quantity;
use crate::units::Kind;

/// Canister, hoses and neck on top of the tank, m³: least, usual, most. Judgement.
pub const BESIDE_TANK_M3: (f64, f64, f64) = (0.001, 0.003, 0.006);
/// How far a fuel gauge can be wrong, as share of the tank. Judgement.
pub const SENDER_SHARE: f64 = 0.05;
/// How far a stated volume can be wrong. Judgement.
pub const STATED_SHARE: f64 = 0.10;
/// Used when nothing is said, m³: low, usual, high. About the default tank of US EPA MOVES5, 19.1 gal at 40 % full, and its neighbours.
pub const UNKNOWN_M3: (f64, f64, f64) = (0.030, 0.050, 0.080);
/// Above this fuel level a leak check may be switched off. Source: 13 CCR 1968.2 (e)(4).
pub const FULL_SHARE: f64 = 0.85;

/// What is said about the volume behind the gauge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum VapourSpace {
    /// A volume, and the tank it belongs to when it is one.
    Stated {
        /// The volume under test.
        volume: Quantity,
        /// The nominal size of the tank.
        tank: Option<Quantity>,
    },
    /// Tank size and fuel level.
    Tank {
        /// Nominal size.
        tank: Quantity,
        /// How full it is.
        fuel: Quantity,
    },
    /// Nothing is known.
    Unknown,
}

/// The range of a volume, and what was taken for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Space {
    /// Least, m³.
    pub low_m3: f64,
    /// The value behind the headline, m³.
    pub usual_m3: f64,
    /// Most, m³.
    pub high_m3: f64,
    /// In words.
    pub words: String,
    /// What to beware of.
    pub warnings: Vec<String>,
}

impl VapourSpace {
    /// The volume as a range.
    ///
    /// # Errors
    /// When it is larger than its tank can hold, the fuel level is no share, or the tank is no vehicle's.
    pub fn space(&self) -> Result<Space, GaugeError> {
        match self {
            Self::Stated { volume, tank } => stated(*volume, *tank),
            Self::Tank { tank, fuel } => from_tank(*tank, *fuel),
            Self::Unknown => Ok(Space {
                low_m3: UNKNOWN_M3.0,
                usual_m3: UNKNOWN_M3.1,
                high_m3: UNKNOWN_M3.2,
                words: "vapour space not stated: 30 to 80 L, usually about 50 L".into(),
                warnings: vec!["the vapour space is a guess; tank size and fuel level would narrow the range".into()],
            }),
        }
    }
}

fn stated(volume: Quantity, tank: Option<Quantity>) -> Result<Space, GaugeError> {
    let m3 = volume.above_zero(Kind::Volume, "the volume")?;
    if let Some(tank) = tank {
        let most = tank_m3(tank)? + BESIDE_TANK_M3.2;
        if m3 > most {
            return Err(GaugeError::nonsense(format!(
                "{volume} is larger than the tank ({tank}) with its canister and hoses ({} L): the vapour space is what the fuel leaves free",
                tidy(most * 1e3)
            )));
        }
    }
    let words = format!("volume {volume}, give or take {} %", tidy(STATED_SHARE * 100.0));
    Ok(Space {
        low_m3: m3 * (1.0 - STATED_SHARE),
        usual_m3: m3,
        high_m3: m3 * (1.0 + STATED_SHARE),
        words,
        warnings: Vec::new(),
    })
}

fn from_tank(tank: Quantity, fuel: Quantity) -> Result<Space, GaugeError> {
    let m3 = tank_m3(tank)?;
    let share = fuel.must_be(Kind::Share)?.si();
    if !(0.0..=1.0).contains(&share) {
        return Err(GaugeError::nonsense(format!("a tank is 0 to 100 % full, not {fuel}")));
    }
    let (least, usual, most) = BESIDE_TANK_M3;
    let free = |share: f64| m3 * (1.0 - share.clamp(0.0, 1.0));
    let mut warnings = Vec::new();
    if share > FULL_SHARE {
        warnings.push(
            "above 85 % fuel the vehicle's own leak check may not run, and the vapour space is small and uncertain"
                .into(),
        );
    }
    let words = format!(
        "tank {tank}, {fuel} full (give or take {} %), plus {} to {} L of canister and hoses",
        tidy(SENDER_SHARE * 100.0),
        tidy(least * 1e3),
        tidy(most * 1e3)
    );
    Ok(Space {
        low_m3: free(share + SENDER_SHARE) + least,
        usual_m3: free(share) + usual,
        high_m3: free(share - SENDER_SHARE) + most,
        words,
        warnings,
    })
}

fn tank_m3(tank: Quantity) -> Result<f64, GaugeError> {
    let m3 = tank.above_zero(Kind::Volume, "the tank")?;
    if (0.001..=1.0).contains(&m3) {
        Ok(m3)
    } else {
        Err(GaugeError::OutOfReach { what: tank.to_string(), why: "a vehicle's tank holds 1 to 1,000 L".into() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{LITRE_VOLUME, PERCENT};

    #[test]
    fn the_free_part_of_a_tank_and_what_cannot_be() -> Result<(), GaugeError> {
        let litres = |value| Quantity::new(value, LITRE_VOLUME);
        let space = VapourSpace::Tank { tank: litres(60.0)?, fuel: Quantity::new(50.0, PERCENT)? }.space()?;
        assert!(
            (space.usual_m3 - 0.033).abs() < 1e-12 && space.low_m3 < space.usual_m3 && space.usual_m3 < space.high_m3
        );
        assert!(VapourSpace::Stated { volume: litres(70.0)?, tank: Some(litres(60.0)?) }.space().is_err());
        assert!(VapourSpace::Stated { volume: litres(0.0)?, tank: None }.space().is_err());
        assert!(VapourSpace::Tank { tank: litres(60.0)?, fuel: Quantity::new(120.0, PERCENT)? }.space().is_err());
        assert!(
            !VapourSpace::Tank { tank: litres(60.0)?, fuel: Quantity::new(90.0, PERCENT)? }
                .space()?
                .warnings
                .is_empty()
        );
        Ok(())
    }
}

//! Numbers with their unit: as written, and checked and typed in SI. Answers for gauge against absolute pressure; reads no text.

use crate::digits::tidy;
use crate::error::GaugeError;
use crate::units::{Kind, Unit};
use serde::Serialize;
use std::fmt;

/// What a written pressure is counted from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reference {
    /// Not said. A negative number can only be below the air outside; a positive one needs the [`Side`] of the question.
    Unstated,
    /// From the air outside, positive above it.
    Gauge,
    /// From the air outside, positive below it.
    Vacuum,
    /// From nothing.
    Absolute,
}

/// On which side of the air outside a pressure lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// Above the air outside.
    Pressure,
    /// Below it.
    Vacuum,
}

/// A quantity as somebody wrote it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Quantity {
    /// The number as written, in `unit`.
    pub value: f64,
    /// The unit written.
    pub unit: Unit,
    /// What a pressure counts from; `Unstated` for everything else.
    pub reference: Reference,
    /// One in the last place written, in `unit`: 0.1 for 19.3. The finest the gauge can have been read.
    pub step: f64,
}

impl Quantity {
    /// A quantity the program states itself, known exactly.
    ///
    /// # Errors
    /// When the number is not finite, or outside what this kind can be.
    pub fn new(value: f64, unit: Unit) -> Result<Self, GaugeError> {
        Self { value, unit, reference: Reference::Unstated, step: 0.0 }.checked()
    }

    /// The same, counted from `reference`.
    ///
    /// # Errors
    /// When an absolute pressure is negative.
    pub fn counted_from(mut self, reference: Reference) -> Result<Self, GaugeError> {
        self.reference = reference;
        self.checked()
    }

    /// Refuses what cannot be: not a number, beyond the bounds of the kind, absolute pressure below zero.
    ///
    /// # Errors
    /// Says which bound and why.
    pub fn checked(self) -> Result<Self, GaugeError> {
        if !self.value.is_finite() {
            return Err(GaugeError::nonsense(format!("{} is not a number that a gauge can show", self.value)));
        }
        let kind = self.unit.kind();
        if self.reference == Reference::Absolute && self.value < 0.0 {
            return Err(GaugeError::nonsense(format!(
                "{self}: an absolute pressure cannot be below zero; for a vacuum write `20 inHg vac`"
            )));
        }
        let (low, high) = kind.bounds();
        let si = self.unit.to_si(self.value);
        let low = if self.reference == Reference::Vacuum { -1.1e5 } else { low };
        if si < low || si > high {
            let (low, high) = (self.unit.from_si(low), self.unit.from_si(high));
            let why =
                format!("{} here lies between {} and {} {}", kind.name(), tidy(low), tidy(high), self.unit.symbol());
            return Err(GaugeError::OutOfReach { what: self.to_string(), why });
        }
        if self.reference == Reference::Vacuum && si > 1.1e5 {
            return Err(GaugeError::OutOfReach {
                what: self.to_string(),
                why: "a vacuum cannot exceed the air pressure outside, about 30 inHg".into(),
            });
        }
        Ok(self)
    }

    /// The value in SI, whatever it counts from.
    #[must_use]
    pub fn si(self) -> f64 {
        self.unit.to_si(self.value)
    }

    /// The last written place, in SI.
    #[must_use]
    pub fn step_si(self) -> f64 {
        self.unit.step_to_si(self.step)
    }

    /// The same quantity in another unit of its kind.
    ///
    /// # Errors
    /// When the unit measures something else.
    pub fn in_unit(self, unit: Unit) -> Result<Self, GaugeError> {
        self.must_be(unit.kind())?;
        let step = unit.from_si(unit.to_si(0.0) + self.step_si());
        Ok(Self { value: unit.from_si(self.si()), unit, reference: self.reference, step })
    }

    /// Refuses a quantity of another kind.
    ///
    /// # Errors
    /// Names both kinds.
    pub fn must_be(self, kind: Kind) -> Result<Self, GaugeError> {
        if self.unit.kind() == kind {
            return Ok(self);
        }
        Err(GaugeError::WrongKind {
            text: self.to_string(),
            found: self.unit.kind().name(),
            wanted: kind.name(),
            example: kind.example(),
        })
    }

    /// The value in SI of a quantity that must be of this kind and above zero.
    ///
    /// # Errors
    /// When it is of another kind, zero or negative.
    pub fn above_zero(self, kind: Kind, what: &str) -> Result<f64, GaugeError> {
        let si = self.must_be(kind)?.si();
        if si > 0.0 { Ok(si) } else { Err(GaugeError::nonsense(format!("{what} must be above zero, not {self}"))) }
    }

    /// How far a pressure lies from the air outside, in Pa, and on which side.
    ///
    /// `side` is the question's own, used when the number does not say; `air_pa` is the pressure outside.
    ///
    /// # Errors
    /// When neither says which side, when they contradict each other, or when the vacuum exceeds the air pressure.
    pub fn from_air(self, side: Option<Side>, air_pa: f64) -> Result<(Side, f64), GaugeError> {
        let pa = self.must_be(Kind::Pressure)?.si();
        let signed = match (self.reference, side) {
            (Reference::Absolute, _) => pa - air_pa,
            (Reference::Vacuum, _) => -pa.abs(),
            (Reference::Gauge, _) | (Reference::Unstated, Some(Side::Pressure)) => pa,
            (Reference::Unstated, _) if pa < 0.0 => pa,
            (Reference::Unstated, Some(Side::Vacuum)) => -pa,
            (Reference::Unstated, None) => {
                return Err(GaugeError::Missing(format!(
                    "{self}: above or below the air outside? write `{self} gauge` or `{self} vac`"
                )));
            }
        };
        let found =
            if signed < 0.0 || signed == 0.0 && side == Some(Side::Vacuum) { Side::Vacuum } else { Side::Pressure };
        if let Some(wanted) = side.filter(|wanted| *wanted != found && signed != 0.0) {
            let (is, not) = if wanted == Side::Vacuum { ("above", "a vacuum") } else { ("below", "a pressure") };
            return Err(GaugeError::nonsense(format!("{self} lies {is} the air outside, but {not} is asked for")));
        }
        if found == Side::Vacuum && -signed > air_pa {
            let why = format!("a vacuum cannot exceed the air pressure outside, {} inHg", tidy(air_pa / 3386.389));
            return Err(GaugeError::OutOfReach { what: self.to_string(), why });
        }
        Ok((found, signed.abs()))
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let word = match self.reference {
            Reference::Unstated => "",
            Reference::Gauge => " gauge",
            Reference::Vacuum => " vacuum",
            Reference::Absolute => " absolute",
        };
        write!(f, "{} {}{word}", tidy(self.value), self.unit.symbol())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{CELSIUS, INHG, KPA, OHM, PA};

    fn made(value: f64, unit: Unit) -> Quantity {
        Quantity { value, unit, reference: Reference::Unstated, step: 0.1 }
    }

    #[test]
    fn gauge_absolute_and_vacuum_are_told_apart() -> Result<(), GaugeError> {
        let air = 101_325.0;
        assert_eq!(made(20.0, KPA).from_air(Some(Side::Pressure), air)?, (Side::Pressure, 20_000.0));
        assert_eq!(made(-20.0, KPA).from_air(None, air)?, (Side::Vacuum, 20_000.0));
        assert_eq!(made(81.325, KPA).counted_from(Reference::Absolute)?.from_air(None, air)?.0, Side::Vacuum);
        assert!(made(20.0, KPA).from_air(None, air).is_err());
        assert!(made(-20.0, KPA).from_air(Some(Side::Pressure), air).is_err());
        assert!(made(31.0, INHG).from_air(Some(Side::Vacuum), air).is_err());
        Ok(())
    }

    #[test]
    fn what_cannot_be_is_refused() {
        assert!(made(-1.0, KPA).counted_from(Reference::Absolute).is_err());
        assert!(made(f64::NAN, PA).checked().is_err());
        assert!(made(f64::INFINITY, OHM).checked().is_err());
        assert!(made(1e308, PA).checked().is_err());
        assert!(made(-300.0, CELSIUS).checked().is_err());
        assert!(made(-1.0, OHM).checked().is_err());
    }
}

//! How a written reading becomes a number of a test's measure, in its unit. Decides nothing about suspects.

use crate::atmosphere::Surroundings;
use crate::decay::Law;
use crate::error::GaugeError;
use crate::likelihood::Observed;
use crate::quantity::{Quantity, Side};
use crate::reading::Reading;
use crate::units::{Kind, Unit};

/// What a test's number is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Measured {
    /// The number on the gauge, as it stands.
    Value,
    /// Its distance from the air outside, without sign.
    FromAir(Option<Side>),
    /// How far it fell from `start_pa` during `seconds`, the hold that the test prescribes.
    Drop {
        /// Pressure or vacuum.
        side: Side,
        /// Where the prescribed hold starts, Pa from the air outside.
        start_pa: f64,
        /// How long it lasts.
        seconds: f64,
    },
}

/// A test's measure: what, in which unit, how finely.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measure {
    /// What the number is.
    pub measured: Measured,
    /// Its unit.
    pub unit: Unit,
    /// Resolution of the gauge the test asks for, in that unit.
    pub resolution: f64,
}

/// The reading in the unit of the measure.
///
/// A hold of another start or length than prescribed is carried over with the law of a hole: same hole, same volume, prescribed start and time.
/// Assumption that can be false: the leak is a hole; for a narrow path the carried drop is off by the square root of the ratio of starts at most.
/// `held` is a drop below one resolution, from the prescribed start for the prescribed time where it does not say; `off scale` needs the number where the scale ends.
///
/// # Errors
/// When the reading does not fit the measure.
pub fn observe(reading: &Reading, measure: &Measure, surroundings: &Surroundings) -> Result<Observed, GaugeError> {
    let number = |q: &Quantity| -> Result<f64, GaugeError> {
        q.must_be(measure.unit.kind())?;
        match measure.measured {
            Measured::FromAir(side) => q.from_air(side, surroundings.air_pa).map(|(_, pa)| measure.unit.from_si(pa)),
            _ => Ok(measure.unit.from_si(q.si())),
        }
    };
    match (reading, measure.measured) {
        (Reading::Exact(q), _) => Ok(Observed::Exact(number(q)?)),
        (Reading::Above(q), _) => Ok(Observed::Above(number(q)?)),
        (Reading::Below(q), _) => Ok(Observed::Below(number(q)?)),
        (Reading::OffScale, _) => {
            Err(GaugeError::Missing("off which scale? write where it ends, as `> 10 L/min`".into()))
        }
        (Reading::Held { start, seconds }, Measured::Drop { side, start_pa, seconds: prescribed }) => {
            let start =
                start.map_or(Ok(start_pa), |q| q.from_air(Some(side), surroundings.air_pa).map(|found| found.1))?;
            let law = Law::of_air(side, surroundings);
            let small = measure.unit.step_to_si(measure.resolution).min(start);
            let hold = Hold { start_pa: start, end_pa: start - small, seconds: seconds.unwrap_or(prescribed) };
            Ok(Observed::Below(measure.unit.from_si(carried(&law, &hold, start_pa, prescribed)?)))
        }
        (Reading::Series(series), Measured::Drop { side, start_pa, seconds }) => {
            if series.unit.kind() != Kind::Pressure {
                return Err(GaugeError::nonsense(format!("a drop is a pressure, not {}", series.unit.kind().name())));
            }
            let (_, points) = series.from_air(Some(side), surroundings.air_pa)?;
            let (first, last) =
                (points.first().copied().unwrap_or_default(), points.last().copied().unwrap_or_default());
            if last.1 > first.1 {
                return Err(GaugeError::nonsense(
                    "the end lies above the start, which no leak does; wait until the temperature is steady and repeat",
                ));
            }
            let hold = Hold { start_pa: first.1, end_pa: last.1, seconds: last.0 - first.0 };
            let drop = measure.unit.from_si(carried(&Law::of_air(side, surroundings), &hold, start_pa, seconds)?);
            // A needle at zero has stopped falling at an unknown moment: the drop is at least this.
            Ok(if last.1 <= 0.0 { Observed::Above(drop) } else { Observed::Exact(drop) })
        }
        (Reading::Series(_) | Reading::Held { .. }, _) => {
            Err(GaugeError::nonsense("this test takes one number, not a hold"))
        }
    }
}

struct Hold {
    start_pa: f64,
    end_pa: f64,
    seconds: f64,
}

/// The drop that the same leak makes in the prescribed hold, Pa.
fn carried(law: &Law, hold: &Hold, start_pa: f64, seconds: f64) -> Result<f64, GaugeError> {
    if !(hold.seconds > 0.0 && seconds > 0.0 && hold.start_pa > 0.0 && start_pa > 0.0) {
        return Err(GaugeError::nonsense(
            "a hold starts away from the air pressure outside and lasts longer than nothing",
        ));
    }
    let ticks = (law.clock(hold.start_pa) - law.clock(hold.end_pa)) * seconds / hold.seconds;
    Ok(start_pa - law.level_pa(law.clock(start_pa) - ticks))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading_text::parse_reading;
    use crate::units::{INHG, VOLT};

    fn valve() -> Measure {
        Measure {
            measured: Measured::Drop { side: Side::Vacuum, start_pa: INHG.to_si(20.0), seconds: 240.0 },
            unit: INHG,
            resolution: 0.2,
        }
    }

    fn seen(text: &str) -> Result<Observed, GaugeError> {
        observe(&parse_reading(text, Kind::Pressure)?, &valve(), &Surroundings::default())
    }

    #[test]
    fn holds_become_drops_of_the_prescribed_hold() -> Result<(), GaugeError> {
        let value = |o: Observed| match o {
            Observed::Exact(x) | Observed::Above(x) | Observed::Below(x) => x,
        };
        assert!((value(seen("20 -> 19.3 inHg in 4 min")?) - 0.7).abs() < 1e-9);
        assert!((value(seen("20 -> 19.65 inHg in 2 min")?) - 0.7).abs() < 1e-9);
        assert!(matches!(seen("held")?, Observed::Below(x) if (x - 0.2).abs() < 1e-9));
        assert!(matches!(seen("held 8 min")?, Observed::Below(x) if (x - 0.1).abs() < 1e-9));
        assert!(matches!(seen("20 -> 0 inHg in 1 min")?, Observed::Above(x) if x > 19.9));
        assert!(seen("20 -> 21 inHg in 4 min").is_err());
        assert!(seen("off scale").is_err());
        assert!(observe(&parse_reading("3 V", Kind::Voltage)?, &valve(), &Surroundings::default()).is_err());
        let volts = Measure { measured: Measured::Value, unit: VOLT, resolution: 0.1 };
        assert_eq!(
            observe(&parse_reading("< 100 mV", Kind::Voltage)?, &volts, &Surroundings::default())?,
            Observed::Below(0.1)
        );
        Ok(())
    }
}

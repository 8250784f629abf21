//! Answers about the engine's idle vacuum in thinner air, and plain unit conversion. Prints nothing.

use crate::answer::{Answer, Basis, Figure};
use crate::atmosphere::{SEA_LEVEL_PA, Surroundings, idle_vacuum_inhg};
use crate::digits::{rough, tidy};
use crate::error::GaugeError;
use crate::quantity::{Quantity, Reference, Side};
use crate::units::{INHG, KPA, Kind, Unit};

/// Idle vacuum to expect in this air; with a reading, what it would be at sea level.
///
/// # Errors
/// When the reading is no vacuum.
pub fn idle_vacuum(surroundings: &Surroundings, reading: Option<Quantity>) -> Result<Answer, GaugeError> {
    let (low, high) = idle_vacuum_inhg(surroundings.air_pa);
    let ratio = surroundings.air_pa / SEA_LEVEL_PA;
    let figure =
        Figure { label: "idle vacuum".into(), unit: INHG, value: 0.5 * (low + high), low: Some(low), high: Some(high) };
    let source = "15 to 20 inHg near sea level (common practice), times the ratio of air pressures (U.S. Standard Atmosphere 1976)";
    let mut answer =
        Answer::new("idle-vacuum", figure, "sea-level range times air pressure ratio", source, Basis::CommonPractice)?;
    answer.headline =
        format!("a sound petrol engine idles at about {} to {} inHg of vacuum here", rough(low), rough(high));
    answer.also = vec![answer.value.in_unit(KPA), Figure::from_si("air pressure", INHG, surroundings.air_pa, None)];
    answer.taken = vec![format!(
        "air pressure {} inHg, {} of standard sea level",
        rough(INHG.from_si(surroundings.air_pa)),
        rough(ratio)
    )];
    answer.range_because = vec!["engines differ; warm idle, no load".into()];
    answer.warnings = vec![
        "a weather report's barometer is reduced to sea level: use a height, or the gauge's own absolute reading"
            .into(),
    ];
    if let Some(reading) = reading {
        let (_, pa) = reading.from_air(Some(Side::Vacuum), surroundings.air_pa)?;
        let at_sea = pa / ratio;
        answer.also.push(Figure::from_si("reading as it would be at sea level", INHG, at_sea, None));
        let found = INHG.from_si(pa);
        let word = if found < low {
            "below"
        } else if found > high {
            "above"
        } else {
            "within"
        };
        answer.headline = format!(
            "{reading} is {word} what to expect here, {} to {} inHg ({} inHg at sea level)",
            rough(low),
            rough(high),
            rough(INHG.from_si(at_sea))
        );
        answer.taken.push(reading.to_string());
    }
    answer.cautions = vec!["running engine: keep clear of belts and fans, ventilate the exhaust".into()];
    Ok(answer)
}

/// A quantity in another unit, and for pressures counted from another zero.
///
/// # Errors
/// When the unit measures something else, or a change of zero is asked of a pressure that does not say what it counts from.
pub fn convert(
    quantity: Quantity,
    unit: Unit,
    counted_from: Option<Reference>,
    surroundings: &Surroundings,
) -> Result<Answer, GaugeError> {
    let plain = quantity.in_unit(unit)?;
    let air = surroundings.air_pa;
    let turned = match counted_from.filter(|wanted| *wanted != quantity.reference) {
        None => plain,
        Some(_) if unit.kind() != Kind::Pressure => {
            return Err(GaugeError::nonsense(format!("{} has no gauge, vacuum or absolute form", unit.kind().name())));
        }
        Some(wanted) => {
            let (side, pa) = quantity.from_air(None, air)?;
            let signed = if side == Side::Vacuum { -pa } else { pa };
            let si = match wanted {
                Reference::Absolute => air + signed,
                Reference::Vacuum if signed > 0.0 => {
                    return Err(GaugeError::nonsense(format!(
                        "{quantity} lies above the air outside, so it is no vacuum"
                    )));
                }
                Reference::Vacuum => -signed,
                Reference::Gauge | Reference::Unstated => signed,
            };
            Quantity { value: unit.from_si(si), reference: wanted, ..plain }.checked()?
        }
    };
    let half = quantity.step_si() / 2.0;
    let si = turned.si();
    let figure = Figure::from_si("converted", unit, si, Some((si - half, si + half)));
    let mut answer = Answer::new(
        "convert",
        figure,
        "unit conversion",
        "NIST SP 811 (2008) appendix B, from memory",
        Basis::FromMemory,
    )?;
    answer.headline = format!("{quantity} = {turned}");
    answer.taken = vec![quantity.to_string()];
    if counted_from.is_some() {
        answer.taken.push(format!(
            "air outside {} kPa{}",
            tidy(air / 1e3),
            if surroundings.stated { "" } else { ", standard because not stated" }
        ));
    }
    if half > 0.0 {
        answer.range_because = vec!["half of the last place written".into()];
    }
    Ok(answer)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::parse::parse_quantity;
    use crate::units::INH2O;

    #[test]
    fn conversions_keep_or_change_the_zero() -> Result<(), GaugeError> {
        let air = Surroundings::default();
        let pressure = |text: &str| parse_quantity(text, Kind::Pressure);
        assert!((convert(pressure("0.5 psi")?, INH2O, None, &air)?.value.value - 13.84).abs() < 0.005);
        let absolute = convert(pressure("20 inHg vac")?, KPA, Some(Reference::Absolute), &air)?;
        assert!((absolute.value.value - 33.597).abs() < 0.001, "{absolute:?}");
        let vacuum = convert(pressure("33.597 kPa abs")?, INHG, Some(Reference::Vacuum), &air)?;
        assert!((vacuum.value.value - 20.0).abs() < 0.001);
        // A bare pressure does not say what it counts from, and none is guessed.
        assert!(convert(pressure("20 inHg")?, KPA, Some(Reference::Absolute), &air).is_err());
        assert!(convert(pressure("3 kPa gauge")?, KPA, Some(Reference::Vacuum), &air).is_err());
        assert!(convert(parse_quantity("26 ohm", Kind::Resistance)?, KPA, None, &air).is_err());
        Ok(())
    }
}

//! Answers on coils, loads and sensors. Says what current and resistance do, not which wire is at fault.

use crate::answer::{Answer, Basis, Figure, corners};
use crate::digits::{rough, tidy};
use crate::electric::{COPPER_RANGE_C, FILAMENT_EXPONENT, Load, TwoPoints, coil_ohm_at, series_circuit};
use crate::error::GaugeError;
use crate::limits::FUSED_LEAD;
use crate::quantity::{Quantity, Side};
use crate::units::{AMPERE, INH2O, KPA, Kind, OHM, VOLT};

/// How far the temperature of a winding is usually misjudged, K. Judgement.
const WINDING_K: f64 = 5.0;

/// Resistance of a copper coil at another temperature than measured, and at 20 °C.
///
/// # Errors
/// When a temperature is outside -60 to 200 °C or a quantity is of the wrong kind.
pub fn coil_at_temperature(
    resistance: Quantity,
    measured_at: Quantity,
    wanted_at: Quantity,
) -> Result<Answer, GaugeError> {
    let ohm = resistance.above_zero(Kind::Resistance, "the resistance")?;
    let from = measured_at.must_be(Kind::Temperature)?.si() - 273.15;
    let to = wanted_at.must_be(Kind::Temperature)?.si() - 273.15;
    let value = coil_ohm_at(ohm, from, to)?;
    let half = resistance.step_si() / 2.0;
    let edge = |c: f64| c.clamp(COPPER_RANGE_C.0, COPPER_RANGE_C.1);
    let temperatures = (edge(from - WINDING_K), edge(from + WINDING_K));
    let range = |to: f64| {
        corners(&[(ohm - half, ohm + half), temperatures], |x| coil_ohm_at(x[0], x[1], to).unwrap_or(f64::NAN))
    };
    let figure = Figure::from_si("resistance", OHM, value, Some(range(to)));
    let source = "copper 0.00393 per °C at 20 °C (NBS Handbook 100)";
    let mut answer =
        Answer::new("coil-at-temperature", figure, "R = R20 (1 + 0.00393 (T - 20 °C))", source, Basis::Published)?;
    answer.headline = format!("{resistance} at {measured_at} is {} at {wanted_at}", answer.value.words());
    answer.also = vec![Figure::from_si("at 20 °C", OHM, coil_ohm_at(ohm, from, 20.0)?, Some(range(20.0)))];
    answer.taken = vec![resistance.to_string(), format!("winding at {measured_at}")];
    answer.range_because = vec![
        format!("winding temperature give or take {} K", tidy(WINDING_K)),
        "half of the last place written".into(),
    ];
    answer.warnings = vec![
        "take off the resistance of the meter's own leads; a coil that just worked is hotter inside than its housing"
            .into(),
    ];
    answer.cautions = vec!["measure resistance only with the circuit dead and the plug off".into()];
    Ok(answer)
}

/// Current and voltage lost when a load works through a series resistance, such as corrosion.
///
/// # Errors
/// When supply or resistance is of the wrong kind or not above zero.
pub fn lamp_load(load: Load, supply: Quantity, series: Quantity) -> Result<Answer, GaugeError> {
    let volt = supply.above_zero(Kind::Voltage, "the supply voltage")?;
    let ohm = series.must_be(Kind::Resistance)?.si();
    let positive = match load {
        Load::Lamp { watt, volt } => watt > 0.0 && volt > 0.0 && watt.is_finite() && volt.is_finite(),
        Load::Coil { ohm } => ohm > 0.0 && ohm.is_finite(),
    };
    if !positive {
        return Err(GaugeError::nonsense("the load's power, voltage or resistance must be above zero"));
    }
    let exponents = if matches!(load, Load::Lamp { .. }) { FILAMENT_EXPONENT } else { (1.0, 1.0) };
    let half = (supply.step_si() / 2.0, series.step_si() / 2.0);
    let ranges = [(volt - half.0, volt + half.0), ((ohm - half.1).max(0.0), ohm + half.1), exponents];
    let over =
        |pick: fn(crate::electric::Circuit) -> f64| corners(&ranges, |x| pick(series_circuit(load, x[0], x[1], x[2])));
    let usual = series_circuit(load, volt, ohm, 1.0);
    let figure = Figure::from_si("voltage lost", VOLT, usual.lost_v, Some(over(|c| c.lost_v)));
    let source = "Ohm's law; a 21 W lamp takes at most 26.5 W at 13.5 V (UN Regulation 37)";
    let mut answer = Answer::new("lamp-load", figure, "load in series with a resistance", source, Basis::Published)?;
    answer.headline = format!("{series} in the circuit takes {} of {supply}", answer.value.words());
    answer.also = vec![
        Figure::from_si("current", AMPERE, usual.ampere, Some(over(|c| c.ampere))),
        Figure::from_si("left for the load", VOLT, usual.load_v, Some(over(|c| c.load_v))),
    ];
    answer.taken = vec![supply.to_string(), series.to_string()];
    answer.range_because = vec!["half of the last places written".into()];
    if matches!(load, Load::Lamp { .. }) {
        answer.range_because.push(
            "a filament is between a plain resistor (value given) and one that takes nearly the same current when dim"
                .into(),
        );
        answer.warnings.push("a cold filament draws up to ten times its current for an instant".into());
    }
    answer.cautions = vec![FUSED_LEAD.into()];
    Ok(answer)
}

/// What is asked of a sensor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SensorQuestion {
    /// The voltage at this pressure.
    AtPressure(Quantity),
    /// The pressure at this voltage.
    AtVoltage(Quantity),
}

/// A sensor's voltage for a pressure or the other way round, from two calibration points (pressure, voltage).
///
/// # Errors
/// When the points coincide, a side is not said, or a kind is wrong.
pub fn sensor_voltage(
    points: [(Quantity, Quantity); 2],
    question: SensorQuestion,
    side: Option<Side>,
    air_pa: f64,
) -> Result<Answer, GaugeError> {
    let signed = |q: Quantity| q.from_air(side, air_pa).map(|(side, pa)| if side == Side::Vacuum { -pa } else { pa });
    let point = |(pressure, voltage): (Quantity, Quantity)| {
        Ok::<_, GaugeError>((signed(pressure)?, voltage.must_be(Kind::Voltage)?.si()))
    };
    let line = TwoPoints::new(point(points[0])?, point(points[1])?)?;
    let (figure, also, pa, asked) = match question {
        SensorQuestion::AtPressure(q) => {
            let (pa, half) = (signed(q)?, q.step_si() / 2.0);
            let ends = corners(&[(pa - half, pa + half)], |x| line.volt_at(x[0]));
            (Figure::from_si("sensor voltage", VOLT, line.volt_at(pa), Some(ends)), Vec::new(), pa, q)
        }
        SensorQuestion::AtVoltage(q) => {
            let (volt, half) = (q.must_be(Kind::Voltage)?.si(), q.step_si() / 2.0);
            let pa = line.pa_at(volt);
            let ends = corners(&[(volt - half, volt + half)], |x| line.pa_at(x[0]));
            let figure = Figure::from_si("pressure above the air outside", INH2O, pa, Some(ends));
            let also = vec![figure.in_unit(KPA)];
            (figure, also, pa, q)
        }
    };
    let mut answer = Answer::new(
        "sensor-voltage",
        figure,
        "straight line through two calibration points",
        "the two points given",
        Basis::CommonPractice,
    )?;
    answer.headline = format!("at {asked} the sensor stands at {}", answer.value.words());
    answer.also = also;
    answer.taken = points.iter().map(|(p, v)| format!("{v} at {p}")).collect();
    answer.range_because = vec!["half of the last place written; the sensor's own tolerance is not included".into()];
    if !line.covers(pa) {
        answer
            .warnings
            .push(format!("{} inH2O lies outside the two points: the sensor may end there", rough(INH2O.from_si(pa))));
    }
    Ok(answer)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::parse::parse_quantity;

    #[test]
    fn a_sensor_answers_both_ways() -> Result<(), GaugeError> {
        let pressure = |text: &str| parse_quantity(text, Kind::Pressure);
        let volt = |text: &str| parse_quantity(text, Kind::Voltage);
        let points = [(pressure("-14 inH2O")?, volt("0.5 V")?), (pressure("6 inH2O gauge")?, volt("4.5 V")?)];
        let ask = |question| sensor_voltage(points, question, None, 101_325.0);
        let at_rest = ask(SensorQuestion::AtPressure(pressure("0 inH2O gauge")?))?;
        assert!((at_rest.value.value - 3.3).abs() < 1e-9 && at_rest.warnings.is_empty());
        let back = ask(SensorQuestion::AtVoltage(volt("3.30 V")?))?;
        assert!(back.value.value.abs() < 1e-9);
        assert!(!ask(SensorQuestion::AtVoltage(volt("4.9 V")?))?.warnings.is_empty());
        assert!(
            sensor_voltage([points[0], points[0]], SensorQuestion::AtVoltage(volt("1 V")?), None, 101_325.0).is_err()
        );
        Ok(())
    }
}

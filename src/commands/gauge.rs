//! `gauge`: what a number means. Nothing is stored and the base is not needed.

use super::{Ending, Io, Stop};
use cli::gauge::{AirArgs, CountedFrom, GaugeArgs, GaugeQuestion, HoldArgs, On};
use gauge::answer_electric::{SensorQuestion, coil_at_temperature, lamp_load, sensor_voltage};
use gauge::answer_engine::{convert, idle_vacuum};
use gauge::answer_flow::hole_from_flow;
use gauge::answer_hold::{drop_through_hole, hold_time};
use gauge::answer_leak::{Setting, hole_from_decay};
use gauge::atmosphere::Surroundings;
use gauge::digits::rough;
use gauge::electric::{LAMP_21_W, Load, series_ohm_from_loss};
use gauge::limits::Subject;
use gauge::space::VapourSpace;
use gauge::units::OHM;
use gauge::{Answer, GaugeError, Kind, Quantity, Reference, Side, Unit, parse_quantity, parse_reading};
use screens::failure::Failure;
use screens::{gauge as screen, json};

pub(super) fn run(args: &GaugeArgs, io: &mut Io) -> Result<Ending, Stop> {
    let (answer, wants_json) = answer(&args.question).map_err(|error| {
        let side_missing = error.to_string().contains("above or below the air outside");
        let has_flags = matches!(args.question, GaugeQuestion::Hole { .. } | GaugeQuestion::Hold { .. });
        let failure = Failure::from(error);
        if side_missing && has_flags { failure.hint("or add --pressure or --vacuum to the question") } else { failure }
    })?;
    if wants_json {
        io.show_json(&json::gauge(&answer).map_err(std::io::Error::from)?)?;
    } else {
        let text = screen::text(&answer, io.look);
        io.show(&text)?;
    }
    Ok(Ending::Done)
}

fn answer(question: &GaugeQuestion) -> Result<(Answer, bool), GaugeError> {
    Ok(match question {
        GaugeQuestion::Hole { decay, flow, at, hold, json } => {
            let setting = setting(hold)?;
            let answer = match (decay, flow, at) {
                (_, Some(flow), Some(at)) => {
                    hole_from_flow(&parse_reading(flow, Kind::Flow)?, pressure(at)?, &setting)?
                }
                (Some(decay), ..) => hole_from_decay(&parse_reading(decay, Kind::Pressure)?, &setting)?,
                _ => return Err(GaugeError::Missing("give --decay, or --flow with --at".into())),
            };
            (answer, *json)
        }
        GaugeQuestion::Hold { hole, from, to, during, hold, json } => {
            let (hole, from, setting) = (parse_quantity(hole, Kind::Length)?, pressure(from)?, setting(hold)?);
            let answer = match (to, during) {
                (Some(to), _) => hold_time(hole, from, pressure(to)?, &setting)?,
                (None, Some(time)) => drop_through_hole(hole, from, parse_quantity(time, Kind::Time)?, &setting)?,
                (None, None) => return Err(GaugeError::Missing("give --to or --during".into())),
            };
            (answer, *json)
        }
        GaugeQuestion::Vacuum { reading, around, json } => {
            let reading = reading.as_deref().map(pressure).transpose()?;
            (idle_vacuum(&air(around)?, reading)?, *json)
        }
        GaugeQuestion::Coil { resistance, at, to, json } => {
            let resistance = parse_quantity(resistance, Kind::Resistance)?;
            let degrees = |text| parse_quantity(text, Kind::Temperature);
            (coil_at_temperature(resistance, degrees(at)?, degrees(to)?)?, *json)
        }
        GaugeQuestion::Lamp { supply, series, lost, power, rated, coil, json } => {
            let load = load(power.as_deref(), rated.as_deref(), coil.as_deref())?;
            let supply = parse_quantity(supply, Kind::Voltage)?;
            let answer = match (series, lost) {
                (Some(series), _) => lamp_load(load, supply, parse_quantity(series, Kind::Resistance)?)?,
                (None, Some(lost)) => {
                    let lost = parse_quantity(lost, Kind::Voltage)?;
                    let ohm = series_ohm_from_loss(load, supply.si(), lost.si(), 1.0)?;
                    let mut answer = lamp_load(load, supply, Quantity::new(ohm, OHM)?)?;
                    answer.headline = format!("{lost} lost of {supply} is about {} ohm in the circuit", rough(ohm));
                    answer
                }
                (None, None) => return Err(GaugeError::Missing("give --series or --lost".into())),
            };
            (answer, *json)
        }
        GaugeQuestion::Sensor { point, pressure: at, voltage, around, json } => {
            let [first, second] = point.as_slice() else {
                return Err(GaugeError::Missing("give two calibration points, --point \"0 inH2O=2.6V\" twice".into()));
            };
            let asked = match (at, voltage) {
                (Some(at), _) => SensorQuestion::AtPressure(pressure(at)?),
                (None, Some(voltage)) => SensorQuestion::AtVoltage(parse_quantity(voltage, Kind::Voltage)?),
                (None, None) => return Err(GaugeError::Missing("give --pressure or --voltage".into())),
            };
            (sensor_voltage([point_of(first)?, point_of(second)?], asked, None, air(around)?.air_pa)?, *json)
        }
        GaugeQuestion::Convert { quantity, to, counted, around, json } => {
            let (quantity, unit) = of_any_kind(quantity, to)?;
            let counted = counted.map(|counted| match counted {
                CountedFrom::Gauge => Reference::Gauge,
                CountedFrom::Vacuum => Reference::Vacuum,
                CountedFrom::Absolute => Reference::Absolute,
            });
            (convert(quantity, unit, counted, &air(around)?)?, *json)
        }
    })
}

fn pressure(text: impl AsRef<str>) -> Result<Quantity, GaugeError> {
    parse_quantity(text.as_ref(), Kind::Pressure)
}

fn air(args: &AirArgs) -> Result<Surroundings, GaugeError> {
    let read = |text: &Option<String>, kind| text.as_deref().map(|text| parse_quantity(text, kind)).transpose();
    Surroundings::from(
        read(&args.altitude, Kind::Height)?,
        read(&args.barometer, Kind::Pressure)?,
        read(&args.air, Kind::Temperature)?,
    )
}

fn setting(args: &HoldArgs) -> Result<Setting, GaugeError> {
    let read = |text: &Option<String>, kind| text.as_deref().map(|text| parse_quantity(text, kind)).transpose();
    let (tank, fuel) = (read(&args.tank, Kind::Volume)?, read(&args.fuel, Kind::Share)?);
    let space = match (read(&args.volume, Kind::Volume)?, tank, fuel) {
        (Some(volume), tank, _) => VapourSpace::Stated { volume, tank },
        (None, Some(tank), Some(fuel)) => VapourSpace::Tank { tank, fuel },
        (None, Some(_), None) => {
            return Err(GaugeError::Missing("how full is the tank? add --fuel, such as --fuel \"40 %\"".into()));
        }
        (None, None, _) => VapourSpace::Unknown,
    };
    Ok(Setting {
        subject: match args.on {
            On::System => Subject::System,
            On::Cap => Subject::Cap,
            On::Valve => Subject::Valve,
        },
        side: match (args.vacuum, args.pressure) {
            (true, _) => Some(Side::Vacuum),
            (false, true) => Some(Side::Pressure),
            (false, false) => None,
        },
        space,
        warming: read(&args.warmer, Kind::Warming)?,
        resolution: read(&args.resolution, Kind::Pressure)?,
        surroundings: air(&args.around)?,
    })
}

fn load(power: Option<&str>, rated: Option<&str>, coil: Option<&str>) -> Result<Load, GaugeError> {
    Ok(match (power, rated, coil) {
        (_, _, Some(coil)) => Load::Coil { ohm: parse_quantity(coil, Kind::Resistance)?.si() },
        (Some(power), Some(rated), None) => Load::Lamp {
            watt: parse_quantity(power, Kind::Power)?.si(),
            volt: parse_quantity(rated, Kind::Voltage)?.si(),
        },
        _ => Load::Lamp { watt: LAMP_21_W.0, volt: LAMP_21_W.1 },
    })
}

fn point_of(text: &str) -> Result<(Quantity, Quantity), GaugeError> {
    let Some((at, volt)) = text.split_once('=') else {
        return Err(GaugeError::Missing("a calibration point is PRESSURE=VOLTAGE, such as \"0 inH2O=2.6V\"".into()));
    };
    let at = pressure(at.trim())?;
    // Zero lies on neither side, so nobody has to say on which.
    let at =
        if at.value == 0.0 && at.reference == Reference::Unstated { at.counted_from(Reference::Gauge)? } else { at };
    Ok((at, parse_quantity(volt.trim(), Kind::Voltage)?))
}

/// The quantity and the unit wanted, of whichever kind fits both.
fn of_any_kind(text: &str, to: &str) -> Result<(Quantity, Unit), GaugeError> {
    const KINDS: [Kind; 13] = [
        Kind::Pressure,
        Kind::Flow,
        Kind::Resistance,
        Kind::Voltage,
        Kind::Current,
        Kind::Power,
        Kind::Temperature,
        Kind::Time,
        Kind::Length,
        Kind::Height,
        Kind::Volume,
        Kind::Mass,
        Kind::Share,
    ];
    let mut why = None;
    for kind in KINDS {
        match (Unit::find(to, kind), parse_quantity(text, kind)) {
            (Ok(unit), Ok(quantity)) => return Ok((quantity, unit)),
            // The unit wanted says what the quantity should have been.
            (Ok(_), Err(error)) => why = why.or(Some(error)),
            // The quantity can be read, so it is the unit wanted that is wrong.
            (Err(error), Ok(_)) => why = why.or(Some(error)),
            (Err(_), Err(_)) => {}
        }
    }
    match why {
        Some(error) => Err(error),
        None => Unit::find(to, Kind::Pressure).and_then(|unit| Ok((pressure(text)?, unit))),
    }
}

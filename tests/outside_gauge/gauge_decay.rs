//! Decays against published figures, and the closed forms against numerical integration of the differential equation.

use faultodds::gauge;
use gauge::answer_hold::{drop_through_hole, hold_time};
use gauge::answer_leak::{Setting, hole_from_decay};
use gauge::atmosphere::{ROOM_K, SEA_LEVEL_PA, Surroundings, air_density_kg_m3};
use gauge::decay::{Law, hole_m, laminar_left_pa, left_after_pa, seconds_to_fall};
use gauge::leak_class::LeakClass;
use gauge::limits::Subject;
use gauge::orifice::{flow_into_vacuum_m3_s, flow_m3_s};
use gauge::space::VapourSpace;
use gauge::units::{INH2O, INHG};
use gauge::{Answer, GaugeError, Kind, Side, parse_quantity, parse_reading};

fn near(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "{found} is not within {within} of {wanted}");
}

fn law(side: Side) -> Law {
    Law::of_air(side, &Surroundings::default())
}

fn litres(text: &str) -> Result<VapourSpace, GaugeError> {
    Ok(VapourSpace::Stated { volume: parse_quantity(text, Kind::Volume)?, tank: None })
}

fn ask(text: &str, side: Side, space: VapourSpace, subject: Subject) -> Result<Answer, GaugeError> {
    hole_from_decay(
        &parse_reading(text, Kind::Pressure)?,
        &Setting { side: Some(side), space, subject, ..Setting::default() },
    )
}

/// Closed form, figures of the design's table: 14 to 8 inH2O, Cd 0.61, air at 20 °C.
#[test]
fn times_of_the_table() -> Result<(), GaugeError> {
    for (hole, seconds) in [("0.020 in", [54.0, 89.0, 143.0]), ("0.040 in", [13.0, 22.0, 36.0])] {
        for (space, wanted) in ["30 L", "50 L", "80 L"].into_iter().zip(seconds) {
            let setting = Setting { side: Some(Side::Pressure), space: litres(space)?, ..Setting::default() };
            let answer = hold_time(
                parse_quantity(hole, Kind::Length)?,
                parse_quantity("14 inH2O", Kind::Pressure)?,
                parse_quantity("8 inH2O", Kind::Pressure)?,
                &setting,
            )?;
            near(answer.value.value, wanted, 0.6);
        }
    }
    Ok(())
}

/// From memory: US EPA I/M guidance, 14 to 8 inH2O in 120 s.
#[test]
fn the_inspection_limit_as_a_hole() -> Result<(), GaugeError> {
    for (volume, wanted) in [("30 L", 0.0134), ("50 L", 0.0173), ("100 L", 0.0244)] {
        let answer = ask("14 -> 8 inH2O in 120 s", Side::Pressure, litres(volume)?, Subject::System)?;
        near(answer.value.value, wanted, 6e-5);
        assert!(answer.value.low < Some(answer.value.value) && Some(answer.value.value) < answer.value.high);
        assert!(answer.warnings.iter().any(|w| w.contains("cooling")), "6 inH2O is one kelvin of petrol vapour");
        assert!(answer.cautions.iter().any(|c| c.contains("never shop air")));
    }
    Ok(())
}

/// Published: CARB TP-201.3, Pf = 2 exp(-500.887 / V gal) inH2O, as the laminar shape.
#[test]
fn exponential_decay() {
    for (gallons, wanted) in [(500.0, 0.73), (1000.0, 1.21), (5000.0, 1.81)] {
        near(laminar_left_pa(2.0, 500.887 / gallons, 1.0), wanted, 0.006);
    }
}

/// Common practice: a purge valve pumped to 20 inHg shows no drop in 3 to 5 minutes.
#[test]
fn a_purge_valve_that_holds() -> Result<(), GaugeError> {
    let held = ask("held 20 inHg for 4 min", Side::Vacuum, litres("0.1 L")?, Subject::Valve)?;
    near(held.value.value, 0.0, 0.0);
    assert!(held.value.high.is_some_and(|high| high < 0.002));
    assert_eq!(held.leak_class, Some(LeakClass::BelowDetection));
    let fell = ask("20 -> 19.3 inHg in 4 min", Side::Vacuum, litres("0.1 L")?, Subject::Valve)?;
    assert!(fell.value.value > 0.0 && fell.codes.is_empty());
    Ok(())
}

/// Own law against Runge-Kutta of dp/dt = -p_air Q(p) / V with the flow of `orifice`: 500 pressures and 500 vacuums, to 1e-6.
#[test]
fn closed_forms_equal_numerical_integration() {
    let rho = air_density_kg_m3(SEA_LEVEL_PA, ROOM_K);
    let mut cases = 0;
    let mut worst = 0.0f64;
    for side in [Side::Pressure, Side::Vacuum] {
        let starts: [f64; 5] = if side == Side::Pressure {
            [2.0, 5.0, 10.0, 14.0, 30.0].map(|p| INH2O.to_si(p))
        } else {
            [1.0, 5.0, 12.0, 16.0, 25.0].map(|p| INHG.to_si(p))
        };
        for start in starts {
            for volume in [1e-4, 5e-3, 0.03, 0.05, 0.1] {
                for hole_in in [0.002, 0.010, 0.020, 0.040, 0.090] {
                    for end_share in [0.95, 0.8, 0.6, 0.35] {
                        let d = hole_in * 0.0254;
                        let seconds = seconds_to_fall(&law(side), volume, 0.61, d, start, start * end_share);
                        let flow = |p: f64| {
                            if side == Side::Pressure {
                                flow_m3_s(0.61, d, p, rho)
                            } else {
                                flow_into_vacuum_m3_s(0.61, d, p, SEA_LEVEL_PA, rho)
                            }
                        };
                        let numeric = runge_kutta(start, seconds, |p| -SEA_LEVEL_PA * flow(p) / volume);
                        let closed = left_after_pa(&law(side), volume, 0.61, d, start, seconds);
                        worst =
                            worst.max((numeric / closed - 1.0).abs()).max((closed / (start * end_share) - 1.0).abs());
                        cases += 1;
                    }
                }
            }
        }
    }
    assert_eq!(cases, 1000);
    assert!(worst < 1e-6, "{worst}");
}

fn runge_kutta(start: f64, seconds: f64, slope: impl Fn(f64) -> f64) -> f64 {
    let steps = 400;
    let h = seconds / f64::from(steps);
    let mut p = start;
    for _ in 0..steps {
        let a = slope(p);
        let b = slope(p + 0.5 * h * a);
        let c = slope(p + 0.5 * h * b);
        let d = slope(p + h * c);
        p += h / 6.0 * (a + 2.0 * b + 2.0 * c + d);
    }
    p
}

/// Own inverse: the hole comes back from the decay it makes, and the drop from the hole.
#[test]
fn questions_undo_each_other() -> Result<(), GaugeError> {
    for side in [Side::Pressure, Side::Vacuum] {
        let end = left_after_pa(&law(side), 0.05, 0.61, 5e-4, 3000.0, 100.0);
        near(hole_m(&law(side), 0.05, 0.61, 3000.0, end, 100.0)? / 5e-4, 1.0, 1e-9);
    }
    let setting = Setting { side: Some(Side::Pressure), space: litres("50 L")?, ..Setting::default() };
    let drop = drop_through_hole(
        parse_quantity("0.0173 in", Kind::Length)?,
        parse_quantity("14 inH2O", Kind::Pressure)?,
        parse_quantity("2 min", Kind::Time)?,
        &setting,
    )?;
    near(drop.value.value, 6.0, 0.03);
    assert!(drop.value.low < Some(6.0) && drop.value.high > Some(6.0));
    Ok(())
}

/// The list: nonsense is refused with a reason.
#[test]
fn nonsense_is_refused() -> Result<(), GaugeError> {
    let tank = |volume: &str| -> Result<VapourSpace, GaugeError> {
        Ok(VapourSpace::Stated {
            volume: parse_quantity(volume, Kind::Volume)?,
            tank: Some(parse_quantity("60 L", Kind::Volume)?),
        })
    };
    for (text, side, space, says) in [
        ("20 -> 20.5 inHg in 4 min", Side::Vacuum, litres("0.1 L")?, "which no leak does"),
        ("14 -> 14.5 inH2O in 2 min", Side::Pressure, litres("50 L")?, "which no leak does"),
        ("20 -> 19 inHg in 0 min", Side::Vacuum, litres("0.1 L")?, "no time"),
        ("20 -> 19 ohm in 4 min", Side::Vacuum, litres("0.1 L")?, "a resistance"),
        ("14 -> 8 inH2O in 2 min", Side::Pressure, tank("90 L")?, "larger than the tank"),
        ("35 -> 34 inHg in 2 min", Side::Vacuum, litres("1 L")?, "cannot exceed"),
        ("-1 -> -2 kPa abs in 2 min", Side::Vacuum, litres("1 L")?, "below zero"),
        ("1e308 -> 1 kPa in 2 min", Side::Pressure, litres("1 L")?, "out of reach"),
        ("NaN -> 1 kPa in 2 min", Side::Pressure, litres("1 L")?, "no number"),
        ("-14 -> -8 inH2O in 2 min", Side::Pressure, litres("50 L")?, "below the air outside"),
        ("held", Side::Vacuum, litres("0.1 L")?, "for how long"),
    ] {
        let said = ask(text, side, space, Subject::System).map_err(|e| e.to_string());
        assert!(said.as_ref().is_err_and(|e| e.contains(says)), "{text}: {said:?}");
    }
    // With a stated change of temperature that explains it, a rise is an answer.
    let reading = parse_reading("14.0 -> 14.5 inH2O in 2 min", Kind::Pressure)?;
    let mut setting = Setting {
        side: Some(Side::Pressure),
        space: litres("50 L")?,
        warming: Some(parse_quantity("1 K", Kind::Warming)?),
        ..Setting::default()
    };
    assert!(hole_from_decay(&reading, &setting)?.value.value > 0.0);
    setting.warming = Some(parse_quantity("-1 K", Kind::Warming)?);
    assert!(hole_from_decay(&reading, &setting).is_err());
    Ok(())
}

/// Three or more points: the shape is named.
#[test]
fn shapes_are_told_apart() -> Result<(), GaugeError> {
    let hole =
        ask("14.0, 10.8, 8.0, 5.6, 3.7, 2.1, 1.0 inH2O every 30 s", Side::Pressure, litres("50 L")?, Subject::System)?;
    assert!(hole.warnings.iter().any(|w| w.contains("hole with a clean edge")), "{:?}", hole.warnings);
    let path =
        ask("14.0, 9.4, 6.3, 4.2, 2.8, 1.9, 1.3 inH2O every 30 s", Side::Pressure, litres("50 L")?, Subject::System)?;
    assert!(path.warnings.iter().any(|w| w.contains("long narrow path, a crack")), "{:?}", path.warnings);
    let short = ask("14.0, 13.8, 13.6 inH2O every 30 s", Side::Pressure, litres("50 L")?, Subject::System)?;
    assert!(short.warnings.iter().any(|w| w.contains("cannot tell")), "{:?}", short.warnings);
    Ok(())
}

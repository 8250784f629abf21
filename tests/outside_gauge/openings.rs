//! The sizes that codes, holds, testers and smoke are said to begin at, against the orifice equation.
//!
//! Sources: flow through a sharp-edged hole, Q = Cd A sqrt(2 dp / rho), and the decay that follows from it (any fluid
//! handbook; Cd about 0.6: Unwin, EB11); certification orifices of 0.020 in and 0.040 in: 13 CCR 1968.2 (e)(4).

use faultodds::gauge::Side;
use faultodds::gauge::atmosphere::Surroundings;
use faultodds::gauge::decay::{Law, left_after_pa};
use faultodds::gauge::orifice::{CD_USUAL, flow_m3_s, hole_from_flow_m};
use faultodds::knowledge::base::{Base, Senses};
use faultodds::network::openings::{CLASSES, grades, levels_at, sizes};

const INH2O_PA: f64 = 249.089;
const INCH_MM: f64 = 25.4;

fn base() -> Base {
    faultodds::shipped::base().unwrap()
}

fn senses(base: &Base, reading: &str) -> Senses {
    base.reading(reading).unwrap().1.senses.clone().unwrap()
}

fn density() -> f64 {
    Surroundings::default().density_kg_m3()
}

/// Flow at 30 inH2O through a hole of so many mm, in cc/min.
pub fn tester_cc_min(mm: f64) -> f64 {
    flow_m3_s(CD_USUAL, mm / 1000.0, 30.0 * INH2O_PA, density()) * 60e6
}

/// What a hole of so many mm loses of 14 inH2O in two minutes out of so many litres, in inH2O.
pub fn drop_in_h2o(mm: f64, litres: f64) -> f64 {
    let law = Law::of_air(Side::Pressure, &Surroundings::default());
    let left = left_after_pa(&law, litres / 1000.0, CD_USUAL, mm / 1000.0, 14.0 * INH2O_PA, 120.0);
    14.0 - left / INH2O_PA
}

/// The leak monitor's limits are the orifices of the law, within the rounding to tenths of a millimetre.
#[test]
fn code_classes_begin_at_the_certification_orifices() {
    let base = base();
    let limits = &base.monitor("leak-check").unwrap().senses.as_ref().unwrap().limits_mm;
    assert!((limits[0] / (0.020 * INCH_MM) - 1.0).abs() < 0.03);
    assert!((limits[1] / (0.040 * INCH_MM) - 1.0).abs() < 0.03);
    assert!((limits[2] / (0.090 * INCH_MM) - 1.0).abs() < 0.03);
}

/// A cap that the test calls abnormal passes more than 500 cc/min at 30 inH2O: the limit in mm is the hole of that flow.
#[test]
fn the_cap_testers_limit_is_the_hole_of_its_flow() {
    let limit = senses(&base(), "cap-leak-test:hold").limits_mm[0];
    assert!((tester_cc_min(limit) / 500.0 - 1.0).abs() < 0.05, "{}", tester_cc_min(limit));
    let hole = |cc: f64| hole_from_flow_m(cc / 60e6, CD_USUAL, 30.0 * INH2O_PA, density(), 1.0).unwrap() * 1000.0;
    // Too small for any code, and the size of the code for 0.040 in.
    assert!(hole(100.0) < 0.2 && (hole(3000.0) - 0.97).abs() < 0.03, "{} {}", hole(100.0), hole(3000.0));
}

/// The flow meter's limits are the holes of the flows that its reading names, 150, 570 and 2,300 cc/min at 14 inH2O, and the second
/// and third are the certification orifices.
#[test]
fn the_flow_meters_limits_are_the_holes_of_its_flows() {
    let limits = senses(&base(), "smoke-flow-size:flow").limits_mm;
    let hole = |cc: f64| hole_from_flow_m(cc / 60e6, CD_USUAL, 14.0 * INH2O_PA, density(), 1.0).unwrap() * 1000.0;
    for (limit, cc) in limits.iter().zip([150.0, 570.0, 2300.0]) {
        assert!((hole(cc) / limit - 1.0).abs() < 0.04, "{limit} {}", hole(cc));
    }
    assert!((limits[1] / (0.020 * INCH_MM) - 1.0).abs() < 0.03 && (limits[2] / (0.040 * INCH_MM) - 1.0).abs() < 0.03);
}

/// The hold from 14 inH2O over two minutes: what it calls slow begins where a few inches are lost, what it calls fast where nearly
/// all is lost, for vapour spaces from 30 to 80 litres.
#[test]
fn the_holds_limits_are_the_holes_of_their_decays() {
    let limits = senses(&base(), "pressure-hold:decay").limits_mm;
    let slow: Vec<f64> = [30.0, 50.0, 80.0].iter().map(|v| drop_in_h2o(limits[0], *v)).collect();
    assert!(slow.iter().all(|d| (1.0..=5.0).contains(d)), "{slow:?}");
    let fast: Vec<f64> = [30.0, 50.0, 80.0].iter().map(|v| drop_in_h2o(limits[1], *v)).collect();
    assert!(fast.iter().all(|d| (7.0..=14.0).contains(d)), "{fast:?}");
}

/// What the bottle's regulator gives, in L/min, as `tools/nitrogen-regulator` says.
const SUPPLY_L_MIN: f64 = 15.0;

/// Flow out of the held system at 14 inH2O through a hole of so many mm, in L/min.
fn escaping_l_min(mm: f64) -> f64 {
    flow_m3_s(CD_USUAL, mm / 1000.0, 14.0 * INH2O_PA, density()) * 60e3
}

/// No pressure builds where the hole passes all that the supply gives before 14 inH2O is reached.
#[test]
fn pressure_does_not_build_where_the_hole_passes_the_whole_supply() {
    let base = base();
    let tool = base.tool("nitrogen-regulator").unwrap();
    assert!(tool.what.contains(&format!("{SUPPLY_L_MIN} L/min")), "{}", tool.what);
    let senses = senses(&base, "pressure-hold:decay");
    let limit = senses.limits_mm[2];
    assert!((escaping_l_min(limit) / SUPPLY_L_MIN - 1.0).abs() < 0.05, "{}", escaping_l_min(limit));
    // Half the hole lets pressure build, twice the hole never does, for all but a few vehicles.
    let never = |mm: f64| levels_at(&senses, mm)[3] / senses.reach.get();
    assert!(never(limit / 2.0) < 0.02 && never(2.0 * limit) > 0.98, "{} {}", never(limit / 2.0), never(2.0 * limit));
}

/// Valves that let out at an end which the hold has no section for have typed numbers; where the valve has an opening, the part
/// of those that never build is that of the openings which pass the supply.
#[test]
fn typed_valves_let_out_what_their_openings_pass() {
    let base = base();
    let hold = base.reading("pressure-hold:decay").unwrap().1;
    let senses = hold.senses.as_ref().unwrap();
    let mut compared = 0;
    for d in &hold.detects {
        let Some(opening) = base.suspect(&d.suspect).and_then(|(_, s)| s.opening.as_ref()) else { continue };
        let sizes: Vec<(f64, f64)> = grades(opening)
            .iter()
            .enumerate()
            .flat_map(|(class, g)| sizes(opening, class).into_iter().map(move |mm| (mm, g.share / 8.0)))
            .collect();
        let share = |level: usize| sizes.iter().map(|(mm, weight)| weight * levels_at(senses, *mm)[level]).sum::<f64>();
        let physics = share(3) / (share(2) + share(3));
        let p: Vec<f64> = d.p.iter().map(|p| p.get()).collect();
        let typed = p[2] / (p[1] + p[2]);
        assert!((typed - physics).abs() < 0.15, "{}: {typed} by hand, {physics} by its opening", d.suspect);
        compared += 1;
    }
    assert_eq!(compared, 4);
}

/// For every suspect with an opening and every size: the larger the hole, the graver every finding that senses it, and the gauge
/// gives back the hole from the flow that it would pass.
#[test]
fn every_opening_and_size_is_consistent() {
    let base = base();
    let readings = base.tests.iter().flat_map(|t| &t.readings).filter_map(|r| r.senses.as_ref());
    let all: Vec<&Senses> = base.monitors.iter().filter_map(|m| m.senses.as_ref()).chain(readings).collect();
    assert!(all.len() >= 8);
    let mut openings = 0;
    for (_, s) in base.suspects() {
        let Some(opening) = &s.opening else { continue };
        openings += 1;
        let shares = grades(opening);
        assert!((shares.iter().map(|g| g.share).sum::<f64>() - 1.0).abs() < 1e-12, "{}", s.id);
        let sizes: Vec<f64> = (0..CLASSES).flat_map(|class| sizes(opening, class)).collect();
        for mm in &sizes {
            let flow = tester_cc_min(*mm) / 60e6;
            let back = hole_from_flow_m(flow, CD_USUAL, 30.0 * INH2O_PA, density(), 1.0).unwrap() * 1000.0;
            assert!((back / mm - 1.0).abs() < 1e-9, "{}", s.id);
        }
        for senses in all.iter().filter(|x| x.sections.contains(&opening.at)) {
            let graver = |mm: f64| levels_at(senses, mm).iter().enumerate().map(|(l, p)| l as f64 * p).sum::<f64>();
            assert!(sizes.windows(2).all(|w| graver(w[0]) <= graver(w[1]) + 1e-12), "{}", s.id);
        }
    }
    assert!(openings >= 25, "{openings}");
}

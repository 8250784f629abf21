//! What captures of simulated cars say: silence, margins, lists and what they are worth.

use super::*;
use crate::History;
use car::simulated::SimulatedCar;
use car::{CodeText, Questions, Wanted, ask, read};
use inference::Prepared;
use knowledge::base::Vehicle;
use network::build::build;

const ENGINE: Unit = Unit::Short(0xE8);

fn codes(list: &[&str]) -> Vec<CodeText> {
    list.iter().map(|c| c.parse().unwrap()).collect()
}

/// A petrol car with all its checks; `open` has a 1 for each that has not run.
fn car(open: u8, stored: &[&str]) -> SimulatedCar {
    let mut car = SimulatedCar::default();
    let count = u8::try_from(stored.len()).unwrap();
    let engine = car.unit(ENGINE);
    engine.codes(3, &codes(stored)).codes(7, &[]).codes(0x0A, &[]);
    engine.live(0x01, &[count, 0x07, 0xE5, open]).live(0x30, &[20]).live(0x31, &[0x01, 0x00]);
    car
}

fn said(car: &mut SimulatedCar, base: &Base, taken: Taken) -> CarSaid {
    let found = ask(car, Questions { vehicle_number: false, long_addresses: false }).unwrap();
    car_said(&found.report, base, taken)
}

/// P(suspect | what the car said).
fn probability(said: &CarSaid, base: &Base, suspect: &str) -> f64 {
    let mut epoch = Epoch::default();
    said.into_epoch(&mut epoch, base);
    let network = build(base, &Vehicle::default());
    let told = History { epochs: vec![epoch] }.tell(base, &network).unwrap();
    let posterior = Prepared::new(&network, &told.evidence).unwrap().posterior().unwrap();
    posterior.now[network.suspect(suspect).unwrap()]
}

#[test]
fn every_word_of_the_base_is_a_word_of_the_car() {
    let base = shipped::base().unwrap();
    for m in &base.monitors {
        assert!(m.readiness.is_some(), "{}: under which bit of readiness does it report?", m.id);
        for t in &m.test_results {
            assert!(car::component(t.test).is_some(), "{}: {:02X}", m.id, t.test);
        }
    }
    for word in knowledge::base::ReadyGroup::WORDS {
        assert!(Check::ALL.iter().any(|c| c.word() == *word), "{word}");
    }
    let windows = base.tests.iter().flat_map(|t| &t.readings).filter_map(|r| r.car.as_ref()).flat_map(|c| &c.windows);
    for value in windows.flat_map(|w| &w.values) {
        assert!(car::quantity(value).is_some(), "{value}");
    }
}

#[test]
fn a_check_that_has_not_run_says_nothing_by_its_missing_code() {
    let base = shipped::base().unwrap();
    let open = said(&mut car(0x04, &["P0420"]), &base, Taken::AtFirst);
    assert!(open.not_run.contains(&"leak-check".to_owned()));
    assert!(!open.not_run.contains(&"catalyst-efficiency-1".to_owned()));
    assert!(open.codes_complete && !open.just_cleared);
    let ran = said(&mut car(0x00, &["P0420"]), &base, Taken::AtFirst);
    assert!(ran.not_run.is_empty() || !ran.not_run.contains(&"leak-check".to_owned()));
    let leak = |s: &CarSaid| probability(s, &base, "filler-cap/seal-worn");
    assert!(leak(&open) > 1.2 * leak(&ran), "{} against {}", leak(&open), leak(&ran));
}

#[test]
fn a_car_without_the_check_says_nothing_by_it_either() {
    let base = shipped::base().unwrap();
    let mut diesel = car(0x00, &["P0401"]);
    diesel.unit(ENGINE).live(0x01, &[1, 0x0F, 0xEB, 0x00]);
    let said = said(&mut diesel, &base, Taken::AtFirst);
    assert_eq!(said.vehicle, ["diesel-engine"]);
    assert!(said.not_run.contains(&"leak-check".to_owned()));
}

#[test]
fn permanent_codes_count_before_a_repair_and_not_after_it() {
    let base = shipped::base().unwrap();
    let mut cleared = car(0xE5, &[]);
    cleared.unit(ENGINE).codes(0x0A, &codes(&["P0455"])).live(0x30, &[0]).live(0x31, &[0, 0]);
    let first = said(&mut cleared.clone(), &base, Taken::AtFirst);
    assert_eq!(
        (first.codes.clone(), first.permanent_only.clone()),
        (vec!["P0455".to_owned()], vec!["P0455".to_owned()])
    );
    assert!(first.just_cleared && first.not_run.contains(&"purge-flow".to_owned()));
    let later = said(&mut cleared, &base, Taken::AfterRepair);
    assert!(later.codes.is_empty());
    assert_eq!(later.not_released, ["P0455"]);
}

#[test]
fn a_pending_code_weighs_less_than_a_stored_one_and_more_than_none() {
    let base = shipped::base().unwrap();
    let stored = said(&mut car(0x00, &["P0455"]), &base, Taken::AtFirst);
    let none = said(&mut car(0x00, &[]), &base, Taken::AtFirst);
    let mut pending_car = car(0x00, &[]);
    pending_car.unit(ENGINE).codes(7, &codes(&["P0455"]));
    let pending = said(&mut pending_car, &base, Taken::AtFirst);
    assert_eq!(pending.pending_only, ["P0455"]);
    let p = |s: &CarSaid| probability(s, &base, "filler-cap/loose");
    assert!(p(&none) < 0.2 * p(&pending) && p(&pending) < p(&stored), "{} {} {}", p(&none), p(&pending), p(&stored));
}

#[test]
fn a_test_result_weighs_by_its_distance_from_the_limit() {
    let base = shipped::base().unwrap();
    let with = |value: u16| {
        let mut car = car(0x00, &[]);
        car.unit(ENGINE).tests(0x3B, &[(0x81, 0x19, [value, 0, 1000])]);
        let said = said(&mut car, &base, Taken::AtFirst);
        probability(&said, &base, "vent-valve/stuck-open")
    };
    let (far, near, at, over) = (with(200), with(950), with(1000), with(3000));
    assert!(far < near && near < at && at < over, "{far} {near} {at} {over}");
    assert!(over > 20.0 * far);
    let mut car = car(0x00, &["P0442"]);
    car.unit(ENGINE).tests(0x3B, &[(0x81, 0x19, [3000, 0, 1000])]);
    assert!(said(&mut car, &base, Taken::AtFirst).results.is_empty(), "the code says it already");
}

#[test]
fn frozen_values_answer_the_test_of_their_family_only() {
    let base = shipped::base().unwrap();
    let with = |code: &str, level: u8| {
        let mut car = car(0x00, &[code]);
        let bytes = code.parse::<CodeText>().unwrap().0.to_be_bytes();
        car.unit(ENGINE).frozen(0x02, &bytes).frozen(0x2F, &[level]).frozen(0x46, &[60]);
        let said = said(&mut car, &base, Taken::AtFirst);
        said.readings.into_iter().find(|a| a.reading == "codes-and-freeze-frame:fuel-window").map(|a| a.outcome)
    };
    assert_eq!(with("P0455", 230), Some(Outcome::Fail));
    assert_eq!(with("P0455", 128), Some(Outcome::Pass));
    assert_eq!(with("P0420", 230), None);
}

#[test]
fn a_lost_list_makes_the_codes_incomplete() {
    let base = shipped::base().unwrap();
    let of = |text: &str| car_said(&read(text.lines(), Wanted::default()), &base, Taken::AtFirst);
    assert!(of("can0 7E8#0443010455\ncan0 7E8#0641018107E500").codes_complete);
    assert!(!of("can0 7E8#0443010455\ncan0 7E8#0641018207E500").codes_complete, "two stored, one listed");
    assert!(!of("can0 7E8#0443010455\ncan0 7E9#100A430404550442").codes_complete, "the second unit's list is cut off");
    assert!(!of("can0 7E8#0641018107E500").codes_complete, "no list was read");
    let foreign = of("can0 7E8#064302045530AA");
    assert_eq!(foreign.strangers, ["P30AA"]);
}

#[test]
fn trims_and_idle_vacuum_are_measured_readings() {
    let base = shipped::base().unwrap();
    let mut car = car(0x00, &["P0420"]);
    let engine = car.unit(ENGINE);
    engine.live(0x05, &[130]).live(0x0C, &[0x0B, 0xB8]).live(0x0D, &[0]).live(0x06, &[0x80]).live(0x07, &[0x66]);
    let said = said(&mut car, &base, Taken::AtFirst);
    let find = |id: &str| said.readings.iter().find(|a| a.reading == id).map(|a| a.outcome.to_string());
    assert_eq!(find("catalyst-fuel-trims:rich").as_deref(), Some("-20.3 %"));
    assert!(probability(&said, &base, "combustion/rich") > 0.2);
    // Cold, the same says nothing.
    car.unit(ENGINE).live(0x05, &[60]);
    assert!(
        super::tests::said(&mut car, &base, Taken::AtFirst)
            .readings
            .iter()
            .all(|a| !a.reading.starts_with("catalyst-fuel"))
    );
}

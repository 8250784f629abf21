//! Questions on a simulated car: what is sent, what flows, what is left alone.

use super::*;
use crate::CodeText;
use crate::simulated::SimulatedCar;
use std::collections::BTreeSet;

fn car() -> SimulatedCar {
    let code = |c: &str| c.parse::<CodeText>().unwrap();
    let mut car = SimulatedCar::default();
    let engine = car.unit(Unit::Short(0xE8));
    engine.codes(3, &[code("P0455"), code("P0442"), code("P0441"), code("P0420")]).codes(7, &[]);
    engine.live(0x01, &[0x84, 0x07, 0xE5, 0x04]).live(0x2F, &[0x80]);
    engine.frozen(0x02, &[0x04, 0x55]).frozen(0x2F, &[0xE6]);
    engine.tests(0x3B, &[(0x81, 0xFD, [0x015E, 0x8000, 0x01F4]), (0x82, 0xFD, [0, 0, 0])]);
    engine.answer(&[0x09, 0x02], &[&[1u8][..], b"ABCDEFGHJKLMNPRST"].concat());
    engine.slow.push(3);
    let gearbox = car.unit(Unit::Short(0xE9));
    gearbox.codes(3, &[]).live(0x01, &[0, 0, 0, 0]);
    gearbox.refuses.insert(0x0A, 0x11);
    car
}

const PLAIN: Questions = Questions { vehicle_number: false, long_addresses: false };

#[test]
fn a_car_is_asked_and_its_long_answers_flow() {
    let mut bus = car();
    let done = ask(&mut bus, PLAIN).unwrap();
    assert!(done.any);
    assert_eq!(done.report.codes(|u| u.stored.as_ref()).len(), 4);
    let engine = &done.report.units[&Unit::Short(0xE8)];
    assert_eq!(engine.tests.len(), 2);
    assert_eq!(engine.frozen[&0].code.unwrap().to_string(), "P0455");
    assert!(done.report.notes.iter().any(|(_, n)| *n == crate::Note::Refused(Unit::Short(0xE9), 0x0A, 0x11)));
}

#[test]
fn what_was_asked_and_logged_reads_the_same_again() {
    let mut bus = car();
    let done = ask(&mut bus, PLAIN).unwrap();
    let again = crate::read(bus.log().lines(), Wanted::default());
    assert_eq!(again.units, done.report.units);
}

#[test]
fn only_reading_services_are_sent_and_the_number_only_on_request() {
    for vehicle_number in [false, true] {
        let mut bus = car();
        let done = ask(&mut bus, Questions { vehicle_number, long_addresses: false }).unwrap();
        let sent = bus.seen.iter().filter(|f| matches!(Sender::of(f.id, f.extended), Some(Sender::Tester(_))));
        let services: BTreeSet<u8> = sent.filter(|f| f.data[0] < 0x10).map(|f| f.data[1]).collect();
        assert_eq!(services, BTreeSet::from([1, 2, 3, 6, 7, 9, 0x0A]));
        let asked = bus.seen.iter().any(|f| f.bytes()[..3] == [2, 9, 2]);
        assert_eq!(asked, vehicle_number);
        assert_eq!(done.report.units[&Unit::Short(0xE8)].vehicle_number.is_some(), vehicle_number);
    }
}

#[test]
fn a_bus_without_an_answer_is_left_alone_after_two_questions() {
    let mut bus = car();
    bus.dead = true;
    let done = ask(&mut bus, PLAIN).unwrap();
    assert_eq!((done.any, done.sent), (false, 2));
    assert!(done.report.is_empty());
}

#[test]
fn long_addresses_are_asked_and_answered_alike() {
    let mut bus = SimulatedCar::default();
    bus.unit(Unit::Long(0x10)).codes(3, &["P0456".parse().unwrap(); 1]).live(0x01, &[0x81, 7, 0xE5, 0]);
    let done = ask(&mut bus, Questions { vehicle_number: false, long_addresses: true }).unwrap();
    assert_eq!(done.report.codes(|u| u.stored.as_ref()).len(), 1);
}

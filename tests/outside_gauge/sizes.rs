//! A hole of a known size, as the code, the flow meter, the hold and the cap tester would each show it by the orifice equation: what
//! they then say of the size agrees, within the spread that each of them states, and with the gauge's own answer.
//!
//! Sources: as in `openings`.

use crate::openings::{drop_in_h2o, tester_cc_min};
use faultodds::evidence::{Epoch, History, Outcome};
use faultodds::gauge;
use faultodds::inference::posterior;
use faultodds::knowledge::base::{Base, Opening, Senses, Suspect, Vehicle};
use faultodds::network::build::build;
use faultodds::network::openings::{CLASSES, by_grade, class_ends, sizes, with_beyond};
use gauge::answer_flow::hole_from_flow;
use gauge::setting::Setting;
use gauge::{Kind, parse_quantity, parse_reading};

/// A hole in the middle of each class, in mm.
const HOLES_MM: [f64; CLASSES] = [0.25, 0.51, 1.06, 2.45, 6.3];
/// Vapour space of a tank of 60 L that is a quarter full, in litres.
const SPACE_L: f64 = 45.0;
/// What a flow meter's supply gives at most, in cc/min.
const METER_END_CC_MIN: f64 = 15_000.0;
/// How likely a reading may be with a hole that neither it nor its spread reaches, as a share of what it is with the true one,
/// beside what the finding is said to miss (1 less its reach).
const ASIDE: f64 = 0.05;

/// How likely a reading with these likelihoods at its levels is with each class of an opening.
fn told(senses: &Senses, opening: &Opening, likelihood: &[f64]) -> Vec<f64> {
    let beyond = vec![0.0; likelihood.len() - 1 - senses.limits_mm.len()];
    let classes: Vec<Vec<f64>> = (0..CLASSES).map(|class| sizes(opening, class)).collect();
    let rows = by_grade(senses, &classes).into_iter().map(|row| with_beyond(row, &beyond));
    rows.map(|row| row.iter().zip(likelihood).map(|(p, l)| p * l).sum()).collect()
}

/// The level that a hole reaches, and the sizes that it may have by what it shows: those of all levels that are reached within the
/// spread, and the spread beyond their limits.
fn reached(senses: &Senses, mm: f64) -> (usize, f64, f64) {
    let level = |mm: f64| senses.limits_mm.iter().filter(|limit| **limit <= mm).count();
    let (least, most) = (level(mm / senses.spread), level(mm * senses.spread));
    let low = if least == 0 { 0.0 } else { senses.limits_mm[least - 1] / senses.spread };
    let high = senses.limits_mm.get(most).map_or(f64::INFINITY, |limit| limit * senses.spread);
    (level(mm), low, high)
}

/// The class that fits best among those that share no size with these, beside the class of the hole.
fn beside(told: &[f64], mm: f64, low: f64, high: f64) -> f64 {
    let outside = |class: &usize| class_ends(*class).1 <= low || class_ends(*class).0 >= high;
    let own = (0..CLASSES).rfind(|class| class_ends(*class).0 <= mm).unwrap();
    (0..CLASSES).filter(outside).map(|class| told[class] / told[own]).fold(0.0, f64::max)
}

/// What a gauge shows of a hole, as one would type it, and nothing where it cannot be read.
fn shown(reading: &str, mm: f64) -> Option<String> {
    let flow = |inh2o: f64| {
        let flow = tester_cc_min(mm) * (inh2o / 30.0).sqrt();
        if flow > METER_END_CC_MIN { format!("> {METER_END_CC_MIN} cc/min") } else { format!("{flow:.0} cc/min") }
    };
    match reading {
        "smoke-flow-size:flow" => Some(flow(14.0)),
        "cap-leak-test:hold" => Some(flow(30.0)),
        "pressure-hold:decay" if mm < 2.0 => Some(format!("drop of {:.1} inH2O", drop_in_h2o(mm, SPACE_L))),
        "pressure-hold:decay" => (mm > 3.5).then(|| "will not build".to_owned()),
        _ => None,
    }
}

fn openings(base: &Base) -> impl Iterator<Item = (&Suspect, &Opening)> {
    base.suspects().filter_map(|(_, s)| Some((s, s.opening.as_ref()?)))
}

#[test]
fn every_instrument_tells_the_size_that_it_was_shown() {
    let base = faultodds::shipped::base().unwrap();
    let mut compared = 0;
    for id in ["smoke-flow-size:flow", "pressure-hold:decay", "cap-leak-test:hold"] {
        let reading = base.reading(id).unwrap().1;
        let senses = reading.senses.as_ref().unwrap();
        for (suspect, opening) in openings(&base).filter(|(_, o)| senses.sections.contains(&o.at)) {
            for mm in HOLES_MM {
                let Some(text) = shown(id, mm) else { continue };
                let outcome: Outcome = text.parse().unwrap();
                let likelihood = outcome.likelihood(reading).unwrap().unwrap();
                let (level, low, high) = reached(senses, mm);
                let off = beside(&told(senses, opening, &likelihood), mm, low, high);
                let most = likelihood.iter().fold(0.0_f64, |m, l| m.max(*l));
                assert!(
                    off <= ASIDE + 1.0 - senses.reach.get() && likelihood[level] > 0.1 * most,
                    "{}: {text} of a hole of {mm} mm: {off:.3} beside {low:.2} to {high:.2} mm; {likelihood:?}",
                    suspect.id
                );
                compared += 1;
            }
        }
    }
    assert!(compared > 200, "{compared}");
}

/// The code that a hole is large enough for speaks for its size, as the instruments do.
#[test]
fn the_code_tells_the_same_size() {
    let base = faultodds::shipped::base().unwrap();
    let monitor = base.monitor("leak-check").unwrap();
    let senses = monitor.senses.as_ref().unwrap();
    let mut compared = 0;
    for (suspect, opening) in openings(&base).filter(|(_, o)| senses.sections.contains(&o.at)) {
        for mm in HOLES_MM.iter().filter(|mm| **mm >= senses.limits_mm[0]) {
            let (level, low, high) = reached(senses, *mm);
            let mut likelihood = vec![0.0; monitor.levels.len() + 1];
            likelihood[level] = 1.0;
            let off = beside(&told(senses, opening, &likelihood), *mm, low, high);
            assert!(
                off <= ASIDE + 1.0 - senses.reach.get(),
                "{}: {} of {mm} mm: {off:.3}",
                suspect.id,
                monitor.levels[level - 1]
            );
            compared += 1;
        }
    }
    assert!(compared > 80, "{compared}");
}

/// `gauge hole` gives the hole behind the flow meter's and the cap tester's number, whose class is the one it was made of.
#[test]
fn the_gauge_gives_the_hole_back() {
    for (reading, pressure) in [("smoke-flow-size:flow", "14 inH2O gauge"), ("cap-leak-test:hold", "30 inH2O gauge")] {
        // The largest is past the end of the meter, and then the gauge gives a least size.
        for mm in HOLES_MM[..CLASSES - 1].iter().copied().filter(|mm| tester_cc_min(*mm) < METER_END_CC_MIN) {
            let flow = parse_reading(&shown(reading, mm).unwrap(), Kind::Flow).unwrap();
            let pressure = parse_quantity(pressure, Kind::Pressure).unwrap();
            let answer = hole_from_flow(&flow, pressure, &Setting::default()).unwrap();
            let hole = answer.also.iter().find(|f| f.unit.kind() == Kind::Length).unwrap();
            assert!((hole.value / mm - 1.0).abs() < 0.05, "{reading}: {mm} mm became {}", hole.value);
            assert!(hole.low.unwrap() <= mm && mm <= hole.high.unwrap(), "{reading}: {mm} mm");
        }
    }
}

/// P(any of a cap's own openings is there | code, what the tester shows).
fn cap_at_fault(base: &Base, code: &str, tester: Option<&str>) -> f64 {
    let vehicle = Vehicle { equipment: vec!["screw-cap".to_owned()], ..Vehicle::default() };
    let network = build(base, &vehicle);
    let results =
        tester.map(|text| ("cap-leak-test:hold".to_owned(), text.parse::<Outcome>().unwrap())).into_iter().collect();
    let present = Epoch { codes: vec![code.to_owned()], codes_complete: true, results, ..Epoch::default() };
    let told = History::visit(Vec::new(), present).tell(base, &network).unwrap();
    let now = posterior(&network, &told.evidence).unwrap().now;
    ["filler-cap/seal-worn", "filler-cap/relief-leaks"].iter().map(|s| now[network.suspect(s).unwrap()]).sum()
}

/// A cap that passes 100 cc/min at 30 inH2O is a hole of 0.18 mm and explains no code; one that passes 3,000 is one of 0.97 mm and
/// explains both the code for 0.5 mm and the one for 1 mm.
#[test]
fn a_weeping_cap_explains_no_code_and_a_gaping_one_does() {
    let base = faultodds::shipped::base().unwrap();
    for code in ["P0442", "P0456"] {
        let without = cap_at_fault(&base, code, None);
        let at = |text: &str| cap_at_fault(&base, code, Some(text));
        let (weeps, fails, gapes) = (at("100 cc/min"), at("300 cc/min"), at("3000 cc/min"));
        assert!(weeps < 0.3 * without, "{code}: {weeps}, {without} without");
        assert!(fails < without, "{code}: a hole of 0.31 mm explains nothing by itself: {fails}, {without} without");
        assert!(gapes > 0.6, "{code}: {gapes}");
    }
}

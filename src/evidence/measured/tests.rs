//! Numbers in the terms of the shipped tests: what is read, what is carried over, what is refused.

use super::*;
use crate::Outcome;
use knowledge::base::Base;

fn read(base: &Base, reading: &str, text: &str) -> Result<Number, EvidenceError> {
    let (_, found) = base.reading(reading).unwrap();
    number(text, found).unwrap()
}

fn ratio(base: &Base, reading: &str, text: &str) -> f64 {
    let found = read(base, reading, text).unwrap();
    found.likelihood[1] / found.likelihood[0]
}

#[test]
fn at_least_fifteen_tests_take_numbers_and_every_measure_can_be_used() {
    let base = shipped::base().unwrap();
    let mut tests = 0;
    for test in &base.tests {
        let mut numbers = 0;
        for reading in &test.readings {
            let Some(measure) = &reading.measure else { continue };
            numbers += 1;
            let typical = match measure.when[0] {
                knowledge::base::Distribution::Normal { mean, .. }
                | knowledge::base::Distribution::Exponential { mean } => mean,
                knowledge::base::Distribution::LogNormal { median, .. } => median,
                knowledge::base::Distribution::Uniform { low, high } => 0.5 * (low + high),
            };
            let text = format!("{typical} {}", measure.unit);
            let found = number(&text, reading).unwrap().unwrap();
            assert_eq!(found.likelihood.len(), reading.levels.len(), "{}", reading.id);
            // What is typical of normal speaks for normal, against every other level.
            for (level, l) in found.likelihood.iter().enumerate().skip(1) {
                assert!(found.likelihood[0] > *l, "{} level {level}: {:?}", reading.id, found.likelihood);
                // A number that shall decide must part the two well; what is weak evidence by nature is named here.
                let weak = reading.id.starts_with("catalyst-temperature-compare:");
                assert!(weak || found.likelihood[0] > 2.0 * l, "{} level {level}: {:?}", reading.id, found.likelihood);
            }
        }
        tests += usize::from(numbers > 0);
    }
    assert!(tests >= 15, "{tests}");
}

#[test]
fn holds_are_read_in_the_terms_of_the_test() {
    let base = shipped::base().unwrap();
    let hold = "purge-valve-hold:hold";
    let found = read(&base, hold, "20 -> 19.3 inHg in 4 min").unwrap();
    assert_eq!((found.taken.as_str(), found.notes.len()), ("a drop of 0.7 inHg", 0));
    let half = read(&base, hold, "20 -> 19.65 inHg in 2 min").unwrap();
    assert_eq!(half.taken, "a drop of 0.7 inHg");
    assert!(half.notes[0].contains("from 20 inHg over 240 s"), "{:?}", half.notes);
    assert!(ratio(&base, hold, "held") < 0.1);
    assert!(ratio(&base, hold, "20 -> 8 inHg in 4 min") > 20.0);
    assert_eq!(read(&base, hold, "20 -> 0 inHg in 1 min").unwrap().taken, "a drop of all 20 inHg");
    assert_eq!(read(&base, hold, "drop of 2 inHg").unwrap().taken, "a drop of 2 inHg");
}

#[test]
fn a_decay_tells_small_holes_from_large_ones() {
    let base = shipped::base().unwrap();
    let at = |text: &str| read(&base, "pressure-hold:decay", text).unwrap().likelihood;
    // What a 0.020 in hole leaves of 14 inH2O after 2 minutes at 50 L of vapour space, and a 0.040 in hole.
    let (small, large) = (at("14 -> 6.3 inH2O in 2 min"), at("14 -> 0 inH2O in 90 s"));
    assert!(small[1] > 30.0 * small[0] && small[1] > 30.0 * small[2], "{small:?}");
    assert!(large[2] > 30.0 * large[1] && large[2] > 30.0 * large[0], "{large:?}");
    let tight = at("14 -> 13.6 inH2O in 2 min");
    assert!(tight[0] > 30.0 * tight[1] && tight[0] > 30.0 * tight[2], "{tight:?}");
}

#[test]
fn temperature_and_height_are_taken_off() {
    let base = shipped::base().unwrap();
    let hot = read(&base, "purge-coil-ohms:coil", "34.2 ohm at 100 C").unwrap();
    assert!(hot.taken.starts_with("26.0") || hot.taken.starts_with("26 "), "{}", hot.taken);
    let cold = read(&base, "purge-coil-ohms:coil", "34 ohm").unwrap();
    assert!(cold.notes[0].contains("20 °C"), "{:?}", cold.notes);
    let high = read(&base, "idle-vacuum:vacuum", "15 inHg at 5000 ft").unwrap();
    assert!(high.taken.starts_with("18.0"), "{}", high.taken);
    assert!(read(&base, "idle-vacuum:vacuum", "15 inHg at 84.3 kPa").unwrap().taken.starts_with("18.0"));
    assert!(read(&base, "idle-vacuum:vacuum", "15 inHg at lunch").is_err());
    assert_eq!(read(&base, "tank-pressure-at-rest:offset", "-2 inH2O").unwrap().taken, "2 inH2O");
}

#[test]
fn limits_and_repeats_count_once() {
    let base = shipped::base().unwrap();
    let coil = "purge-coil-ohms:coil";
    let many = read(&base, coil, "34, 35, 33 ohm").unwrap();
    let once = read(&base, coil, "34 ohm").unwrap();
    assert_eq!(many.taken, "34 ohm");
    for (a, b) in many.likelihood.iter().zip(&once.likelihood) {
        assert!((a / b - 1.0).abs() < 1e-9);
    }
    assert!(ratio(&base, "cap-leak-test:hold", "> 5 L/min") > 10.0);
    assert_eq!(read(&base, "cap-leak-test:hold", "> 5 L/min and > 6 L/min").unwrap().taken, "more than 6000 cc/min");
    assert!(read(&base, coil, "> 1 kohm and 30 ohm").is_err());
    let open = read(&base, coil, "OL").unwrap();
    assert!(open.likelihood[2] > 20.0 * open.likelihood[0] && open.notes[0].contains("1000 ohm"));
    let two = read(&base, "purge-valve-hold:hold", "20 -> 19 inHg in 4 min and 20 -> 18 inHg in 4 min").unwrap();
    assert_eq!(two.taken, "a drop of 1.5 inHg");
}

#[test]
fn nonsense_is_refused_with_its_reason() {
    let base = shipped::base().unwrap();
    for (reading, text, why) in [
        ("purge-valve-hold:hold", "20 -> 19.3 in 4 min", "unit"),
        ("purge-valve-hold:hold", "20 -> 21 inHg in 4 min", "above the start"),
        ("purge-valve-hold:hold", "20 -> 19 inHg in 0 s", "no time"),
        ("purge-valve-hold:hold", "35 -> 19 inHg in 60 s", "exceed"),
        ("purge-valve-hold:hold", "25 inHg", "more than the 20 inHg"),
        ("purge-valve-hold:hold", "3 ohm", "resistance"),
        ("purge-valve-hold:hold", "off scale", "which scale"),
        ("purge-coil-ohms:coil", "34", "unit"),
        ("purge-coil-ohms:coil", "-3 ohm", "lies between"),
        ("purge-coil-ohms:coil", "1e308 ohm", ""),
        ("purge-coil-ohms:coil", "NaN ohm", ""),
        ("purge-coil-ohms:coil", "34 ohm at 900 C", ""),
        ("idle-vacuum:vacuum", "-3 kPa absolute", "below zero"),
        ("idle-vacuum:vacuum", "held 5 min", "one number"),
    ] {
        let error = read(&base, reading, text).map_err(|e| e.to_string());
        assert!(error.as_ref().is_err_and(|e| e.contains(why)), "{text}: {error:?}");
    }
}

#[test]
fn what_was_written_comes_back_as_it_was_written() {
    for text in
        ["pass", "fail", "unclear", "slow decay", "20 -> 19.3 inHg in 4 min", "34 ohm at 100 C", "> 5 L/min", "held"]
    {
        let outcome: Outcome = text.parse().unwrap();
        assert_eq!(outcome.to_string(), text);
        assert_eq!(outcome.to_string().parse::<Outcome>(), Ok(outcome));
    }
}

#[test]
fn a_flow_speaks_of_the_size_of_the_hole() {
    let base = shipped::base().unwrap();
    for (text, level) in [("20 cc/min", 0), ("300 cc/min", 1), ("1000 cc/min", 2), ("8 L/min", 3)] {
        let told = read(&base, "smoke-flow-size:flow", text).unwrap().likelihood;
        let others = told.iter().enumerate().filter(|(l, _)| *l != level).map(|(_, p)| *p).fold(0.0, f64::max);
        assert!(told[level] > 5.0 * others, "{text}: {told:?}");
    }
}

#[test]
fn whoever_leaves_out_the_unit_is_shown_that_of_the_reading() {
    let base = shipped::base().unwrap();
    let told = read(&base, "smoke-flow-size:flow", "300").unwrap_err().to_string();
    assert!(told.contains("`300 cc/min`"), "{told}");
}

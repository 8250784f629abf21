//! Source: **reference library** PyPI `obd` 0.7.3 (GPL-2.0, for tests only: `make/car_values.py` keeps numbers and hashes,
//! no text). What it has not, our table has *from memory* of SAE J1979.

use crate::json;
use faultodds::car::{Check, CheckState, CodeText, Ignition, Readiness, VALUES, scaling};
use serde_json::Value;
use sha2::{Digest, Sha256};

/// Where ours differs from the library on purpose, what the library should have said of `theirs`.
///
/// 32 (vapour pressure) is two's complement of both bytes; the library takes the sign of the lower byte by itself too,
/// and is 64 Pa low wherever that byte is above 7F: FFFF is -0.25 Pa and not -64.25.
/// 54 (vapour pressure, wide) is two's complement in later printings of the standard's table (*from memory*); the
/// library takes 32,767 from an unsigned number.
fn put_right(number: u8, raw: &[u8], theirs: f64) -> f64 {
    match (number, raw) {
        (0x32, [_, 0x80..=0xFF]) => theirs + 64.0,
        (0x54, [0x80..=0xFF, _]) => theirs + 32_767.0 - 65_536.0,
        (0x54, _) => theirs + 32_767.0,
        _ => theirs,
    }
}

/// Largest difference relative to the larger of the number and 1: the library writes 2/65,536 as 0.0000305.
const CLOSE: f64 = 1e-9;
const CLOSE_RATIO: f64 = 1e-3;

fn bytes(text: &Value) -> Vec<u8> {
    let digits = text.as_str().unwrap();
    (0..digits.len()).step_by(2).map(|i| u8::from_str_radix(&digits[i..i + 2], 16).unwrap()).collect()
}

fn rows(fixture: &Value, name: &str) -> Vec<Value> {
    fixture[name].as_array().unwrap().clone()
}

fn small(n: &Value) -> u8 {
    u8::try_from(n.as_u64().unwrap()).unwrap()
}

#[test]
fn all_65_536_pairs_of_bytes_are_the_codes_that_the_library_reads() {
    let fixture = json("car-values.json");
    for (high, theirs) in rows(&fixture, "codes").iter().enumerate() {
        let high = u8::try_from(high).unwrap();
        let ours: Vec<String> = (0..=255).map(|low| CodeText::of([high, low]).to_string()).collect();
        let hashed: String = Sha256::digest(ours.join(" ")).iter().take(8).map(|b| format!("{b:02x}")).collect();
        assert_eq!(hashed, theirs.as_str().unwrap(), "codes that begin with byte {high:02X}");
        for (low, text) in (0u8..=255).zip(&ours) {
            assert_eq!(text.parse(), Ok(CodeText::of([high, low])));
        }
    }
}

#[test]
fn every_value_read_has_the_librarys_formula() {
    let fixture = json("car-values.json");
    let (mut compared, mut seen) = (0, std::collections::BTreeSet::new());
    for row in rows(&fixture, "values") {
        let number = small(&row[0]);
        let raw = bytes(&row[1]);
        let theirs = put_right(number, &raw, row[2].as_f64().unwrap());
        let quantity = VALUES.iter().find(|v| v.number == number).unwrap();
        let ours = quantity.number(&raw).unwrap();
        seen.insert(number);
        let close = if number == 0x44 { CLOSE_RATIO } else { CLOSE };
        let same = (ours - theirs).abs() <= close * theirs.abs().max(1.0);
        assert!(same, "{number:02X} {}: {ours} against {theirs}", row[1]);
        compared += 1;
    }
    assert!(VALUES.iter().all(|v| seen.contains(&v.number)), "a value is read that the library does not check");
    println!("{compared} numbers of {} values equal", seen.len());
}

#[test]
fn test_results_are_scaled_as_the_library_does() {
    let fixture = json("car-values.json");
    let mut unknown = Vec::new();
    for row in rows(&fixture, "scalings") {
        let id = small(&row[0]);
        let Some(scale) = scaling(id) else {
            unknown.push(id);
            continue;
        };
        let raw = bytes(&row[1]);
        let (ours, theirs) = (scale.number([raw[0], raw[1]]), row[2].as_f64().unwrap());
        assert!((ours - theirs).abs() <= CLOSE * theirs.abs().max(1.0), "{id:02X} {}: {ours} against {theirs}", row[1]);
    }
    assert!(unknown.is_empty(), "the library has scalings that we have not: {unknown:02X?}");
}

#[test]
fn readiness_bits_mean_what_the_library_says() {
    let fixture = json("car-values.json");
    let checks: Vec<Check> = rows(&fixture, "checks")
        .iter()
        .map(|w| Check::ALL.into_iter().find(|c| c.word() == w.as_str().unwrap()).unwrap())
        .collect();
    let mut compared = 0;
    for row in rows(&fixture, "readiness") {
        let raw = bytes(&row[0]);
        let ours = Readiness::of([raw[0], raw[1], raw[2], raw[3]]);
        assert_eq!(u64::from(ours.lamp()), row[1].as_u64().unwrap());
        assert_eq!(u64::from(ours.codes()), row[2].as_u64().unwrap());
        assert_eq!(u64::from(ours.ignition() == Ignition::Compression), row[3].as_u64().unwrap());
        for (check, theirs) in checks.iter().zip(row[4].as_array().unwrap()) {
            let own = match ours.state(*check) {
                CheckState::Absent => 0,
                CheckState::Ran => 1,
                CheckState::NotRun => 2,
            };
            if theirs.as_i64() != Some(-1) {
                assert_eq!(Some(own), theirs.as_i64(), "{} of {}", check.word(), row[0]);
                compared += 1;
            }
        }
    }
    assert!(compared > 5000, "{compared} compared");
}

//! What is known of the vehicle, from the words on the command line. Knows the base's words; no clock: the year comes in.

use super::error::{EvidenceError, Kind};
use crate::knowledge::base::{Base, FactorInput, Vehicle};

/// Kilometres in a mile (international mile, exact).
const KM_PER_MILE: f64 = 1.609_344;

/// Reads words such as `age=9`, `year=2014`, `140000km`, `mileage=90000mi`, `salt`, `capless`, `recent-refuelling`,
/// separated by commas or given one by one.
///
/// # Errors
/// A word that the base does not know, a number that is not one, two answers to one question.
pub fn parse_vehicle(words: &[String], base: &Base, this_year: i16) -> Result<Vehicle, EvidenceError> {
    let mut vehicle = Vehicle::default();
    for word in words.iter().flat_map(|w| w.split(',')).map(str::trim).filter(|w| !w.is_empty()) {
        one_word(&word.to_lowercase(), base, this_year, &mut vehicle)?;
    }
    Ok(vehicle)
}

fn one_word(word: &str, base: &Base, this_year: i16, vehicle: &mut Vehicle) -> Result<(), EvidenceError> {
    let (key, value) = word.split_once(['=', ':']).map_or(("", word), |(k, v)| (k.trim(), v.trim()));
    match key {
        "age" => {
            let text = value.trim_end_matches("years").trim_end_matches('y').trim();
            return set(&mut vehicle.age, number(word, text, 100.0)?, "the age");
        }
        "year" => {
            let year = number(word, value, 3000.0)?;
            let age = f64::from(this_year) - year;
            if !(-1.0..=100.0).contains(&age) {
                return Err(EvidenceError::Unusable {
                    what: word.to_owned(),
                    why: format!("model year {year} would make it {age} years old"),
                });
            }
            return set(&mut vehicle.age, age.max(0.0), "the age");
        }
        "mileage" | "km" | "miles" | "mi" => return mileage(word, key, value, vehicle),
        "" if value.starts_with(|c: char| c.is_ascii_digit()) => return mileage(word, key, value, vehicle),
        "" | "climate" | "with" | "has" | "after" | "equipment" | "circumstance" => {}
        _ => return Err(unknown(word, base)),
    }
    let value = value.replace([' ', '_'], "-");
    if base.factor_words(FactorInput::Climate).contains(&value.as_str()) {
        return set(&mut vehicle.climate, value, "the climate");
    }
    if let Some((choice, _)) = base.equipment_option(&value) {
        if let Some(other) =
            vehicle.equipment.iter().find(|e| **e != value && choice.options.iter().any(|o| o.id == **e))
        {
            return Err(EvidenceError::Contradiction { what: choice.name.clone(), one: other.clone(), other: value });
        }
        if !vehicle.equipment.contains(&value) {
            vehicle.equipment.push(value);
        }
        return Ok(());
    }
    if base.factor_words(FactorInput::Circumstance).contains(&value.as_str()) {
        if !vehicle.circumstances.contains(&value) {
            vehicle.circumstances.push(value);
        }
        return Ok(());
    }
    Err(unknown(&value, base))
}

fn unknown(word: &str, base: &Base) -> EvidenceError {
    let mut known = vehicle_words(base);
    known.extend(["age=", "year=", "mileage="]);
    EvidenceError::unknown(Kind::Vehicle, word, known)
}

/// All plain words that describe a vehicle: climates, equipment, circumstances.
#[must_use]
pub fn vehicle_words(base: &Base) -> Vec<&str> {
    let mut words = base.factor_words(FactorInput::Climate);
    words.extend(base.factor_words(FactorInput::Circumstance));
    words.extend(base.equipment.iter().flat_map(|e| &e.options).map(|o| o.id.as_str()));
    words
}

fn mileage(word: &str, key: &str, value: &str, vehicle: &mut Vehicle) -> Result<(), EvidenceError> {
    let split = value.find(|c: char| c.is_ascii_alphabetic()).unwrap_or(value.len());
    let (digits, unit) = value.split_at(split);
    let digits: String = digits.chars().filter(|c| !matches!(c, ' ' | '\'' | '_')).collect();
    let per_unit = match (key, unit.trim()) {
        (_, "km") | ("km", "") => 1.0,
        (_, "mi" | "miles" | "mile") | ("mi" | "miles", "") => KM_PER_MILE,
        (_, "") => {
            let why = "say whether these are km or miles, such as mileage=140000km".to_owned();
            return Err(EvidenceError::Unusable { what: word.to_owned(), why });
        }
        _ => {
            let why = "the units of mileage are km and mi".to_owned();
            return Err(EvidenceError::Unusable { what: word.to_owned(), why });
        }
    };
    let km = number(word, &digits, 2e6)? * per_unit;
    set(&mut vehicle.mileage_km, km, "the mileage")
}

fn number(word: &str, text: &str, most: f64) -> Result<f64, EvidenceError> {
    let value = text.trim().parse::<f64>().ok().filter(|v| (0.0..=most).contains(v));
    value.ok_or_else(|| EvidenceError::Unusable {
        what: word.to_owned(),
        why: format!("a number between 0 and {most} belongs here"),
    })
}

fn set<T: PartialEq + std::fmt::Debug>(slot: &mut Option<T>, value: T, what: &str) -> Result<(), EvidenceError> {
    match slot {
        Some(old) if *old != value => Err(EvidenceError::Contradiction {
            what: what.to_owned(),
            one: format!("{old:?}").trim_matches('"').to_owned(),
            other: format!("{value:?}").trim_matches('"').to_owned(),
        }),
        _ => {
            *slot = Some(value);
            Ok(())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parse(words: &str) -> Result<Vehicle, EvidenceError> {
        let base = crate::shipped::base().map_err(|_| super::super::ParseOutcomeError)?;
        parse_vehicle(&[words.to_owned()], &base, 2026)
    }

    #[test]
    fn words_and_numbers_are_read() {
        let v = parse("year=2014, 90000 mi, salt, capless, recent-refuelling").unwrap();
        assert_eq!(v.age, Some(12.0));
        assert!((v.mileage_km.unwrap() - 144_840.96).abs() < 1e-6);
        assert_eq!(v.climate.as_deref(), Some("salt"));
        assert_eq!(v.equipment, ["capless"]);
        assert_eq!(v.circumstances, ["recent-refuelling"]);
    }

    #[test]
    fn a_bare_mileage_is_refused_not_guessed() {
        assert!(parse("mileage=140000").is_err());
        assert!(parse("140000km, 150000km").is_err());
        assert!(parse("age=-3").is_err());
        assert!(parse("capless, screw-cap").is_err());
        assert!(parse("salty").is_err());
    }
}

//! What is known of the vehicle, from the words on the command line. Knows the base's words; no clock: the year comes in.

use super::error::{EvidenceError, Kind};
use knowledge::base::{Base, Covers, FactorInput, Vehicle};

/// Kilometres in a mile (international mile, exact).
const KM_PER_MILE: f64 = 1.609_344;

/// What people say for a word of the base, where the base itself does not list it.
const ALSO: [(&str, &str); 18] = [
    ("petrol", "petrol-engine"),
    ("gasoline", "petrol-engine"),
    ("gas", "petrol-engine"),
    ("diesel", "diesel-engine"),
    ("turbo", "turbo-purge"),
    ("turbocharged", "turbo-purge"),
    ("v6", "two-banks"),
    ("v8", "two-banks"),
    ("v10", "two-banks"),
    ("v12", "two-banks"),
    ("boxer", "two-banks"),
    ("flat-four", "two-banks"),
    ("inline", "one-bank"),
    ("four-cylinder", "one-bank"),
    ("electric-car", "hybrid"),
    ("plug-in-hybrid", "hybrid"),
    ("dpf", "particulate-filter"),
    ("humid", "wet-weather"),
];

/// Reads words such as `age=9`, `9 years`, `2016`, `140000km`, `90,000mi`, `salt`, `capless`, `V6`, `recent-refuelling`,
/// separated by commas or given one by one.
///
/// # Errors
/// A word that the base does not know, a number that is not one, two answers to one question.
pub fn parse_vehicle(words: &[String], base: &Base, this_year: i16) -> Result<Vehicle, EvidenceError> {
    let mut vehicle = Vehicle::default();
    for words in words {
        let words = without_thousands(words);
        for word in words.split(',').map(str::trim).filter(|w| !w.is_empty()) {
            one_word(&word.to_lowercase(), base, this_year, &mut vehicle)?;
        }
    }
    Ok(vehicle)
}

/// `90,000mi` with the comma of the thousands taken out: one between digits, with three digits and no more behind it.
fn without_thousands(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let digit = |i: usize| chars.get(i).is_some_and(char::is_ascii_digit);
    // A comma behind an age or a year parts two words, and so does one before a number with a point of its own.
    let of_years = |i: usize| {
        // The longest such word is short, and the text may be as long as anybody likes.
        let before: String = chars[i.saturating_sub(24)..i].iter().collect();
        let word = before.rsplit([',', ' ']).next().unwrap_or_default().to_lowercase();
        word.starts_with("age") || word.starts_with("year") || word.starts_with("model-year")
    };
    let parts = |i: usize| {
        let digits = chars[i] == ',' && i > 0 && digit(i - 1) && (1..=3).all(|k| digit(i + k)) && !digit(i + 4);
        digits && chars.get(i + 4) != Some(&'.') && !of_years(i)
    };
    (0..chars.len()).filter(|&i| !parts(i)).map(|i| chars[i]).collect()
}

/// Years in `9 years`, `9y`, `9 years old`.
fn years(word: &str) -> Option<&str> {
    let number = word.trim_end_matches("old").trim_end();
    ["years", "year", "yrs", "yr", "y"].iter().find_map(|unit| number.strip_suffix(unit)).map(str::trim)
}

fn one_word(word: &str, base: &Base, this_year: i16, vehicle: &mut Vehicle) -> Result<(), EvidenceError> {
    let spoken = ["age ", "year ", "mileage "].iter().any(|key| word.starts_with(key));
    let parted = word.split_once(['=', ':']).or_else(|| word.split_once(' ').filter(|_| spoken));
    let (key, value) = parted.map_or(("", word), |(k, v)| (k.trim(), v.trim()));
    let model_year = |text: &str| -> Result<f64, EvidenceError> {
        let year = number(word, text, 3000.0)?;
        let age = f64::from(this_year) - year;
        if (-1.0..=100.0).contains(&age) {
            return Ok(age.max(0.0));
        }
        let why = format!("model year {year} would make it {age} years old");
        Err(EvidenceError::Unusable { what: word.to_owned(), why })
    };
    match key {
        "age" => {
            let text = years(value).unwrap_or(value);
            return set(&mut vehicle.age, number(word, text, 100.0)?, "the age");
        }
        "year" | "model-year" => return set(&mut vehicle.age, model_year(value)?, "the age"),
        "mileage" | "km" | "miles" | "mi" => return mileage(word, key, value, vehicle),
        "" if value.starts_with(|c: char| c.is_ascii_digit()) => {
            if let Some(text) = years(value) {
                return set(&mut vehicle.age, number(word, text, 100.0)?, "the age");
            }
            let year = value.parse::<i16>().ok().filter(|y| (1950..=this_year + 1).contains(y));
            if year.is_some() {
                return set(&mut vehicle.age, model_year(value)?, "the age");
            }
            if value.ends_with("km") || value.ends_with("mi") || value.ends_with("miles") || value.ends_with("mile") {
                return mileage(word, key, value, vehicle);
            }
            if value.parse::<f64>().is_ok() {
                return mileage(word, key, value, vehicle);
            }
        }
        "" | "climate" | "with" | "has" | "after" | "equipment" | "circumstance" | "fuel" | "engine" => {}
        _ => return Err(unknown(word, base)),
    }
    let said = value.replace([' ', '_'], "-");
    let value = canonical(&said, base).unwrap_or(said);
    if base.factor_words(FactorInput::Climate).contains(&value.as_str()) {
        if !vehicle.climates.contains(&value) {
            vehicle.climates.push(value);
        }
        return Ok(());
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

/// The word of the base that is meant: itself, another name of an option or a circumstance, or what people say for it.
fn canonical(said: &str, base: &Base) -> Option<String> {
    let plain = |s: &str| s.trim().to_lowercase().replace([' ', '_'], "-");
    let same = |names: &[String]| names.iter().any(|n| plain(n) == said);
    if vehicle_words(base).contains(&said) {
        return Some(said.to_owned());
    }
    let option = base.equipment.iter().flat_map(|e| &e.options).find(|o| plain(&o.name) == said || same(&o.also));
    if let Some(option) = option {
        return Some(option.id.clone());
    }
    let factor = base.factors.iter().filter(|f| f.input == FactorInput::Circumstance).find(|f| same(&f.also));
    if let Some(Covers::Word(word)) = factor.and_then(|f| f.bands.first()).map(|b| &b.covers) {
        return Some(word.clone());
    }
    let meant = ALSO.iter().find(|(word, _)| *word == said).map(|(_, meant)| *meant)?;
    vehicle_words(base).contains(&meant).then(|| meant.to_owned())
}

/// Every word that describes a vehicle, with its meaning: what `kb list vehicle` prints.
#[must_use]
pub fn vehicle_meanings(base: &Base) -> Vec<(String, String)> {
    let mut out = vec![
        ("age=9".to_owned(), "years since it was built; `9 years`, `year=2017` or `2017` say the same".to_owned()),
        ("140000km".to_owned(), "mileage; `90,000mi` is understood too".to_owned()),
    ];
    for factor in &base.factors {
        for band in &factor.bands {
            if let Covers::Word(word) = &band.covers
                && !out.iter().any(|(w, _)| w == word)
            {
                let meaning = match factor.input {
                    FactorInput::Climate => "climate in which it is kept".to_owned(),
                    _ => factor.name.clone(),
                };
                out.push((word.clone(), meaning));
            }
        }
    }
    for choice in &base.equipment {
        out.extend(choice.options.iter().map(|o| (o.id.clone(), format!("{}: {}", choice.name, o.name))));
    }
    let meaning_of = |word: &str| out.iter().find(|(w, _)| w == word).map(|(_, m)| m.clone());
    let also = ALSO
        .iter()
        .filter_map(|(word, meant)| meaning_of(meant).map(|m| ((*word).to_owned(), format!("{meant} ({m})"))));
    let also: Vec<(String, String)> = also.collect();
    out.extend(also);
    out
}

fn unknown(word: &str, base: &Base) -> EvidenceError {
    let mut known = vehicle_words(base);
    known.extend(["age=", "year=", "mileage="]);
    let mut error = EvidenceError::unknown(Kind::Vehicle, word, known);
    if let EvidenceError::Unknown { near, .. } = &mut error
        && near.is_empty()
    {
        *near = by_meaning(word, base);
    }
    error
}

/// The words whose names hold most of what was typed, at most three: `new-catalyst` is work on the exhaust.
fn by_meaning(word: &str, base: &Base) -> Vec<String> {
    let typed: Vec<String> = word.split(['-', ' ']).filter(|w| w.len() > 2).map(str::to_lowercase).collect();
    let whole = word.replace('-', " ").to_lowercase();
    let factors = base.factors.iter().flat_map(|f| {
        let words = f.bands.iter().filter_map(|b| if let Covers::Word(word) = &b.covers { Some(word) } else { None });
        words.map(move |word| (word, &f.name, &f.also))
    });
    let options = base.equipment.iter().flat_map(|e| &e.options).map(|o| (&o.id, &o.name, &o.also));
    let mut found: Vec<(usize, &String)> = factors
        .chain(options)
        .filter_map(|(id, name, also)| {
            let text = format!("{id} {name} {}", also.join(" ")).to_lowercase();
            let words: Vec<&str> = text.split(|c: char| !c.is_alphanumeric()).collect();
            let held: usize = typed.iter().filter(|t| words.contains(&t.as_str())).map(String::len).sum();
            // One word of several is a make or a model that sounds like it.
            let held = if 2 * held < typed.iter().map(String::len).sum() { 0 } else { held };
            let held = if words.join(" ").contains(&whole) { held + whole.len() } else { held };
            (held > 3).then_some((held, id))
        })
        .collect();
    found.sort_by_key(|(held, _)| std::cmp::Reverse(*held));
    let most = found.first().map_or(0, |(held, _)| *held);
    let mut near: Vec<String> = Vec::new();
    for (_, id) in found.into_iter().filter(|(held, _)| *held == most).take(3) {
        if !near.contains(id) {
            near.push(id.clone());
        }
    }
    near
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
    // In half of the world a point parts thousands: 140.000 km is no car's 140.
    if digits.split_once('.').is_some_and(|(whole, rest)| rest.len() == 3 && (1..=3).contains(&whole.len())) {
        let why = format!("a point before three digits may part thousands; write {}", digits.replace('.', ""));
        return Err(EvidenceError::Unusable { what: word.to_owned(), why });
    }
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
        let base = shipped::base().map_err(|_| super::super::ParseOutcomeError)?;
        parse_vehicle(&[words.to_owned()], &base, 2026)
    }

    #[test]
    fn a_word_that_the_base_puts_otherwise_is_answered_by_its_own() {
        let near = |words: &str| match parse(words).unwrap_err() {
            EvidenceError::Unknown { near, .. } => near,
            other => panic!("{other}"),
        };
        assert!(near("new-catalyst").contains(&"recent-exhaust-work".to_owned()), "{:?}", near("new-catalyst"));
        assert!(near("plug-in").contains(&"hybrid".to_owned()), "{:?}", near("plug-in"));
        assert!(near("zebra").is_empty());
    }

    #[test]
    fn words_and_numbers_are_read() {
        let v = parse("year=2014, 90000 mi, salt, capless, recent-refuelling").unwrap();
        assert_eq!(v.age, Some(12.0));
        assert!((v.mileage_km.unwrap() - 144_840.96).abs() < 1e-6);
        assert_eq!(v.climates, ["salt"]);
        assert_eq!(v.equipment, ["capless"]);
        assert_eq!(v.circumstances, ["recent-refuelling"]);
    }

    #[test]
    fn a_car_can_live_in_two_climates_and_each_factor_takes_the_one_that_wears_more() {
        let base = shipped::base().unwrap();
        let coast = parse("hot, salt, salt").unwrap();
        assert_eq!(coast.climates, ["hot", "salt"]);
        for factor in base.factors.iter().filter(|f| f.input == FactorInput::Climate) {
            let one = |words: &str| factor.multiplier(&parse(words).unwrap());
            assert_eq!(factor.multiplier(&coast), one("hot").max(one("salt")), "{}", factor.name);
        }
    }

    #[test]
    fn natural_forms_are_read() {
        let v = parse("2016, 90,000mi, V6, diesel").unwrap();
        assert_eq!(v.age, Some(10.0));
        assert!((v.mileage_km.unwrap() - 144_840.96).abs() < 1e-6);
        assert_eq!(v.equipment, ["two-banks", "diesel-engine"]);
        assert_eq!(parse("9 years").unwrap().age, Some(9.0));
        assert_eq!(parse("12 years old, turbo").unwrap().equipment, ["turbo-purge"]);
        assert!(parse("petrol, diesel").is_err());
        assert_eq!(parse("age=9,120000km").unwrap().age, Some(9.0));
    }

    #[test]
    fn a_bare_mileage_is_refused_not_guessed() {
        assert!(parse("mileage=140000").is_err());
        assert!(parse("140000km, 150000km").is_err());
        assert!(parse("age=-3").is_err());
        assert!(parse("capless, screw-cap").is_err());
        assert!(parse("salty").is_err());
        assert!(parse("140.000km").unwrap_err().to_string().contains("140000"));
        assert!(parse("age=9,140.000km").unwrap_err().to_string().starts_with("`140.000km`"));
        let v = parse("age=9,140km").unwrap();
        assert_eq!((v.age, v.mileage_km), (Some(9.0), Some(140.0)));
        assert_eq!(parse("90000.5km").unwrap().mileage_km, Some(90_000.5));
    }
}

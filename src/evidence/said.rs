//! Codes and results as typed: letters in any case, blanks, several in a word, a test named without its reading.

use super::error::{EvidenceError, Kind};
use super::meant::instead_of_a_code;
use super::outcome::Outcome;
use knowledge::base::Base;

/// A well-formed code that the base does not know.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stranger {
    /// The code.
    pub code: String,
    /// What its letters and digits say about it.
    pub about: Option<&'static str>,
}

impl Stranger {
    /// What is said to the person who typed it.
    #[must_use]
    pub fn in_words(&self) -> String {
        let about = self.about.map_or(String::new(), |a| format!("{a}; "));
        format!("{}: {about}this base does not describe it, so it is kept and says nothing here", self.code)
    }
}

/// The codes that were typed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CodesSaid {
    /// All of them, none twice, in the order given.
    pub all: Vec<String>,
    /// Those that the base knows.
    pub known: Vec<String>,
    /// Those that it does not.
    pub strangers: Vec<Stranger>,
}

impl CodesSaid {
    /// The codes, for a question that can be asked of known ones only.
    ///
    /// # Errors
    /// The first stranger.
    pub fn known_only(self) -> Result<Vec<String>, EvidenceError> {
        match self.strangers.into_iter().next() {
            Some(stranger) => Err(unknown(stranger)),
            None => Ok(self.known),
        }
    }

    /// The same, where it is enough that some are known.
    ///
    /// # Errors
    /// The first stranger, when there are strangers only.
    pub fn some_known(self) -> Result<Self, EvidenceError> {
        match self.strangers.first() {
            Some(stranger) if self.known.is_empty() => Err(unknown(stranger.clone())),
            _ => Ok(self),
        }
    }
}

/// A stranger where a known code is needed. No near misses: from one valid code number to another is no slip of the
/// finger that could be told from what was read off a scan tool.
fn unknown(stranger: Stranger) -> EvidenceError {
    let about = stranger.about.map(str::to_owned);
    EvidenceError::Unknown { kind: Kind::Code, id: stranger.code, near: Vec::new(), about }
}

/// Reads codes as people type them: `p0455`, `P 0455`, `0455`, `P0455,P0442`.
///
/// # Errors
/// A text that is no code. A code that the base does not know is no error.
pub fn codes_said(words: &[String], base: &Base) -> Result<CodesSaid, EvidenceError> {
    let joined = words.join(" ").to_uppercase();
    let mut said = CodesSaid::default();
    let mut pending = String::new();
    for word in joined.split([',', ';', '/', ' ', '\t', '\n']).filter(|w| !w.is_empty()) {
        // "P 0455" comes as two words.
        if ["P", "B", "C", "U"].contains(&word) && pending.is_empty() {
            pending = word.to_owned();
            continue;
        }
        let word = std::mem::take(&mut pending) + word;
        let code = one_code(&word, base)?;
        if said.all.contains(&code) {
            continue;
        }
        said.all.push(code.clone());
        match base.code(&code) {
            Some(_) => said.known.push(code),
            None => {
                let about = what_kind(&code);
                said.strangers.push(Stranger { code, about });
            }
        }
    }
    if !pending.is_empty() {
        return Err(not_a_code(&pending, base));
    }
    Ok(said)
}

fn one_code(word: &str, base: &Base) -> Result<String, EvidenceError> {
    let typed = word;
    let word = word.replace(['-', '.', '_'], "");
    let is_hex = |s: &str| s.len() == 4 && s.chars().all(|c| c.is_ascii_hexdigit());
    // Codes of the body and chassis begin with letters that are digits of codes, too.
    let code = if is_hex(&word) { format!("P{word}") } else { word.clone() };
    let letter = code.starts_with(['P', 'B', 'C', 'U']);
    if !(code.is_ascii() && code.len() == 5 && letter && is_hex(&code[1..])) {
        let runs: Vec<String> = word.split('P').filter(|s| is_hex(s)).map(|s| format!("P{s}")).collect();
        if runs.len() > 1 {
            let why = format!("two codes run together? write {}", runs.join(" "));
            return Err(EvidenceError::Unusable { what: word, why });
        }
        // Letters that look like digits, typed for them.
        let digits = code.replace('O', "0").replace(['I', 'L'], "1");
        if base.code(&digits).is_some() {
            let why = format!("this is not a code; with digits instead of the letters it is {digits}");
            return Err(EvidenceError::Unusable { what: word, why });
        }
        // A zero of P0455 is easily left out.
        let digits = word.strip_prefix('P').unwrap_or(&word);
        let filled = (digits.len() == 3).then(|| format!("P0{digits}"));
        if let Some(code) = filled.filter(|code| base.code(code).is_some()) {
            let why = format!("this is not a code; did you mean {code}?");
            return Err(EvidenceError::Unusable { what: word, why });
        }
        return Err(not_a_code(typed, base));
    }
    // Two bits hold the first digit (SAE J2012).
    if !matches!(code.as_bytes()[1], b'0'..=b'3') {
        let why = "this is not a code; the digit after the letter is 0, 1, 2 or 3".to_owned();
        return Err(EvidenceError::Unusable { what: code, why });
    }
    Ok(code)
}

fn not_a_code(word: &str, base: &Base) -> EvidenceError {
    let mut shown: String = word.chars().take(40).collect();
    if shown.len() < word.len() {
        shown.push('…');
    }
    let why = match instead_of_a_code(word, base) {
        Some(meant) => {
            shown = shown.to_lowercase();
            format!("this is not a code; {meant}")
        }
        None => "this is not a code; a code is a letter and four digits, such as P0455".to_owned(),
    };
    EvidenceError::Unusable { what: shown, why }
}

/// What the letters and digits of a code outside the base say about it (SAE J2012 numbering, from memory).
fn what_kind(code: &str) -> Option<&'static str> {
    let mut chars = code.chars();
    let (letter, group, system) = (chars.next()?, chars.next()?, chars.next()?);
    Some(match (letter, group, system) {
        ('B', ..) => "a body code; faultodds knows emission-control codes of the P04 range",
        ('C', ..) => "a chassis code; faultodds knows emission-control codes of the P04 range",
        ('U', ..) => "a network code; cure those first, since other modules' codes may follow from them",
        ('P', '1', _) => "a maker's own code: its meaning is in the vehicle maker's information",
        ('P', '3', '0'..='3') => "a maker's own code: its meaning is in the vehicle maker's information",
        ('P', '0', '4') => "an emission-control code of the standard's P04 range that this base does not describe",
        ('P', '0', '0'..='2') => "a standard code of fuel and air metering",
        ('P', '0', '3') => "a standard code of ignition and misfire",
        ('P', '0', '5') => "a standard code of vehicle speed, idle control and auxiliary inputs",
        ('P', '0', '6') => "a standard code of the control module itself",
        ('P', '0', '7'..='9') => "a standard code of the transmission",
        ('P', '2', _) => "a standard code outside the P04 range",
        ('P', ..) => "a powertrain code outside the P04 range",
        _ => return None,
    })
}

/// What a word is that stands where the outcome of a test belongs, and where it is said.
fn instead_of_a_result(word: &str, base: &Base) -> Option<String> {
    if codes_said(&[word.to_owned()], base).is_ok() {
        return Some(format!("a code that was read goes with --code {}", word.trim().to_uppercase()));
    }
    let lower = word.trim().to_lowercase();
    if base.test(&lower).is_some() || base.reading(&lower).is_some() {
        return Some(format!("what did {lower} show: pass, fail, unclear or a number?"));
    }
    instead_of_a_code(word, base)
}

/// Reads `TEST=OUTCOME` and `TEST:READING=OUTCOME`, the outcome a word or a number with its unit.
///
/// `pass` and `unclear` without a reading speak of all readings of the test; `fail` needs the reading named where
/// there are several.
///
/// # Errors
/// An unknown test or reading, an outcome that the reading does not have, or a reading that must be named.
pub fn results_said(words: &[String], base: &Base) -> Result<Vec<(String, Outcome)>, EvidenceError> {
    let mut out = Vec::new();
    for word in words {
        let Some((what, outcome)) = word.split_once('=') else {
            let mut why = "write TEST=OUTCOME, such as cap-look-reseat=pass or purge-coil-ohms=\"34 ohm\"".to_owned();
            if let Some(meant) = instead_of_a_result(word, base) {
                why = format!("{why}; {meant}");
            }
            return Err(EvidenceError::Unusable { what: word.clone(), why });
        };
        let what = what.trim().to_lowercase();
        let outcome: Outcome = outcome.parse()?;
        if what.contains(':') {
            let (_, reading) = base.reading(&what).ok_or_else(|| {
                let all = base.tests.iter().flat_map(|t| &t.readings).map(|r| r.id.as_str());
                EvidenceError::unknown(Kind::Reading, &what, all)
            })?;
            outcome.likelihood(reading)?;
            out.push((reading.id.clone(), outcome));
            continue;
        }
        let test = base
            .test(&what)
            .ok_or_else(|| EvidenceError::unknown(Kind::Test, &what, base.tests.iter().map(|t| t.id.as_str())))?;
        match (test.readings.as_slice(), &outcome) {
            ([only], _) => {
                outcome.likelihood(only)?;
                out.push((only.id.clone(), outcome));
            }
            (all, o) if o.speaks_of_all() => {
                out.extend(all.iter().map(|r| (r.id.clone(), outcome.clone())));
            }
            (all, Outcome::Measured(_)) if all.iter().filter(|r| r.measure.is_some()).count() == 1 => {
                // A number can only be meant for the reading that is one.
                for reading in all.iter().filter(|r| r.measure.is_some()) {
                    outcome.likelihood(reading)?;
                    out.push((reading.id.clone(), outcome.clone()));
                }
            }
            (all, _) => {
                let readings = all.iter().map(|r| r.id.clone()).collect();
                return Err(EvidenceError::WhichReading { test: test.id.clone(), readings });
            }
        }
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn codes(text: &str) -> Result<Vec<String>, EvidenceError> {
        codes_said(&[text.to_owned()], &shipped::base().unwrap())?.known_only()
    }

    #[test]
    fn what_stands_where_an_outcome_belongs_is_told_its_place() {
        let base = shipped::base().unwrap();
        let said = |word: &str| instead_of_a_result(word, &base).unwrap_or_default();
        assert!(said("p0455").contains("--code P0455"));
        assert!(said("cap-leak-test").contains("pass, fail"));
        assert!(said("oil-used").contains("--symptom"));
        assert!(said("loose cap").is_empty());
    }

    #[test]
    fn a_stranger_is_named_and_kept_and_never_led_to_another_code() {
        let said = codes_said(&["P0455 P0171 p1456".to_owned()], &shipped::base().unwrap()).unwrap();
        assert_eq!(said.all, ["P0455", "P0171", "P1456"]);
        assert_eq!(said.known, ["P0455"]);
        assert!(said.strangers[1].in_words().contains("maker's own"));
        for code in ["P1456", "P0171", "P04FF"] {
            let EvidenceError::Unknown { near, .. } = codes(code).unwrap_err() else { panic!("{code}") };
            assert!(near.is_empty(), "{code}: {near:?}");
        }
    }

    #[test]
    fn codes_are_read_as_people_type_them() {
        assert_eq!(codes("p0455 P 0442,0456 P0455").unwrap(), ["P0455", "P0442", "P0456"]);
        assert!(codes("").unwrap().is_empty());
    }

    #[test]
    fn what_is_no_code_is_told_apart() {
        assert!(codes("P0455P0442").unwrap_err().to_string().contains("run together"));
        assert!(matches!(codes("P9999").unwrap_err(), EvidenceError::Unusable { .. }));
        assert!(matches!(codes("hello").unwrap_err(), EvidenceError::Unusable { .. }));
        assert!(matches!(codes("P").unwrap_err(), EvidenceError::Unusable { .. }));
        let EvidenceError::Unknown { about, .. } = codes("U0100").unwrap_err() else { panic!("a known kind") };
        assert!(about.unwrap().contains("network"));
    }

    #[test]
    fn a_failed_test_with_several_readings_needs_its_reading() {
        let base = shipped::base().unwrap();
        let said = |s: &str| results_said(&[s.to_owned()], &base);
        assert!(matches!(said("cap-look-reseat=fail"), Err(EvidenceError::WhichReading { .. })));
        assert_eq!(said("cap-look-reseat=pass").unwrap().len(), 3);
        assert_eq!(said("purge-valve-hold=fail").unwrap()[0].0, "purge-valve-hold:hold");
        assert!(said("purge-valve-hodl=fail").is_err());
    }
}

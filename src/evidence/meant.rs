//! What may have been meant by a word that is none of the words asked for: a fault or a repair of a part that is known, or
//! something else that is said of a car and stands in the wrong place. Tells; decides nothing.

use super::error::{EvidenceError, Kind};
use super::vehicle::parse_vehicle;
use knowledge::base::Base;
use knowledge::near::near;

/// A year in which every model year of a car on the road is one: what year it is says nothing of what a word is.
const ANY_YEAR: i16 = 2050;

/// Most entries of one part that are named.
const OF_PART: usize = 8;

/// An unknown suspect. Where the part is known its faults are named: those whose titles hold the word, or all of them.
#[must_use]
pub fn unknown_suspect(id: &str, base: &Base) -> EvidenceError {
    let of_part = part_of(id).and_then(|(part, rest)| {
        let entries = base.part(part)?.suspects.iter();
        let entries = entries.map(|s| (s.id.as_str(), format!("{} {} {}", s.name, s.also.join(" "), s.what)));
        Some(within(rest, &entries.collect::<Vec<_>>()))
    });
    let parts = base.parts.iter().map(|p| p.id.as_str());
    named(Kind::Suspect, id, of_part, base.suspects().map(|(_, s)| s.id.as_str()).chain(parts))
}

/// An unknown repair, likewise.
#[must_use]
pub fn unknown_repair(id: &str, base: &Base) -> EvidenceError {
    let of_part = part_of(id).and_then(|(part, rest)| {
        let entries = base.part(part)?.repairs.iter();
        Some(within(rest, &entries.map(|r| (r.id.as_str(), r.does.clone())).collect::<Vec<_>>()))
    });
    named(Kind::Repair, id, of_part, base.repairs().map(|(_, r)| r.id.as_str()))
}

fn part_of(id: &str) -> Option<(&str, &str)> {
    let (part, rest) = id.split_once('/')?;
    (!part.is_empty()).then_some((part, rest))
}

fn named<'a>(
    kind: Kind,
    id: &str,
    of_part: Option<Vec<String>>,
    known: impl IntoIterator<Item = &'a str>,
) -> EvidenceError {
    let near = match of_part.filter(|found| !found.is_empty()) {
        Some(found) => found,
        None => near(id, known, 3).into_iter().map(str::to_owned).collect(),
    };
    EvidenceError::Unknown { kind, id: id.to_owned(), near, about: None }
}

/// The entries of one part that are near, else those whose text holds one of the words, else all of them.
fn within(typed: &str, entries: &[(&str, String)]) -> Vec<String> {
    let short = |id: &str| id.split_once('/').map_or("", |(_, rest)| rest).to_owned();
    let shorts: Vec<String> = entries.iter().map(|(id, _)| short(id)).collect();
    let close = near(typed, shorts.iter().map(String::as_str), 2);
    let mut found: Vec<&str> =
        entries.iter().map(|(id, _)| *id).filter(|id| close.contains(&short(id).as_str())).collect();
    if found.is_empty() {
        let typed: Vec<String> = words(typed);
        let holds = |text: &str| words(text).iter().any(|w| typed.iter().any(|t| alike(t, w)));
        found = entries.iter().filter(|(_, text)| holds(text)).map(|(id, _)| *id).collect();
    }
    if found.is_empty() {
        found = entries.iter().map(|(id, _)| *id).collect();
    }
    found.into_iter().take(OF_PART).map(str::to_owned).collect()
}

fn words(text: &str) -> Vec<String> {
    text.split(|c: char| !c.is_alphanumeric()).filter(|w| w.len() > 2).map(str::to_lowercase).collect()
}

/// The same word, or the one is the beginning of the other: `tear` does not find `torn`, `leak` finds `leaks`.
fn alike(a: &str, b: &str) -> bool {
    a == b || (a.len() > 3 && b.starts_with(a)) || (b.len() > 3 && a.starts_with(b))
}

/// What a word is that stands where a code belongs, and where it is said.
#[must_use]
pub fn instead_of_a_code(word: &str, base: &Base) -> Option<String> {
    let lower = word.trim().to_lowercase();
    let head = lower.split(['=', ':']).next().unwrap_or_default();
    if base.test(head).is_some() || base.reading(&lower).is_some() {
        return Some(format!("{head} is a test; its outcome goes with --result, such as --result {head}=pass"));
    }
    if base.symptom(&lower).is_some() {
        return Some(format!("it is a symptom and goes with --symptom {lower}"));
    }
    if base.suspect(&lower).is_some() {
        return Some(format!("it is a suspect; found with one's own eyes it goes with --found {lower}"));
    }
    if base.repair(&lower).is_some() {
        return Some(format!("it is a repair; made before this visit it goes with --already {lower}"));
    }
    let of_car = parse_vehicle(std::slice::from_ref(&lower), base, ANY_YEAR).is_ok();
    of_car.then(|| "it describes the car; all such words go together, such as --vehicle age=9,capless".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near_of(error: EvidenceError) -> Vec<String> {
        match error {
            EvidenceError::Unknown { near, .. } => near,
            other => panic!("{other}"),
        }
    }

    #[test]
    fn a_fault_named_in_other_words_is_found_on_its_part() {
        let base = shipped::base().unwrap();
        let suspect = |id: &str| near_of(unknown_suspect(id, &base));
        assert_eq!(suspect("filler-cap/torn"), ["filler-cap/seal-worn"]);
        assert_eq!(suspect("filler-cap/lose"), ["filler-cap/loose"]);
        assert!(suspect("filler-cap/zebra").len() > 3, "all faults of the part");
        assert!(suspect("zebra/zebra").is_empty());
        assert!(near_of(unknown_repair("filler-cap/new", &base)).iter().all(|r| r.starts_with("filler-cap/")));
    }

    #[test]
    fn what_stands_where_a_code_belongs_is_told_its_place() {
        let base = shipped::base().unwrap();
        let said = |word: &str| instead_of_a_code(word, &base).unwrap_or_default();
        assert!(said("cap-leak-test=PASS").contains("--result cap-leak-test=pass"));
        assert!(said("OIL-USED").contains("--symptom oil-used"));
        assert!(said("capless").contains("--vehicle"));
        assert!(said("age=9").contains("--vehicle"));
        assert!(said("filler-cap/loose").contains("--found"));
        for none in ["zebra", "455", "99999", "4555", "32767"] {
            assert!(said(none).is_empty(), "{none}");
        }
    }
}

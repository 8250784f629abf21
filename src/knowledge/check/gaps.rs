//! Readings in words whose limits leave a gap: "under 1 ohm" is normal, "over 5 ohm" abnormal, and 3 ohm is neither. A
//! measured reading is weighed by its distributions and a reading with more levels names them, so only the others need
//! a word on what lies between.

use super::desk::Desk;
use crate::base::{Base, Reading};
use crate::problem::ProblemCode;

const UP_TO: [&str; 5] = ["under ", "below ", "within ", "at most ", "less than "];
const FROM: [&str; 3] = ["over ", "above ", "more than "];

pub(super) fn check(desk: &mut Desk, base: &Base) {
    for reading in base.tests.iter().flat_map(|t| &t.readings) {
        let Some((low, high, unit)) = gap(reading) else { continue };
        let (file, place) = desk.place_of("reading", &reading.id);
        let message = format!("`{}` does not say what {low} to {high} {unit} means", reading.id);
        let hint = "say in `between` what such a result means and what is done then".to_owned();
        desk.at(ProblemCode::VerdictGap, &file, place, 1, message, Some(hint));
    }
}

/// From where to where a result is neither, when nothing is said on it.
fn gap(reading: &Reading) -> Option<(f64, f64, &str)> {
    if reading.measure.is_some() || reading.between.is_some() || reading.levels.len() > 2 {
        return None;
    }
    let (low, unit) = limit(&reading.normal, &UP_TO)?;
    let (high, other) = limit(&reading.abnormal, &FROM)?;
    (unit == other && high > low).then_some((low, high, unit))
}

/// The number and the unit behind the first of the words.
fn limit<'a>(text: &'a str, words: &[&str]) -> Option<(f64, &'a str)> {
    let lower = text.to_ascii_lowercase();
    let (at, word) = words.iter().filter_map(|w| lower.find(w).map(|at| (at, *w))).min()?;
    let rest = &text[at + word.len()..];
    let rest = rest.strip_prefix("about ").unwrap_or(rest);
    let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.' && c != ',').unwrap_or(rest.len());
    let number: f64 = rest[..end].replace(',', "").parse().ok()?;
    let unit = rest[end..].trim_start();
    let end = unit.find(|c: char| c.is_whitespace() || ",;:)(".contains(c)).unwrap_or(unit.len());
    Some((number, &unit[..end])).filter(|(_, unit)| !unit.is_empty())
}

#[cfg(test)]
mod limits {
    use super::{FROM, UP_TO, limit};

    #[test]
    fn the_first_limit_of_a_text_is_found_with_its_unit() {
        assert_eq!(limit("Under 1 ohm and steady", &UP_TO), Some((1.0, "ohm")));
        assert_eq!(limit("Open, or over 3,000 cc/min; pegged", &FROM), Some((3000.0, "cc/min")));
        assert_eq!(limit("Whole, below about 0.5 mm (0.02 in)", &UP_TO), Some((0.5, "mm")));
        assert_eq!(limit("Whole", &UP_TO), None);
        assert_eq!(limit("Under the mark", &UP_TO), None);
    }
}

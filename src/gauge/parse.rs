//! One quantity as people write it: `20inHg`, `19.3 in Hg`, `1:30`, `34 Ω`. Never supplies a unit; series and words like `held` are in `reading`.

use crate::error::{GaugeError, shorten};
use crate::number_text::{parse_number, split_number, split_reference, tidy_text};
use crate::quantity::{Quantity, Reference};
use crate::units::{Kind, Unit};

/// Reads a quantity of the wanted kind.
///
/// # Errors
/// When it has no unit, a unit of another kind, or a number that cannot be.
pub fn parse_quantity(text: &str, kind: Kind) -> Result<Quantity, GaugeError> {
    let text = tidy_text(text)?;
    if kind == Kind::Time {
        return parse_time(&text);
    }
    let (number, rest) = split_number(&text);
    let (value, step) = parse_number(number, &text)?;
    let (rest, reference) =
        if kind == Kind::Pressure { split_reference(rest) } else { (rest.to_string(), Reference::Unstated) };
    if rest.trim().is_empty() {
        return Err(no_unit(&text, number, kind));
    }
    let unit = Unit::find(&rest, kind).map_err(|error| whole(error, &text))?;
    Quantity { value, unit, reference, step }.checked()
}

/// `4 min`, `90s`, `1:30` (minutes and seconds), `1:02:00` (hours first), `1 min 30 s`.
fn parse_time(text: &str) -> Result<Quantity, GaugeError> {
    let second = Unit::find("s", Kind::Time)?;
    if text.contains(':') {
        let bad = || GaugeError::unclear(text, "a clock time is minutes:seconds, as `1:30`, or hours:minutes:seconds");
        let parts: Vec<&str> = text.split(':').map(str::trim).collect();
        let numbers: Vec<u32> = parts.iter().filter_map(|part| part.parse().ok()).collect();
        let digits = parts.iter().all(|part| part.len() <= 4 && part.chars().all(|c| c.is_ascii_digit()));
        if numbers.len() != parts.len()
            || !digits
            || !(2..=3).contains(&parts.len())
            || numbers.iter().skip(1).any(|n| *n > 59)
        {
            return Err(bad());
        }
        let value = numbers.iter().fold(0.0, |sum, n| sum * 60.0 + f64::from(*n));
        return Quantity { value, unit: second, reference: Reference::Unstated, step: 1.0 }.checked();
    }
    let mut rest = text;
    let mut found: Vec<Quantity> = Vec::new();
    while !rest.trim().is_empty() {
        let (number, after) = split_number(rest);
        let (value, step) = parse_number(number, text)?;
        let after = after.trim_start();
        let end = after.find(|c: char| !c.is_alphabetic()).unwrap_or(after.len());
        let (word, left) = after.split_at(end);
        if word.is_empty() {
            return Err(if found.is_empty() && left.trim().is_empty() {
                no_unit(text, number, Kind::Time)
            } else {
                GaugeError::unclear(text, "write a time as `4 min`, `90 s` or `1:30`")
            });
        }
        let unit = Unit::find(word, Kind::Time).map_err(|error| whole(error, text))?;
        found.push(Quantity { value, unit, reference: Reference::Unstated, step }.checked()?);
        rest = left;
    }
    match found.as_slice() {
        [] => Err(GaugeError::unclear(text, "write a time as `4 min`, `90 s` or `1:30`")),
        [one] => Ok(*one),
        several
            if several
                .windows(2)
                .all(|pair| pair[0].step_si() > pair[1].step_si() && pair[1].si() < pair[0].unit.to_si(1.0)) =>
        {
            let value = several.iter().map(|part| part.si()).sum();
            let step = several.last().map_or(1.0, |part| part.step_si());
            Quantity { value, unit: second, reference: Reference::Unstated, step }.checked()
        }
        _ => Err(GaugeError::unclear(text, "the parts of a time go from large to small, as `1 min 30 s`")),
    }
}

fn no_unit(text: &str, number: &str, kind: Kind) -> GaugeError {
    let unit = kind.example().split_once(' ').map_or("", |(_, unit)| unit);
    GaugeError::NoUnit { text: shorten(text), example: format!("{} {unit}", shorten(number)) }
}

/// Repeats the whole text in an error that knew only the unit.
fn whole(error: GaugeError, text: &str) -> GaugeError {
    match error {
        GaugeError::UnknownUnit { unit, hint, .. } => GaugeError::UnknownUnit { text: shorten(text), unit, hint },
        GaugeError::WrongKind { found, wanted, example, .. } => {
            GaugeError::WrongKind { text: shorten(text), found, wanted, example }
        }
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str, kind: Kind) -> Result<(f64, &'static str), GaugeError> {
        parse_quantity(text, kind).map(|q| (q.value, q.unit.symbol()))
    }

    #[test]
    fn quantities_as_people_write_them() {
        for (text, kind, value, unit) in [
            ("20inHg", Kind::Pressure, 20.0, "inHg"),
            ("19.3 in Hg", Kind::Pressure, 19.3, "inHg"),
            ("20\"Hg", Kind::Pressure, 20.0, "inHg"),
            ("20 in. Hg", Kind::Pressure, 20.0, "inHg"),
            ("14 inches of water", Kind::Pressure, 14.0, "inH2O"),
            ("14 inH₂O", Kind::Pressure, 14.0, "inH2O"),
            ("0.5 psi", Kind::Pressure, 0.5, "psi"),
            ("\u{2212}20 inHg", Kind::Pressure, -20.0, "inHg"),
            ("34 Ω", Kind::Resistance, 34.0, "ohm"),
            ("34 \u{2126}", Kind::Resistance, 34.0, "ohm"),
            ("1.2k", Kind::Resistance, 1.2, "kohm"),
            ("2,5 kPa", Kind::Pressure, 2.5, "kPa"),
            ("4 min", Kind::Time, 4.0, "min"),
            ("90s", Kind::Time, 90.0, "s"),
            ("1:30", Kind::Time, 90.0, "s"),
            ("1:02:03", Kind::Time, 3723.0, "s"),
            ("1 min 30 s", Kind::Time, 90.0, "s"),
            ("-4 °F", Kind::Temperature, -4.0, "F"),
            ("0.020\"", Kind::Length, 0.020, "in"),
            ("1e3 Pa", Kind::Pressure, 1000.0, "Pa"),
            ("60 cc/min", Kind::Flow, 60.0, "cc/min"),
            ("40%", Kind::Share, 40.0, "%"),
        ] {
            assert_eq!(read(text, kind), Ok((value, unit)), "{text}");
        }
    }

    #[test]
    fn references_are_kept() {
        for (text, reference) in [
            ("20 inHg vac", Reference::Vacuum),
            ("95 kPa abs", Reference::Absolute),
            ("14.7 psia", Reference::Absolute),
            ("3 kPa(g)", Reference::Gauge),
            ("3 kPa", Reference::Unstated),
        ] {
            assert_eq!(parse_quantity(text, Kind::Pressure).map(|q| q.reference), Ok(reference), "{text}");
        }
    }

    #[test]
    fn refused_with_a_reason() {
        for (text, kind, says) in [
            ("20", Kind::Pressure, "no unit"),
            ("4", Kind::Time, "no unit"),
            ("1,000 ohm", Kind::Resistance, "thousands"),
            ("20 inHq", Kind::Pressure, "did you mean `inHg`"),
            ("20 ohm", Kind::Pressure, "a resistance"),
            ("1e308 kPa", Kind::Pressure, "out of reach"),
            ("1e999 kPa", Kind::Pressure, "larger than any gauge"),
            ("NaN kPa", Kind::Pressure, "no number"),
            ("inf kPa", Kind::Pressure, "no number"),
            ("-3 kPa abs", Kind::Pressure, "below zero"),
            ("1:75", Kind::Time, "minutes:seconds"),
            ("4 min 3 h", Kind::Time, "large to small"),
            ("3 m", Kind::Time, "a height"),
            ("", Kind::Time, "nothing"),
            ("20 in", Kind::Pressure, "of what"),
            ("1.2.3 V", Kind::Voltage, "digits"),
        ] {
            let said = parse_quantity(text, kind).map_err(|e| e.to_string());
            assert!(said.as_ref().is_err_and(|e| e.contains(says)), "{text}: {said:?}");
        }
    }

    #[test]
    fn the_last_written_place_is_known() {
        for (text, step) in [("19.3 inHg", 0.1), ("20 inHg", 1.0), ("0.020 psi", 0.001), ("1e3 Pa", 1e3)] {
            let found = parse_quantity(text, Kind::Pressure).map(|q| q.step);
            assert!(found.is_ok_and(|found| (found / step - 1.0).abs() < 1e-12), "{text}");
        }
    }
}

//! A reading as people write it: `> 5 L/min`, `held 5 min`, `20 -> 19.3 inHg in 4 min`, lists. One number alone is in `parse`; judges nothing.

use crate::error::{GaugeError, shorten};
use crate::number_text::tidy_text;
use crate::parse::parse_quantity;
use crate::reading::Reading;
use crate::series_text::series;
use crate::units::Kind;

const WORDS_FOR_HELD: [&str; 6] = ["held", "holds", "no drop", "no change", "no movement", "steady"];
const WORDS_FOR_OFF: [&str; 7] = ["off scale", "off the scale", "over range", "overrange", "over scale", "ol", "o.l."];
const ABOVE: [&str; 8] = [">=", "≥", ">", "more than ", "above ", "over ", "at least ", "beyond "];
const BELOW: [&str; 7] = ["<=", "≤", "<", "less than ", "below ", "under ", "at most "];
const CONNECTORS: [&str; 5] = [" in ", " over ", " after ", " within ", " for "];

/// Reads a reading of the wanted kind.
///
/// # Errors
/// When it could mean two things, lacks a unit or a time, or cannot be.
pub fn parse_reading(text: &str, kind: Kind) -> Result<Reading, GaugeError> {
    let text = tidy_text(text)?;
    let small = text.to_ascii_lowercase();
    if let Some(word) = WORDS_FOR_OFF.iter().find(|word| small.starts_with(**word)) {
        let rest = text[word.len()..].trim();
        let rest = rest.strip_prefix("at ").or_else(|| rest.strip_prefix("above ")).unwrap_or(rest);
        return if rest.is_empty() { Ok(Reading::OffScale) } else { Ok(Reading::Above(parse_quantity(rest, kind)?)) };
    }
    if kind == Kind::Resistance && matches!(small.as_str(), "open" | "open circuit" | "infinite") {
        return Ok(Reading::OffScale);
    }
    for word in ABOVE {
        if small.starts_with(word) {
            return Ok(Reading::Above(parse_quantity(&text[word.len()..], kind)?));
        }
    }
    for word in BELOW {
        if small.starts_with(word) {
            return Ok(Reading::Below(parse_quantity(&text[word.len()..], kind)?));
        }
    }
    if let Some((at, word)) = WORDS_FOR_HELD.iter().find_map(|word| find_word(&small, word).map(|at| (at, *word))) {
        return held(&text, at, word.len(), kind);
    }
    if let Some(at) = small.rfind(" every ") {
        return every(&text, &text[..at], &text[at + 7..], kind);
    }
    let parts = split_arrows(&text, &small);
    if parts.len() > 1 {
        return arrow(&text, &parts, kind);
    }
    if text.contains(';') || text.contains(", ") {
        return timed(&text, kind);
    }
    Ok(Reading::Exact(parse_quantity(&text, kind)?))
}

/// `held`, `held 5 min`, `held 20 inHg for 5 min`, `20 inHg held 5 min`, `no drop in 5 min`.
fn held(text: &str, at: usize, length: usize, kind: Kind) -> Result<Reading, GaugeError> {
    let before = text[..at].trim().trim_end_matches(',');
    let after = text[at + length..].trim();
    let after = after.strip_prefix("at ").unwrap_or(after);
    let (level, time) = split_time(after);
    let (level, time) = match (level.trim(), time) {
        ("", time) => (before, time),
        (words, None) if parse_quantity(words, Kind::Time).is_ok() => (before, Some(words)),
        (words, time) if before.is_empty() => (words, time),
        _ => return Err(GaugeError::unclear(text, "write it as `held 20 inHg for 5 min`")),
    };
    let seconds = time.map(|time| hold_time(time, text)).transpose()?;
    let start = if level.is_empty() { None } else { Some(parse_quantity(level, kind)?) };
    Ok(Reading::Held { start, seconds })
}

/// `20 -> 19.3 inHg in 4 min`.
fn arrow(text: &str, parts: &[&str], kind: Kind) -> Result<Reading, GaugeError> {
    let [first, last] = parts else {
        return Err(GaugeError::unclear(
            text,
            "more than two points need their times; write `14, 12.1, 10.3 inH2O every 30 s` or `0 s 14, 30 s 12.1, 50 s 10.3 inH2O`",
        ));
    };
    let (last, time) = split_time(last);
    let Some(time) = time else {
        return Err(GaugeError::unclear(text, "how long did that take? write `20 -> 19.3 inHg in 4 min`"));
    };
    let seconds = hold_time(time, text)?;
    series(text, &[(0.0, first), (seconds, last)], kind)
}

/// `14, 12.1, 10.3 inH2O every 30 s`.
fn every(text: &str, list: &str, time: &str, kind: Kind) -> Result<Reading, GaugeError> {
    let seconds = hold_time(time, text)?;
    let tokens = split_list(list);
    let mut at = 0.0;
    let mut points = Vec::new();
    for token in &tokens {
        points.push((at, *token));
        at += seconds;
    }
    series(text, &points, kind)
}

/// `0s 14, 30s 12.1, 1:00 10.3 inH2O`.
fn timed(text: &str, kind: Kind) -> Result<Reading, GaugeError> {
    let mut points = Vec::new();
    for token in split_list(text) {
        let cut = token.match_indices(' ').find_map(|(at, _)| {
            let time = parse_quantity(&token[..at], Kind::Time).ok()?;
            token[at + 1..]
                .starts_with(|c: char| c.is_ascii_digit() || matches!(c, '-' | '.' | '+'))
                .then_some((time.si(), &token[at + 1..]))
        });
        let Some(point) = cut else {
            return Err(GaugeError::unclear(
                text,
                "a list needs its times; write `14, 12.1, 10.3 inH2O every 30 s` or `0 s 14, 30 s 12.1 inH2O`",
            ));
        };
        points.push(point);
    }
    series(text, &points, kind)
}

fn hold_time(time: &str, text: &str) -> Result<f64, GaugeError> {
    let seconds = parse_quantity(time, Kind::Time)?.si();
    if seconds > 0.0 {
        Ok(seconds)
    } else {
        Err(GaugeError::nonsense(format!(
            "`{}`: no time has passed, so nothing can be said about a leak",
            shorten(text)
        )))
    }
}

/// Parts `19.3 in Hg in 4 min` before the last connector that a digit follows.
fn split_time(text: &str) -> (&str, Option<&str>) {
    let padded = format!(" {}", text.to_ascii_lowercase());
    let found = CONNECTORS
        .iter()
        .filter_map(|word| padded.rfind(word).map(|at| (at, at + word.len() - 1)))
        .filter(|(_, end)| text[*end..].starts_with(|c: char| c.is_ascii_digit() || matches!(c, '-' | '.' | ':')))
        .max();
    found.map_or((text, None), |(at, end)| (text[..at].trim(), Some(&text[end..])))
}

fn split_arrows<'a>(text: &'a str, small: &str) -> Vec<&'a str> {
    let separator = if text.contains("->") { "->" } else { " to " };
    let mut parts = Vec::new();
    let mut from = 0;
    for (at, _) in small.match_indices(separator) {
        parts.push(text[from..at].trim());
        from = at + separator.len();
    }
    parts.push(text[from..].trim());
    parts
}

fn split_list(text: &str) -> Vec<&str> {
    let separator = if text.contains(';') { ";" } else { ", " };
    text.split(separator).map(str::trim).filter(|token| !token.is_empty()).collect()
}

/// Where a word stands that is not part of a longer one.
fn find_word(text: &str, word: &str) -> Option<usize> {
    let at = text.find(word)?;
    let free = |c: Option<char>| c.is_none_or(|c| !c.is_alphanumeric());
    (free(text[..at].chars().next_back()) && free(text[at + word.len()..].chars().next())).then_some(at)
}

#[cfg(test)]
mod tests {
    use super::*;

    type Points = (Vec<(f64, f64)>, &'static str);

    fn points(text: &str) -> Result<Points, String> {
        match parse_reading(text, Kind::Pressure).map_err(|e| e.to_string())? {
            Reading::Series(s) => Ok((s.points.iter().map(|p| (p.seconds, p.value)).collect(), s.unit.symbol())),
            other => Err(format!("{other:?}")),
        }
    }

    #[test]
    fn series_in_every_spelling() {
        let two = vec![(0.0, 20.0), (240.0, 19.3)];
        for text in [
            "20 -> 19.3 inHg in 4 min",
            "20 to 19.3 inHg in 4:00",
            "20inHg→19.3 inHg in 240s",
            "20 in Hg -> 19.3 in Hg over 4 min",
            "20 \"Hg => 19.3 \"Hg after 4 minutes",
            "20 inHg TO 19.3 in 4 min",
        ] {
            assert_eq!(points(text), Ok((two.clone(), "inHg")), "{text}");
        }
        let four = vec![(0.0, 14.0), (30.0, 12.1), (60.0, 10.3), (90.0, 8.8)];
        for text in [
            "14, 12.1, 10.3, 8.8 inH2O every 30 s",
            "0s 14, 30s 12.1, 1:00 10.3, 90 s 8.8 inH2O",
            "14; 12,1; 10,3; 8,8 inH2O every 30 s",
        ] {
            assert_eq!(points(text), Ok((four.clone(), "inH2O")), "{text}");
        }
        let mixed = points("14 inH2O -> 2 kPa in 2 min");
        assert!(mixed.is_ok_and(|(p, unit)| unit == "kPa" && (p[0].1 - 3.487_246).abs() < 1e-9));
    }

    #[test]
    fn censored_readings() {
        let read = |text: &str, kind| parse_reading(text, kind).map(|r| r.to_string());
        for (text, kind, says) in [
            ("held", Kind::Pressure, "held"),
            ("held 5 min", Kind::Pressure, "held for 300 s"),
            ("held 20 inHg for 5 min", Kind::Pressure, "held 20 inHg for 300 s"),
            ("20 inHg held for 5 min", Kind::Pressure, "held 20 inHg for 300 s"),
            ("20 inHg, no drop in 5 min", Kind::Pressure, "held 20 inHg for 300 s"),
            ("no drop", Kind::Pressure, "held"),
            ("> 5 L/min", Kind::Flow, "more than 5 L/min"),
            ("< 0.1 V", Kind::Voltage, "less than 0.1 V"),
            ("off scale", Kind::Flow, "off scale"),
            ("off scale at 10 L/min", Kind::Flow, "more than 10 L/min"),
            ("OL", Kind::Resistance, "off scale"),
            ("26.1 ohm", Kind::Resistance, "26.1 ohm"),
        ] {
            assert_eq!(read(text, kind), Ok(says.to_string()), "{text}");
        }
    }

    #[test]
    fn refused_with_a_reason() {
        for (text, says) in [
            ("20 -> 19.3 inHg", "how long"),
            ("20 -> 19.3 in 4 min", "no unit"),
            ("20 -> 19.3 inHg in 0 s", "no time has passed"),
            ("20 -> 19.3 inHg in 4", "no unit"),
            ("20 -> 19 -> 18 inHg in 4 min", "need their times"),
            ("14, 12.1, 10.3 inH2O", "needs its times"),
            ("14, 12,1, 10.3 inH2O every 30 s", "need a point"),
            ("30 s 14, 10 s 12 inH2O", "times must rise"),
            ("20 inHg -> 19 ohm in 4 min", "a resistance"),
            ("14 inH2O every 30 s", "at least two points"),
            ("20 inHg vac -> 19 inHg gauge in 2 min", "different zeros"),
            ("80 -> -3 kPa abs in 2 min", "below zero"),
        ] {
            let said = parse_reading(text, Kind::Pressure).map_err(|e| e.to_string());
            assert!(said.as_ref().is_err_and(|e| e.contains(says)), "{text}: {said:?}");
        }
    }
}

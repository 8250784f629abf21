//! The numbers among the findings: what was read, what normal is, and what the number did to levels and suspects.

use super::super::Look;
use super::super::paint::{HEADING, ID, paint};
use super::super::text::paragraph;
use super::{RankScreen, factor};
use evidence::Number;
use knowledge::base::Reading;
use std::fmt::Write as _;

/// Suspects named for each number.
const SUSPECTS: usize = 4;
/// A change of odds by less than this factor is not worth a name.
const LEAST: f64 = 1.2;
/// Neither is a suspect that is rarer than this both before and after the number.
const LEAST_PROBABILITY: f64 = 0.005;

/// One paragraph for each measured reading; nothing when there is none.
pub(super) fn section(screen: &RankScreen<'_>, out: &mut String, look: Look) {
    let measured: Vec<(usize, &Number, &Reading)> = screen
        .told
        .what
        .iter()
        .enumerate()
        .filter_map(|(i, what)| {
            let (_, reading) = screen.base.reading(&what.finding)?;
            Some((i, what.number.as_ref()?, reading))
        })
        .collect();
    if measured.is_empty() {
        return;
    }
    let _ = writeln!(out, "{}", paint(HEADING, "Readings: what the numbers say"));
    for (i, number, reading) in measured {
        let mut line = String::new();
        let said = if number.said == number.taken { String::new() } else { format!(" ({})", number.said) };
        let head = format!("{}: {}{said}", reading.id, number.taken);
        paragraph(&mut line, "   ", &head, look.width);
        out.push_str(&line.replacen(&reading.id, &paint(ID, &reading.id), 1));
        for note in &number.notes {
            paragraph(out, "      ", note, look.width);
        }
        paragraph(out, "      normal:   ", &reading.normal, look.width);
        paragraph(out, "      weighs:   ", &levels(number, reading), look.width);
        paragraph(out, "      suspects: ", &suspects(screen, i), look.width);
    }
    out.push('\n');
}

/// How much likelier or rarer the number is at each level than when normal.
fn levels(number: &Number, reading: &Reading) -> String {
    let normal = number.likelihood.first().copied().unwrap_or(1.0);
    let each: Vec<String> = reading
        .levels
        .iter()
        .zip(&number.likelihood)
        .skip(1)
        .map(|(level, l)| format!("{level} {}", as_times((l / normal).ln())))
        .collect();
    format!("against {}: {}", reading.levels.first().map_or("normal", String::as_str), each.join(", "))
}

fn as_times(ln: f64) -> String {
    match factor(ln).as_str() {
        "·" => "×1".to_owned(),
        other => other.to_owned(),
    }
}

/// The suspects whose odds the number moved most.
fn suspects(screen: &RankScreen<'_>, observation: usize) -> String {
    let Some(ln_odds) = screen.ranking.weights.as_ref().and_then(|w| w.ln_odds.get(observation)) else {
        return "not computed".to_owned();
    };
    // A suspect that is out of the question before and after the number is no news.
    let counts = |suspect: usize, ln: f64| {
        let standing = screen.ranking.standings.iter().find(|s| s.suspect == suspect);
        let now = standing.map_or(0.0, |s| s.probability);
        let odds_before = now / (1.0 - now).max(f64::MIN_POSITIVE) * (-ln).exp();
        now >= LEAST_PROBABILITY || odds_before >= LEAST_PROBABILITY
    };
    let mut moved: Vec<(usize, f64)> = ln_odds
        .iter()
        .copied()
        .enumerate()
        .filter(|(suspect, ln)| ln.abs() >= LEAST.ln() && counts(*suspect, *ln))
        .collect();
    moved.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()).then_with(|| a.0.cmp(&b.0)));
    if moved.is_empty() {
        return "none moved by a fifth or more".to_owned();
    }
    let left = moved.len().saturating_sub(SUSPECTS);
    let mut names: Vec<String> = moved
        .iter()
        .take(SUSPECTS)
        .map(|(s, ln)| format!("{} {}", screen.base.suspect_name(&screen.network.suspects[*s].id), factor(*ln)))
        .collect();
    if left > 0 {
        names.push(format!("{left} more by less"));
    }
    names.join("; ")
}

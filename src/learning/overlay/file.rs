//! The overlay as YAML: one number a line, so that two overlays can be compared with any tool for texts.

use super::{Overlay, Row, SCHEMA};
use crate::fit::{GroupNumber, Number, What};
use knowledge::fields::{Num, parse_long};
use knowledge::yaml::{Spanned, YamlError, place};
use std::fmt::Write as _;

/// One thing that is wrong with an overlay.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// Line from 1; 0 when the overlay comes from no file.
    pub line: u32,
    /// Column from 1.
    pub column: u32,
    /// One sentence.
    pub message: String,
}

/// Why an overlay cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum OverlayError {
    /// Everything that is wrong with it; at least one.
    #[error("{}", .0.iter().map(|t| format!("line {}, column {}: {}", t.line, t.column, t.message)).collect::<Vec<_>>().join("\n"))]
    Troubles(Vec<Trouble>),
}

knowledge::written! {
    RawOverlay "overlay" {
        need schema: Spanned<String>;
        need made: String;
        need jobs: Spanned<Num>;
        may shop: String;
        need numbers: Vec<RawNumber>;
        need groups: Vec<RawGroup>;
    }
}
knowledge::written! {
    RawNumber "number" {
        need what: Spanned<String>;
        may of: String;
        may on: String;
        may level: String;
        need old: Spanned<Num>;
        need new: Spanned<Num>;
        need low: Spanned<Num>;
        need high: Spanned<Num>;
        need jobs: Spanned<Num>;
        may old_weight: Spanned<Num>;
        may new_weight: Spanned<Num>;
    }
}
knowledge::written! {
    RawGroup "group" {
        need by: String;
        need value: String;
        need of: String;
        need times: Spanned<Num>;
        need low: Spanned<Num>;
        need high: Spanned<Num>;
        need jobs: Spanned<Num>;
    }
}

const HEADER: &str = "\
# Numbers that this shop's own jobs moved, laid over the base with --overlay; the base itself is not changed.
# what: prior (prevalence of a suspect), sets (P(code | suspect)), detects (P(level of a reading | suspect)),
#       false-alarm, minutes (of a repair or test), price (parts of a repair). low and high hold 90 %.
# Take a line out to go back to the shipped number; leave --overlay away to go back to all of them.
";

impl Overlay {
    /// The overlay as YAML.
    #[must_use]
    pub fn to_yaml(&self) -> String {
        let mut out = HEADER.to_owned();
        // Writing to a text cannot fail.
        let _ = writeln!(out, "schema: {SCHEMA}\nmade: {}\njobs: {}", quoted(&self.made), self.jobs);
        if !self.shop.is_empty() {
            let _ = writeln!(out, "shop: {}", quoted(&self.shop));
        }
        out.push_str(if self.rows.is_empty() { "numbers: []\n" } else { "numbers:\n" });
        for row in &self.rows {
            let n = &row.number;
            let _ = write!(out, "  - {{what: {}", n.what.word());
            for (field, text) in [("of", &n.of), ("on", &n.on), ("level", &n.level)] {
                if !text.is_empty() {
                    let _ = write!(out, ", {field}: {}", quoted(text));
                }
            }
            let _ = write!(out, ", old: {}, new: {}, low: {}, high: {}, jobs: {}", n.old, n.new, n.low, n.high, n.jobs);
            if let Some((old, new)) = row.weights {
                let _ = write!(out, ", old_weight: {old}, new_weight: {new}");
            }
            out.push_str("}\n");
        }
        out.push_str(if self.groups.is_empty() { "groups: []\n" } else { "groups:\n" });
        for g in &self.groups {
            let (by, value, of) = (quoted(&g.by), quoted(&g.value), quoted(&g.of));
            let _ = writeln!(
                out,
                "  - {{by: {by}, value: {value}, of: {of}, times: {}, low: {}, high: {}, jobs: {}}}",
                g.times, g.low, g.high, g.jobs
            );
        }
        out
    }

    /// Reads an overlay.
    ///
    /// # Errors
    /// Everything that is wrong, with places.
    pub fn from_yaml(text: &str) -> Result<Self, OverlayError> {
        let raw = parse_long::<RawOverlay>(text).map_err(|faults| {
            let trouble =
                |e: YamlError| Trouble { line: e.place.line, column: e.place.column, message: e.fault.to_string() };
            OverlayError::Troubles(faults.into_iter().map(trouble).collect())
        })?;
        let mut reader = Reader { troubles: Vec::new() };
        if raw.schema.value != SCHEMA {
            reader.tell(&raw.schema, format!("this is not an overlay of the shape {SCHEMA}"));
        }
        let jobs = reader.number(&raw.jobs, 0.0, f64::MAX);
        let rows = raw.numbers.iter().filter_map(|n| reader.row(n)).collect();
        let groups = raw.groups.into_iter().map(|g| reader.group(g)).collect();
        let shop = raw.shop.unwrap_or_default();
        let overlay = Self { made: raw.made, jobs, rows, groups, shop };
        if reader.troubles.is_empty() { Ok(overlay) } else { Err(OverlayError::Troubles(reader.troubles)) }
    }
}

struct Reader {
    troubles: Vec<Trouble>,
}

impl Reader {
    fn tell<T>(&mut self, at: &Spanned<T>, message: String) {
        let place = place(at);
        self.troubles.push(Trouble { line: place.line, column: place.column, message });
    }

    fn number(&mut self, n: &Spanned<Num>, least: f64, most: f64) -> f64 {
        match &n.value {
            Num::Good(v) if (least..=most).contains(v) => *v,
            Num::Good(v) => {
                self.tell(n, format!("{v} does not lie between {least} and {most}"));
                least
            }
            Num::Bad(text) => {
                self.tell(n, format!("{text} is not a number"));
                least
            }
        }
    }

    fn row(&mut self, n: &RawNumber) -> Option<Row> {
        let Some(what) = What::WORDS.iter().find(|(_, word)| *word == n.what.value).map(|(w, _)| *w) else {
            let words: Vec<&str> = What::WORDS.iter().map(|(_, w)| *w).collect();
            self.tell(&n.what, format!("`{}` is none of {}", n.what.value, words.join(", ")));
            return None;
        };
        let most = if matches!(what, What::Minutes | What::Price) { f64::MAX } else { 1.0 };
        let place = place(&n.what);
        let text = |t: &Option<String>| t.clone().unwrap_or_default();
        let number = Number {
            what,
            of: text(&n.of),
            on: text(&n.on),
            level: text(&n.level),
            old: self.number(&n.old, 0.0, most),
            new: self.number(&n.new, 0.0, most),
            low: self.number(&n.low, 0.0, f64::MAX),
            high: self.number(&n.high, 0.0, f64::MAX),
            jobs: self.number(&n.jobs, 0.0, f64::MAX),
        };
        let weights = match (&n.old_weight, &n.new_weight) {
            (Some(old), Some(new)) => Some((self.number(old, 0.5, 1e6), self.number(new, 0.5, 1e6))),
            _ => None,
        };
        Some(Row { number, weights, line: place.line, column: place.column })
    }

    fn group(&mut self, g: RawGroup) -> GroupNumber {
        let (times, low) = (self.number(&g.times, 0.0, 1e3), self.number(&g.low, 0.0, f64::MAX));
        let (high, jobs) = (self.number(&g.high, 0.0, f64::MAX), self.number(&g.jobs, 0.0, f64::MAX));
        GroupNumber { by: g.by, value: g.value, of: g.of, times, low, high, jobs }
    }
}

/// A text in double quotes where YAML could take it for something else.
pub(crate) fn quoted(text: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '/' | '_');
    let word = text.starts_with(|c: char| c.is_ascii_alphabetic()) && text.chars().all(plain);
    let taken = ["yes", "no", "on", "off", "true", "false", "null", "y", "n"].contains(&text.to_lowercase().as_str());
    if word && !taken {
        return text.to_owned();
    }
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            c if c.is_control() => {
                let _ = write!(out, "\\u{:04x}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out + "\""
}

//! The car's own words as a screen: each control unit with what it said, and what should be known about the capture.

use super::Look;
use super::car_words::{note, number, test_words};
use super::paint::{HEADING, ID, QUIET, WRONG, paint};
use super::text::{columns, hanging, harmless, left};
use car::{CheckState, CodeText, Frozen, Outcome, Readiness, Report, Unit, UnitReport, Value};
use knowledge::base::Base;
use std::fmt::Write as _;

/// A report to be shown.
#[derive(Debug)]
pub struct CarScreen<'a> {
    /// The base, for titles of codes.
    pub base: &'a Base,
    /// What was read.
    pub report: &'a Report,
    /// Show counters and values that this program does not read, too.
    pub long: bool,
}

/// Columns of the labels on the left.
const LABEL: usize = 16;

impl CarScreen<'_> {
    /// The whole screen.
    #[must_use]
    pub fn text(&self, look: Look) -> String {
        let mut out = String::new();
        let lines = self.report.lines;
        let mut facts = vec![format!("{} lines, {} of them diagnosis", lines.all, lines.diagnostic)];
        if lines.other > 0 {
            facts.push(format!("{} other traffic", lines.other));
        }
        if lines.unreadable > 0 {
            facts.push(format!("{} not readable", lines.unreadable));
        }
        if lines.all > 0 {
            hanging(&mut out, "", "", &facts.join(", "), look.width);
        }
        for (unit, said) in &self.report.units {
            self.unit(&mut out, *unit, said, look);
        }
        self.notes(&mut out, look);
        out
    }

    fn unit(&self, out: &mut String, unit: Unit, said: &UnitReport, look: Look) {
        let mut name = said.name.as_deref().map(harmless).unwrap_or_default();
        if name.is_empty() {
            name = unit.usually().unwrap_or("control unit").to_owned();
        }
        let _ = writeln!(out, "\n{}, {name}", paint(HEADING, unit));
        if let Some(r) = said.since_clearing {
            let lamp = if r.lamp() { "commanded on" } else { "off" };
            row(out, "lamp", &format!("{lamp}; {} stored", count(usize::from(r.codes()), "code")), look);
        }
        self.codes(out, "stored", said.stored.as_ref(), look);
        self.codes(out, "pending", said.pending.as_ref(), look);
        self.codes(out, "permanent", said.permanent.as_ref(), look);
        readiness(out, "since clearing", said.since_clearing, look);
        readiness(out, "this trip", said.this_trip, look);
        for (at, frozen) in &said.frozen {
            let label = frozen.code.map_or_else(|| format!("frozen, {at}"), |c| format!("frozen with {c}"));
            row(out, &label, &frozen_words(frozen), look);
        }
        if !said.values.is_empty() {
            let words: Vec<String> = said
                .values
                .values()
                .map(|l| {
                    let mut text = value_words(&l.value);
                    if l.high > l.low {
                        let _ = write!(text, " ({} to {})", number(l.low), number(l.high));
                    }
                    text
                })
                .collect();
            row(out, "now", &words.join("; "), look);
        }
        self.tests(out, said, look);
        if !said.calibrations.is_empty() {
            row(out, "calibration", &harmless(&said.calibrations.join(", ")), look);
        }
        if self.long {
            for c in &said.counters {
                row(out, "ran in use", &format!("{}: {} of {} times", c.name, c.ran, c.could), look);
            }
            let numbers: Vec<String> = said.check_numbers.iter().map(|n| format!("{n:08X}")).collect();
            if !numbers.is_empty() {
                row(out, "check numbers", &numbers.join(", "), look);
            }
        }
        if !said.others.is_empty() && self.long {
            let list: Vec<String> = said.others.keys().map(|(s, n)| format!("{s:02X} {n:02X}")).collect();
            row(out, "not read here", &list.join(", "), look);
        }
    }

    /// One code a line, with its title where the base has it.
    fn codes(&self, out: &mut String, label: &str, list: Option<&Vec<CodeText>>, look: Look) {
        let Some(list) = list else { return };
        if list.is_empty() {
            row(out, label, "none", look);
        }
        for (at, code) in list.iter().enumerate() {
            let title = self.base.code(&code.to_string()).map_or("not in this base", |c| c.title.as_str());
            let label = if at == 0 { label } else { "" };
            row_painted(out, label, &code.to_string(), &format!("{code}  {title}"), look);
        }
    }

    fn tests(&self, out: &mut String, said: &UnitReport, look: Look) {
        let waiting = said.tests.values().filter(|t| t.outcome() == Outcome::NotRun).count();
        let mut first = true;
        for test in said.tests.values().filter(|t| t.outcome() != Outcome::NotRun) {
            let label = if first { "test results" } else { "" };
            first = false;
            let words = test_words(test);
            if test.outcome() == Outcome::Failed {
                row_painted_as(out, label, "FAILED", &words, WRONG, look);
            } else {
                row(out, label, &words, look);
            }
        }
        if waiting > 0 {
            let label = if first { "test results" } else { "" };
            row(out, label, &format!("{} not run since clearing", count(waiting, "test")), look);
        }
    }

    fn notes(&self, out: &mut String, look: Look) {
        let report = self.report;
        if report.units.is_empty() {
            out.push('\n');
            hanging(out, "", "", "No control unit answered in this capture.", look.width);
        }
        if report.notes.is_empty() && report.cleared.is_none() {
            return;
        }
        let _ = writeln!(out, "\n{}", paint(HEADING, "about this capture"));
        if let Some(line) = report.cleared {
            let text = format!("line {line}: codes were cleared here; what came after it is not shown");
            hanging(out, "  ", "    ", &text, look.width);
        }
        for (line, what) in &report.notes {
            hanging(out, "  ", "    ", &format!("line {line}: {}", note(what)), look.width);
        }
        if report.more_notes > 0 {
            let _ = writeln!(out, "  {}", paint(QUIET, format!("and {} more", report.more_notes)));
        }
    }
}

fn count(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

fn frozen_words(frozen: &Frozen) -> String {
    if frozen.values.is_empty() {
        return "no values".to_owned();
    }
    frozen.values.values().map(value_words).collect::<Vec<_>>().join("; ")
}

/// `fuel level 90.2 %`.
#[must_use]
pub fn value_words(value: &Value) -> String {
    let unit = value.quantity.kind.unit();
    let blank = if unit.is_empty() || unit.starts_with('/') { "" } else { " " };
    format!("{} {}{blank}{unit}", value.quantity.name, number(value.number))
}

/// `ran: …; not run: …`.
fn readiness(out: &mut String, label: &str, readiness: Option<Readiness>, look: Look) {
    let Some(readiness) = readiness else { return };
    let those = |state: CheckState| -> String {
        readiness.checks().filter(|(_, s)| *s == state).map(|(c, _)| c.name()).collect::<Vec<_>>().join(", ")
    };
    let (ran, open) = (those(CheckState::Ran), those(CheckState::NotRun));
    let words = match (ran.is_empty(), open.is_empty()) {
        (true, true) => "no checks".to_owned(),
        (false, true) => format!("all have run: {ran}"),
        (true, false) => format!("none has run: {open}"),
        (false, false) => format!("NOT RUN: {open}; run: {ran}"),
    };
    row(out, label, &words, look);
}

fn row(out: &mut String, label: &str, text: &str, look: Look) {
    // A label longer than its column has a line of its own.
    let indent = "  ";
    if columns(label) > LABEL {
        hanging(out, indent, indent, label, look.width);
        let rest = " ".repeat(indent.len() + LABEL + 1);
        hanging(out, &rest, &rest, text, look.width);
        return;
    }
    let first = format!("{indent}{} ", left(label, LABEL));
    hanging(out, &first, &" ".repeat(columns(&first)), text, look.width);
}

fn row_painted(out: &mut String, label: &str, word: &str, text: &str, look: Look) {
    row_painted_as(out, label, word, text, ID, look);
}

/// Painted after wrapping, so that the width counts what is seen.
fn row_painted_as(out: &mut String, label: &str, word: &str, text: &str, style: anstyle::Style, look: Look) {
    let mut own = String::new();
    row(&mut own, label, text, look);
    out.push_str(&own.replacen(word, &paint(style, word), 1));
}

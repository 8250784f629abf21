//! How a repair can be proved: when the checks run, what each re-test would prove, and what clearing codes costs.

use super::Look;
use super::paint::{HEADING, paint};
use super::text::{hanging, left, paragraph, percent, right};
use jobs::{CodeProof, ProofTest};
use knowledge::Base;
use knowledge::base::{Basis, Runs, SourceKind};
use std::fmt::Write as _;

/// What clearing does, in the trade's general words (OBD readiness; SAE J1979 service 04, from memory).
pub const CLEARING: &str = "Clearing codes also wipes the freeze frame, the pending codes, the readiness of every check and \
    the counters of warm-ups and distance since clearing. Write them down first. Until a check has run to its end again, \
    the absence of its code proves nothing; a car taken to an inspection before that may be turned away.";

/// The whole account.
#[must_use]
pub fn proof(codes: &[CodeProof], tests: &[ProofTest], base: &Base, look: Look) -> String {
    let mut out = format!("\n{}\n", paint(HEADING, "proving the repair"));
    if tests.is_empty() && codes.is_empty() {
        out.push_str("there is no complaint to prove anything about\n");
        return out;
    }
    if tests.is_empty() {
        out.push_str("no re-test is left that would prove more\n");
        return out;
    }
    let head = format!("{}  {}  {}  re-test", right("normal", 8), right("abnormal", 8), left("expected", 8));
    if super::text::columns(&head) <= look.width {
        let _ = writeln!(out, "{head}");
    } else {
        paragraph(&mut out, "", "fixed if normal, if abnormal; expected; re-test:", look.width);
    }
    for t in tests {
        let name = t.id.strip_prefix("monitor:").map_or_else(
            || base.test(&t.id).map_or_else(|| t.id.clone(), |test| test.name.clone()),
            |m| format!("{}: runs to its end and stores nothing", base.monitor(m).map_or(m, |m| m.name.as_str())),
        );
        let again = if t.made { " (once more)" } else { "" };
        let lead = format!(
            "{}  {}  {}  ",
            right(&percent(t.if_normal), 8),
            right(&percent(t.if_abnormal), 8),
            left(&percent(t.passes), 8)
        );
        let rest = " ".repeat(lead.len());
        hanging(&mut out, &lead, &rest, &format!("{name} [{}]{again}", t.id), look.width);
    }
    if let Some(t) = tests.first() {
        let told = format!(
            "The first two columns are the probability that the car is fixed after that outcome; it is {} now. The third is the probability that the outcome is normal.",
            percent(t.before)
        );
        paragraph(&mut out, "", &told, look.width);
    }
    for c in codes {
        code(&mut out, c, base, look);
    }
    let _ = writeln!(out, "\n{}", paint(HEADING, "clearing codes"));
    paragraph(&mut out, "", CLEARING, look.width);
    out
}

fn code(out: &mut String, c: &CodeProof, base: &Base, look: Look) {
    let runs = match c.runs {
        Runs::Continuously => "runs all the time",
        Runs::OnceATrip => "runs once a trip, when its conditions are met",
    };
    let trips = if c.trips == 1 {
        "one failed trip stores".to_owned()
    } else {
        format!("{} failed trips in a row store", c.trips)
    };
    let _ = writeln!(out);
    let mut text = String::new();
    paragraph(&mut text, &format!("{}  ", c.code), &format!("{}: {runs}; {trips} the code", c.name), look.width);
    out.push_str(&text.replacen(&c.code, &paint(HEADING, &c.code), 1));
    for k in &c.conditions {
        let basis = match &k.basis {
            Basis::Judgement => "judgement".to_owned(),
            Basis::Source(id) => base.source(id).map_or_else(
                || id.clone(),
                |s| match s.kind {
                    SourceKind::Memory => format!("{}, from memory", s.title),
                    _ => s.title.clone(),
                },
            ),
        };
        hanging(out, "  - ", "    ", &format!("{}: {} ({basis})", k.what, k.needs), look.width);
    }
    if !c.held_back_by.is_empty() {
        let names: Vec<&str> =
            c.held_back_by.iter().map(|m| base.monitor(m).map_or(m.as_str(), |m| m.name.as_str())).collect();
        hanging(
            out,
            "  - ",
            "    ",
            &format!("does not run while one of these has failed: {}", names.join(", ")),
            look.width,
        );
    }
}

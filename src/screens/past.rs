//! What became of a spreadsheet's rows.

use super::Look;
use super::paint::{CAUTION, HEADING, QUIET, paint};
use super::text::{hanging, harmless};
use crate::learning::past::Report;
use serde_json::{Value, json};
use std::fmt::Write as _;

/// Refused rows that are shown.
const SHOWN: usize = 8;

/// The report as text.
#[must_use]
pub fn text(r: &Report, look: Look) -> String {
    let mut out = String::new();
    let delimiter = if r.delimiter == '\t' { "tabs".to_owned() } else { format!("`{}`", r.delimiter) };
    // Writing to a text cannot fail.
    let _ = writeln!(
        out,
        "{}",
        paint(HEADING, format!("{} rows, read as {} with {delimiter} between cells", r.rows, r.encoding))
    );
    for (n, what) in [
        (r.kept, "kept"),
        (r.held, "held: their cause wants a person's look (see `faultodds past held`)"),
        (r.known, "known already, unchanged"),
        (r.changed, "known already with another content; the first one stays"),
        (r.refused, "refused"),
    ] {
        if n > 0 {
            let _ = writeln!(out, "{n:>9}  {what}");
        }
    }
    if r.came_back > 0 {
        let _ = writeln!(out, "{:>9}  earlier jobs made unsure, since the car came back", r.came_back);
    }
    if r.with_gaps > 0 {
        let _ = writeln!(out, "{:>9}  of the kept ones lack a cell that could not be read", r.with_gaps);
    }
    if !r.reasons.is_empty() {
        let _ = writeln!(out, "{}", paint(HEADING, "refused because of"));
        for (reason, n) in &r.reasons {
            let _ = writeln!(out, "{n:>9}  {reason}");
        }
        for remark in r.refusals.iter().take(SHOWN) {
            hanging(
                &mut out,
                "  ",
                "    ",
                &format!("row {} (line {}): {}", remark.row, remark.line, harmless(&remark.reason)),
                look.width,
            );
        }
        if r.refused > SHOWN as u64 {
            let _ = writeln!(out, "{}", paint(QUIET, "  all of them go into a file with --refused FILE"));
        }
    }
    if r.dry_run {
        let _ = writeln!(out, "{}", paint(CAUTION, "dry run: nothing was kept"));
    }
    out
}

/// The report as JSON.
#[must_use]
pub fn json(r: &Report) -> Value {
    let remark = |r: &crate::learning::past::import::Remark| json!({"row": r.row, "line": r.line, "reason": r.reason});
    json!({
        "schema": "faultodds.past-import/1",
        "rows": r.rows, "kept": r.kept, "held": r.held, "known": r.known, "changed": r.changed, "refused": r.refused,
        "blank": r.blank, "came_back": r.came_back, "with_gaps": r.with_gaps, "dry_run": r.dry_run,
        "encoding": r.encoding, "delimiter": r.delimiter, "reasons": r.reasons,
        "refusals": r.refusals.iter().map(remark).collect::<Vec<_>>(),
        "left_out": r.left_out.iter().map(remark).collect::<Vec<_>>(),
    })
}

/// How many jobs there are in each state.
#[must_use]
pub fn states(states: &[(String, u64)]) -> String {
    if states.is_empty() {
        return "there are no past jobs\n".to_owned();
    }
    let words = |s: &str| match s {
        "found" => "with one confirmed cause",
        "several" => "with several causes",
        "unsure" => "whose cause was not confirmed",
        "no-fault" => "with no fault",
        "held" => "held for a person's look, not learned from",
        _ => "left out on purpose",
    };
    let total: u64 = states.iter().map(|s| s.1).sum();
    let mut out = format!("{}\n", paint(HEADING, format!("{total} past jobs")));
    for (state, n) in states {
        let _ = writeln!(out, "{n:>9}  {}", words(state));
    }
    out
}

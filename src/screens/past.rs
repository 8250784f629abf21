//! What became of a spreadsheet's rows, and what was understood from its words.

use super::Look;
use super::paint::{CAUTION, HEADING, QUIET, paint};
use super::text::{hanging, harmless};
use knowledge::base::Base;
use learning::past::Report;
use learning::past::cause::SURE;
use learning::past::wordings::{Import, Shown, Wording};
use serde_json::{Value, json};
use std::collections::BTreeSet;
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
    if r.wrapped > 0 {
        let _ = writeln!(out, "{:>9}  rows went on with the words of the row above", r.wrapped);
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
            let job = if remark.job.is_empty() { String::new() } else { format!(", job {}", harmless(&remark.job)) };
            let told = format!("row {} (line {}){job}: {}", remark.row, remark.line, harmless(&remark.reason));
            hanging(&mut out, "  ", "    ", &told, look.width);
        }
        if r.refused > SHOWN as u64 {
            let _ = writeln!(out, "{}", paint(QUIET, "  all of them go into a file with --refused FILE"));
        }
    }
    if r.dry_run {
        let _ = writeln!(out, "{}", paint(CAUTION, "dry run: nothing was kept"));
    }
    if let Some(import) = r.import {
        let told = format!(
            "See what the words were taken to mean with `faultodds past words`. This was import {import}; \
             `faultodds past forget {import}` takes it out again."
        );
        hanging(&mut out, "", "", &told, look.width);
    }
    out
}

/// A suspect or several in words.
fn named(base: &Base, ids: &str, joint: &str) -> String {
    ids.split(joint).map(|id| base.suspect_name(id)).collect::<Vec<_>>().join(" and ")
}

/// What a wording was read as, in words.
fn meaning(w: &Wording, base: &Base) -> String {
    let parts: BTreeSet<&str> = w.candidates.iter().filter_map(|(id, _)| id.split('/').next()).collect();
    let all: Vec<String> = w.candidates.iter().map(|(id, _)| base.suspect_name(id)).collect();
    match (w.state.as_str(), parts.len()) {
        ("found", _) => base.suspect_name(&w.cause),
        ("several", _) => named(base, &w.cause, " + "),
        ("no-fault", _) => "nothing was wrong".to_owned(),
        ("left-out", _) => "left out, as you decided".to_owned(),
        ("held", 0) => "HELD: nothing close".to_owned(),
        ("held", _) => format!("HELD: perhaps {}", all.join("; or ")),
        (_, 0) if w.came_back > 0 => "not sure: the car came back".to_owned(),
        (_, 0) => "nobody knew".to_owned(),
        (_, 1) if all.len() > 1 => {
            let part = parts.first().copied().unwrap_or_default();
            let name = base.part(part).map_or(part, |p| p.name.as_str());
            format!("some fault of the {}, one of {}: {}", name.to_lowercase(), all.len(), modes(&w.candidates))
        }
        _ => format!("not sure: {}", all.join("; or ")),
    }
}

/// The ways of failing alone.
fn modes(candidates: &[(String, f64)]) -> String {
    let mode = |id: &str| id.split_once('/').map_or(id, |(_, m)| m).replace('-', " ");
    candidates.iter().map(|(id, _)| mode(id)).collect::<Vec<_>>().join(", ")
}

/// The wordings with what they were read as.
#[must_use]
pub fn words(all: &[(Wording, Vec<Shown>)], base: &Base, top: usize, look: Look) -> String {
    if all.is_empty() {
        return "there are no past jobs\n".to_owned();
    }
    let jobs: u64 = all.iter().map(|(w, _)| w.jobs).sum();
    let held: u64 = all.iter().filter(|(w, _)| w.state == "held").map(|(w, _)| w.jobs).sum();
    let mut out =
        format!("{}\n", paint(HEADING, format!("{} wordings of {jobs} jobs, {held} of them held", all.len())));
    let told = format!(
        "In brackets how much of the words was understood so; below {:.0} %, or where another reading comes near, they are held for you.",
        100.0 * SURE
    );
    hanging(&mut out, "", "", &told, look.width);
    for (w, shown) in all.iter().take(top) {
        let words =
            if w.words.is_empty() { "(nothing written)".to_owned() } else { format!("“{}”", harmless(&w.words)) };
        hanging(&mut out, &format!("{:>5}  ", w.jobs), "       ", &words, look.width);
        let sure = match (&w.decided, w.certainty) {
            (Some(_), _) => " (decided by you)".to_owned(),
            (None, Some(c)) if !w.words.is_empty() => format!(" ({:.0} %)", 100.0 * c),
            _ => String::new(),
        };
        hanging(&mut out, "       = ", "         ", &(meaning(w, base) + &sure), look.width);
        for j in shown {
            let line: Vec<String> = [&j.job, &j.date, &j.codes, &j.car]
                .into_iter()
                .filter(|c| !c.is_empty())
                .map(|c| harmless(c))
                .collect();
            hanging(&mut out, "         job ", "           ", &line.join(", "), look.width);
        }
    }
    // Writing to a text cannot fail.
    if all.len() > top {
        let _ = writeln!(out, "{}", paint(QUIET, format!("{} more with --top 0", all.len() - top)));
    }
    let told = "Change any of it with `faultodds past decide --words TEXT --cause ID`, or all at once in the file that \
                `faultodds past words --edit` prints.";
    hanging(&mut out, "", "", told, look.width);
    out
}

/// The same as JSON.
#[must_use]
pub fn words_json(all: &[(Wording, Vec<Shown>)], base: &Base) -> Value {
    let one = |(w, shown): &(Wording, Vec<Shown>)| {
        json!({
            "words": w.words, "jobs": w.jobs, "state": w.state, "cause": w.cause, "meaning": meaning(w, base),
            "candidates": w.candidates.iter().map(|(id, b)| json!({"id": id, "belief": b})).collect::<Vec<_>>(),
            "certainty": w.certainty, "decided": w.decided, "came_back": w.came_back,
            "shown": shown.iter().map(|j| json!({"job": j.job, "date": j.date, "codes": j.codes, "car": j.car})).collect::<Vec<_>>(),
        })
    };
    json!({"schema": "faultodds.past-words/1", "held_below": SURE, "wordings": all.iter().map(one).collect::<Vec<_>>()})
}

/// The report as JSON.
#[must_use]
pub fn json(r: &Report) -> Value {
    let remark =
        |r: &learning::past::report::Remark| json!({"row": r.row, "line": r.line, "job": r.job, "reason": r.reason});
    json!({
        "schema": "faultodds.past-import/1",
        "rows": r.rows, "kept": r.kept, "held": r.held, "known": r.known, "changed": r.changed, "refused": r.refused,
        "blank": r.blank, "wrapped": r.wrapped, "above": r.above, "import": r.import, "came_back": r.came_back, "with_gaps": r.with_gaps, "dry_run": r.dry_run,
        "encoding": r.encoding, "delimiter": r.delimiter, "reasons": r.reasons,
        "refusals": r.refusals.iter().map(remark).collect::<Vec<_>>(),
        "left_out": r.left_out.iter().map(remark).collect::<Vec<_>>(),
    })
}

/// How many jobs there are in each state.
#[must_use]
pub fn states(states: &[(String, u64)], imports: &[Import]) -> String {
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
    let _ = writeln!(out, "{}", paint(HEADING, "brought in"));
    for i in imports {
        let when = if i.date.is_empty() { String::new() } else { format!(", {}", harmless(&i.date)) };
        let _ = writeln!(out, "{:>9}  import {}: {}{when}", i.jobs, i.number, harmless(&i.file));
    }
    out
}

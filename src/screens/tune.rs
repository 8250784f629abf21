//! What was learned: the largest changes in words.

use super::Look;
use super::paint::{HEADING, ID, QUIET, paint};
use super::text::{columns, cut, hanging, harmless, left, percent, right};
use knowledge::base::Base;
use learning::fit::{Learned, Number, What};
use learning::overlay::Overlay;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// What is shown beside what was learned.
pub struct Shown<'a> {
    /// Where the overlay was written.
    pub written: Option<&'a str>,
    /// How many changes of each kind.
    pub top: usize,
    /// Job numbers behind each suspect and repair.
    pub why: &'a BTreeMap<String, Vec<String>>,
    /// How many closed jobs were brought in with `past import`, and how many were recorded with `job`; none where counts
    /// were merged.
    pub of: Option<(usize, usize)>,
}

/// Of fewer jobs than this the screen says that they are few (judgement).
const FEW_JOBS: f64 = 30.0;

/// What was learned as text.
#[must_use]
pub fn text(base: &Base, learned: &Learned, overlay: &Overlay, shown: &Shown<'_>, look: Look) -> String {
    let (top, written) = (shown.top, shown.written);
    let mut out = String::new();
    // Writing to a text cannot fail.
    let _ = writeln!(
        out,
        "{}",
        paint(
            HEADING,
            format!(
                "{:.0} job{}: {:.0} with a confirmed cause, {:.0} unsure",
                learned.jobs,
                if learned.jobs == 1.0 { "" } else { "s" },
                learned.confirmed,
                learned.unsure
            )
        )
    );
    match shown.of {
        Some((past, recorded)) if past > 0 && recorded > 0 => {
            let told = format!(
                "{recorded} recorded with `job` and {past} brought in with `past import` are learned from together; \
                 --past-only leaves the first out"
            );
            hanging(&mut out, "", "", &told, look.width);
        }
        _ => {}
    }
    if learned.jobs < FEW_JOBS {
        let told = format!("Fewer than {FEW_JOBS:.0} jobs: take what moved for a beginning, not for a result.");
        hanging(&mut out, "", "", &told, look.width);
    }
    if learned.unknown > 0.0 {
        let _ = writeln!(out, "{:.0} jobs speak of causes or codes that the base does not have", learned.unknown);
    }
    if learned.odd > 0.0 {
        let _ = writeln!(
            out,
            "{:.0} jobs had codes that their cause does not set; they count for shares only",
            learned.odd
        );
    }
    agreement(&mut out, learned, look);
    let _ =
        writeln!(out, "\n{}", paint(HEADING, "what fails more often or less often on your cars than the base says"));
    let mut shares: Vec<_> = learned.shares.iter().filter(|s| s.1 < s.3 || s.1 > s.4).collect();
    shares.sort_by(|a, b| (b.2 - b.1).abs().total_cmp(&(a.2 - a.1).abs()).then_with(|| a.0.cmp(&b.0)));
    let jobs_of: BTreeMap<&str, f64> =
        learned.numbers.iter().filter(|n| n.what == What::Prior).map(|n| (n.of.as_str(), n.jobs)).collect();
    let with_cause: f64 = jobs_of.values().sum();
    for (id, old, new, low, high) in shares.iter().take(top) {
        let _ = writeln!(out, "  {}", cut(&harmless(&base.suspect_name(id)), look.width.saturating_sub(2)));
        let told = format!(
            "{:.0} of {with_cause:.0} jobs, where the base expects {:.0}: learned {} times as many ({} to {})",
            jobs_of.get(id.as_str()).copied().unwrap_or(0.0),
            old * with_cause,
            times(new / old),
            times(low / old),
            times(high / old),
        );
        hanging(&mut out, "      ", "      ", &told, look.width);
        reasons(&mut out, shown, id, look);
    }
    let clear = shares.len();
    let _ = writeln!(
        out,
        "{}",
        paint(
            QUIET,
            format!(
                "{clear} of {} suspects (unlisted causes too) moved by more than chance would",
                learned.shares.len()
            )
        )
    );
    for (what, head) in [
        (What::Sets, "chance that a suspect sets a code"),
        (What::Detects, "chance that a test shows a suspect"),
        (What::FalseAlarm, "false alarms of tests"),
        (What::Minutes, "minutes"),
        (What::Price, "prices of parts"),
    ] {
        let mut rows: Vec<&Number> = overlay
            .rows
            .iter()
            .map(|r| &r.number)
            .filter(|n| n.what == what && (n.old < n.low || n.old > n.high))
            .collect();
        if rows.is_empty() {
            continue;
        }
        rows.sort_by(|a, b| by(b).total_cmp(&by(a)).then_with(|| (&a.of, &a.on).cmp(&(&b.of, &b.on))));
        let _ = writeln!(out, "\n{}", paint(HEADING, head));
        let show = |x: f64| if matches!(what, What::Minutes | What::Price) { format!("{x:.0}") } else { percent(x) };
        for n in rows.iter().take(top) {
            line(
                &mut out,
                &about(base, n),
                &show(n.old),
                &show(n.new),
                &format!("{} to {}", show(n.low), show(n.high)),
                look,
            );
            if matches!(what, What::Minutes | What::Price) {
                reasons(&mut out, shown, &n.of, look);
            }
        }
    }
    groups(&mut out, base, learned, top, look);
    if let Some((factor, low, high)) = learned.overall {
        let _ = writeln!(
            out,
            "\njobs with two faults speak for {factor:.2} times the shipped prevalence ({low:.2} to {high:.2})"
        );
    }
    let _ = match written {
        Some(place) => writeln!(
            out,
            "\n{} numbers written to {}\nuse them with {}; leave that away to go back to the shipped ones",
            overlay.rows.len(),
            harmless(place),
            paint(ID, format!("--overlay {}", harmless(place)))
        ),
        None => writeln!(out, "\ndry run: {} numbers would be written", overlay.rows.len()),
    };
    let _ = writeln!(out, "see whether they help with {}", paint(ID, "faultodds score"));
    out
}

/// A factor as it is said.
fn times(x: f64) -> String {
    if x >= 9.95 {
        format!("{x:.0}")
    } else if x >= 0.095 {
        format!("{x:.1}")
    } else {
        format!("{x:.2}")
    }
}

/// The job numbers behind a change, where they were asked for.
fn reasons(out: &mut String, shown: &Shown<'_>, of: &str, look: Look) {
    if let Some(jobs) = shown.why.get(of) {
        let told: Vec<String> = jobs.iter().map(|j| harmless(j)).collect();
        hanging(out, "      jobs ", "        ", &told.join(", "), look.width);
    }
}

/// How far the jobs agree with the base, in plain words.
fn agreement(out: &mut String, learned: &Learned, look: Look) {
    let name = |what: What| match what {
        What::Prior => "how often each fault brings a car in",
        What::Sets => "which codes a fault sets",
        What::Detects => "what tests show of a fault",
        What::FalseAlarm => "false alarms of tests",
        What::Minutes => "minutes of work",
        What::Price => "prices of parts",
    };
    let _ = writeln!(out, "\n{}", paint(HEADING, "how far your jobs agree with the base"));
    for what in What::WORDS.map(|(w, _)| w) {
        let all: Vec<_> = learned.strengths.iter().filter(|s| s.what == what).collect();
        let left: Vec<&str> = all.iter().filter(|s| s.times.is_none()).map(|s| s.family.as_str()).collect();
        // Families by what the base still counts there, the least first.
        let mut by_weight: BTreeMap<(u64, String), Vec<&str>> = BTreeMap::new();
        for (s, t) in all.iter().filter_map(|s| Some((s, s.times?))) {
            let weight = match t {
                t if t < 0.7 => format!("{} of its usual weight", share_of(t)),
                t if t <= 1.5 => "its usual weight".to_owned(),
                t => format!("{} times its usual weight", times(t.round())),
            };
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 60 and 32,000")]
            by_weight.entry(((1_000.0 * t) as u64 / 100, weight)).or_default().push(&s.family);
        }
        let mut merged: Vec<(String, Vec<&str>)> = Vec::new();
        for ((_, weight), families) in by_weight {
            match merged.iter_mut().find(|(w, _)| *w == weight) {
                Some((_, all)) => all.extend(families),
                None => merged.push((weight, families)),
            }
        }
        let moved: Vec<String> = merged.into_iter().map(|(w, f)| format!("{w} for {}", f.join(", "))).collect();
        let mut told = String::new();
        if !moved.is_empty() {
            let _ = write!(told, "Your jobs differ; the base counts {}. ", moved.join("; "));
        }
        if !left.is_empty() {
            let _ = write!(
                told,
                "Your jobs agree with the base about as well as chance would have it, so it is left as shipped, for {}.",
                left.join(", ")
            );
        }
        if !told.is_empty() {
            hanging(out, "  ", "      ", &format!("{}: {}", name(what), told.trim_end()), look.width);
        }
    }
}

fn share_of(t: f64) -> &'static str {
    match t {
        t if t < 0.09 => "a sixteenth",
        t if t < 0.18 => "an eighth",
        t if t < 0.35 => "a quarter",
        _ => "half",
    }
}

fn by(n: &Number) -> f64 {
    match n.what {
        What::Minutes | What::Price => (n.new / n.old).ln().abs(),
        _ => (n.new - n.old).abs(),
    }
}

fn about(base: &Base, n: &Number) -> String {
    let level = if n.level.is_empty() || n.level == "abnormal" { String::new() } else { format!(" ({})", n.level) };
    let repair =
        || base.repair(&n.of).map(|(_, r)| r.does.clone()).or_else(|| base.test(&n.of).map(|t| t.name.clone()));
    match n.what {
        What::Prior => base.suspect_name(&n.of),
        What::Sets => format!("{} by {}", n.on, base.suspect_name(&n.of)),
        What::Detects => format!("{}{level}: {}", n.on, base.suspect_name(&n.of)),
        What::FalseAlarm => format!("{}{level}", n.on),
        What::Minutes | What::Price => repair().unwrap_or_else(|| n.of.clone()),
    }
}

fn line(out: &mut String, name: &str, old: &str, new: &str, interval: &str, look: Look) {
    let numbers = format!("{}  {}  {}", right(old, 7), right(new, 7), left(interval, 18));
    let room = look.width.saturating_sub(columns(&numbers) + 4).max(16);
    let _ = writeln!(out, "  {}  {}", left(&cut(&harmless(name), room), room), numbers.trim_end());
}

fn groups(out: &mut String, base: &Base, learned: &Learned, top: usize, look: Look) {
    let mut rows: Vec<_> = learned.groups.iter().filter(|g| g.low > 1.0 || g.high < 1.0).collect();
    if rows.is_empty() {
        return;
    }
    let _ = writeln!(out, "\n{}", paint(HEADING, "groups of cars, times the prevalence in the whole shop"));
    rows.sort_by(|a, b| {
        b.times.ln().abs().total_cmp(&a.times.ln().abs()).then_with(|| (&a.value, &a.of).cmp(&(&b.value, &b.of)))
    });
    for g in rows.iter().take(top) {
        let part = base.part(&g.of).map_or(g.of.as_str(), |p| p.name.as_str());
        let name = format!("{} {}: {part}", g.by, g.value);
        line(out, &name, "1.0", &format!("{:.1}", g.times), &format!("{:.1} to {:.1}", g.low, g.high), look);
    }
    let _ = writeln!(out, "{}", paint(QUIET, "what does not differ clearly is pooled with the whole shop"));
}

/// What was learned as JSON.
#[must_use]
pub fn json(learned: &Learned, overlay: &Overlay, why: &BTreeMap<String, Vec<String>>) -> Value {
    let number = |n: &Number| json!({"what": n.what.word(), "of": n.of, "on": n.on, "level": n.level, "old": n.old, "new": n.new, "low": n.low, "high": n.high, "jobs": n.jobs});
    let share =
        |s: &(String, f64, f64, f64, f64)| json!({"id": s.0, "shipped": s.1, "learned": s.2, "low": s.3, "high": s.4});
    json!({
        "schema": "faultodds.tune/1",
        "jobs": learned.jobs, "confirmed": learned.confirmed, "unsure": learned.unsure, "odd": learned.odd, "unknown": learned.unknown,
        "shares": learned.shares.iter().map(share).collect::<Vec<_>>(),
        "numbers": overlay.rows.iter().map(|r| number(&r.number)).collect::<Vec<_>>(),
        "groups": overlay.groups.iter().map(|g| json!({"by": g.by, "value": g.value, "of": g.of, "times": g.times, "low": g.low, "high": g.high, "jobs": g.jobs})).collect::<Vec<_>>(),
        "pooled": learned.pooled.iter().map(|p| json!({"by": p.by, "of": p.of, "groups": p.groups, "strength": p.strength, "ln_ratio": p.ln_ratio})).collect::<Vec<_>>(),
        "strengths": learned.strengths.iter().map(|s| json!({"what": s.what.word(), "family": s.family, "jobs": s.jobs, "ln_odds_of_difference": s.ln_odds, "times": s.times})).collect::<Vec<_>>(),
        "why": why,
        "overall": learned.overall.map(|(factor, low, high)| json!({"factor": factor, "low": low, "high": high})),
    })
}

//! Where a job stands, what an event did, and each event in words.

use super::Look;
use super::paint::{HEADING, ID, QUIET, paint};
use super::text::{bar, cut_words, hanging, harmless, harmless_lines, left, minutes, paragraph, percent, right};
use jiff::{Timestamp, ZonedDateTime};
use jobs::store::Changed;
use jobs::{Arranged, Change, Entry, Event, Found, Job, Move, Passed, Spent, Standing, Status, Verdict, Why};
use knowledge::Base;
use std::fmt::Write as _;

/// Suspects shown after an event.
const LEADERS: usize = 5;
/// Moves shown each way.
const MOVES: usize = 3;
/// Columns of a bar.
const BAR_COLUMNS: usize = 12;

/// Which job it is: number, reference, car, codes. On every screen that speaks of one.
#[must_use]
pub fn which_line(job: &Job) -> String {
    let mut parts = vec![format!("job {}", job.number)];
    parts.extend(job.reference.clone());
    let car = job.car.short();
    parts.push(if car.is_empty() { "car not described".to_owned() } else { car });
    let codes = job.codes();
    if !codes.is_empty() {
        parts.push(codes.join(" "));
    }
    harmless(&parts.join(" · "))
}

/// The first line of a screen about a job.
pub fn headline(out: &mut String, job: &Job, look: Look) {
    let mut text = String::new();
    hanging(&mut text, "", "  ", &which_line(job), look.width);
    let number = format!("job {}", job.number);
    out.push_str(&text.replacen(&number, &paint(HEADING, &number), 1));
}

/// A job that was just opened.
#[must_use]
pub fn opened(job: &Job, standing: &Standing, base: &Base, look: Look) -> String {
    let mut out = String::new();
    headline(&mut out, job, look);
    out.push_str("opened; it is the current one\n");
    codes(&mut out, job, base, look);
    out.push('\n');
    leaders(&mut out, standing, base, LEADERS, look);
    unknown(&mut out, standing, look);
    out
}

/// What was stored, and what it changed.
#[must_use]
pub fn stored(changed: &Changed, change: Option<&Change>, after: &Standing, base: &Base, look: Look) -> String {
    let job = &changed.after;
    let mut out = String::new();
    if let Some(entry) = job.log.iter().find(|e| e.number == changed.event) {
        headline(&mut out, job, look);
        let lead = format!("event {}: ", changed.event);
        paragraph(&mut out, &lead, &in_words(&entry.event, base), look.width);
    }
    if let Some(change) = change {
        out.push_str(&moved(change, base, look));
    }
    if job.status == Status::Open {
        out.push('\n');
        leaders(&mut out, after, base, LEADERS, look);
    }
    unknown(&mut out, after, look);
    out
}

/// What rose, what fell, and why.
#[must_use]
pub fn moved(change: &Change, base: &Base, look: Look) -> String {
    let mut out = String::new();
    for (word, list) in [("rose", &change.rose), ("fell", &change.fell)] {
        for m in list.iter().take(MOVES) {
            one_move(&mut out, word, m, base, look);
        }
        if list.len() > MOVES {
            let _ = writeln!(out, "  {word}  {}", paint(QUIET, format!("{} more", list.len() - MOVES)));
        }
    }
    fixed(&mut out, change);
    out
}

/// The same in two lines at most, for someone who wants to go on: the largest rise, and the largest fall where nothing
/// rose; `why` tells the rest.
#[must_use]
pub fn moved_most(change: &Change, base: &Base, look: Look) -> String {
    let mut out = String::new();
    match (change.rose.first(), change.fell.first()) {
        (Some(m), _) => one_move(&mut out, "rose", m, base, look),
        (None, Some(m)) => one_move(&mut out, "fell", m, base, look),
        (None, None) => {}
    }
    fixed(&mut out, change);
    out
}

fn fixed(out: &mut String, change: &Change) {
    if let (Some(before), Some(after)) = (change.fixed_before, change.fixed_after)
        && (before - after).abs() >= 0.005
    {
        let _ = writeln!(out, "  fixed {} (was {})", percent(after), percent(before));
    }
}

fn one_move(out: &mut String, word: &str, m: &Move, base: &Base, look: Look) {
    let text = format!(
        "{} {} -> {}: {}",
        base.suspect_name(&m.suspect),
        percent(m.before),
        percent(m.after),
        why(&m.why, base)
    );
    hanging(out, &format!("  {word}  "), "        ", &text, look.width);
}

/// Why a suspect moved, in words.
#[must_use]
pub fn why(why: &Why, base: &Base) -> String {
    match why {
        Why::Finding { finding, level, with, otherwise } if with == otherwise => {
            format!("{} ({level})", finding_name(finding, base))
        }
        Why::Finding { finding, level, with, otherwise } => {
            let ratio = with / otherwise;
            let name = finding_name(finding, base);
            if ratio >= 1.0 {
                format!("{name} ({level}) is {} as likely with it", times(ratio))
            } else {
                format!("{name} ({level}) is {} less likely with it", times(1.0 / ratio))
            }
        }
        Why::Gone { finding } => format!("{} no longer counts", finding_name(finding, base)),
        Why::Repaired => "the repair removes it".to_owned(),
        Why::GivesWay { to } => format!("gives way to {}", base.suspect_name(to)),
        Why::TakesPlace { of } => format!("takes over from {}", base.suspect_name(of)),
        Why::Car => "what is known of the car changed".to_owned(),
    }
}

fn times(ratio: f64) -> String {
    if ratio >= 1000.0 {
        "over 1000 times".to_owned()
    } else if ratio >= 9.95 {
        format!("{ratio:.0} times")
    } else {
        format!("{ratio:.1} times")
    }
}

/// A finding by name.
#[must_use]
pub fn finding_name(id: &str, base: &Base) -> String {
    if let Some(monitor) = id.strip_prefix("monitor:") {
        return base.monitor(monitor).map_or_else(|| id.to_owned(), |m| m.name.clone());
    }
    if let Some(symptom) = id.strip_prefix("symptom:") {
        return base.symptom(symptom).map_or_else(|| id.to_owned(), |s| s.name.clone());
    }
    base.reading(id).map_or_else(|| id.to_owned(), |(_, r)| r.name.clone())
}

/// The leading suspects with bars, and the probability that the car is fixed.
pub fn leaders(out: &mut String, standing: &Standing, base: &Base, top: usize, look: Look) {
    let name_columns = look.width.saturating_sub(BAR_COLUMNS + 8).clamp(10, 60);
    for (suspect, p) in standing.ranked().into_iter().take(top) {
        let name = cut_words(&base.suspect_name(&standing.network.suspects[suspect].id), name_columns);
        let _ = writeln!(out, "{} {} {}", right(&percent(p), 6), left(&bar(p, BAR_COLUMNS), BAR_COLUMNS), name);
    }
    if let Some(fixed) = standing.fixed {
        let text = "that none of the causes of the complaint is left: the car is fixed";
        hanging(out, &format!("{} ", right(&percent(fixed), 6)), "       ", text, look.width);
    }
}

fn codes(out: &mut String, job: &Job, base: &Base, look: Look) {
    for code in job.codes() {
        let title = base.code(code).map_or("not in this base", |c| c.title.as_str());
        paragraph(out, &format!("{}  ", left(code, 5)), title, look.width);
    }
}

fn unknown(out: &mut String, standing: &Standing, look: Look) {
    if !standing.unknown.is_empty() {
        let text = format!("kept, but unknown to this base and without effect: {}", standing.unknown.join(", "));
        paragraph(out, "note: ", &text, look.width);
    }
}

/// Where the job stands.
#[must_use]
pub fn show(job: &Job, standing: &Standing, base: &Base, top: usize, now: &ZonedDateTime, look: Look) -> String {
    let mut out = String::new();
    let status = match &job.status {
        Status::Open => "open".to_owned(),
        Status::Closed { at, how } => format!("closed {} as {}", day(*at, now), how.verdict.word()),
    };
    headline(&mut out, job, look);
    let _ = writeln!(out, "{status}, opened {}", day(job.opened_at(), now));
    if let Some(reference) = &job.reference {
        paragraph(&mut out, "reference  ", reference, look.width);
    }
    let car = car_words(job);
    if !car.is_empty() {
        paragraph(&mut out, "car        ", &car, look.width);
    }
    if let Some(tried) = &job.tried {
        paragraph(&mut out, "tried      ", tried, look.width);
    }
    let frozen = freeze_words(job);
    if !frozen.is_empty() {
        paragraph(&mut out, "frozen     ", &frozen, look.width);
    }
    if job.minutes > 0.0 || job.cost > 0.0 {
        let _ = writeln!(out, "spent      {}, {:.2} for parts and materials", minutes(job.minutes), job.cost);
    }
    codes(&mut out, job, base, look);
    let _ = writeln!(out, "\n{}", paint(HEADING, "suspects now"));
    leaders(&mut out, standing, base, top, look);
    unknown(&mut out, standing, look);
    let _ = writeln!(out, "\n{}", paint(HEADING, "events"));
    for entry in &job.log {
        event(&mut out, entry, job, base, now, look);
    }
    out
}

fn event(out: &mut String, entry: &Entry, job: &Job, base: &Base, now: &ZonedDateTime, look: Look) {
    let lead = format!("{}  {}  ", right(&entry.number.to_string(), 3), time(entry.at, now));
    let mut text = in_words(&entry.event, base);
    if !entry.holds {
        text = format!("[undone] {text}");
    } else if job.is_retracted(entry.number, None) {
        text = format!("[retracted] {text}");
    }
    let rest = " ".repeat(super::text::columns(&lead));
    for (i, line) in harmless_lines(&text).split('\n').enumerate() {
        hanging(out, if i == 0 { &lead } else { &rest }, &rest, line, look.width);
    }
}

/// The car as it was described, in one line.
#[must_use]
pub fn car_words(job: &Job) -> String {
    let car = &job.car;
    let mut words = vec![car.line(), car.described()];
    words.extend(car.vin.as_ref().map(|v| format!("VIN {v}")));
    words.retain(|w| !w.is_empty());
    words.join(", ")
}

/// The freeze frame in one line.
#[must_use]
pub fn freeze_words(job: &Job) -> String {
    let f = &job.freeze;
    let mut words: Vec<String> = Vec::new();
    words.extend(f.code.clone());
    words.extend(f.fuel_percent.map(|n| format!("fuel {n} %")));
    words.extend(f.ambient_c.map(|n| format!("outside {n} °C")));
    words.extend(f.coolant_c.map(|n| format!("coolant {n} °C")));
    words.extend(f.speed_kmh.map(|n| format!("{n} km/h")));
    words.extend(f.when.clone());
    words.join(", ")
}

/// One event in words. Texts of the user keep their line breaks; the caller makes them harmless.
#[must_use]
pub fn in_words(event: &Event, base: &Base) -> String {
    let mut text = match event {
        Event::Opened(o) => {
            let mut parts = vec![format!("opened with {}", found_words(&o.found, base))];
            if !o.already.is_empty() {
                parts.push(format!("already done: {}", o.already.join(", ")));
            }
            parts.join("; ")
        }
        Event::Found(f) => format!("found {}", found_words(f, base)),
        Event::Retested(f) if f.is_empty() => "retested".to_owned(),
        Event::Retested(f) => format!("retested: {}", found_words(f, base)),
        Event::Retracted(r) => {
            let what = r.what.clone().unwrap_or_else(|| "all of it".to_owned());
            format!("retracted from event {}: {what}{}", r.event, because(r.why.as_deref()))
        }
        Event::Repaired(r) => {
            let does = base.repair(&r.repair).map_or(String::new(), |(_, found)| format!(" ({})", found.does));
            let with = r.with.as_ref().map_or(String::new(), |w| format!(", made with the test {w}"));
            format!("repaired {}{does}{with}{}", r.repair, because(r.note.as_deref()))
        }
        Event::Noted(n) => {
            let on = n.about.as_ref().map_or(String::new(), |r| format!(" on {r}"));
            format!("note{on}: {}", n.text)
        }
        Event::Amended(_) => "description of the car corrected".to_owned(),
        Event::Closed(c) => {
            let causes: Vec<String> = c.causes.iter().map(|s| base.suspect_name(s)).collect();
            let causes = if causes.is_empty() { String::new() } else { format!(": {}", causes.join("; ")) };
            format!("closed as {}{causes}{}", c.verdict.word(), because(c.how.as_deref()))
        }
        Event::Reopened(r) => {
            let how = if r.comeback { "came back" } else { "reopened" };
            let found =
                if r.found.is_empty() { String::new() } else { format!(" with {}", found_words(&r.found, base)) };
            format!("{how}{found}{}", because(r.why.as_deref()))
        }
        Event::Arranged(a) => arranged_words(a),
        Event::Skipped(s) => format!("skipped {}{}", s.step, because(s.why.as_deref())),
        Event::Undone(u) => format!("event {} undone", u.event),
    };
    text.push_str(&spent_words(event.spent()));
    text
}

fn because(why: Option<&str>) -> String {
    why.map_or(String::new(), |w| format!(": {w}"))
}

fn spent_words(spent: Spent) -> String {
    let mut words: Vec<String> = Vec::new();
    words.extend(spent.minutes.map(minutes));
    words.extend(spent.cost.map(|c| format!("{c:.2} spent")));
    if words.is_empty() { String::new() } else { format!(" [{}]", words.join(", ")) }
}

/// What was seen, in one line.
#[must_use]
pub fn found_words(found: &Found, base: &Base) -> String {
    let mut parts: Vec<String> = Vec::new();
    if !found.codes.is_empty() {
        parts.push(found.codes.join(" "));
    } else if found.codes_complete {
        let all = found.not_run.is_empty();
        parts.push(if all { "no code after the checks have run" } else { "no code stored" }.to_owned());
    }
    let symptom = |id: &String| base.symptom(id).map_or_else(|| id.clone(), |s| s.name.clone());
    parts.extend(found.symptoms.iter().map(symptom));
    parts.extend(found.no_symptoms.iter().map(|s| format!("not: {}", symptom(s))));
    parts.extend(found.results.iter().map(|r| format!("{}={}", r.reading, r.outcome)));
    parts.extend(found.passed.iter().map(|p| passed_words(p, base)));
    let monitor = |id: &String| base.monitor(id).map_or_else(|| id.clone(), |m| m.name.clone());
    // A car that was just cleared has a long list of them.
    match found.not_run.len() {
        0..=3 => parts.extend(found.not_run.iter().map(|m| format!("{}: not run", monitor(m)))),
        many => parts.push(format!("{many} checks not run")),
    }
    parts.extend(found.reported.iter().map(|r| r.words.clone()));
    for look in &found.looks {
        let words = look.words.as_ref().map_or(String::new(), |w| format!(" (\"{w}\")"));
        parts.push(format!("{}: {}{words}", look.outcome.word(), base.suspect_name(&look.suspect)));
    }
    if parts.is_empty() { "nothing on the car".to_owned() } else { parts.join(", ") }
}

/// A check that passed, in words.
#[must_use]
pub fn passed_words(passed: &Passed, base: &Base) -> String {
    let name = base.monitor(&passed.monitor).map_or_else(|| passed.monitor.clone(), |m| m.name.clone());
    let times = passed.times.map_or(String::new(), |(n, of)| format!(" {n} of {of} times"));
    format!("{name}: run and passed{times}")
}

fn arranged_words(a: &Arranged) -> String {
    let mut parts: Vec<String> = Vec::new();
    parts.extend(
        a.tools
            .as_ref()
            .map(|t| format!("tools at hand: {}", if t.is_empty() { "none".to_owned() } else { t.join(", ") })),
    );
    if !a.with.is_empty() {
        parts.push(format!("at hand: {}", a.with.join(", ")));
    }
    if !a.without.is_empty() {
        parts.push(format!("not at hand: {}", a.without.join(", ")));
    }
    parts.extend(a.limit.map(|l| if l > 0.0 { format!("limit {l:.2}") } else { "no limit".to_owned() }));
    parts.extend(a.shop.as_ref().map(|f| format!("shop file {f}")));
    parts.extend(a.overlay.as_ref().map(|f| format!("overlay {f}")));
    parts.join("; ")
}

/// The day, in the time zone of the place.
#[must_use]
pub fn day(at: Timestamp, now: &ZonedDateTime) -> String {
    at.to_zoned_datetime(now.time_zone().clone()).date().to_string()
}

/// Day and minute, in the time zone of the place.
#[must_use]
pub fn time(at: Timestamp, now: &ZonedDateTime) -> String {
    at.to_zoned_datetime(now.time_zone().clone()).strftime("%Y-%m-%d %H:%M").to_string()
}

/// A verdict in a sentence for the customer.
#[must_use]
pub fn verdict_sentence(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Confirmed => "The cause was found and confirmed.",
        Verdict::Unsure => "The cause was not confirmed.",
        Verdict::HandedOn => "The job was handed on.",
        Verdict::NotFound => "No cause was found.",
    }
}

/// An id that can be typed back.
#[must_use]
pub fn id(id: &str) -> String {
    paint(ID, harmless(id))
}

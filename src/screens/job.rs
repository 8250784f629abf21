//! Where a job stands, and what an event did.

use super::Look;
use super::job_words::{car_words, day, freeze_words, in_words, time};
use super::paint::{HEADING, QUIET, paint};
use super::rank::size_words;
use super::text::{bar, cut_words, hanging, harmless, harmless_lines, left, minutes, paragraph, percent, right};
use jiff::ZonedDateTime;
use jobs::store::Changed;
use jobs::{Change, Entry, Event, Job, Move, Standing, Status, Why};
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
        paragraph(&mut out, &lead, &told_whole(&entry.event, changed, base), look.width);
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

/// The event in words; of one that takes another back also what that was, and whether the job is open or closed by it.
fn told_whole(event: &Event, changed: &Changed, base: &Base) -> String {
    let mut text = in_words(event, base);
    let Event::Undone(undone) = event else { return text };
    if let Some(entry) = changed.before.log.iter().find(|e| e.number == undone.event) {
        let _ = write!(text, ": {}", in_words(&entry.event, base));
    }
    match (&changed.before.status, &changed.after.status) {
        (Status::Closed { .. }, Status::Open) => text.push_str("; the job is open again"),
        (Status::Open, Status::Closed { .. }) => text.push_str("; the job is closed again"),
        _ => {}
    }
    text
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
        Why::TakenBack => "the repair that removed it is taken back".to_owned(),
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

/// How large the leak probably is, where a leak is likely.
#[must_use]
pub fn leak_size(standing: &Standing) -> Option<String> {
    standing.leak_mm().ok().flatten().map(size_words)
}

/// The leading suspects with bars, and the probability that the car is fixed.
pub fn leaders(out: &mut String, standing: &Standing, base: &Base, top: usize, look: Look) {
    let name_columns = look.width.saturating_sub(BAR_COLUMNS + 8).clamp(10, 60);
    for (suspect, p) in standing.ranked().into_iter().take(top) {
        let name = cut_words(&base.suspect_name(&standing.network.suspects[suspect].id), name_columns);
        let _ = writeln!(out, "{} {} {}", right(&percent(p), 6), left(&bar(p, BAR_COLUMNS), BAR_COLUMNS), name);
    }
    if let Some(size) = leak_size(standing) {
        hanging(out, "       ", "       ", &size, look.width);
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

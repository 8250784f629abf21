//! The sheet for the customer: one page in plain words. What the car reported, what was found, what was done, how sure
//! that is, and what is left. No probabilities of suspects, no cautions of the workshop, nothing that was superseded.

use super::Look;
use super::job_words::{car_words, day, verdict_sentence};
use super::text::{harmless, minutes, paragraph};
use evidence::Outcome;
use jiff::ZonedDateTime;
use jobs::{Event, Job, LookOutcome, Showed, Span, Standing, Status, code_proofs};
use knowledge::Base;
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// Outcomes in order that are named; more are counted.
const NAMED: usize = 8;
/// From this on a car counts as fixed in plain words.
const FIXED: f64 = 0.9;

/// The sheet.
#[must_use]
pub fn sheet(job: &Job, standing: &Standing, base: &Base, now: &ZonedDateTime, look: Look) -> String {
    let width = look.width.min(80);
    let mut out = String::new();
    let _ = writeln!(out, "JOB {}, {}", job.number, day(job.opened_at(), now));
    for (name, value) in [("Reference", job.reference.clone().unwrap_or_default()), ("Car", car_words(job))] {
        if !value.is_empty() {
            paragraph(&mut out, &format!("{name:<10} "), &value, width);
        }
    }
    section(&mut out, "What the car reported", &reported(job, base), width);
    section(&mut out, "What was found", &found(job, base), width);
    section(&mut out, "What was done", &done(job, base), width);
    section(&mut out, "How sure this is", &sure(job, standing, base), width);
    section(&mut out, "What is left", &left(job, standing, base), width);
    out
}

/// A heading with its lines; nothing where there are none.
fn section(out: &mut String, heading: &str, lines: &[String], width: usize) {
    if lines.is_empty() {
        return;
    }
    let _ = writeln!(out, "\n{heading}");
    for line in lines {
        paragraph(out, "  ", line, width);
    }
}

fn spans(job: &Job) -> impl Iterator<Item = &Span> {
    job.visits.iter().flat_map(|v| &v.spans)
}

/// The spans with the stay that they belong to in words; of a car that never came back in none.
fn stays(job: &Job) -> impl Iterator<Item = (String, &Span)> {
    let several = job.visits.len() > 1;
    let word = move |i: usize| if several { format!("Visit {}: ", i + 1) } else { String::new() };
    job.visits.iter().enumerate().flat_map(move |(i, v)| v.spans.iter().map(move |s| (word(i), s)))
}

/// What the car reported: codes with their titles, and what was noticed.
#[must_use]
pub fn reported(job: &Job, base: &Base) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for code in job.codes() {
        let words = base.code(code).map_or("a code of another kind, not part of this work", |c| c.title.as_str());
        lines.push(format!("{code}: {words}"));
    }
    let mut told = BTreeSet::new();
    for symptom in spans(job).flat_map(|s| &s.symptoms).filter(|s| told.insert(s.as_str())) {
        lines.push(capital(base.symptom(symptom).map_or(symptom.as_str(), |s| s.name.as_str())));
    }
    lines
}

/// What did not look right, each with its words and numbers; then what was in order, by name.
fn found(job: &Job, base: &Base) -> Vec<String> {
    let Looked { wrong, fine } = looked(job, base);
    let mut lines: Vec<String> = wrong.into_iter().map(|w| w.words).collect();
    // What turned out right after a repair was wrong before it, and both are told; names alone are told once.
    if !fine.is_empty() {
        let more = fine.len().saturating_sub(NAMED);
        let tail = if more > 0 { format!("; and {more} more") } else { String::new() };
        lines.push(format!("In order: {}{tail}", fine[..fine.len() - more].join("; ")));
    }
    lines
}

/// Something that did not look right.
#[derive(Clone, Debug, PartialEq)]
pub struct Wrong {
    /// What it was, with its number and notes.
    pub words: String,
    /// What a number means, where it is one.
    pub meaning: Option<String>,
}

/// What was looked at.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Looked {
    /// What did not look right, in the order in which it was found.
    pub wrong: Vec<Wrong>,
    /// What was in order, by name.
    pub fine: Vec<String>,
}

/// What was looked at and what it showed.
#[must_use]
pub fn looked(job: &Job, base: &Base) -> Looked {
    let mut wrong: Vec<Wrong> = Vec::new();
    let mut fine: Vec<String> = Vec::new();
    let ever_wrong = |reading: &str| {
        let all = spans(job).flat_map(|s| &s.results);
        all.filter(|r| r.reading == reading).any(|r| in_order(r, base) == Some(false))
    };
    let mut wrong_so_far: BTreeSet<&str> = BTreeSet::new();
    for (visit, span) in stays(job) {
        let seen = |words: String| Wrong { words: format!("{visit}{words}"), meaning: None };
        for r in &span.results {
            match in_order(r, base) {
                Some(true) => {
                    let name = base.reading(&r.reading).map_or_else(|| r.reading.clone(), |(_, r)| r.name.clone());
                    // What was wrong at another time is not merely in order.
                    let name = match (wrong_so_far.contains(r.reading.as_str()), ever_wrong(&r.reading)) {
                        (true, _) => format!("{name}, later on"),
                        (false, true) => format!("{name}, at first"),
                        (false, false) => name,
                    };
                    if !fine.contains(&name) {
                        fine.push(name);
                    }
                }
                Some(false) => {
                    wrong_so_far.insert(&r.reading);
                    wrong.push(Wrong {
                        words: format!("{visit}{}{}", result(r, base), notes(job, &r.reading)),
                        meaning: number_means(r, base),
                    });
                }
                None => {}
            }
        }
        for look in &span.looks {
            let name = base.suspect_name(&look.suspect);
            let words = look.words.as_ref().map_or(String::new(), |w| format!(" ({w})"));
            match look.outcome {
                LookOutcome::Found => wrong.push(seen(format!("Seen: {name}{words}"))),
                LookOutcome::Probably => wrong.push(seen(format!("Probably seen: {name}{words}"))),
                LookOutcome::Sound => fine.push(format!("no sign of: {name}")),
            }
        }
    }
    Looked { wrong, fine }
}

/// What a number means: the level that it speaks for, and what would be good.
fn number_means(r: &Showed, base: &Base) -> Option<String> {
    let (_, reading) = base.reading(&r.reading)?;
    let number = r.outcome.parse::<Outcome>().ok()?.number(reading)?.ok()?;
    let likeliest = number.likelihood.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?.0;
    let level = reading.levels.get(likeliest)?;
    let level = if level == "abnormal" { "not as it should be" } else { level };
    Some(format!("That is {level}. Good would be: {}.", reading.normal.trim_end_matches('.')))
}

/// Whether the outcome is a normal one; nothing when it tells nothing.
fn in_order(r: &Showed, base: &Base) -> Option<bool> {
    let (_, reading) = base.reading(&r.reading)?;
    let likelihood = r.outcome.parse::<Outcome>().ok()?.likelihood(reading).ok()??;
    Some(likelihood.iter().skip(1).all(|p| *p <= likelihood[0]))
}

/// What was looked at and what it showed: the level's own words, or the number.
fn result(r: &Showed, base: &Base) -> String {
    let Some((_, reading)) = base.reading(&r.reading) else { return format!("{}: {}", r.reading, r.outcome) };
    let outcome = r.outcome.parse::<Outcome>();
    let level = outcome.map_or_else(|_| r.outcome.clone(), |o| o.level_in_words(reading));
    let words = match level.as_str() {
        "abnormal" => "not as it should be",
        "second-hand abnormal" => "not as it should be, as the shop before told it",
        other => other,
    };
    format!("{}: {words}", capital(&reading.name))
}

/// Notes that hang on the reading.
fn notes(job: &Job, reading: &str) -> String {
    let notes = job.log.iter().filter(|e| e.holds).filter_map(|e| match &e.event {
        Event::Noted(n) if n.about.as_deref() == Some(reading) => Some(harmless(&n.text)),
        _ => None,
    });
    let notes: Vec<String> = notes.collect();
    if notes.is_empty() { String::new() } else { format!(" ({})", notes.join("; ")) }
}

fn done(job: &Job, base: &Base) -> Vec<String> {
    let mut lines = repairs(job, base);
    if job.minutes > 0.0 || job.cost > 0.0 {
        let parts = if job.cost > 0.0 { format!("parts and materials {:.2}", job.cost) } else { NO_PARTS.to_owned() };
        lines.push(format!("Time {}; {parts}", minutes(job.minutes)));
    }
    lines
}

/// Where nothing was spent on parts, or nobody noted it.
pub const NO_PARTS: &str = "no parts or materials noted";

/// The repairs in order, with their notes.
#[must_use]
pub fn repairs(job: &Job, base: &Base) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let repairs = stays(job).filter_map(|(visit, s)| Some((visit, s.repair.as_ref()?)));
    for (visit, (event, repair)) in repairs {
        let does = base.repair(repair).map_or(repair.as_str(), |(_, found)| found.does.as_str());
        let note = job.log.iter().find(|e| e.number == *event).and_then(|e| match &e.event {
            Event::Repaired(r) => r.note.clone(),
            _ => None,
        });
        lines.push(format!("{visit}{does}{}", note.map_or(String::new(), |n| format!(" ({n})"))));
    }
    lines
}

fn sure(job: &Job, standing: &Standing, base: &Base) -> Vec<String> {
    let mut lines = cause(job, standing, base);
    if standing.epoch() > 0 {
        lines.extend(proved(job, base));
    }
    lines.extend(gone(standing));
    lines
}

/// What was at fault, as far as the job was closed with it.
#[must_use]
pub fn cause(job: &Job, standing: &Standing, base: &Base) -> Vec<String> {
    let mut lines: Vec<String> = taken_before(job, base);
    if let Status::Closed { how, .. } = &job.status {
        lines.push(verdict_sentence(how.verdict, job, standing, base).to_owned());
        for cause in &how.causes {
            // What the part is for, in a sentence for someone who has never seen it.
            let does = base.suspect(cause).map_or(String::new(), |(part, _)| format!(" {}", part.does));
            lines.push(format!("{}.{does}", capital(&base.suspect_name(cause))));
        }
        if let Some(words) = &how.how {
            lines.push(format!("In the workshop's words: {}", harmless(words)));
        }
    }
    lines
}

/// What was taken for the cause each time before the car came back.
fn taken_before(job: &Job, base: &Base) -> Vec<String> {
    let mut lines = Vec::new();
    let mut closed: Option<&[String]> = None;
    for entry in job.log.iter().filter(|e| e.holds) {
        match &entry.event {
            Event::Closed(c) => closed = Some(&c.causes),
            Event::Reopened(r) => {
                let names: Vec<String> =
                    closed.take().unwrap_or_default().iter().map(|c| base.suspect_name(c)).collect();
                if r.comeback && !names.is_empty() {
                    lines.push(format!("Before the car came back this was taken for the cause: {}.", names.join("; ")));
                }
            }
            _ => {}
        }
    }
    lines
}

/// How sure it is that the fault is gone; nothing before the first repair.
#[must_use]
pub fn gone(standing: &Standing) -> Option<String> {
    let fixed = standing.fixed.filter(|_| standing.epoch() > 0)?;
    let of_ten = (fixed * 10.0).floor();
    Some(match fixed {
        f if f >= 0.95 => "By all that was seen the fault is gone.".to_owned(),
        f if f >= 0.5 => {
            format!(
                "In about {of_ten:.0} of 10 such cars the fault is gone; in the others something is still to be found."
            )
        }
        _ => "It is not shown yet that the fault is gone.".to_owned(),
    })
}

/// What showed that the repair holds.
#[must_use]
pub fn proved(job: &Job, base: &Base) -> Vec<String> {
    let now = job.present();
    let proofs: BTreeSet<String> = code_proofs(job, base).into_iter().flat_map(|c| c.tests).collect();
    let passed: BTreeSet<&str> = now
        .results
        .iter()
        .filter(|r| in_order(r, base) == Some(true))
        .filter_map(|r| r.reading.split(':').next())
        .filter(|t| proofs.contains(*t))
        .collect();
    let back: Vec<&str> = now.codes.iter().map(|(_, c)| c.as_str()).filter(|_| job.visit().spans.len() > 1).collect();
    let mut lines: Vec<String> = Vec::new();
    if !back.is_empty() {
        lines.push(format!("After the repair the car reported again: {}", back.join(" ")));
    }
    let in_order =
        passed.into_iter().filter_map(|t| base.test(t)).map(|t| format!("After the repair in order: {}", t.name));
    lines.extend(in_order);
    for p in &now.passed {
        let name = base.monitor(&p.monitor).map_or(p.monitor.as_str(), |m| m.name.as_str());
        let times = p.times.map_or(String::new(), |(n, of)| format!(", {n} of {of} times"));
        lines.push(format!("The car's own check has passed since{times}: {name}"));
    }
    if now.codes_complete && now.codes.is_empty() {
        lines.push("The car's own checks have run since and reported nothing.".to_owned());
    }
    lines
}

/// What is left to do or to watch.
#[must_use]
pub fn left(job: &Job, standing: &Standing, base: &Base) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let now = job.present();
    let repaired = standing.epoch() > 0;
    let fixed = standing.fixed.is_some_and(|f| f >= FIXED);
    if job.status == Status::Open && !fixed {
        lines.push("The work goes on.".to_owned());
    }
    for monitor in &now.not_run {
        let name = base.monitor(monitor).map_or(monitor.as_str(), |m| m.name.as_str());
        lines.push(format!("The car's own check has not run since: {name}"));
    }
    let checked = now.codes_complete || !now.passed.is_empty();
    if repaired && !checked {
        lines.push(
            "The car tests this system by itself on some later drive. Until it has, the lamp being off proves nothing."
                .to_owned(),
        );
    }
    if repaired {
        lines.push("Come back if the lamp lights again; bring this page.".to_owned());
    }
    let strangers: Vec<&str> = job.codes().into_iter().filter(|c| base.code(c).is_none()).collect();
    if !strangers.is_empty() {
        lines.push(format!("Also stored and not looked into here: {}", strangers.join(" ")));
    }
    lines
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or(String::new(), |c| c.to_uppercase().chain(chars).collect())
}

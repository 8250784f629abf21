//! A job in words: its car, its events, its days.

use super::paint::{ID, paint};
use super::text::{harmless, minutes};
use jiff::{Timestamp, ZonedDateTime};
use jobs::{Arranged, Event, Found, Job, LIKELY_FIXED, Passed, Spent, Standing, Verdict};
use knowledge::Base;

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

/// A verdict in a sentence for the customer. A cause counts as confirmed where a re-test has shown the fault gone.
#[must_use]
pub fn verdict_sentence(verdict: Verdict, job: &Job, standing: &Standing, base: &Base) -> &'static str {
    let likely = standing.fixed.is_none_or(|f| f >= LIKELY_FIXED);
    match verdict {
        Verdict::Confirmed if jobs::proved(job, base) && likely => "The cause was found and confirmed.",
        Verdict::Confirmed if jobs::not_cured(job, base) => {
            "A cause was found; the re-test after its repair showed the fault again."
        }
        Verdict::Confirmed if jobs::proved(job, base) => {
            "A cause was taken for the fault; what was seen does not make it likely."
        }
        Verdict::Confirmed if job.visit().spans.len() < 2 => "The cause was found; no repair was noted.",
        Verdict::Confirmed => "The cause was found; a re-test of the repair was not noted.",
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

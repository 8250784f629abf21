//! The workshop sheet: the whole story with every step and figure, and the cautions in full, as plain text for the file.

use super::Look;
use super::job::leak_size;
use super::job_words::{car_words, day, found_words, freeze_words, verdict_sentence};
use super::proof::CLEARING;
use super::text::{hanging, harmless, harmless_lines, minutes, paragraph, percent, right};
use evidence::Outcome;
use jiff::ZonedDateTime;
use jobs::{Event, Job, Standing, Status, code_proofs};
use knowledge::{Base, procedure};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

/// A suspect is called ruled out below this, if it was at least [`ONCE_SUSPECTED`] at intake.
const RULED_OUT: f64 = 0.005;
/// From this on a suspect was worth a thought.
const ONCE_SUSPECTED: f64 = 0.02;

/// How the probability that the car is fixed went along: after each event that changed it, as far as it is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Story {
    /// Event number and the probability after it.
    pub fixed: Vec<(u32, Option<f64>)>,
    /// The highest probability that each suspect had on the way, by id.
    pub highest: Vec<(String, f64)>,
}

/// Follows the job from event to event.
#[must_use]
pub fn story(job: &Job, base: &Base) -> Story {
    let mut story = Story { fixed: Vec::new(), highest: Vec::new() };
    for entry in job.log.iter().filter(|e| e.holds) {
        if matches!(entry.event, Event::Noted(_) | Event::Undone(_) | Event::Closed(_)) {
            continue;
        }
        let Ok(standing) = Standing::of(&job.upto(entry.number), base) else { continue };
        story.fixed.push((entry.number, standing.fixed));
        for (s, p) in standing.network.suspects.iter().zip(&standing.posterior.now) {
            match story.highest.iter_mut().find(|(id, _)| *id == s.id) {
                Some((_, highest)) => *highest = highest.max(*p),
                None => story.highest.push((s.id.clone(), *p)),
            }
        }
    }
    story
}

/// The sheet.
#[must_use]
pub fn workshop(job: &Job, standing: &Standing, story: &Story, base: &Base, now: &ZonedDateTime, look: Look) -> String {
    let width = look.width.min(100);
    let mut out = String::new();
    let _ = writeln!(out, "WORKSHOP SHEET, JOB {}\n", job.number);
    for (name, value) in &facts(job, base, now) {
        paragraph(&mut out, &format!("{name:<13}"), value, width);
    }
    heading(&mut out, "What the car reported");
    for (code, words) in reported(job, base) {
        paragraph(&mut out, &format!("{code:<7}"), &words, width);
    }
    heading(&mut out, "What was done, in order");
    let steps = steps(job, story, base, now);
    for (i, step) in steps.iter().enumerate() {
        let lead = format!("{}. ", right(&(i + 1).to_string(), 2));
        for (k, line) in step.lines.iter().enumerate() {
            hanging(&mut out, if k == 0 { &lead } else { "    " }, "    ", line, width);
        }
        hanging(&mut out, "    ", "    ", &step.facts, width);
    }
    if steps.is_empty() {
        out.push_str("Nothing yet.\n");
    }
    let ruled = ruled_out(job, standing, story, base);
    if !ruled.is_empty() {
        heading(&mut out, "Ruled out");
        paragraph(&mut out, "", &ruled.join("; "), width);
    }
    heading(&mut out, "Conclusion");
    let end = conclusion(job, standing, base);
    for line in &end.before {
        paragraph(&mut out, "", line, width);
    }
    for (name, p) in &end.likely {
        let _ = writeln!(out, "{}  {name}", right(&percent(*p), 6));
    }
    for line in &end.after {
        paragraph(&mut out, "", line, width);
    }
    heading(&mut out, "Cautions and limits");
    for line in cautions(job, base).iter().map(String::as_str).chain(LIMITS) {
        hanging(&mut out, "- ", "  ", line, width);
    }
    out
}

/// What the record does not say by itself.
pub const LIMITS: [&str; 3] = [
    "The probabilities come from general judgement about parts and tests, not from this very car; they are no certainty. \
         A cause that the knowledge base does not list is always possible and is counted in.",
    CLEARING,
    "The vehicle maker's procedure, local rules and licensed practice come before anything on this sheet.",
];

/// What is known of the job and the car, by name.
#[must_use]
pub fn facts(job: &Job, base: &Base, now: &ZonedDateTime) -> Vec<(&'static str, String)> {
    let facts = [
        ("Opened", day(job.opened_at(), now)),
        ("Reference", job.reference.clone().unwrap_or_default()),
        ("Car", car_words(job)),
        ("Frozen data", freeze_words(job)),
        ("Tried before", tried(job, base)),
    ];
    facts.into_iter().filter(|(_, v)| !v.is_empty()).collect()
}

/// What the car reported: the code, or nothing for a symptom, with its words.
#[must_use]
pub fn reported(job: &Job, base: &Base) -> Vec<(String, String)> {
    let code = |code: &str| {
        let (title, saw) = base.code(code).map_or(("not in this base", ""), |c| (c.title.as_str(), c.saw.as_str()));
        (code.to_owned(), format!("{title}. {saw}"))
    };
    let symptoms = job.visits.iter().flat_map(|v| &v.spans).flat_map(|s| &s.symptoms);
    let symptoms = symptoms.map(|s| (String::new(), base.symptom(s).map_or_else(|| s.clone(), |s| s.name.clone())));
    job.codes().into_iter().map(code).chain(symptoms).collect()
}

fn heading(out: &mut String, text: &str) {
    let _ = writeln!(out, "\n{text}");
}

fn tried(job: &Job, base: &Base) -> String {
    let already = job.visits.first().map(|v| v.already.as_slice()).unwrap_or_default();
    let mut parts: Vec<String> =
        already.iter().map(|r| base.repair(r).map_or_else(|| r.clone(), |(_, found)| found.does.clone())).collect();
    parts.extend(job.tried.clone());
    parts.join("; ")
}

/// One thing that was done.
#[derive(Clone, Debug, PartialEq)]
pub struct Made {
    /// What it was and what it showed.
    pub lines: Vec<String>,
    /// When, what it took, and how sure it then was.
    pub facts: String,
}

/// What was done, in order.
#[must_use]
pub fn steps(job: &Job, story: &Story, base: &Base, now: &ZonedDateTime) -> Vec<Made> {
    let mut out = Vec::new();
    let mut last = None;
    for entry in job.log.iter().filter(|e| e.holds) {
        let mut lines: Vec<String> = Vec::new();
        let gone = |what: Option<&str>| job.is_retracted(entry.number, what);
        match &entry.event {
            Event::Found(f) | Event::Retested(f) if !gone(None) => {
                let plain = jobs::Found { results: Vec::new(), spent: Default::default(), ..f.clone() };
                if !plain.is_empty() {
                    lines.push(found_words(&plain, base));
                }
                // What was answered anew before the next repair is not what was found.
                let standing = f.results.iter().filter(|r| !gone(Some(&r.reading)));
                let standing = standing.filter(|r| stands(job, entry.number, &r.reading));
                let mut of: Option<&str> = None;
                for r in standing {
                    let (test, words) = result_words(&r.reading, &r.outcome, base);
                    match lines.last_mut() {
                        // A test is named once for all its readings.
                        Some(line) if test.is_some() && of == test => *line += &format!("; {words}"),
                        _ => lines.push(test.map_or(words.clone(), |t| format!("{t} - {words}"))),
                    }
                    of = test;
                }
            }
            Event::Repaired(r) if !gone(None) => {
                let does = base.repair(&r.repair).map_or(r.repair.as_str(), |(_, found)| found.does.as_str());
                let note = r.note.as_ref().map_or(String::new(), |n| format!(" ({n})"));
                lines.push(format!("REPAIR: {does}{note}"));
            }
            Event::Noted(n) => {
                let on = n.about.as_ref().and_then(|r| base.reading(r)).map(|(_, r)| format!(" on {}", r.name));
                lines.push(format!("Note{}: {}", on.unwrap_or_default(), n.text));
            }
            Event::Skipped(s) => {
                let why = s.why.as_ref().map_or(String::new(), |w| format!(" ({w})"));
                lines.push(format!("Not done: {}{why}", step_name(&s.step, base)));
            }
            Event::Reopened(r) => {
                let how = if r.comeback { "The car came back" } else { "The job went on" };
                lines.push(if r.found.is_empty() {
                    how.to_owned()
                } else {
                    format!("{how}: {}", found_words(&r.found, base))
                });
            }
            _ => {}
        }
        if lines.is_empty() {
            continue;
        }
        let fixed = story.fixed.iter().find(|(n, _)| *n == entry.number).and_then(|(_, f)| *f);
        let mut facts = vec![day(entry.at, now)];
        facts.extend(entry.event.spent().minutes.map(minutes));
        facts.extend(entry.event.spent().cost.map(|c| format!("{c:.2} spent")));
        if let Some(fixed) = fixed.filter(|f| last.is_none_or(|l: f64| (l - f).abs() >= 0.0005) && *f >= 0.01) {
            facts.push(format!("fixed with probability {}", percent(fixed)));
        }
        last = fixed.or(last);
        let lines = lines.iter().flat_map(|l| harmless_lines(l).split('\n').map(str::to_owned).collect::<Vec<_>>());
        out.push(Made { lines: lines.collect(), facts: facts.join(", ") });
    }
    out
}

/// Whether the event's outcome of the reading is the one that counts.
fn stands(job: &Job, event: u32, reading: &str) -> bool {
    let spans = job.visits.iter().flat_map(|v| &v.spans);
    spans.flat_map(|s| &s.results).any(|r| r.event == event && r.reading == reading)
}

/// A result: the test, and what came out in the words of the level.
fn result_words<'b>(id: &str, outcome: &str, base: &'b Base) -> (Option<&'b str>, String) {
    let Some((test, reading)) = base.reading(id) else { return (None, format!("{id}: {outcome}")) };
    let level = outcome.parse::<Outcome>().map_or_else(|_| outcome.to_owned(), |o| o.level_in_words(reading));
    let shown = if outcome == "fail" { level.to_uppercase() } else { level };
    (Some(&test.name), format!("{}: {shown}", reading.name))
}

/// Suspects that were worth a thought and are not there: not those that were repaired or named as the cause.
#[must_use]
pub fn ruled_out(job: &Job, standing: &Standing, story: &Story, base: &Base) -> Vec<String> {
    let repairs = job.visits.iter().flat_map(|v| &v.spans).filter_map(|s| s.repair.as_ref());
    let mut cured: Vec<&str> =
        repairs.filter_map(|(_, r)| base.repair(r)).flat_map(|(_, r)| r.removes.iter().map(String::as_str)).collect();
    if let Status::Closed { how, .. } = &job.status {
        cured.extend(how.causes.iter().map(String::as_str));
    }
    let gone =
        |id: &str, highest: f64| highest >= ONCE_SUSPECTED && standing.now(id) < RULED_OUT && !cured.contains(&id);
    let out = story.highest.iter().filter(|(id, highest)| gone(id, *highest));
    out.map(|(id, _)| base.suspect_name(id)).collect()
}

/// How the job stands or ended.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Conclusion {
    /// Sentences.
    pub before: Vec<String>,
    /// Suspects of an open job with their probabilities.
    pub likely: Vec<(String, f64)>,
    /// Sentences after them.
    pub after: Vec<String>,
}

/// How the job stands or ended, what it took and what was proved.
#[must_use]
pub fn conclusion(job: &Job, standing: &Standing, base: &Base) -> Conclusion {
    let mut out = Conclusion::default();
    match &job.status {
        Status::Open => {
            out.before.push("The job is still open.".to_owned());
            // On a car that is probably fixed the leading suspect is not what is believed.
            let shown = if standing.fixed.is_some_and(|f| f >= 0.5) { 0 } else { 3 };
            if shown > 0 {
                out.before.push("Most likely now:".to_owned());
            }
            let names = standing.ranked().into_iter().take(shown);
            out.likely = names.map(|(s, p)| (base.suspect_name(&standing.network.suspects[s].id), p)).collect();
        }
        Status::Closed { how, .. } => {
            let mut text = verdict_sentence(how.verdict, job, standing, base).to_owned();
            for cause in &how.causes {
                let what = base.suspect(cause).map_or(String::new(), |(_, s)| format!(" {}", s.what));
                let at_start = standing.network.suspect(cause).map(|s| standing.posterior.at_start[s]);
                let sure =
                    at_start.map_or(String::new(), |p| format!(" (probability that it was there: {})", percent(p)));
                let _ = write!(text, " {}{sure}.{what}", capital(&base.suspect_name(cause)));
            }
            out.before.push(text);
            out.before.extend(how.how.as_ref().map(|words| format!("Confirmed by: {}", harmless(words))));
        }
    }
    if standing.fixed.is_none_or(|f| f < 0.5) {
        out.after.extend(leak_size(standing));
    }
    if let Some(fixed) = standing.fixed {
        let repaired = standing.epoch() > 0;
        let text = format!("Probability that the car is fixed: {}.", percent(fixed));
        if repaired {
            out.after.push(text);
        }
    }
    if job.minutes > 0.0 || job.cost > 0.0 {
        out.after.push(format!("Spent: {}, {:.2} for parts and materials.", minutes(job.minutes), job.cost));
    }
    let proved: BTreeSet<&str> = job
        .present()
        .results
        .iter()
        .filter(|r| r.outcome == "pass")
        .filter_map(|r| r.reading.split(':').next())
        .collect();
    let proofs: BTreeSet<String> =
        code_proofs(job, base).into_iter().flat_map(|c| c.tests).filter(|t| proved.contains(t.as_str())).collect();
    for test in &proofs {
        if standing.epoch() > 0 {
            out.after.push(format!("Proved by: {}.", base.test(test).map_or(test.as_str(), |t| t.name.as_str())));
        }
    }
    out
}

fn step_name(id: &str, base: &Base) -> String {
    let test = base.test(id).map(|t| t.name.clone());
    test.or_else(|| base.repair(id).map(|(_, r)| r.does.clone())).unwrap_or_else(|| id.to_owned())
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or(String::new(), |c| c.to_uppercase().chain(chars).collect())
}

/// The cautions of every test and repair that was made, each once.
#[must_use]
pub fn cautions(job: &Job, base: &Base) -> Vec<String> {
    let vehicle = job.car.vehicle();
    let mut told = BTreeMap::new();
    for span in job.visits.iter().flat_map(|v| &v.spans) {
        let tests = span.results.iter().filter_map(|r| base.reading(&r.reading));
        let repair = span.repair.as_ref().and_then(|(_, r)| base.repair(r));
        let of_tests = tests.flat_map(|(t, _)| procedure::of_test(base, t, &vehicle).cautions);
        let of_repair = repair.into_iter().flat_map(|(_, r)| procedure::of_repair(base, r, &vehicle).cautions);
        told.extend(of_tests.chain(of_repair).map(|c| (c.entry.id.as_str(), c.say(&c.entry.text))));
    }
    told.into_values().collect()
}

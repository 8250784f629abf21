//! What the conversation shows: the state, a step with its cautions first, questions, help. Plain lines only.

use super::Look;
use super::job::leaders;
use super::paint::{CAUTION, HEADING, QUIET, paint};
use super::text::{hanging, minutes, paragraph, percent};
use crate::jobs::{Job, Standing};
use crate::knowledge::Base;
use crate::knowledge::base::{Reading, Repair, Test, Vehicle};
use crate::knowledge::procedure::{self, Procedure};
use std::fmt::Write as _;

/// What can be typed at any question.
pub const HELP: &str = "\
Answer with one word, then Enter. Every answer is stored before the next question.
  n, ok, pass     normal                    a, bad, fail    abnormal
  u, unclear      done, but it told nothing
  a level's name, where the reading has more than two
  why             why this step             other           choose another step
  skip            cannot do this step       back            undo the last answer
  repair ID       a repair was made         note WORDS      add a note
  code P0455      a code came (back)        proof           how the repair can be proved
  close           close the job             stop            leave; the job goes on later
  ?               this help
End of input stops too. Nothing is lost.
";

/// Where the job stands, in short.
#[must_use]
pub fn state(job: &Job, standing: &Standing, base: &Base, look: Look) -> String {
    let mut out = format!("\n{}  {}\n", paint(HEADING, format!("job {}", job.number)), job.codes().join(" "));
    leaders(&mut out, standing, base, 3, look);
    out
}

/// A test: cautions first, then tools, setups, steps.
#[must_use]
pub fn test(test: &Test, number: usize, base: &Base, vehicle: &Vehicle, look: Look) -> String {
    let done = procedure::of_test(base, test, vehicle);
    let setups: f64 = test.setups.iter().filter_map(|s| base.setup(s)).map(|s| s.minutes.get()).sum();
    let mut out =
        heading(number, &format!("{} ({}) [{}]", test.name, minutes(test.minutes.get() + setups), test.id), look);
    cautions(&mut out, &done, look);
    let names = |ids: &[String], name: &dyn Fn(&str) -> Option<String>| -> String {
        let list: Vec<String> = ids.iter().map(|i| name(i).unwrap_or_else(|| i.clone())).collect();
        if list.is_empty() { "none".to_owned() } else { list.join(", ") }
    };
    paragraph(&mut out, "tools   ", &names(&test.tools, &|i| base.tool(i).map(|t| t.name.clone())), look.width);
    if !done.setups.is_empty() {
        let names: Vec<String> = done.setups.iter().map(|s| s.say(&s.entry.name)).collect();
        paragraph(&mut out, "setup   ", &names.join(", "), look.width);
    }
    for (i, step) in done.in_order().iter().enumerate() {
        hanging(&mut out, &format!("{:>3}. ", i + 1), "     ", step, look.width);
    }
    out
}

/// The line that opens a step.
fn heading(number: usize, words: &str, look: Look) -> String {
    let step = format!("step {number}:");
    let mut out = String::from("\n");
    paragraph(&mut out, &format!("{step} "), words, look.width);
    // Painted after wrapping, so that the width counts what is seen.
    out.replacen(&step, &paint(HEADING, &step), 1)
}

fn cautions(out: &mut String, done: &Procedure<'_>, look: Look) {
    for caution in &done.cautions {
        let mut text = String::new();
        hanging(&mut text, "CAUTION ", "        ", &caution.say(&caution.entry.text), look.width);
        // Painted after wrapping, so that the width counts what is seen.
        out.push_str(&text.replacen("CAUTION", &paint(CAUTION, "CAUTION"), 1));
    }
}

/// A question for one reading, without the prompt.
#[must_use]
pub fn reading(reading: &Reading, look: Look) -> String {
    let mut out = format!("\n{}\n", paint(HEADING, &reading.name));
    paragraph(&mut out, "  normal    ", &reading.normal, look.width);
    paragraph(&mut out, "  abnormal  ", &reading.abnormal, look.width);
    if reading.levels.len() > 2 {
        paragraph(&mut out, "  levels    ", &reading.levels.join(", "), look.width);
    }
    out
}

/// A proposed repair: cautions first.
#[must_use]
pub fn repair(repair: &Repair, number: usize, clears: f64, base: &Base, vehicle: &Vehicle, look: Look) -> String {
    let mut out = heading(number, &format!("repair [{}] ({})", repair.id, minutes(repair.minutes.get())), look);
    let done = procedure::of_repair(base, repair, vehicle);
    cautions(&mut out, &done, look);
    for step in done.in_order() {
        paragraph(&mut out, "  ", &format!("{}.", step.trim_end_matches('.')), look.width);
    }
    paragraph(
        &mut out,
        "  ",
        &format!("One of the faults that it removes is there with probability {}.", percent(clears)),
        look.width,
    );
    out
}

/// Other steps to choose from.
#[must_use]
pub fn others(list: &[(String, String)], look: Look) -> String {
    let mut out = String::from("\n");
    for (i, (id, words)) in list.iter().enumerate() {
        hanging(&mut out, &format!("{:>3}  ", i + 1), "     ", &format!("{words} [{id}]"), look.width);
    }
    let _ = writeln!(out, "{}", paint(QUIET, "type a number or an id; Enter goes back to the proposed step"));
    out
}

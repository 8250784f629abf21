//! What the conversation shows: the state, a step with its cautions first, questions, help. Plain lines only.

use super::Look;
use super::job::leaders;
use super::paint::{CAUTION, HEADING, QUIET, paint};
use super::text::{hanging, minutes, paragraph, percent};
use crate::jobs::{Job, Standing};
use crate::knowledge::Base;
use crate::knowledge::base::{Reading, Repair, Test};
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
pub fn test(test: &Test, number: usize, base: &Base, look: Look) -> String {
    let setups: f64 = test.setups.iter().filter_map(|s| base.setup(s)).map(|s| s.minutes.get()).sum();
    let mut out =
        heading(number, &format!("{} ({}) [{}]", test.name, minutes(test.minutes.get() + setups), test.id), look);
    let ids = test.cautions.iter().chain(test.setups.iter().filter_map(|s| base.setup(s)).flat_map(|s| &s.cautions));
    cautions(&mut out, ids, base, look);
    let names = |ids: &[String], name: &dyn Fn(&str) -> Option<String>| -> String {
        let list: Vec<String> = ids.iter().map(|i| name(i).unwrap_or_else(|| i.clone())).collect();
        if list.is_empty() { "none".to_owned() } else { list.join(", ") }
    };
    paragraph(&mut out, "tools   ", &names(&test.tools, &|i| base.tool(i).map(|t| t.name.clone())), look.width);
    if !test.setups.is_empty() {
        paragraph(&mut out, "setup   ", &names(&test.setups, &|i| base.setup(i).map(|s| s.name.clone())), look.width);
    }
    let setup_steps = test.setups.iter().filter_map(|s| base.setup(s)).flat_map(|s| &s.does);
    for (i, step) in setup_steps.chain(&test.steps).enumerate() {
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

fn cautions<'a>(out: &mut String, ids: impl Iterator<Item = &'a String>, base: &Base, look: Look) {
    let mut told: Vec<&str> = Vec::new();
    for caution in ids.filter_map(|c| base.caution(c)) {
        if !told.contains(&caution.id.as_str()) {
            told.push(&caution.id);
            let mut text = String::new();
            hanging(&mut text, "CAUTION ", "        ", &caution.text, look.width);
            // Painted after wrapping, so that the width counts what is seen.
            out.push_str(&text.replacen("CAUTION", &paint(CAUTION, "CAUTION"), 1));
        }
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
pub fn repair(repair: &Repair, number: usize, clears: f64, base: &Base, look: Look) -> String {
    let mut out = heading(number, &format!("repair [{}] ({})", repair.id, minutes(repair.minutes.get())), look);
    cautions(&mut out, repair.cautions.iter(), base, look);
    paragraph(&mut out, "  ", &format!("{}.", repair.does), look.width);
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

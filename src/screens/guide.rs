//! What the conversation shows: the state, a step with its cautions first, questions, help. Plain lines only.

use super::Look;
use super::job::{headline, leaders};
use super::paint::{CAUTION, HEADING, QUIET, paint};
use super::text::{columns, hanging, harmless, left, minutes, paragraph, percent};
use jobs::{Job, Standing};
use knowledge::Base;
use knowledge::base::{Reading, Repair, Test, Vehicle};
use knowledge::procedure::{self, Procedure};
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// A step of which the cautions are wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step<'a> {
    /// A test, by id.
    Test(&'a str),
    /// A repair, by id.
    Repair(&'a str),
}

/// The first words of a conversation.
pub const HELLO: &str = "Answer each question with what its list shows, then Enter; ? shows what else can be typed. Every \
    answer is stored before the next question.";

/// What can be typed at any question.
pub const HELP: &str = "\
A reading: its number in the list, the first letters of a level,
  or what you read with its unit; then note WORDS if you like.
  told 2          the last shop says so: weighs less
y and n: only where the question asks for yes or no.
At any question:
  why             why this step
  how             the steps once more
  cautions        its cautions in full
  other           choose another step
  skip [WHY]      this cannot be done
  back            take the last answer back
  test ID         do that test now
  repair ID       make that repair now
  code P0455      a code was read
  found WORDS     a fault was seen: found purge line cracked
  sound WORDS     looked at and sound: sound filler neck
  9 years, capless, no smoke machine, limit 200
                  what is known of car, tools, limit
  note WORDS      keep these words
  where           the job, the leading suspects
  proof           how a repair is proved
  close           close the job
  stop            leave; goes on later
End of input stops too. Nothing is lost.
";

/// What decides most and is not known yet.
#[must_use]
pub fn start(topics: &[(String, String)], look: Look) -> String {
    let mut out = String::from("\n");
    paragraph(
        &mut out,
        "",
        "What is known of the car and the tools decides most. Type what you know, with commas between; Enter leaves it open.",
        look.width,
    );
    for (topic, how) in topics {
        paragraph(&mut out, &format!("  {} ", left(topic, 6)), how, look.width);
    }
    out
}

/// The suspects that words may mean.
#[must_use]
pub fn which(said: &str, list: &[(String, String)], look: Look) -> String {
    let mut out = String::from("\n");
    paragraph(&mut out, "", &format!("\"{}\" may be:", harmless(said)), look.width);
    for (i, (id, name)) in list.iter().enumerate() {
        hanging(&mut out, &format!("{:>3}  ", i + 1), "     ", &format!("{name} [{id}]"), look.width);
    }
    out
}

/// What undoes the setups of a test, after its last reading.
#[must_use]
pub fn afterwards(test: &Test, base: &Base, vehicle: &Vehicle, look: Look) -> String {
    let mut out = String::new();
    let steps = procedure::of_test(base, test, vehicle).afterwards;
    if !steps.is_empty() {
        paragraph(&mut out, "", "Afterwards, unless the next step needs it as it is:", look.width);
        for step in steps {
            hanging(&mut out, "  - ", "    ", &step, look.width);
        }
    }
    out
}

/// Where the job stands, in short.
#[must_use]
pub fn state(job: &Job, standing: &Standing, base: &Base, look: Look) -> String {
    let mut out = String::from("\n");
    headline(&mut out, job, look);
    leaders(&mut out, standing, base, 3, look);
    out
}

/// A test: cautions first, then tools, setups, steps.
#[must_use]
pub fn test(
    test: &Test,
    number: usize,
    told: &mut BTreeSet<String>,
    base: &Base,
    vehicle: &Vehicle,
    look: Look,
) -> String {
    let done = procedure::of_test(base, test, vehicle);
    let setups: f64 = test.setups.iter().filter_map(|s| base.setup(s)).map(|s| s.minutes.get()).sum();
    let mut out =
        heading(number, &format!("{} ({}) [{}]", test.name, minutes(test.minutes.get() + setups), test.id), look);
    cautions(&mut out, &done, told, look);
    let names = |ids: &[String], name: &dyn Fn(&str) -> Option<String>| -> String {
        let list: Vec<String> = ids.iter().map(|i| name(i).unwrap_or_else(|| i.clone())).collect();
        if list.is_empty() { "none".to_owned() } else { list.join(", ") }
    };
    paragraph(&mut out, "tools   ", &names(&test.tools, &|i| base.tool(i).map(|t| t.name.clone())), look.width);
    if !done.setups.is_empty() {
        let names: Vec<String> = done.setups.iter().map(|s| s.say(&s.entry.name)).collect();
        paragraph(&mut out, "setup   ", &names.join(", "), look.width);
    }
    // What undoes the setups follows the readings.
    let setup_steps = done.setups.iter().flat_map(|s| s.entry.does.iter().map(|step| s.say(step)));
    let own = done.steps.iter().map(|step| (*step).to_owned());
    for (i, step) in setup_steps.chain(own).enumerate() {
        let step = &step;
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

/// Cautions: in full those that were not told on this job yet, by name the others, so that the new ones are read.
fn cautions(out: &mut String, done: &Procedure<'_>, told: &mut BTreeSet<String>, look: Look) {
    let mut before: Vec<&str> = Vec::new();
    for caution in &done.cautions {
        let (name, text) = (&caution.entry.name, &caution.entry.text);
        if !told.insert(caution.entry.id.clone()) {
            before.push(name);
            continue;
        }
        let text = match text.to_lowercase().starts_with(&name.to_lowercase()) {
            true => text.clone(),
            false => format!("{name}: {text}"),
        };
        caution_text(out, &caution.say(&text), look);
    }
    if !before.is_empty() {
        caution_text(out, &format!("as before: {} (`cautions` shows them in full).", before.join(", ")), look);
    }
}

fn caution_text(out: &mut String, words: &str, look: Look) {
    let mut text = String::new();
    hanging(&mut text, "CAUTION ", "  ", words, look.width);
    // Painted after wrapping, so that the width counts what is seen.
    out.push_str(&text.replacen("CAUTION", &paint(CAUTION, "CAUTION"), 1));
}

/// The cautions of a step in full.
#[must_use]
pub fn cautions_of(step: Option<Step<'_>>, base: &Base, vehicle: &Vehicle, look: Look) -> String {
    let mut out = String::new();
    let done = match step {
        Some(Step::Test(id)) => base.test(id).map(|t| procedure::of_test(base, t, vehicle)),
        Some(Step::Repair(id)) => base.repair(id).map(|(_, r)| procedure::of_repair(base, r, vehicle)),
        None => None,
    };
    if let Some(done) = done {
        cautions(&mut out, &done, &mut BTreeSet::new(), look);
    }
    if out.is_empty() {
        out.push_str("this step carries no caution of its own\n");
    }
    out
}

/// A question for one reading, without the prompt.
#[must_use]
pub fn reading(reading: &Reading, look: Look) -> String {
    let mut out = format!("\n{}\n", paint(HEADING, &reading.name));
    paragraph(&mut out, "  normal    ", &reading.normal, look.width);
    paragraph(&mut out, "  abnormal  ", &reading.abnormal, look.width);
    if let Some(between) = &reading.between {
        paragraph(&mut out, "  between   ", between, look.width);
    }
    if reading.levels.len() > 2 {
        paragraph(&mut out, "  levels    ", &reading.levels.join(", "), look.width);
    }
    if let Some(text) = mends(reading) {
        paragraph(&mut out, "  mends     ", &text, look.width);
    }
    out
}

/// What the steps of the test put right by the way when the reading is abnormal.
#[must_use]
pub fn mends(reading: &Reading) -> Option<String> {
    let repair = reading.cures.as_ref()?;
    Some(format!("the steps put it right: recorded as abnormal, a job notes the repair {repair} by itself"))
}

/// A question for one reading with its answers as a list, without the prompt.
#[must_use]
pub fn reading_list(reading: &Reading, names: &[&str], look: Look) -> String {
    let mut out = format!("\n{}\n", paint(HEADING, harmless(&reading.name)));
    let column = names.iter().map(|n| columns(n)).max().unwrap_or(0).min(12);
    let two = reading.levels.len() == 2;
    for (i, name) in names.iter().enumerate() {
        let words = match i {
            0 => reading.normal.as_str(),
            1 if two => reading.abnormal.as_str(),
            _ if i + 1 == names.len() => "done, but it told nothing",
            _ => "",
        };
        let lead = format!("  {} {}  ", i + 1, left(name, column));
        paragraph(&mut out, lead.trim_end_matches(if words.is_empty() { ' ' } else { '\0' }), words, look.width);
    }
    if !two {
        paragraph(
            &mut out,
            "  ",
            &format!("Not {}: {}", names.first().unwrap_or(&"normal"), reading.abnormal),
            look.width,
        );
    }
    if let Some(between) = &reading.between {
        paragraph(&mut out, "  ", &format!("In between: {between}"), look.width);
    }
    out
}

/// A proposed repair: cautions first.
#[must_use]
pub fn repair(
    repair: &Repair,
    number: usize,
    clears: f64,
    told: &mut BTreeSet<String>,
    base: &Base,
    vehicle: &Vehicle,
    look: Look,
) -> String {
    let mut out = heading(number, &format!("repair [{}] ({})", repair.id, minutes(repair.minutes.get())), look);
    let done = procedure::of_repair(base, repair, vehicle);
    cautions(&mut out, &done, told, look);
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
    let _ = writeln!(out, "{}", paint(QUIET, "type a number or an id; back goes to the question before"));
    out
}

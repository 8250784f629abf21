//! What a first screen says of the step to take: what is most dangerous about it, how long it takes and with what, and
//! what good and bad look like in a line each. Shared by the screens that end with a step.

use super::Look;
use super::paint::{CAUTION, HEADING, ID, paint};
use super::text::{columns, cut_words, hanging, minutes, paragraph};
use knowledge::Base;
use knowledge::base::{Repair, Test};
use knowledge::procedure::Procedure;
use std::fmt::Write as _;

/// Cautions by what they are for, the one that can kill most surely first: electricity, fire, a car that falls, then what
/// catches, bursts, burns. One that is not here comes after these.
const GRAVEST: [&str; 12] = [
    "high-voltage",
    "petrol-vapour",
    "liquid-fuel",
    "raised-vehicle",
    "static-electricity",
    "moving-parts",
    "running-engine",
    "low-pressure-only",
    "sealed-tank-pressure",
    "hot-coolant",
    "hot-exhaust",
    "short-circuit",
];

/// The most dangerous thing about the step, the other cautions by name, and whose word comes first.
pub fn danger(out: &mut String, done: &Procedure<'_>, look: Look) {
    let order = "The vehicle maker's procedure, local rules and licensed practice come first.";
    let mut cautions: Vec<_> = done.cautions.iter().collect();
    let grave = |id: &str| GRAVEST.iter().position(|g| *g == id).unwrap_or(GRAVEST.len());
    // What is not known to concern this car comes after what does.
    cautions.sort_by_key(|c| (c.only_if.is_some(), grave(&c.entry.id)));
    let mut text = String::new();
    if let Some(first) = cautions.first() {
        text.push_str(&first.say(&first_sentence(&first.entry.text)));
        let others: Vec<String> = cautions[1..].iter().map(|c| c.entry.name.to_lowercase()).collect();
        if !others.is_empty() {
            let _ = write!(text, " Also: {}.", others.join(", "));
        }
        text.push(' ');
    }
    text.push_str(order);
    let mut words = String::new();
    hanging(&mut words, "CAUTION ", "  ", &text, look.width);
    // Painted after wrapping, so that the width counts what is seen.
    out.push_str(&words.replacen("CAUTION", &paint(CAUTION, "CAUTION"), 1));
}

fn first_sentence(text: &str) -> String {
    let end = text.find(". ").map_or(text.len(), |at| at + 1);
    text[..end].to_owned()
}

/// A test as the action: name, minutes, tools, what good and bad look like.
pub fn test(out: &mut String, lead: &str, test: &Test, took: f64, base: &Base, look: Look) {
    let tools: Vec<&str> = test.tools.iter().map(|id| base.tool(id).map_or(id.as_str(), |t| t.name.as_str())).collect();
    let tools = if tools.is_empty() { "no tools".to_owned() } else { tools.join(", ") };
    action(out, lead, &format!("{} ({}; {tools})", test.name, minutes(took)), look);
    if let Some(reading) = test.readings.first() {
        line(out, "good", &reading.normal, look);
        line(out, "bad", &reading.abnormal, look);
    }
    let more = match test.readings.len() {
        0 | 1 => String::new(),
        2 => "; it has one reading more".to_owned(),
        n => format!("; it has {} readings more", n - 1),
    };
    how(out, &test.id, &format!("faultodds kb show {} tells how{more}", test.id), look);
}

/// A repair as the action.
pub fn repair(out: &mut String, lead: &str, repair: &Repair, took: f64, look: Look) {
    action(out, lead, &format!("{} ({})", repair.does, minutes(took)), look);
    let part = repair.id.split('/').next().unwrap_or(&repair.id);
    how(out, &repair.id, &format!("repair {}; faultodds kb show {part} tells more", repair.id), look);
}

/// The heading of an action.
pub fn action(out: &mut String, lead: &str, words: &str, look: Look) {
    let mut text = String::new();
    hanging(&mut text, &format!("{lead}: "), "  ", words, look.width);
    out.push_str(&text.replacen(lead, &paint(HEADING, lead), 1));
}

/// One line, cut at a word.
fn line(out: &mut String, lead: &str, words: &str, look: Look) {
    let lead = format!("  {lead:<5} ");
    let _ = writeln!(out, "{lead}{}", cut_words(words, look.width.saturating_sub(columns(&lead))));
}

fn how(out: &mut String, id: &str, words: &str, look: Look) {
    let mut text = String::new();
    paragraph(&mut text, "  ", words, look.width);
    out.push_str(&text.replacen(id, &paint(ID, id), 1));
}

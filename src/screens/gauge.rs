//! The screen of `gauge`: the answer with its range, what must not be exceeded, and what it rests on.

use super::Look;
use super::paint::{CAUTION, HEADING, ID, QUIET, paint};
use super::text::{hanging, paragraph};
use gauge::Answer;
use gauge::answer::Basis;
use gauge::digits::rough;
use gauge::fit::{Comparison, Shape};

/// The whole screen.
#[must_use]
pub fn text(answer: &Answer, look: Look) -> String {
    let width = look.width;
    let mut out = String::new();
    let mut head = String::new();
    hanging(&mut head, "", "   ", &sentence(&answer.headline), width);
    for line in head.lines() {
        out.push_str(&paint(HEADING, line));
        out.push('\n');
    }
    for figure in &answer.also {
        paragraph(&mut out, &format!("   {}: ", figure.label), &figure.words(), width);
    }
    for (i, words) in answer.class_words.iter().enumerate() {
        paragraph(&mut out, if i == 0 { "   class: " } else { "   or:    " }, words, width);
    }
    if !answer.codes.is_empty() {
        let mut line = String::new();
        paragraph(&mut line, "   codes of these sizes: ", &answer.codes.join(", "), width);
        for code in &answer.codes {
            line = line.replacen(code, &paint(ID, code), 1);
        }
        out.push_str(&line);
    }
    if let Some(shape) = &answer.shape {
        paragraph(&mut out, "   shape: ", &shape_words(shape), width);
    }
    marked(&mut out, "Before you test", "!", &answer.cautions, width);
    marked(&mut out, "What could fake it", "-", &answer.warnings, width);
    out.push('\n');
    let quiet = |out: &mut String, lead: &str, text: &str| {
        let mut lines = String::new();
        paragraph(&mut lines, lead, text, width);
        for line in lines.lines() {
            out.push_str(&paint(QUIET, line));
            out.push('\n');
        }
    };
    if !answer.taken.is_empty() {
        quiet(&mut out, "   taken:   ", &answer.taken.join("; "));
    }
    if !answer.range_because.is_empty() {
        quiet(&mut out, "   range:   ", &answer.range_because.join("; "));
    }
    quiet(&mut out, "   formula: ", answer.formula);
    let basis = match answer.basis {
        Basis::Published => "published",
        Basis::CommonPractice => "common practice",
        Basis::FromMemory => "published, recalled from memory",
    };
    quiet(&mut out, "   source:  ", &format!("{} ({basis})", answer.source));
    out
}

fn marked(out: &mut String, title: &str, mark: &str, list: &[String], width: usize) {
    if list.is_empty() {
        return;
    }
    out.push_str(&format!("\n{}\n", paint(CAUTION, title)));
    for one in list {
        paragraph(out, &format!("   {mark} "), &sentence(one), width);
    }
}

/// The text with a capital and a full stop, unless it starts with a number or a unit.
fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    let first: String = chars.next().map(|c| c.to_uppercase().collect()).unwrap_or_default();
    let stop = if text.ends_with(['.', '?', '!']) { "" } else { "." };
    format!("{first}{}{stop}", chars.as_str())
}

fn shape_words(found: &Comparison) -> String {
    let which = match found.shape {
        Shape::Orifice => "it falls as through a hole (the square root of pressure falls evenly)",
        Shape::Laminar => "it falls as through a long narrow path (the same share in the same time)",
        Shape::CannotTell => "a hole and a long narrow path fit about equally well",
        Shape::Neither => {
            "neither a hole nor a narrow path fits: temperature, vapour or a changing leak; read the points again"
        }
    };
    let (hole, path) = (rough(found.orifice.rms_pa / 249.089), rough(found.laminar.rms_pa / 249.089));
    format!("{which}; misfit {hole} inH2O as a hole, {path} inH2O as a narrow path")
}

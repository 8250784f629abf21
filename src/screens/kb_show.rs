//! One entry of the base as a page: what it is, its numbers and where they come from.

use super::Look;
use super::guide::mends;
use super::paint::{CAUTION, HEADING, ID, paint};
use super::text::{hanging, minutes, paragraph, percent, right};
use knowledge::base::{
    Base, Basis, Code, Monitor, Part, Reading, Repair, Senses, Suspect, Symptom, Test, Vehicle, When,
};
use knowledge::procedure::{self, Fitted, Procedure};
use std::fmt::Write as _;

/// A share of a suspect, computed.
pub type Share = (String, f64);

fn head(out: &mut String, id: &str, name: &str, width: usize) {
    let mut line = String::new();
    hanging(&mut line, &format!("{id}  "), "   ", name, width);
    out.push_str(&line.replacen(id, &paint(ID, id), 1));
}

fn section(out: &mut String, title: &str, look: Look) {
    let mut lines = String::new();
    hanging(&mut lines, "", "   ", title, look.width);
    out.push('\n');
    for line in lines.lines() {
        let _ = writeln!(out, "{}", paint(HEADING, line));
    }
}

/// The prior as shipped of a suspect whose prior the shop's jobs have moved.
pub type Shipped<'a> = &'a dyn Fn(&str) -> Option<f64>;

fn basis(base: &Base, basis: &Basis, weight: f64) -> String {
    // A weight that was learned has more digits than anybody wants to read.
    let weight = if weight >= 10.0 { weight.round() } else { weight };
    match basis {
        Basis::Judgement => format!("judgement, worth {weight} jobs"),
        Basis::Source(id) => {
            let kind = base.source(id).map_or("unknown", |s| s.kind.word());
            format!("{id} ({kind}), worth {weight} jobs")
        }
    }
}

fn also(out: &mut String, also: &[String], width: usize) {
    if !also.is_empty() {
        paragraph(out, "   also called: ", &also.join(", "), width);
    }
}

/// A code, with the computed share of each suspect given the code alone.
#[must_use]
pub fn code(base: &Base, c: &Code, shares: &[Share], look: Look) -> String {
    let mut out = String::new();
    head(&mut out, &c.id, &c.title, look.width);
    let title_basis = match c.title_basis.word() {
        "memory" => "title recalled from the standard, not copied from it",
        _ => "title compared with a public table",
    };
    let facts = format!("{} code of the {} family; {title_basis}", c.kind.word(), c.family);
    paragraph(&mut out, "   ", &facts, look.width);
    also(&mut out, &c.also, look.width);
    paragraph(&mut out, "   ", &c.saw, look.width);
    if let Some(note) = &c.note {
        paragraph(&mut out, "   ", &format!("Note: {note}"), look.width);
    }
    if let Some(m) = base.monitor(&c.monitor) {
        section(&mut out, "Set by", look);
        let levels = m.levels.join(" < ");
        paragraph(&mut out, "   ", &format!("{} ({}): {}", m.name, m.id, m.watches), look.width);
        paragraph(&mut out, "   ", &format!("results, mildest first: none < {levels}"), look.width);
        conditions(&mut out, m, look);
    }
    section(&mut out, "With this code and no other: share of each suspect (computed)", look);
    for (id, p) in shares.iter().filter(|s| s.1 >= 0.005) {
        let lead = format!("{}  ", right(&percent(*p), 6));
        paragraph(&mut out, &lead, &format!("{} [{id}]", base.suspect_name(id)), look.width);
    }
    section(&mut out, "P(this code | that suspect alone)", look);
    for l in &c.sets {
        let p = l.p.first().map_or(0.0, |p| p.get());
        let _ = writeln!(out, "{}  {}", right(&percent(p), 6), l.suspect);
    }
    if let Some(senses) = base.monitor(&c.monitor).and_then(|m| m.senses.as_ref()) {
        sensed(&mut out, base, senses, look);
    }
    let _ = writeln!(out, "{}  none of them (background)", right(&format!("{:.1e}", c.leak.get()), 8));
    let _ = writeln!(out, "   basis: {}", basis(base, &c.basis, c.weight.get()));
    out
}

fn conditions(out: &mut String, m: &Monitor, look: Look) {
    let trips = if m.trips == 1 { "one trip".to_owned() } else { format!("{} trips", m.trips) };
    let runs = m.runs.word().replace('-', " ");
    paragraph(out, "   ", &format!("runs {runs}; a code is stored after {trips} with a failed check"), look.width);
    for c in &m.conditions {
        let from = match &c.basis {
            Basis::Judgement => "judgement",
            Basis::Source(id) => id,
        };
        paragraph(out, "   - ", &format!("{}: {} ({from})", c.what, c.needs), look.width);
    }
}

/// A monitor.
#[must_use]
pub fn monitor(base: &Base, m: &Monitor, look: Look) -> String {
    let mut out = String::new();
    head(&mut out, &m.id, &m.name, look.width);
    paragraph(&mut out, "   ", &m.watches, look.width);
    conditions(&mut out, m, look);
    section(&mut out, "Results, mildest first", look);
    for id in &m.levels {
        let title = base.code(id).map_or("", |c| c.title.as_str());
        paragraph(&mut out, &format!("   {id}  "), title, look.width);
    }
    if !m.suspended_by.is_empty() {
        paragraph(&mut out, "   kept from running by: ", &m.suspended_by.join(", "), look.width);
    }
    section(&mut out, "Proof of a repair on the spot, best first", look);
    for id in &m.proof {
        let name = base.test(id).map_or("", |t| t.name.as_str());
        paragraph(&mut out, &format!("   {id}: "), name, look.width);
    }
    let prior = percent(m.not_listed.prior.get());
    let text = format!("cause not listed here: prior {prior}, {}", basis(base, &m.basis, m.weight.get()));
    paragraph(&mut out, "   ", &text, look.width);
    out
}

fn suspect_lines(out: &mut String, base: &Base, s: &Suspect, vehicle: &Vehicle, shipped: Shipped<'_>, look: Look) {
    head(out, &s.id, &s.name, look.width);
    paragraph(out, "   ", &s.what, look.width);
    let mut facts = format!("prior {} of cars on the road", percent(s.prior.get()));
    if !s.requires.is_empty() {
        let not = match procedure::fitted(base, vehicle, &s.requires) {
            Fitted::Not => " (this car has not)",
            Fitted::Has | Fitted::May => "",
        };
        let _ = write!(facts, " that have: {}{not}", s.requires.join(", "));
    }
    let _ = match shipped(&s.id) {
        Some(p) => {
            write!(facts, " by this shop's jobs, {} as shipped; now worth {:.0} jobs", percent(p), s.weight.get())
        }
        None => write!(facts, "; {}", basis(base, &s.basis, s.weight.get())),
    };
    paragraph(out, "   ", &facts, look.width);
    if s.vapour_leak {
        paragraph(out, "   ", "lets fuel vapour out of the system", look.width);
    }
    if !s.factors.is_empty() {
        paragraph(out, "   moved by: ", &s.factors.join(", "), look.width);
    }
}

/// A suspect, with the codes that it sets, its symptoms, the readings that reveal it and the repairs that remove it.
#[must_use]
pub fn suspect(base: &Base, s: &Suspect, vehicle: &Vehicle, shipped: Shipped<'_>, look: Look) -> String {
    let mut out = String::new();
    suspect_lines(&mut out, base, s, vehicle, shipped, look);
    if let Some(o) = &s.opening {
        let at = o.at.word().replace('-', " ");
        let text = format!(
            "A hole of about {} mm (two of three cars within a factor {}) at the {at}; codes and readings that sense it follow from its size.",
            o.median_mm, o.spread
        );
        paragraph(&mut out, "   ", &text, look.width);
    }
    if !s.brings.is_empty() {
        section(&mut out, "What it brings about", look);
        for b in &s.brings {
            let when = if b.when == When::Later { ", after the re-test" } else { "" };
            let lead = format!("{}  ", right(&percent(b.p.get()), 6));
            paragraph(&mut out, &lead, &format!("{} [{}]{when}", base.suspect_name(&b.suspect), b.suspect), look.width);
        }
    }
    let causes: Vec<&str> = base
        .suspects()
        .filter(|(_, c)| c.brings.iter().any(|b| b.suspect == s.id))
        .map(|(_, c)| c.name.as_str())
        .collect();
    if !causes.is_empty() {
        paragraph(&mut out, "   ", &format!("May have been brought about by: {}.", causes.join("; ")), look.width);
    }
    section(&mut out, "Codes it sets", look);
    for c in &base.codes {
        if let Some(l) = c.sets.iter().find(|l| l.suspect == s.id) {
            let lead = format!("{}  {}  ", right(&percent(l.p[0].get()), 6), c.id);
            paragraph(&mut out, &lead, &c.title, look.width);
        }
    }
    if !s.symptoms.is_empty() {
        section(&mut out, "Symptoms it causes", look);
        for l in &s.symptoms {
            let name = base.symptom(&l.symptom).map_or(l.symptom.as_str(), |x| x.name.as_str());
            paragraph(&mut out, &format!("{}  ", right(&percent(l.p.get()), 6)), name, look.width);
        }
    }
    section(&mut out, "Readings that reveal it", look);
    for r in base.tests.iter().flat_map(|t| &t.readings) {
        if let Some(l) = r.detects.iter().find(|l| l.suspect == s.id) {
            let p: f64 = l.p.iter().map(|p| p.get()).sum();
            paragraph(&mut out, &format!("{}  ", right(&percent(p), 6)), &format!("{} [{}]", r.name, r.id), look.width);
        }
    }
    section(&mut out, "Repairs that remove it", look);
    for (_, r) in base.repairs().filter(|(_, r)| r.removes.contains(&s.id)) {
        repair(&mut out, r, look);
    }
    out
}

fn repair(out: &mut String, r: &Repair, look: Look) {
    let time = minutes(r.minutes.get());
    let text = format!(
        "{} — {time}, parts {} (judgement); does not take in {}",
        r.does,
        r.parts_cost.get(),
        percent(r.fails.get())
    );
    paragraph(out, &format!("   {}: ", r.id), &text, look.width);
    if !r.after.is_empty() {
        paragraph(out, "      made after ", &r.after.join(", "), look.width);
    }
}

/// A part with its suspects and repairs.
#[must_use]
pub fn part(base: &Base, p: &Part, vehicle: &Vehicle, shipped: Shipped<'_>, look: Look) -> String {
    let mut out = String::new();
    head(&mut out, &p.id, &p.name, look.width);
    also(&mut out, &p.also, look.width);
    paragraph(&mut out, "   where: ", &p.place, look.width);
    paragraph(&mut out, "   does: ", &p.does, look.width);
    section(&mut out, "The ways it fails", look);
    for s in &p.suspects {
        suspect_lines(&mut out, base, s, vehicle, shipped, look);
    }
    section(&mut out, "Repairs", look);
    for r in &p.repairs {
        repair(&mut out, r, look);
    }
    out
}

/// The cautions in full.
pub fn cautions(out: &mut String, done: &Procedure<'_>, look: Look) {
    let _ = writeln!(out, "{}", paint(CAUTION, "Before you start"));
    for c in &done.cautions {
        paragraph(out, "   ! ", &c.say(&format!("{}: {}", c.entry.name, c.entry.text)), look.width);
    }
    let order = "The vehicle maker's procedure, local rules and licensed practice come first.";
    paragraph(out, "   ! ", order, look.width);
}

/// How to do a test: tools, setups, steps, what takes the setups down again, what normal and abnormal look like.
pub fn how_to(out: &mut String, base: &Base, t: &Test, done: &Procedure<'_>, look: Look) {
    let tools: Vec<&str> = t.tools.iter().map(|id| base.tool(id).map_or(id.as_str(), |x| x.name.as_str())).collect();
    let tools = if tools.is_empty() { "none: eyes and hands".to_owned() } else { tools.join(", ") };
    paragraph(out, "   tools: ", &tools, look.width);
    for s in &done.setups {
        let first = format!("{} ({}): {}", s.entry.name, minutes(s.entry.minutes.get()), s.entry.does.join(" "));
        paragraph(out, "   setup: ", &s.say(&first), look.width);
    }
    for (i, step) in done.steps.iter().enumerate() {
        paragraph(out, &format!("   {:>2}. ", i + 1), step, look.width);
    }
    if !done.afterwards.is_empty() {
        paragraph(out, "   afterwards: ", &done.afterwards.join(" "), look.width);
    }
    for r in &t.readings {
        let mut line = String::new();
        hanging(&mut line, &format!("   {}  ", r.id), "      ", &r.name, look.width);
        out.push_str(&line.replacen(r.id.as_str(), &paint(ID, &r.id), 1));
        paragraph(out, "      normal:   ", &r.normal, look.width);
        paragraph(out, "      abnormal: ", &r.abnormal, look.width);
        if let Some(between) = &r.between {
            paragraph(out, "      between:  ", between, look.width);
        }
        if let Some(text) = mends(r) {
            paragraph(out, "      mends:    ", &text, look.width);
        }
        if r.levels.len() > 2 {
            paragraph(out, "      levels:   ", &r.levels.join(" < "), look.width);
        }
        if let Some(m) = &r.measure {
            let taken = m.taken.as_deref().map(|t| format!(", {t}")).unwrap_or_default();
            let text = format!("{} in {}, told apart to {}{taken}", m.quantity.word(), m.unit, m.resolution);
            paragraph(out, "      number:   ", &text, look.width);
        }
    }
}

/// A test: cautions first, then how to do it, then its numbers.
#[must_use]
pub fn test(base: &Base, t: &Test, vehicle: &Vehicle, look: Look) -> String {
    let mut out = String::new();
    head(&mut out, &t.id, &t.name, look.width);
    also(&mut out, &t.also, look.width);
    paragraph(&mut out, "   ", &t.why, look.width);
    let used = if t.consumables.get() > 0.0 { format!(", uses up {}", t.consumables.get()) } else { String::new() };
    let _ = writeln!(out, "   {} without setups{used}", minutes(t.minutes.get()));
    if !t.requires.is_empty() {
        let lead = match procedure::fitted(base, vehicle, &t.requires) {
            Fitted::Not => "   not for this car; only on vehicles with: ",
            Fitted::Has => "   this car has what it is for: ",
            Fitted::May => "   only on vehicles with: ",
        };
        paragraph(&mut out, lead, &t.requires.join(", "), look.width);
    }
    if t.repeats_monitors {
        let text = "reads what the engine computer's own checks found: with the codes read after the same drive it counts once";
        paragraph(&mut out, "   ", text, look.width);
    }
    out.push('\n');
    let done = procedure::of_test(base, t, vehicle);
    cautions(&mut out, &done, look);
    section(&mut out, "How", look);
    how_to(&mut out, base, t, &done, look);
    section(&mut out, "What it reveals: P(abnormal | that suspect alone)", look);
    for r in &t.readings {
        reveals(&mut out, base, r, look);
    }
    let _ = writeln!(out, "   basis: {}", basis(base, &t.basis, t.weight.get()));
    out
}

/// The suspects whose openings are sensed, with their sizes: their numbers follow from those.
fn sensed(out: &mut String, base: &Base, senses: &Senses, look: Look) {
    let limits: Vec<String> = senses.limits_mm.iter().map(|mm| format!("{mm} mm")).collect();
    let text = format!("and by the size of the hole, from {} on:", limits.join(", "));
    paragraph(out, "   ", &text, look.width);
    for (_, s) in base.suspects() {
        if let Some(o) = s.opening.as_ref().filter(|o| senses.sections.contains(&o.at)) {
            let line =
                format!("{} (hole about {} mm, in two of three cars within a factor {})", s.id, o.median_mm, o.spread);
            hanging(out, "         ", "            ", &line, look.width);
        }
    }
}

fn reveals(out: &mut String, base: &Base, r: &Reading, look: Look) {
    let levels = |p: &[knowledge::number::Probability]| -> String {
        let each: Vec<String> = p.iter().map(|p| percent(p.get())).collect();
        each.join(" / ")
    };
    // Several numbers in a row need a word on which is which.
    let named = if r.levels.len() > 2 { format!(" ({})", r.levels[1..].join(" / ")) } else { String::new() };
    let mut line = String::new();
    hanging(&mut line, "   ", "      ", &format!("{}{named}", r.id), look.width);
    out.push_str(&line.replacen(r.id.as_str(), &paint(ID, &r.id), 1));
    for l in &r.detects {
        let _ = writeln!(out, "{}  {}", right(&levels(&l.p), 10), l.suspect);
    }
    if let Some(senses) = &r.senses {
        sensed(out, base, senses, look);
    }
    let _ = writeln!(out, "{}  none of them (false alarm)", right(&levels(&r.false_alarm), 10));
}

/// A symptom with the suspects that cause it, by how much each is raised.
#[must_use]
pub fn symptom(base: &Base, s: &Symptom, shares: &[Share], look: Look) -> String {
    let mut out = String::new();
    head(&mut out, &s.id, &s.name, look.width);
    also(&mut out, &s.also, look.width);
    let text = format!("noticed on {} of cars without any of the suspects", percent(s.background.get()));
    paragraph(&mut out, "   ", &format!("{text}; {}", basis(base, &s.basis, s.weight.get())), look.width);
    section(&mut out, "With this symptom and nothing else known: probability of each suspect (computed)", look);
    for (id, p) in shares.iter().take(12).filter(|x| x.1 >= 0.001) {
        let lead = format!("{}  ", right(&percent(*p), 6));
        paragraph(&mut out, &lead, &format!("{} [{id}]", base.suspect_name(id)), look.width);
    }
    out
}

/// Any other entry: its fields one under another.
#[must_use]
pub fn plain(id: &str, name: &str, fields: &[(&str, String)], look: Look) -> String {
    let mut out = String::new();
    head(&mut out, id, name, look.width);
    for (key, value) in fields.iter().filter(|(_, v)| !v.is_empty()) {
        paragraph(&mut out, &format!("   {key}: "), value, look.width);
    }
    out
}

//! The rules that need the whole base: references that lead somewhere, suspects that can be pointed at, confirmed and
//! repaired, sums over the codes of a monitor.

use super::desk::Desk;
use crate::base::{Base, Code, FactorInput, NOT_LISTED_PREFIX, Section, Suspect};
use crate::near::{did_you_mean, near};
use crate::problem::ProblemCode;
use std::collections::{BTreeMap, BTreeSet, HashSet};

/// A prior above this with its strongest factors is beyond belief for anything on the road.
const HIGHEST_PRIOR: f64 = 0.5;

pub(super) fn check(desk: &mut Desk, base: &Base) {
    references(desk, base);
    suspects(desk, base);
    monitors(desk, base);
    priors(desk, base);
    circles(desk, base);
    lone_facts(desk, base);
    shared_ids(desk, base);
    held_labour(desk, base);
    idle_looks(desk, base);
}

fn references(desk: &mut Desk, base: &Base) {
    let owned = |list: Vec<&str>| list.into_iter().map(str::to_owned).collect::<Vec<String>>();
    let mut known: BTreeMap<&str, (ProblemCode, Vec<String>)> = BTreeMap::new();
    let ids = |code, list: Vec<&str>| (code, owned(list));
    let mut suspects: Vec<String> = base.suspects().map(|(_, s)| s.id.clone()).collect();
    suspects.extend(base.monitors.iter().map(|m| format!("{NOT_LISTED_PREFIX}{}", m.id)));
    known.insert("suspect", (ProblemCode::UnknownSuspect, suspects));
    known.insert("code", ids(ProblemCode::UnknownCode, base.codes.iter().map(|e| &*e.id).collect()));
    known.insert("monitor", ids(ProblemCode::UnknownMonitor, base.monitors.iter().map(|e| &*e.id).collect()));
    known.insert("part", ids(ProblemCode::UnknownPart, base.parts.iter().map(|e| &*e.id).collect()));
    known.insert("test", ids(ProblemCode::UnknownTest, base.tests.iter().map(|e| &*e.id).collect()));
    let readings = base.tests.iter().flat_map(|t| &t.readings).map(|r| &*r.id).collect();
    known.insert("reading", ids(ProblemCode::UnknownReading, readings));
    known.insert("symptom", ids(ProblemCode::UnknownSymptom, base.symptoms.iter().map(|e| &*e.id).collect()));
    known.insert("tool", ids(ProblemCode::UnknownTool, base.tools.iter().map(|e| &*e.id).collect()));
    known.insert("setup", ids(ProblemCode::UnknownSetup, base.setups.iter().map(|e| &*e.id).collect()));
    known.insert("caution", ids(ProblemCode::UnknownCaution, base.cautions.iter().map(|e| &*e.id).collect()));
    known.insert("source", ids(ProblemCode::UnknownSource, base.sources.iter().map(|e| &*e.id).collect()));
    known.insert("factor", ids(ProblemCode::UnknownFactor, base.factors.iter().map(|e| &*e.id).collect()));
    let options = base.equipment.iter().flat_map(|e| &e.options).map(|o| &*o.id).collect();
    known.insert("equipment option", ids(ProblemCode::UnknownEquipment, options));
    known.insert("repair", ids(ProblemCode::UnknownRepair, base.repairs().map(|(_, r)| &*r.id).collect()));
    known.insert("climate", ids(ProblemCode::UnknownCircumstance, base.factor_words(FactorInput::Climate)));
    known.insert("circumstance", ids(ProblemCode::UnknownCircumstance, base.factor_words(FactorInput::Circumstance)));
    let sets: BTreeMap<&str, HashSet<&str>> =
        known.iter().map(|(k, (_, list))| (*k, list.iter().map(String::as_str).collect())).collect();
    let references = std::mem::take(&mut desk.references);
    for r in &references {
        if r.kind == "outcome" {
            outcome(desk, base, r);
            continue;
        }
        if sets.get(r.kind).is_some_and(|s| s.contains(r.id.as_str())) {
            continue;
        }
        if desk.is_written(r.kind, &r.id, base) {
            continue;
        }
        let Some((code, list)) = known.get(r.kind) else { continue };
        let mut hint = did_you_mean(&near(&r.id, list.iter().map(String::as_str), 2));
        if hint.is_none() && r.kind == "source" {
            hint = Some("write `judgement`, or the id of a source in shared/sources".to_owned());
        }
        if hint.is_none() {
            hint = where_kept(r.kind);
        }
        let message = format!("there is no {} `{}`", r.kind, r.id);
        desk.at(*code, &r.file, r.place, r.id.chars().count(), message, hint);
    }
    desk.references = references;
}

/// Where the entries of that kind are, for a word that is like none of them.
fn where_kept(kind: &str) -> Option<String> {
    let list = match kind {
        "tool" => "tools",
        "setup" => "setups",
        "caution" => "cautions",
        "suspect" => "suspects",
        "repair" => "repairs",
        "test" => "tests",
        "symptom" => "symptoms",
        "monitor" => "monitors",
        "code" => "codes",
        "equipment option" => "vehicle",
        _ => return None,
    };
    let needs_none = if kind == "tool" { "; `[]` where eyes and hands are enough" } else { "" };
    Some(format!("they are listed by: faultodds kb list {list}{needs_none}"))
}

fn outcome(desk: &mut Desk, base: &Base, r: &super::desk::Reference) {
    let Some((reading, outcome)) = r.id.split_once('=') else { return };
    let Some((_, found)) = base.reading(reading) else { return };
    let good = matches!(outcome, "pass" | "fail" | "unclear") || found.levels.iter().any(|l| l == outcome);
    if good || (found.measure.is_some() && outcome.chars().any(|c| c.is_ascii_digit())) {
        return;
    }
    let message = format!("`{reading}` has no outcome `{outcome}`");
    let hint = format!("its outcomes are pass, fail, unclear, or {}", found.levels.join(", "));
    desk.at(ProblemCode::UnknownOutcome, &r.file, r.place, outcome.chars().count(), message, Some(hint));
}

fn suspects(desk: &mut Desk, base: &Base) {
    // Taken from the references as written, so that an entry with another fault does not make its suspects look alone.
    let named_in = |kind: &str| -> BTreeSet<String> {
        let folder = format!("/{kind}/");
        desk.references
            .iter()
            .filter(|r| r.kind == "suspect" && r.file.contains(&folder))
            .map(|r| r.id.clone())
            .collect()
    };
    let (mut set_by_code, mut revealed, removed) = (named_in("codes"), named_in("tests"), named_in("parts"));
    // What senses an opening names no suspect.
    let sensed = |sections: &[Section]| -> Vec<String> {
        let inside = |s: &&Suspect| s.opening.is_some_and(|o| sections.contains(&o.at));
        base.suspects().map(|(_, s)| s).filter(inside).map(|s| s.id.clone()).collect()
    };
    for senses in base.monitors.iter().filter_map(|m| m.senses.as_ref()) {
        set_by_code.extend(sensed(&senses.sections));
    }
    for senses in base.tests.iter().flat_map(|t| &t.readings).filter_map(|r| r.senses.as_ref()) {
        revealed.extend(sensed(&senses.sections));
    }
    let mut told = Vec::new();
    for (_, s) in base.suspects() {
        if !set_by_code.contains(s.id.as_str()) && s.symptoms.is_empty() {
            told.push((
                ProblemCode::SilentSuspect,
                s,
                "no code and no symptom mentions",
                "link it to a code or a symptom",
            ));
        }
        // A base without tests is told as such.
        if !base.tests.is_empty() && !revealed.contains(s.id.as_str()) {
            told.push((ProblemCode::HiddenSuspect, s, "no test reveals", "let a reading detect it"));
        }
        if !removed.contains(s.id.as_str()) {
            told.push((ProblemCode::StuckSuspect, s, "no repair removes", "name it in a repair's `removes`"));
        }
    }
    for (code, s, what, hint) in told {
        let (file, place) = desk.place_of("suspect", &s.id);
        let length = s.id.rsplit('/').next().unwrap_or_default().chars().count();
        desk.at(code, &file, place, length, format!("{what} `{}`", s.id), Some(hint.to_owned()));
    }
}

/// What is within a repair's minutes leaves some for the repair itself. Of several tests one finds the place.
fn held_labour(desk: &mut Desk, base: &Base) {
    for (_, r) in base.repairs() {
        let setups: f64 = r.reaches.iter().filter_map(|id| base.setup(id)).map(|s| s.minutes.get()).sum();
        let tests = r.locates.iter().filter_map(|id| base.test(id)).map(|t| t.minutes.get());
        let held = setups + tests.fold(0.0, f64::max);
        if held > 0.0 && held >= r.minutes.get() {
            let (file, place) = desk.place_of("repair", &r.id);
            let message =
                format!("`{}` takes {} min, and {held} min are said to be within them", r.id, r.minutes.get());
            let hint =
                "its minutes are all of its labour; `reaches` and `locates` name what of it tests may have paid for";
            let length = r.id.rsplit('/').next().unwrap_or_default().chars().count();
            desk.at(ProblemCode::HeldLabour, &file, place, length, message, Some(hint.to_owned()));
        }
    }
}

/// A test that is made before a repair shows what the repair removes, or what else stores the same codes.
fn idle_looks(desk: &mut Desk, base: &Base) {
    for (_, r) in base.repairs().filter(|(_, r)| !r.after.is_empty()) {
        let own = |c: &&Code| c.sets.iter().any(|l| r.removes.contains(&l.suspect));
        let of_codes = base.codes.iter().filter(own).flat_map(|c| c.sets.iter().map(|l| l.suspect.as_str()));
        let about: BTreeSet<&str> = of_codes.chain(r.removes.iter().map(String::as_str)).collect();
        for test in r.after.iter().filter_map(|id| base.test(id)) {
            if test.readings.iter().flat_map(|x| &x.detects).all(|l| !about.contains(l.suspect.as_str())) {
                let (file, place) = desk.place_of("repair", &r.id);
                let message = format!("`{}` says nothing of what `{}` is made for", test.id, r.id);
                let hint = "`after` names tests that tell whether the repair is needed";
                let length = r.id.rsplit('/').next().unwrap_or_default().chars().count();
                desk.at(ProblemCode::IdleLook, &file, place, length, message, Some(hint.to_owned()));
            }
        }
    }
}

fn monitors(desk: &mut Desk, base: &Base) {
    for m in &base.monitors {
        let named: BTreeSet<&str> = base.codes.iter().filter(|c| c.monitor == m.id).map(|c| c.id.as_str()).collect();
        let listed: BTreeSet<&str> = m.levels.iter().map(String::as_str).collect();
        let (file, place) = desk.place_of("levels", &m.id);
        for code in named.difference(&listed) {
            let message = format!("{code} names the monitor `{}`, which does not list it among its levels", m.id);
            desk.at(ProblemCode::LevelsDisagree, &file, place, 1, message, Some(format!("add {code} at its rank")));
        }
        for code in listed.difference(&named).filter(|c| base.code(c).is_some()) {
            let message = format!("`{}` lists {code}, which names another monitor", m.id);
            desk.at(ProblemCode::LevelsDisagree, &file, place, 1, message, None);
        }
        for (code, _) in &m.not_listed.sets {
            if base.code(code).is_some() && !listed.contains(code.as_str()) {
                let message = format!("the cause not listed of `{}` sets {code}, which is none of its levels", m.id);
                desk.at(ProblemCode::LevelsDisagree, &file, place, 1, message, None);
            }
        }
        let mut sums: BTreeMap<&str, f64> = BTreeMap::new();
        let mut background = 0.0;
        for code in m.levels.iter().filter_map(|c| base.code(c)) {
            background += code.leak.get();
            for link in &code.sets {
                *sums.entry(link.suspect.as_str()).or_default() += link.p.iter().map(|p| p.get()).sum::<f64>();
            }
        }
        for (suspect, sum) in sums.into_iter().chain([("the background", background)]) {
            if sum > 1.0 + 1e-9 {
                let message = format!("the codes of `{}` given {suspect} add up to {sum:.4}, more than 1", m.id);
                let hint = "a monitor ends in one code; what is left to 1 is none".to_owned();
                desk.at(ProblemCode::Sum, &file, place, 1, message, Some(hint));
            }
        }
    }
}

/// Entries are shown by their id alone. Monitors are called `monitor:ID` and stand apart.
fn shared_ids(desk: &mut Desk, base: &Base) {
    let mut owner: BTreeMap<&str, &'static str> = BTreeMap::new();
    let mut told: Vec<(&'static str, &'static str, &str)> = Vec::new();
    macro_rules! each {
        ($($list:ident $kind:literal),*) => { $(
            for entry in &base.$list {
                match owner.get(entry.id.as_str()) {
                    Some(first) => told.push(($kind, first, entry.id.as_str())),
                    None => { owner.insert(entry.id.as_str(), $kind); }
                }
            }
        )* };
    }
    each!(parts "part", tests "test", symptoms "symptom", tools "tool", setups "setup", cautions "caution",
          sources "source", factors "factor", equipment "equipment", cases "case");
    for (kind, first, id) in told {
        let (file, place) = desk.place_of(kind, id);
        let message = format!("`{id}` is the id of a {first} too");
        let hint = format!("give the {kind} another name; entries are shown by their id alone");
        desk.at(ProblemCode::SharedId, &file, place, 1, message, Some(hint));
    }
}

fn priors(desk: &mut Desk, base: &Base) {
    let highest = |s: &Suspect| -> f64 {
        s.factors.iter().filter_map(|f| base.factor(f)).fold(s.prior.get(), |p, f| p * f.highest())
    };
    let told: Vec<(String, f64)> =
        base.suspects().map(|(_, s)| (s.id.clone(), highest(s))).filter(|(_, p)| *p > HIGHEST_PRIOR).collect();
    for (id, p) in told {
        let (file, place) = desk.place_of("prior", &id);
        let message = format!("with its strongest factors `{id}` would have a prior of {p:.3}");
        desk.at(ProblemCode::PriorTooHigh, &file, place, 1, message, Some("lower the prior or a factor".to_owned()));
    }
}

/// Takes away, again and again, whoever is brought about by nobody left; what stays goes round in a circle.
fn circles(desk: &mut Desk, base: &Base) {
    let brings: Vec<(&str, &str)> =
        base.suspects().flat_map(|(_, s)| s.brings.iter().map(|b| (s.id.as_str(), b.suspect.as_str()))).collect();
    let mut left: BTreeSet<&str> = brings.iter().map(|b| b.1).collect();
    loop {
        let next: BTreeSet<&str> =
            left.iter().copied().filter(|v| brings.iter().any(|b| b.1 == *v && left.contains(b.0))).collect();
        if next.len() == left.len() {
            break;
        }
        left = next;
    }
    let Some(first) = left.first().copied() else { return };
    // One way round: from a victim to its cause, until a suspect comes again.
    let mut way = vec![first];
    loop {
        let last = way[way.len() - 1];
        let Some(cause) = brings.iter().find(|b| b.1 == last && left.contains(b.0)).map(|b| b.0) else { return };
        if let Some(at) = way.iter().position(|s| *s == cause) {
            way.drain(..at);
            way.reverse();
            break;
        }
        way.push(cause);
    }
    let (file, place) = desk.place_of("suspect", way[0]);
    let message = format!("suspects bring each other about in a circle: {} -> {}", way.join(" -> "), way[0]);
    let hint = Some("leave out the direction that is rarer".to_owned());
    let length = way[0].rsplit('/').next().unwrap_or_default().chars().count();
    desk.at(ProblemCode::Circle, &file, place, length, message, hint);
}

/// A fact that only symptoms or only factors are is no fact in common: a word mistyped, or a mark too much.
fn lone_facts(desk: &mut Desk, base: &Base) {
    let symptoms = base.symptoms.iter().filter_map(|s| Some((s.fact.clone()?, ("symptom", s.id.clone()))));
    let factors = base.factors.iter().filter_map(|f| Some((f.fact.clone()?, ("factor", f.id.clone()))));
    let all: Vec<(String, (&'static str, String))> = symptoms.chain(factors).collect();
    for (fact, (kind, id)) in &all {
        let other = if *kind == "symptom" { "factor" } else { "symptom" };
        if all.iter().any(|(f, (k, _))| f == fact && *k == other) {
            continue;
        }
        let (file, place) = desk.place_of(kind, id);
        let message = format!("the fact `{fact}` of the {kind} `{id}` is that of no {other}");
        let facts = all.iter().filter(|(_, (k, _))| *k == other).map(|(f, _)| f.as_str());
        let hint = did_you_mean(&near(fact, facts, 2)).or_else(|| Some("take the mark away".to_owned()));
        desk.at(ProblemCode::LoneFact, &file, place, 1, message, hint);
    }
}

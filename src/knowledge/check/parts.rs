//! The rules for parts, their suspects and their repairs, taken alone.

use super::codes::symptom_links;
use super::desk::Desk;
use super::openings;
use super::shared::{acts, cautions};
use crate::base::{Basis, Open, Part, Repair, Seen, Suspect};
use crate::number::{Minutes, Money, Probability, Weight};
use crate::problem::ProblemCode;
use crate::raw::{RawPart, RawRepair, RawSeen, RawSuspect};
use crate::yaml::{Spanned, place};

/// A part.
pub(super) fn part(desk: &mut Desk, raw: &Spanned<RawPart>) -> Option<Part> {
    let id = desk.id.clone();
    desk.remember("part", &id, place(raw));
    let r = &raw.value;
    let name = desk.text(r.name.as_ref());
    let also = desk.texts(r.also.as_ref());
    let place_text = desk.text(r.r#where.as_ref());
    let does = desk.text(r.does.as_ref());
    let basis = desk.basis(r.basis.as_ref());
    let weight = desk.weight(r.weight.as_ref());
    // What is missing was told; a stand-in lets the rest be told in the same run.
    let basis = basis.unwrap_or(Basis::Judgement);
    let weight = weight.or_else(|| Weight::new(1.0).ok())?;
    let mut suspects: Vec<Suspect> = Vec::new();
    for one in r.suspects.as_ref().map_or(&[][..], |s| &s.value[..]) {
        let Some(s) = suspect(desk, one, &id, weight, &basis) else { continue };
        if suspects.iter().any(|o| o.id == s.id) {
            desk.doubled(&s.id, place(one));
        } else {
            suspects.push(s);
        }
    }
    let mut repairs: Vec<Repair> = Vec::new();
    for one in r.repairs.as_ref().map_or(&[][..], |s| &s.value[..]) {
        let Some(done) = repair(desk, one, &id) else { continue };
        if repairs.iter().any(|o| o.id == done.id) {
            desk.doubled(&done.id, place(one));
        } else {
            repairs.push(done);
        }
    }
    suspects.sort_by(|a, b| a.id.cmp(&b.id));
    repairs.sort_by(|a, b| a.id.cmp(&b.id));
    Some(Part {
        id,
        family: desk.family.clone(),
        name: name.unwrap_or_default(),
        also,
        place: place_text.unwrap_or_default(),
        does: does.unwrap_or_default(),
        suspects,
        repairs,
    })
}

fn suspect(desk: &mut Desk, raw: &Spanned<RawSuspect>, part: &str, weight: Weight, basis: &Basis) -> Option<Suspect> {
    let r = &raw.value;
    let mode = r.mode.as_ref()?;
    if !desk.check_word_id(&mode.value, place(mode), "a mode is a word or a few, joined by hyphens") {
        return None;
    }
    let id = format!("{part}/{}", mode.value);
    desk.remember("suspect", &id, place(mode));
    let name = desk.text(r.name.as_ref());
    let also = desk.texts(r.also.as_ref());
    let what = desk.text(r.what.as_ref());
    let prior = desk.probability(r.prior.as_ref());
    if let Some(field) = r.prior.as_ref() {
        desk.remember("prior", &id, place(field));
    }
    let weight = desk.weight(r.weight.as_ref()).unwrap_or(weight);
    let basis = desk.basis(r.basis.as_ref()).unwrap_or_else(|| basis.clone());
    let factors = desk.refers("factor", r.factors.as_ref());
    let requires = desk.refers("equipment option", r.requires.as_ref());
    let symptoms = symptom_links(desk, r.symptoms.as_ref(), weight, &basis);
    let seen = seen(desk, r.seen.as_ref());
    let opening = r.opening.as_ref().and_then(|o| openings::opening(desk, o));
    let states = desk.texts(r.state.as_ref());
    let brings = openings::brings(desk, r.brings.as_ref(), weight, &basis);
    Some(Suspect {
        id,
        name: name.unwrap_or_default(),
        also,
        what: what.unwrap_or_default(),
        prior: prior.or_else(|| Probability::new(1e-3).ok())?,
        weight,
        basis,
        seen: seen?,
        by_driver: r.by_driver.as_ref().is_some_and(|v| v.value),
        opening,
        states,
        brings,
        vapour_leak: r.vapour_leak.as_ref().is_some_and(|v| v.value),
        factors,
        requires,
        symptoms,
    })
}

/// What a look tells: judgement, by how open to the eye the suspect is. Whoever looks at a hose that is off sees it;
/// whoever unplugs a plug sees most green contacts; what sits inside has to be taken apart or measured, and is then
/// known well, but rarely by a look.
fn usual_look(open: Open) -> (f64, f64, f64) {
    match open {
        Open::InSight => (0.97, 1e-4, 2.0),
        Open::AfterAccess => (0.95, 3e-4, 8.0),
        Open::Inside => (0.90, 1e-3, 20.0),
    }
}

fn seen(desk: &mut Desk, raw: Option<&Spanned<RawSeen>>) -> Option<Seen> {
    let r = raw.map(|r| &r.value);
    let open = desk.word(r.and_then(|r| r.open.as_ref()), Open::WORDS, Open::from_word).unwrap_or(Open::AfterAccess);
    let (detects, false_alarm, minutes) = usual_look(open);
    let given = desk.probability(r.and_then(|r| r.detects.as_ref()));
    let alarm = desk.probability(r.and_then(|r| r.false_alarm.as_ref()));
    let labour = desk.minutes(r.and_then(|r| r.minutes.as_ref()));
    Some(Seen {
        open,
        detects: given.or_else(|| Probability::new(detects).ok())?,
        false_alarm: alarm.or_else(|| Probability::new(false_alarm).ok())?,
        minutes: labour.or_else(|| Minutes::new(minutes).ok())?,
    })
}

fn repair(desk: &mut Desk, raw: &Spanned<RawRepair>, part: &str) -> Option<Repair> {
    let r = &raw.value;
    let name = r.id.as_ref()?;
    if !desk.check_word_id(&name.value, place(name), "a repair's id is a word or a few, joined by hyphens") {
        return None;
    }
    let id = format!("{part}/{}", name.value);
    desk.remember("repair", &id, place(name));
    let does = desk.text(r.r#do.as_ref());
    let also = desk.texts(r.also.as_ref());
    let minutes = desk.minutes(r.minutes.as_ref());
    let parts_cost = desk.money(r.parts_cost.as_ref());
    let fails = desk.probability(r.fails.as_ref());
    let reaches = desk.refers("setup", r.reaches.as_ref());
    let locates = desk.refers("test", r.locates.as_ref());
    let after = desk.refers("test", r.after.as_ref());
    let acts = acts(desk, r.acts.as_ref());
    let cautions = cautions(desk, &id, r.cautions.as_ref());
    let mut removes: Vec<String> = Vec::new();
    for one in r.removes.as_ref().map_or(&[][..], |l| &l.value[..]) {
        let mut full = one.clone();
        if !one.value.contains('/') {
            full.value = format!("{part}/{}", one.value);
        }
        let suspect = desk.refer("suspect", &full);
        if removes.contains(&suspect) {
            desk.doubled(&one.value, place(one));
        } else {
            removes.push(suspect);
        }
    }
    if let Some(list) = r.removes.as_ref().filter(|l| l.value.is_empty()) {
        let message = "this repair removes nothing".to_owned();
        desk.here(ProblemCode::StuckSuspect, place(list), 1, message, None);
    }
    let minutes = minutes.or_else(|| Minutes::new(0.0).ok())?;
    let parts_cost = parts_cost.or_else(|| Money::new(0.0).ok())?;
    let fails = fails.or_else(|| Probability::new(0.05).ok())?;
    Some(Repair {
        id,
        does: does.unwrap_or_default(),
        also,
        minutes,
        parts_cost,
        removes,
        fails,
        reaches,
        locates,
        after,
        acts,
        cautions,
    })
}

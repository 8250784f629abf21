//! The rules for codes and monitors taken alone.

use super::desk::Desk;
use super::openings;
use crate::base::{Basis, NOT_LISTED_PREFIX};
use crate::base::{
    Code, CodeKind, Condition, Monitor, NotListed, ReadyGroup, Runs, SuspectLink, SymptomLink, TestResult, TitleBasis,
};
use crate::number::Weight;
use crate::problem::ProblemCode;
use crate::raw::{Many, RawCode, RawLink, RawMonitor, RawNotListed, RawSymptomLink};
use crate::yaml::{Spanned, place};
use std::collections::BTreeSet;

/// A code.
pub(super) fn code(desk: &mut Desk, raw: &Spanned<RawCode>) -> Option<Code> {
    let id = desk.id.clone();
    desk.remember("code", &id, place(raw));
    let r = &raw.value;
    let title = desk.text(r.title.as_ref());
    let title_basis = desk.word(r.title_basis.as_ref(), TitleBasis::WORDS, TitleBasis::from_word);
    let also = desk.texts(r.also.as_ref());
    let saw = desk.text(r.saw.as_ref());
    let kind = desk.word(r.kind.as_ref(), CodeKind::WORDS, CodeKind::from_word);
    let monitor = desk.reference("monitor", r.monitor.as_ref());
    let leak = desk.probability(r.leak.as_ref());
    let basis = desk.basis(r.basis.as_ref());
    let weight = desk.weight(r.weight.as_ref());
    let note = desk.text(r.note.as_ref());
    if let Some(sets) = r.sets.as_ref().filter(|s| s.value.is_empty()) {
        let message = "no suspect sets this code".to_owned();
        desk.here(ProblemCode::IdleCode, place(sets), 1, message, Some("list at least one suspect".to_owned()));
    }
    let (basis, weight) = (basis?, weight?);
    let sets = links(desk, r.sets.as_ref(), 1, weight, &basis);
    Some(Code {
        id,
        family: desk.family.clone(),
        title: title?,
        title_basis: title_basis?,
        also,
        saw: saw?,
        kind: kind?,
        monitor: monitor?,
        leak: leak?,
        basis,
        weight,
        sets,
        note,
    })
}

/// Links to suspects, with the entry's weight and basis where they give none.
pub(super) fn links(
    desk: &mut Desk,
    raw: Option<&Spanned<Many<RawLink>>>,
    levels: usize,
    weight: Weight,
    basis: &Basis,
) -> Vec<SuspectLink> {
    let mut out = Vec::new();
    let mut seen = BTreeSet::new();
    for link in raw.map_or(&[][..], |r| &r.value[..]) {
        let l = &link.value;
        let p = desk.probabilities(l.p.as_ref(), levels);
        let suspect = desk.reference("suspect", l.suspect.as_ref());
        let apart = desk.text(l.apart.as_ref());
        let own_weight = desk.weight(l.weight.as_ref());
        let own_basis = desk.basis(l.basis.as_ref());
        let (Some(suspect), Some(p)) = (suspect, p) else { continue };
        if suspect.starts_with(NOT_LISTED_PREFIX) {
            let message = format!("`{suspect}` is declared by its monitor and stands in no other list");
            let at = l.suspect.as_ref().map(place).unwrap_or_default();
            desk.here(ProblemCode::UnknownSuspect, at, suspect.chars().count(), message, None);
            continue;
        }
        if !seen.insert(suspect.clone()) {
            desk.doubled(&suspect, l.suspect.as_ref().map(place).unwrap_or_default());
            continue;
        }
        let weight = own_weight.unwrap_or(weight);
        out.push(SuspectLink { suspect, p, apart, weight, basis: own_basis.unwrap_or_else(|| basis.clone()) });
    }
    out.sort_by(|a, b| a.suspect.cmp(&b.suspect));
    out
}

/// Links to symptoms.
pub(super) fn symptom_links(
    desk: &mut Desk,
    raw: Option<&Spanned<Many<RawSymptomLink>>>,
    weight: Weight,
    basis: &Basis,
) -> Vec<SymptomLink> {
    let mut out: Vec<SymptomLink> = Vec::new();
    for link in raw.map_or(&[][..], |r| &r.value[..]) {
        let l = &link.value;
        let symptom = desk.reference("symptom", l.symptom.as_ref());
        let p = desk.probability(l.p.as_ref());
        let weight = desk.weight(l.weight.as_ref()).unwrap_or(weight);
        let basis = desk.basis(l.basis.as_ref()).unwrap_or_else(|| basis.clone());
        let (Some(symptom), Some(p)) = (symptom, p) else { continue };
        if out.iter().any(|o| o.symptom == symptom) {
            desk.doubled(&symptom, l.symptom.as_ref().map(place).unwrap_or_default());
        } else {
            out.push(SymptomLink { symptom, p, weight, basis });
        }
    }
    out.sort_by(|a, b| a.symptom.cmp(&b.symptom));
    out
}

/// A monitor.
pub(super) fn monitor(desk: &mut Desk, raw: &Spanned<RawMonitor>) -> Option<Monitor> {
    let id = desk.id.clone();
    desk.remember("monitor", &id, place(raw));
    let r = &raw.value;
    let name = desk.text(r.name.as_ref());
    let watches = desk.text(r.watches.as_ref());
    let runs = desk.word(r.runs.as_ref(), Runs::WORDS, Runs::from_word);
    let trips = desk.number(r.trips.as_ref()).and_then(|t| {
        let good = (1.0..=20.0).contains(&t) && t.fract() == 0.0;
        if !good {
            let at = r.trips.as_ref().map(place).unwrap_or_default();
            desk.here(ProblemCode::Amount, at, 1, format!("{t} is not a count of trips between 1 and 20"), None);
        }
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a whole number from 1 to 20")]
        good.then_some(t as u32)
    });
    let basis = desk.basis(r.basis.as_ref());
    let weight = desk.weight(r.weight.as_ref());
    let conditions = conditions(desk, r);
    let levels = desk.refers("code", r.levels.as_ref());
    if let Some(list) = r.levels.as_ref() {
        desk.remember("levels", &id, place(list));
    }
    let readiness = desk.word(r.readiness.as_ref(), ReadyGroup::WORDS, ReadyGroup::from_word);
    let test_results = test_results(desk, r, &levels);
    let senses = r.senses.as_ref().and_then(|s| openings::senses(desk, s, levels.len()));
    let suspended_by = desk.refers("monitor", r.suspended_by.as_ref());
    let proof = desk.refers("test", r.proof.as_ref());
    let (basis, weight) = (basis?, weight?);
    let not_listed = r.not_listed.as_ref().and_then(|n| not_listed(desk, n, weight, &basis));
    Some(Monitor {
        id,
        family: desk.family.clone(),
        name: name?,
        watches: watches?,
        runs: runs?,
        trips: trips?,
        basis,
        weight,
        conditions,
        readiness,
        levels,
        test_results,
        senses,
        suspended_by,
        not_listed: not_listed?,
        proof,
    })
}

/// Test results, each with a code of this very monitor.
fn test_results(desk: &mut Desk, r: &RawMonitor, levels: &[String]) -> Vec<TestResult> {
    let mut out = Vec::new();
    for one in r.test_results.as_ref().map_or(&[][..], |t| &t.value[..]) {
        let code = desk.reference("code", one.value.code.as_ref());
        let (Some(written), Some(code)) = (one.value.test.as_ref(), code) else { continue };
        let digits = &written.value;
        let test = u8::from_str_radix(digits, 16).ok().filter(|_| digits.len() == 2);
        let Some(test) = test else {
            let message = format!("`{digits}` is not two hexadecimal digits");
            let hint = Some("write the standard's number in quotes, such as \"3B\"".to_owned());
            desk.here(ProblemCode::Amount, place(written), digits.chars().count(), message, hint);
            continue;
        };
        if levels.contains(&code) {
            out.push(TestResult { test, code });
        } else {
            let at = one.value.code.as_ref().map(place).unwrap_or_default();
            let message = format!("`{code}` is not a code of this monitor");
            desk.here(ProblemCode::UnknownCode, at, code.len(), message, None);
        }
    }
    out
}

fn conditions(desk: &mut Desk, r: &RawMonitor) -> Vec<Condition> {
    let mut out = Vec::new();
    for condition in r.conditions.as_ref().map_or(&[][..], |c| &c.value[..]) {
        let c = &condition.value;
        let what = desk.text(c.what.as_ref());
        let needs = desk.text(c.needs.as_ref());
        let basis = desk.basis(c.basis.as_ref());
        if let (Some(what), Some(needs), Some(basis)) = (what, needs, basis) {
            out.push(Condition { what, needs, basis });
        }
    }
    out
}

fn not_listed(desk: &mut Desk, raw: &Spanned<RawNotListed>, weight: Weight, basis: &Basis) -> Option<NotListed> {
    let r = &raw.value;
    let prior = desk.probability(r.prior.as_ref());
    let mut sets: Vec<(String, crate::number::Probability)> = Vec::new();
    for one in r.sets.as_ref().map_or(&[][..], |s| &s.value[..]) {
        let code = desk.reference("code", one.value.code.as_ref());
        let p = desk.probability(one.value.p.as_ref());
        let (Some(code), Some(p)) = (code, p) else { continue };
        if sets.iter().any(|(c, _)| *c == code) {
            desk.doubled(&code, place(one));
        } else {
            sets.push((code, p));
        }
    }
    let sum: f64 = sets.iter().map(|(_, p)| p.get()).sum();
    if sum > 1.0 + 1e-9 {
        let message = format!("the codes of a cause not listed add up to {sum:.4}, more than 1");
        desk.here(ProblemCode::Sum, place(raw), 1, message, None);
    }
    if sets.is_empty() {
        let message = "the cause not listed here sets no code".to_owned();
        desk.here(ProblemCode::IdleCode, place(raw), 1, message, None);
    }
    let symptoms = symptom_links(desk, r.symptoms.as_ref(), weight, basis);
    Some(NotListed { prior: prior?, sets, symptoms })
}

//! The rules for worked cases taken alone; whether they come out is computed elsewhere.

use super::desk::Desk;
use crate::base::{Case, CaseEpoch, Claim, Expect, Subject, Vehicle};
use crate::problem::ProblemCode;
use crate::raw::{Many, RawBefore, RawCase, RawExpect, RawResult, RawVehicle};
use crate::yaml::{Spanned, place};

/// A worked case.
pub(super) fn case(desk: &mut Desk, raw: &Spanned<RawCase>) -> Option<Case> {
    let r = &raw.value;
    let id = desk.id.clone();
    desk.remember("case", &id, place(raw));
    let title = desk.text(r.title.as_ref());
    let why = desk.text(r.why.as_ref());
    let vehicle = r.vehicle.as_ref().map(|v| vehicle(desk, v)).unwrap_or_default();
    let already = desk.refers("repair", r.already.as_ref());
    let mut epochs = Vec::new();
    for one in r.before.as_ref().map_or(&[][..], |b| &b.value[..]) {
        epochs.push(before(desk, one));
    }
    epochs.push(CaseEpoch {
        codes: desk.refers("code", r.codes.as_ref()),
        symptoms: desk.refers("symptom", r.symptoms.as_ref()),
        no_symptoms: desk.refers("symptom", r.no_symptoms.as_ref()),
        results: results(desk, r.results.as_ref()),
        found: desk.refers("suspect", r.found.as_ref()),
        sound: desk.refers("suspect", r.sound.as_ref()),
        repair: None,
    });
    let tools = r.tools.as_ref().map(|t| desk.refers("tool", Some(t)));
    let mut expect = Vec::new();
    for one in r.expect.as_ref().map_or(&[][..], |e| &e.value[..]) {
        expect.extend(expectation(desk, one));
    }
    if let Some(list) = r.expect.as_ref().filter(|l| l.value.is_empty()) {
        let message = "a worked case that expects nothing cannot fail".to_owned();
        desk.here(ProblemCode::CaseClaim, place(list), 1, message, None);
    }
    Some(Case { id, path: desk.path(), title: title?, why: why?, vehicle, already, epochs, tools, expect })
}

fn vehicle(desk: &mut Desk, raw: &Spanned<RawVehicle>) -> Vehicle {
    let r = &raw.value;
    let mut amount = |field, most: f64| {
        let value = desk.number(field)?;
        if (0.0..=most).contains(&value) {
            return Some(value);
        }
        let at = field.map(place).unwrap_or_default();
        desk.here(ProblemCode::Amount, at, 1, format!("{value} must be between 0 and {most}"), None);
        None
    };
    let age = amount(r.age.as_ref(), 100.0);
    let mileage_km = amount(r.mileage_km.as_ref(), 2e6);
    let climates = r.climate.iter().map(|c| desk.refer("climate", c)).collect();
    let equipment = desk.refers("equipment option", r.equipment.as_ref());
    let circumstances = desk.refers("circumstance", r.circumstances.as_ref());
    Vehicle { age, mileage_km, climates, equipment, circumstances }
}

fn before(desk: &mut Desk, raw: &Spanned<RawBefore>) -> CaseEpoch {
    let r = &raw.value;
    CaseEpoch {
        codes: desk.refers("code", r.codes.as_ref()),
        symptoms: desk.refers("symptom", r.symptoms.as_ref()),
        no_symptoms: Vec::new(),
        results: results(desk, r.results.as_ref()),
        found: desk.refers("suspect", r.found.as_ref()),
        sound: desk.refers("suspect", r.sound.as_ref()),
        repair: desk.reference("repair", r.repair.as_ref()),
    }
}

fn results(desk: &mut Desk, raw: Option<&Spanned<Many<RawResult>>>) -> Vec<(String, String)> {
    let mut out: Vec<(String, String)> = Vec::new();
    for one in raw.map_or(&[][..], |r| &r.value[..]) {
        let reading = desk.reference("reading", one.value.reading.as_ref());
        let outcome = desk.text(one.value.outcome.as_ref());
        let (Some(reading), Some(outcome)) = (reading, outcome) else { continue };
        if out.iter().any(|(r, _)| *r == reading) {
            desk.doubled(&reading, place(one));
            continue;
        }
        if let Some(field) = one.value.outcome.as_ref() {
            // Whether the reading has this outcome can only be told once all tests are read.
            let mut both = field.clone();
            both.value = format!("{reading}={outcome}");
            desk.refer("outcome", &both);
        }
        out.push((reading, outcome));
    }
    out
}

fn expectation(desk: &mut Desk, raw: &Spanned<RawExpect>) -> Option<Expect> {
    let r = &raw.value;
    let at = place(raw);
    let mut subjects = Vec::new();
    if let Some(f) = r.suspect.as_ref() {
        subjects.push(Subject::Suspect(desk.refer("suspect", f)));
    }
    if let Some(f) = r.part.as_ref() {
        subjects.push(Subject::Part(desk.refer("part", f)));
    }
    if let Some(f) = r.first_step.as_ref() {
        subjects.push(Subject::FirstStep(desk.refer("test", f)));
    }
    let mut claims = Vec::new();
    if let Some(n) = desk.number(r.within.as_ref()) {
        if (1.0..=500.0).contains(&n) && n.fract() == 0.0 {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a whole number up to 500")]
            claims.push(Claim::Within(n as u32));
        } else {
            desk.here(ProblemCode::Amount, at, 1, format!("{n} is not a rank"), None);
        }
    }
    if let Some(f) = r.above.as_ref() {
        claims.push(Claim::Above(desk.refer("suspect", f)));
    }
    claims.extend(desk.probability(r.at_least.as_ref()).map(|p| Claim::AtLeast(p.get())));
    claims.extend(desk.probability(r.at_most.as_ref()).map(|p| Claim::AtMost(p.get())));
    if matches!(subjects.as_slice(), [Subject::FirstStep(_)]) && claims.is_empty() {
        claims.push(Claim::IsFirst);
    }
    if let ([_], [_]) = (subjects.as_slice(), claims.as_slice()) {
        let (subject, claim) = (subjects.pop()?, claims.pop()?);
        return Some(Expect { subject, claim, line: at.line, column: at.column });
    }
    let message = "an expectation names one subject (suspect, part or first_step) and one claim".to_owned();
    let hint = "the claims are within, above, at_least and at_most".to_owned();
    desk.here(ProblemCode::CaseClaim, at, 1, message, Some(hint));
    None
}

//! Twins by physics: suspects that leave the car in the same state (the vent open, the purge valve shut) are seen alike by whatever
//! senses that state. A number that differs needs a reason, or one of the two was typed without the other in mind.

use super::desk::Desk;
use crate::base::{Base, Reading, Suspect};
use crate::problem::ProblemCode;
use std::collections::BTreeMap;

/// How far P(seen) of two twins may differ: what judgement cannot tell apart. Judgement itself.
const ALIKE: f64 = 0.15;

pub(super) fn check(desk: &mut Desk, base: &Base) {
    let mut twins: BTreeMap<&str, Vec<&Suspect>> = BTreeMap::new();
    for (_, suspect) in base.suspects() {
        for state in &suspect.states {
            twins.entry(state).or_default().push(suspect);
        }
    }
    for (state, of) in &twins {
        let sensed = base.tests.iter().flat_map(|t| &t.readings).any(|r| r.shows.iter().any(|s| s == state));
        if of.len() < 2 || !sensed {
            let what = if sensed { "no other suspect leaves the car in it" } else { "no reading shows it" };
            lone(desk, "suspect", &of[0].id, state, what);
        }
    }
    for reading in base.tests.iter().flat_map(|t| &t.readings) {
        for state in &reading.shows {
            match twins.get(state.as_str()) {
                Some(of) => alike(desk, reading, state, of),
                None => lone(desk, "reading", &reading.id, state, "no suspect leaves the car in it"),
            }
        }
    }
}

fn lone(desk: &mut Desk, kind: &'static str, id: &str, state: &str, what: &str) {
    let (file, place) = desk.place_of(kind, id);
    let message = format!("`{id}` names the state `{state}`, and {what}");
    let hint = Some("a state is a word that suspects have in `state` and readings in `shows`".to_owned());
    desk.at(ProblemCode::LoneState, &file, place, 1, message, hint);
}

/// P(the reading is abnormal | this suspect alone): as typed, or what is sensed of a large opening; nothing without a link.
fn seen(reading: &Reading, suspect: &Suspect) -> f64 {
    if let Some(link) = reading.detects.iter().find(|l| l.suspect == suspect.id) {
        return link.p.iter().map(|p| p.get()).sum();
    }
    let at = suspect.opening.as_ref().map(|o| o.at);
    let sensed = reading.senses.as_ref().filter(|s| at.is_some_and(|at| s.sections.contains(&at)));
    sensed.map_or(0.0, |s| s.reach.get())
}

fn alike(desk: &mut Desk, reading: &Reading, state: &str, twins: &[&Suspect]) {
    let reasoned = |s: &&&Suspect| reading.detects.iter().any(|l| l.suspect == s.id && l.apart.is_some());
    let all = twins.iter().filter(|s| !reasoned(s)).map(|s| (seen(reading, s), *s));
    let Some((most, best)) = all.clone().max_by(|a, b| a.0.total_cmp(&b.0).then_with(|| b.1.id.cmp(&a.1.id))) else {
        return;
    };
    let (file, place) = desk.place_of("reading", &reading.id);
    for (own, suspect) in all.filter(|(own, _)| most - own > ALIKE) {
        let message = format!(
            "`{}` sees `{}` with {own:.2} and `{}` with {most:.2}, and both leave `{state}`",
            reading.id, suspect.id, best.id
        );
        let hint = Some("give both the same number, or the link a reason: `apart: why`".to_owned());
        desk.at(ProblemCode::Twins, &file, place, 1, message, hint);
    }
}

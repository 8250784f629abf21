//! The rules for openings, for what senses them, and for what suspects bring about, taken alone.

use super::desk::Desk;
use crate::base::{Basis, Brings, Opening, Section, Senses, When};
use crate::fields::Num;
use crate::number::Weight;
use crate::problem::ProblemCode;
use crate::raw::{Many, RawBrings, RawOpening, RawSenses};
use crate::yaml::{Spanned, place};

/// The hole of a suspect.
pub(super) fn opening(desk: &mut Desk, raw: &Spanned<RawOpening>) -> Option<Opening> {
    let r = &raw.value;
    let median_mm = above(desk, r.median_mm.as_ref(), 0.0);
    let spread = above(desk, r.spread.as_ref(), 1.0);
    let at = desk.word(r.at.as_ref(), Section::WORDS, Section::from_word);
    Some(Opening { median_mm: median_mm?, spread: spread?, at: at? })
}

/// What a reading or a monitor senses; `levels` counts its abnormal levels.
pub(super) fn senses(desk: &mut Desk, raw: &Spanned<RawSenses>, levels: usize) -> Option<Senses> {
    let r = &raw.value;
    let mut sections = Vec::new();
    for one in r.sections.as_ref().map_or(&[][..], |s| &s.value[..]) {
        sections.extend(desk.word(Some(one), Section::WORDS, Section::from_word));
    }
    let mut limits_mm: Vec<f64> = Vec::new();
    for one in r.limits_mm.as_ref().map_or(&[][..], |l| &l.value[..]) {
        limits_mm.push(above(desk, Some(one), limits_mm.last().copied().unwrap_or(0.0))?);
    }
    if limits_mm.is_empty() || limits_mm.len() > levels {
        let at = r.limits_mm.as_ref().map(place).unwrap_or_default();
        let message = format!("{} limits for {levels} abnormal levels", limits_mm.len());
        desk.here(ProblemCode::LevelCount, at, 1, message, Some("one limit a level, the first at least".to_owned()));
        return None;
    }
    let spread = above(desk, r.spread.as_ref(), 1.0);
    let reach = desk.probability(r.reach.as_ref());
    Some(Senses { sections, limits_mm, spread: spread?, reach: reach? })
}

/// What a suspect brings about, with the suspect's weight and basis where none is given.
pub(super) fn brings(
    desk: &mut Desk,
    raw: Option<&Spanned<Many<RawBrings>>>,
    weight: Weight,
    basis: &Basis,
) -> Vec<Brings> {
    let mut out: Vec<Brings> = Vec::new();
    for one in raw.map_or(&[][..], |r| &r.value[..]) {
        let r = &one.value;
        let suspect = desk.reference("suspect", r.suspect.as_ref());
        let p = desk.probability(r.p.as_ref());
        let when = desk.word(r.when.as_ref(), When::WORDS, When::from_word).unwrap_or(When::AtOnce);
        let weight = desk.weight(r.weight.as_ref()).unwrap_or(weight);
        let basis = desk.basis(r.basis.as_ref()).unwrap_or_else(|| basis.clone());
        let (Some(suspect), Some(p)) = (suspect, p) else { continue };
        if out.iter().any(|o| o.suspect == suspect) {
            desk.doubled(&suspect, r.suspect.as_ref().map(place).unwrap_or_default());
        } else {
            out.push(Brings { suspect, p, when, weight, basis });
        }
    }
    out.sort_by(|a, b| a.suspect.cmp(&b.suspect));
    out
}

fn above(desk: &mut Desk, field: Option<&Spanned<Num>>, least: f64) -> Option<f64> {
    let value = desk.number(field)?;
    if value > least && value <= 100.0 {
        return Some(value);
    }
    let at = field.map(place).unwrap_or_default();
    desk.here(ProblemCode::Amount, at, 1, format!("{value} must be above {least} and at most 100"), None);
    None
}

//! The rules for equipment and factors, taken alone.

use super::desk::Desk;
use crate::base::{Band, Covers, Equipment, EquipmentOption, Factor, FactorInput};
use crate::problem::ProblemCode;
use crate::raw::{RawBand, RawEquipment, RawFactor};
use crate::yaml::{Spanned, place};

/// How far shares may stray from 1 before they are refused.
const SHARE_SLACK: f64 = 1e-6;

/// A choice of equipment.
pub(super) fn equipment(desk: &mut Desk, raw: &Spanned<RawEquipment>) -> Option<Equipment> {
    let r = &raw.value;
    let id = desk.id.clone();
    desk.remember("equipment", &id, place(raw));
    let name = desk.text(r.name.as_ref());
    let question = desk.text(r.question.as_ref());
    desk.basis(r.basis.as_ref());
    desk.weight(r.weight.as_ref());
    let mut options: Vec<EquipmentOption> = Vec::new();
    for one in r.options.as_ref().map_or(&[][..], |o| &o.value[..]) {
        let option = &one.value;
        let name = desk.text(option.name.as_ref());
        let also = desk.texts(option.also.as_ref());
        let share = desk.probability(option.share.as_ref());
        let (Some(field), Some(name), Some(share)) = (option.id.as_ref(), name, share) else { continue };
        if !desk.check_word_id(&field.value, place(field), "an option's id is a word or a few") {
            continue;
        }
        desk.remember("equipment option", &field.value, place(field));
        if options.iter().any(|o| o.id == field.value) {
            desk.doubled(&field.value, place(field));
            continue;
        }
        options.push(EquipmentOption { id: field.value.clone(), name, also, share });
    }
    let sum: f64 = options.iter().map(|o| o.share.get()).sum();
    if (sum - 1.0).abs() > SHARE_SLACK {
        let at = r.options.as_ref().map(place).unwrap_or_default();
        let message = format!("the shares of the options add up to {sum:.4}, not to 1");
        desk.here(ProblemCode::Sum, at, 1, message, None);
    }
    Some(Equipment { id, name: name?, question: question?, options })
}

/// A factor.
pub(super) fn factor(desk: &mut Desk, raw: &Spanned<RawFactor>) -> Option<Factor> {
    let r = &raw.value;
    let id = desk.id.clone();
    desk.remember("factor", &id, place(raw));
    let name = desk.text(r.name.as_ref());
    let also = desk.texts(r.also.as_ref());
    let input = desk.word(r.input.as_ref(), FactorInput::WORDS, FactorInput::from_word);
    let basis = desk.basis(r.basis.as_ref());
    desk.weight(r.weight.as_ref());
    desk.text(r.note.as_ref());
    let input = input?;
    let mut bands = Vec::new();
    for one in r.bands.as_ref().map_or(&[][..], |b| &b.value[..]) {
        bands.extend(band(desk, one, input));
    }
    let at = r.bands.as_ref().map(place).unwrap_or_default();
    check_bands(desk, &bands, input, at);
    let fact = desk.text(r.fact.as_ref());
    Some(Factor { id, name: name?, also, input, fact, basis: basis?, bands })
}

fn band(desk: &mut Desk, raw: &Spanned<RawBand>, input: FactorInput) -> Option<Band> {
    let r = &raw.value;
    let times = desk.times(r.times.as_ref());
    let share = desk.probability(r.share.as_ref());
    let at = place(raw);
    let covers = match input {
        FactorInput::Age | FactorInput::Mileage => {
            let from = desk.number(r.from.as_ref());
            let to = desk.number(r.to.as_ref());
            if from.is_none() || r.is.is_some() {
                let message = format!("a band of {} has `from` and `to`, not `is`", input.word());
                desk.here(ProblemCode::Bands, at, 1, message, None);
                return None;
            }
            Covers::Range(from?, to)
        }
        FactorInput::Climate | FactorInput::Circumstance => {
            if r.is.is_none() || r.from.is_some() || r.to.is_some() {
                let message = format!("a band of a {} has `is`, not `from` and `to`", input.word());
                desk.here(ProblemCode::Bands, at, 1, message, None);
                return None;
            }
            Covers::Word(desk.text(r.is.as_ref())?)
        }
    };
    Some(Band { covers, times: times?, share: share? })
}

fn check_bands(desk: &mut Desk, bands: &[Band], input: FactorInput, at: crate::yaml::Place) {
    let sum: f64 = bands.iter().map(|b| b.share.get()).sum();
    match input {
        FactorInput::Circumstance => {
            if bands.len() != 1 {
                let message = "a circumstance has one band: the vehicles of which it is true".to_owned();
                desk.here(ProblemCode::Bands, at, 1, message, None);
            }
        }
        FactorInput::Age | FactorInput::Mileage | FactorInput::Climate => {
            if (sum - 1.0).abs() > SHARE_SLACK {
                let message = format!("the shares of the bands add up to {sum:.4}, not to 1");
                desk.here(ProblemCode::Sum, at, 1, message, None);
            }
        }
    }
    if !matches!(input, FactorInput::Age | FactorInput::Mileage) {
        return;
    }
    let mut expected = Some(0.0);
    for band in bands {
        let Covers::Range(from, to) = band.covers else { continue };
        if expected != Some(from) || to.is_some_and(|to| to <= from) {
            let message = format!("the band from {from} leaves a gap or overlaps the one before it");
            desk.here(
                ProblemCode::Bands,
                at,
                1,
                message,
                Some("start at 0 and go on where the last one ended".to_owned()),
            );
        }
        expected = to;
    }
    if expected.is_some() {
        let message = "the last band has no `to`: it goes on for ever".to_owned();
        desk.here(ProblemCode::Bands, at, 1, message, None);
    }
}

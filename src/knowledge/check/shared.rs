//! The rules for symptoms, setups, tools, cautions, sources and synonyms, taken alone.

use super::desk::Desk;
use crate::acts::Act;
use crate::base::{Caution, Hazard, Setup, Source, SourceKind, Symptom, Tool};
use crate::raw::{RawCaution, RawSetup, RawSource, RawSymptom, RawSynonyms, RawTool, Texts};
use crate::yaml::{Spanned, place};

/// A symptom.
pub(super) fn symptom(desk: &mut Desk, raw: &Spanned<RawSymptom>) -> Option<Symptom> {
    let r = &raw.value;
    let id = desk.id.clone();
    desk.remember("symptom", &id, place(raw));
    let name = desk.text(r.name.as_ref());
    let also = desk.texts(r.also.as_ref());
    let background = desk.probability(r.background.as_ref());
    let basis = desk.basis(r.basis.as_ref());
    let weight = desk.weight(r.weight.as_ref());
    let family = desk.family.clone();
    let fact = desk.text(r.fact.as_ref());
    Some(Symptom { id, family, name: name?, also, fact, background: background?, weight: weight?, basis: basis? })
}

fn hazards(desk: &mut Desk, field: Option<&Spanned<Texts>>) -> Vec<Hazard> {
    let mut out = Vec::new();
    for one in field.map_or(&[][..], |f| &f.value[..]) {
        out.extend(desk.word(Some(one), Hazard::WORDS, Hazard::from_word));
    }
    out
}

/// The acts of an entry, none twice.
pub(super) fn acts(desk: &mut Desk, field: Option<&Spanned<Texts>>) -> Vec<Act> {
    let mut out: Vec<Act> = Vec::new();
    for one in field.map_or(&[][..], |f| &f.value[..]) {
        let Some(act) = desk.word(Some(one), Act::WORDS, Act::from_word) else { continue };
        if out.contains(&act) {
            desk.doubled(&one.value, place(one));
        } else {
            out.push(act);
        }
    }
    out
}

/// The cautions of an entry; where the list and each of its ids stand is kept for the rules of safety.
pub(super) fn cautions(desk: &mut Desk, owner: &str, field: Option<&Spanned<Texts>>) -> Vec<String> {
    if let Some(list) = field {
        desk.remember("cautions", owner, place(list));
        for one in &list.value {
            desk.remember("caution of", &format!("{owner} {}", one.value), place(one));
        }
    }
    desk.refers("caution", field)
}

/// Steps, each remembered at its place for the rules of safety.
pub(super) fn steps(desk: &mut Desk, owner: &str, field: Option<&Spanned<Texts>>) -> Vec<String> {
    for (i, one) in field.map_or(&[][..], |f| &f.value[..]).iter().enumerate() {
        desk.remember("step", &format!("{owner} {i}"), place(one));
    }
    desk.texts(field)
}

/// A setup.
pub(super) fn setup(desk: &mut Desk, raw: &Spanned<RawSetup>) -> Option<Setup> {
    let r = &raw.value;
    let id = desk.id.clone();
    desk.remember("setup", &id, place(raw));
    let name = desk.text(r.name.as_ref());
    let does = steps(desk, &id, r.does.as_ref());
    let minutes = desk.minutes(r.minutes.as_ref());
    let afterwards = desk.texts(r.afterwards.as_ref());
    let does_acts = acts(desk, r.acts.as_ref());
    let requires = desk.refers("equipment option", r.requires.as_ref());
    let called_by = acts(desk, r.called_by.as_ref());
    let cautions = cautions(desk, &id, r.cautions.as_ref());
    Some(Setup { id, name: name?, does, afterwards, minutes: minutes?, acts: does_acts, requires, called_by, cautions })
}

/// A tool.
pub(super) fn tool(desk: &mut Desk, raw: &Spanned<RawTool>) -> Option<Tool> {
    let r = &raw.value;
    let id = desk.id.clone();
    desk.remember("tool", &id, place(raw));
    let name = desk.text(r.name.as_ref());
    let also = desk.texts(r.also.as_ref());
    let what = desk.text(r.what.as_ref());
    let price = desk.money(r.price.as_ref());
    let hazards = hazards(desk, r.hazards.as_ref());
    Some(Tool { id, name: name?, also, what: what?, price: price?, hazards })
}

/// A caution.
pub(super) fn caution(desk: &mut Desk, raw: &Spanned<RawCaution>) -> Option<Caution> {
    let r = &raw.value;
    let id = desk.id.clone();
    desk.remember("caution", &id, place(raw));
    let name = desk.text(r.name.as_ref());
    let also = desk.texts(r.also.as_ref());
    let covers = hazards(desk, r.covers.as_ref());
    let requires = desk.refers("equipment option", r.requires.as_ref());
    let text = desk.text(r.text.as_ref());
    Some(Caution { id, name: name?, also, covers, requires, text: text? })
}

/// A source.
pub(super) fn source(desk: &mut Desk, raw: &Spanned<RawSource>) -> Option<Source> {
    let r = &raw.value;
    let id = desk.id.clone();
    desk.remember("source", &id, place(raw));
    let title = desk.text(r.title.as_ref());
    let kind = desk.word(r.kind.as_ref(), SourceKind::WORDS, SourceKind::from_word);
    let place_text = desk.text(r.r#where.as_ref());
    let note = desk.text(r.note.as_ref());
    Some(Source { id, title: title?, kind: kind?, place: place_text?, note })
}

/// Groups of words that mean the same.
pub(super) fn synonyms(desk: &mut Desk, raw: &Spanned<RawSynonyms>) -> Vec<Vec<String>> {
    let groups = raw.value.groups.as_ref().map_or(&[][..], |g| &g.value[..]);
    groups.iter().map(|g| desk.texts(Some(g))).filter(|g| g.len() > 1).collect()
}

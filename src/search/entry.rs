//! What can be found: the entries of a base with all their wordings. Does not search.

use super::gauge_questions::QUESTIONS;
use knowledge::base::{
    Base, Caution, Code, Covers, Equipment, EquipmentOption, Factor, FactorInput, Part, Repair, Suspect, Symptom, Test,
};
use knowledge::words;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

words! {
    /// What sort of entry a hit is.
    EntryKind {
        /// Something noticed at intake.
        Symptom = "symptom",
        /// One part failing in one way.
        Suspect = "suspect",
        /// A component.
        Part = "part",
        /// A stored trouble code.
        Code = "code",
        /// A procedure.
        Test = "test",
        /// What can hurt.
        Caution = "caution",
        /// What is done about a suspect.
        Repair = "repair",
        /// What a vehicle has, or what it has been through: a word for `--vehicle`.
        Circumstance = "circumstance",
        /// A question that `gauge` answers.
        Gauge = "gauge",
    }
}

impl EntryKind {
    /// All kinds, in the order in which they are declared.
    pub const ALL: [Self; 9] = [
        Self::Symptom,
        Self::Suspect,
        Self::Part,
        Self::Code,
        Self::Test,
        Self::Caution,
        Self::Repair,
        Self::Circumstance,
        Self::Gauge,
    ];

    /// The kind meant by a word in the singular or the plural, in any case.
    #[must_use]
    pub fn said(word: &str) -> Option<Self> {
        let word = word.trim().to_lowercase();
        Self::from_word(&word).or_else(|| Self::from_word(word.strip_suffix('s')?))
    }
}

/// What a wording is to its entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// The name.
    Name,
    /// Another name.
    Also,
    /// Another name, put together from one of a part and what is wrong with it or done to it; nobody wrote it down.
    Made,
    /// A sentence about it.
    Told,
    /// A detail: a step, what a reading looks like.
    Detail,
}

impl Role {
    const ALL: [Self; 5] = [Self::Name, Self::Also, Self::Made, Self::Told, Self::Detail];

    /// The role as the index writes it.
    #[must_use]
    pub fn number(self) -> u8 {
        self as u8
    }

    /// The role that the index writes so; a detail for a number that it never writes.
    #[must_use]
    pub fn from_number(number: u8) -> Self {
        Self::ALL.get(usize::from(number)).copied().unwrap_or(Self::Detail)
    }

    /// Whether it names the entry.
    #[must_use]
    pub fn names(self) -> bool {
        matches!(self, Self::Name | Self::Also | Self::Made)
    }

    /// How much a match in such a wording is worth, one in the name being 1.
    #[must_use]
    pub fn share(self) -> f32 {
        match self {
            Self::Name => 1.0,
            Self::Also | Self::Made => 0.97,
            Self::Told => 0.6,
            Self::Detail => 0.35,
        }
    }
}

/// One way in which an entry is put into words.
#[derive(Clone, Debug, PartialEq)]
pub struct Wording<'b> {
    /// What it is to the entry.
    pub role: Role,
    /// The words.
    pub text: Cow<'b, str>,
}

/// Something that can be found.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry<'b> {
    /// What sort.
    pub kind: EntryKind,
    /// Id in the base.
    pub id: &'b str,
    /// Its name, which is also its first wording.
    pub name: &'b str,
    /// All wordings.
    pub wordings: Vec<Wording<'b>>,
}

impl<'b> Entry<'b> {
    fn new(kind: EntryKind, id: &'b str, name: &'b str) -> Self {
        Self { kind, id, name, wordings: Vec::new() }.with(Role::Name, [name])
    }

    /// Adds a text of several sentences, each a wording of its own: a long text would hide how well one of them fits.
    fn told(self, role: Role, text: &'b str) -> Self {
        let ends = text.match_indices(". ").map(|(i, _)| i + 2).chain([text.len()]);
        let mut from = 0;
        self.with(role, ends.map(move |to| text[std::mem::replace(&mut from, to)..to].trim()).filter(|t| !t.is_empty()))
    }

    fn with(mut self, role: Role, texts: impl IntoIterator<Item = &'b str>) -> Self {
        self.wordings.extend(texts.into_iter().map(|t| Wording { role, text: Cow::Borrowed(t) }));
        self
    }
}

/// All entries of the base, by kind and then by id.
#[must_use]
pub fn entries(base: &Base) -> Vec<Entry<'_>> {
    let mut out: Vec<Entry> = Vec::new();
    out.extend(base.symptoms.iter().map(symptom));
    out.extend(base.suspects().map(|(p, s)| suspect(p, s)));
    out.extend(base.parts.iter().map(part));
    out.extend(base.codes.iter().map(code));
    out.extend(base.tests.iter().map(test));
    out.extend(base.cautions.iter().map(caution));
    out.extend(base.parts.iter().flat_map(|p| p.repairs.iter().map(move |r| repair(p, r))));
    out.extend(circumstances(base));
    out.extend(QUESTIONS.iter().map(|q| {
        Entry::new(EntryKind::Gauge, q.id, q.name).with(Role::Also, q.also.iter().copied()).told(Role::Told, q.told)
    }));
    out
}

fn symptom(s: &Symptom) -> Entry<'_> {
    Entry::new(EntryKind::Symptom, &s.id, &s.name).with(Role::Also, s.also.iter().map(String::as_str))
}

fn suspect<'b>(part: &'b Part, s: &'b Suspect) -> Entry<'b> {
    let mut entry = Entry::new(EntryKind::Suspect, &s.id, &s.name);
    // A suspect is named by its part and its mode, so every other name of the part makes another name of the suspect.
    let mode =
        s.name.split_once(", ").map_or_else(|| s.id.split('/').next_back().unwrap_or_default(), |(_, mode)| mode);
    for also in &part.also {
        entry.wordings.push(Wording { role: Role::Made, text: Cow::Owned(format!("{also}, {mode}")) });
    }
    entry.with(Role::Also, s.also.iter().map(String::as_str)).told(Role::Told, &s.what)
}

/// What is done, and the part to which it is done under each of its names.
fn repair<'b>(part: &'b Part, r: &'b Repair) -> Entry<'b> {
    let mut entry = Entry::new(EntryKind::Repair, &r.id, &r.does).with(Role::Also, r.also.iter().map(String::as_str));
    let what = r.id.split('/').next_back().unwrap_or_default().replace('-', " ");
    for name in std::iter::once(&part.name).chain(&part.also) {
        entry.wordings.push(Wording { role: Role::Made, text: Cow::Owned(format!("{what} {name}")) });
    }
    entry
}

/// The words that `--vehicle` understands, each once: circumstances, and what a vehicle may have.
fn circumstances(base: &Base) -> Vec<Entry<'_>> {
    let mut out: Vec<Entry> = Vec::new();
    let factors = base.factors.iter().flat_map(circumstance);
    for entry in factors.chain(base.equipment.iter().flat_map(|e| e.options.iter().map(move |o| option(e, o)))) {
        match out.iter_mut().find(|e| e.id == entry.id) {
            Some(same) => same.wordings.extend(entry.wordings),
            None => out.push(entry),
        }
    }
    out.sort_by_key(|e| e.id);
    out
}

fn circumstance(f: &Factor) -> impl Iterator<Item = Entry<'_>> {
    f.bands.iter().filter_map(|band| match (&band.covers, f.input) {
        (Covers::Word(word), FactorInput::Climate) => Some(climate(word)),
        (Covers::Word(word), _) => {
            Some(Entry::new(EntryKind::Circumstance, word, &f.name).with(Role::Also, f.also.iter().map(String::as_str)))
        }
        (Covers::Range(..), _) => None,
    })
}

/// A climate has no entry of its own in the base, only its word.
fn climate(word: &str) -> Entry<'_> {
    let entry = Entry::new(EntryKind::Circumstance, word, word);
    match CLIMATES.iter().find(|(known, _)| *known == word) {
        Some((_, also)) => entry.with(Role::Also, also.iter().copied()),
        None => entry,
    }
}

/// The climates that the base knows, in the words of people who live in them.
const CLIMATES: &[(&str, &[&str])] = &[
    (
        "salt",
        &[
            "salted roads in winter",
            "drives in road salt",
            "lives by the sea, salt air",
            "rust belt car",
            "gritted roads, everything underneath is crusty",
            "salty winters eat the underside",
            "streets are salted all winter",
            "on the coast, by the seaside, sea front",
        ],
    ),
    (
        "dusty",
        &[
            "lives up a dirt road",
            "desert, outback, bush",
            "dusty roads",
            "gravel roads, dust everywhere",
            "desert dust and sand",
            "unsealed roads, dust",
        ],
    ),
    ("hot", &["hot country", "always hot here", "tropical heat", "desert heat, hot climate"]),
    ("cold", &["cold country with long winters", "cold climate", "arctic cold, always below freezing"]),
    ("temperate", &["mild climate", "temperate climate"]),
];

fn option<'b>(e: &'b Equipment, o: &'b EquipmentOption) -> Entry<'b> {
    Entry::new(EntryKind::Circumstance, &o.id, &o.name)
        .with(Role::Also, o.also.iter().map(String::as_str))
        .with(Role::Detail, [e.question.as_str()])
}

fn part(p: &Part) -> Entry<'_> {
    Entry::new(EntryKind::Part, &p.id, &p.name)
        .with(Role::Also, p.also.iter().map(String::as_str))
        .told(Role::Told, &p.place)
        .told(Role::Told, &p.does)
}

fn code(c: &Code) -> Entry<'_> {
    Entry::new(EntryKind::Code, &c.id, &c.title)
        .with(Role::Also, c.also.iter().map(String::as_str))
        .told(Role::Told, &c.saw)
        .told(Role::Detail, c.note.as_deref().unwrap_or_default())
}

fn test(t: &Test) -> Entry<'_> {
    let readings = t.readings.iter().flat_map(|r| [r.name.as_str(), r.normal.as_str(), r.abnormal.as_str()]);
    Entry::new(EntryKind::Test, &t.id, &t.name)
        .with(Role::Also, t.also.iter().map(String::as_str))
        .told(Role::Told, &t.why)
        .with(Role::Detail, t.steps.iter().map(String::as_str))
        .with(Role::Detail, readings)
}

fn caution(c: &Caution) -> Entry<'_> {
    Entry::new(EntryKind::Caution, &c.id, &c.name)
        .with(Role::Also, c.also.iter().map(String::as_str))
        .told(Role::Told, &c.text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_are_said_in_singular_and_plural() {
        assert_eq!(EntryKind::said("Symptoms"), Some(EntryKind::Symptom));
        assert_eq!(EntryKind::said("code"), Some(EntryKind::Code));
        assert_eq!(EntryKind::said("tools"), None);
        assert!(EntryKind::ALL.iter().all(|k| EntryKind::said(k.word()) == Some(*k)));
    }

    #[test]
    fn a_suspect_answers_to_every_name_of_its_part() {
        let base = knowledge::check(&knowledge::files::Folder(std::path::Path::new(concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../kb"
        ))))
        .base;
        let all = entries(&base);
        let open = all.iter().find(|e| e.id == "purge-valve/stuck-open").unwrap();
        assert!(open.wordings.iter().any(|w| w.text == "purge solenoid, stuck open"));
        assert_eq!(open.wordings[0].text, open.name);
    }
}

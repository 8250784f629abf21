//! From texts to a [`Base`]: every problem in one run, each at its place. Worked cases are run elsewhere, since that
//! takes inference.

mod cases;
mod codes;
mod cross;
mod desk;
mod equipment;
mod gaps;
mod openings;
mod parts;
mod safety;
mod shared;
mod tests;
mod twins;

use super::base::Base;
use super::fields::{self, Written};
use super::files::{Files, KbFile};
use super::problem::{Problem, ProblemCode};
use super::raw;
use super::shape::{Record, Shape};
use super::yaml::{Fault, Place, Spanned};
use desk::Desk;
use std::collections::BTreeSet;

/// The outcome of checking a base.
#[derive(Debug)]
pub struct Checked {
    /// The base, as far as its entries could be read; to be used only when there are no problems.
    pub base: Base,
    /// Everything that is wrong, by file and line.
    pub problems: Vec<Problem>,
    /// The files, for showing lines.
    pub files: Vec<KbFile>,
}

/// The kinds of entry, each the name of its folder.
pub const KINDS: [&str; 13] = [
    "codes",
    "monitors",
    "parts",
    "tests",
    "symptoms",
    "cases",
    "setups",
    "tools",
    "cautions",
    "sources",
    "equipment",
    "factors",
    "synonyms",
];

/// Kinds without which there is nothing to reason with.
const NEEDED: [&str; 4] = ["codes", "monitors", "parts", "tests"];

/// The shape of every kind of entry, by the name of its folder: what a schema for editors is made from.
#[must_use]
pub fn entry_shapes() -> Vec<(&'static str, Shape)> {
    vec![
        ("codes", raw::RawCode::shape()),
        ("monitors", raw::RawMonitor::shape()),
        ("parts", raw::RawPart::shape()),
        ("tests", raw::RawTest::shape()),
        ("symptoms", raw::RawSymptom::shape()),
        ("cases", raw::RawCase::shape()),
        ("setups", raw::RawSetup::shape()),
        ("tools", raw::RawTool::shape()),
        ("cautions", raw::RawCaution::shape()),
        ("sources", raw::RawSource::shape()),
        ("equipment", raw::RawEquipment::shape()),
        ("factors", raw::RawFactor::shape()),
        ("synonyms", raw::RawSynonyms::shape()),
    ]
}

/// Reads and checks a whole base.
#[must_use]
pub fn check(source: &dyn Files) -> Checked {
    let (files, problems) = source.read();
    let mut desk = Desk::new(problems);
    let mut base = Base::default();
    let mut kinds = BTreeSet::new();
    for file in &files {
        if let Some(kind) = read_file(&mut desk, &mut base, file) {
            kinds.insert(kind);
        }
    }
    for kind in NEEDED {
        if !kinds.contains(kind) {
            desk.whole_file(
                ProblemCode::MissingFolder,
                kind,
                format!("no entry stands in any folder `FAMILY/{kind}/`"),
                Some("is this the folder of a knowledge base?".to_owned()),
            );
        }
    }
    desk.sort_and_refuse_doubles(&mut base);
    safety::call_setups(&mut base);
    cross::check(&mut desk, &base);
    safety::check(&mut desk, &base);
    gaps::check(&mut desk, &base);
    twins::check(&mut desk, &base);
    Checked { base, problems: desk.into_problems(), files }
}

/// Reads one file alone: its own faults, without those that need the other entries.
#[must_use]
pub fn check_one(file: &KbFile) -> Vec<Problem> {
    let mut desk = Desk::new(Vec::new());
    let mut base = Base::default();
    read_file(&mut desk, &mut base, file);
    desk.into_problems()
}

fn read_file(desk: &mut Desk, base: &mut Base, file: &KbFile) -> Option<&'static str> {
    let parts: Vec<&str> = file.path.split('/').collect();
    let hint = || Some(format!("the kinds are {}", KINDS.join(", ")));
    let [family, kind, name] = parts.as_slice() else {
        let message = "entries stand at FAMILY/KIND/ID.yaml".to_owned();
        desk.whole_file(ProblemCode::Misplaced, &file.path, message, hint());
        return None;
    };
    let Some(kind) = KINDS.iter().find(|k| *k == kind) else {
        let message = format!("`{kind}` is not a kind of entry");
        desk.whole_file(ProblemCode::Misplaced, &file.path, message, hint());
        return None;
    };
    let id = name.trim_end_matches(".yaml");
    desk.open(file, family, id);
    desk.check_file_id(kind, id);
    desk.remember(one_of(kind), id, Place { line: 1, column: 1 });
    match *kind {
        "codes" => base.codes.extend(read(desk, file).and_then(|r| codes::code(desk, &r))),
        "monitors" => base.monitors.extend(read(desk, file).and_then(|r| codes::monitor(desk, &r))),
        "parts" => base.parts.extend(read(desk, file).and_then(|r| parts::part(desk, &r))),
        "tests" => base.tests.extend(read(desk, file).and_then(|r| tests::test(desk, &r))),
        "symptoms" => base.symptoms.extend(read(desk, file).and_then(|r| shared::symptom(desk, &r))),
        "cases" => base.cases.extend(read(desk, file).and_then(|r| cases::case(desk, &r))),
        "setups" => base.setups.extend(read(desk, file).and_then(|r| shared::setup(desk, &r))),
        "tools" => base.tools.extend(read(desk, file).and_then(|r| shared::tool(desk, &r))),
        "cautions" => base.cautions.extend(read(desk, file).and_then(|r| shared::caution(desk, &r))),
        "sources" => base.sources.extend(read(desk, file).and_then(|r| shared::source(desk, &r))),
        "equipment" => base.equipment.extend(read(desk, file).and_then(|r| equipment::equipment(desk, &r))),
        "factors" => base.factors.extend(read(desk, file).and_then(|r| equipment::factor(desk, &r))),
        _ => base.synonyms.extend(read(desk, file).map(|r| shared::synonyms(desk, &r)).unwrap_or_default()),
    }
    Some(kind)
}

/// What one entry of a kind is called in references.
fn one_of(kind: &str) -> &'static str {
    match kind {
        "codes" => "code",
        "monitors" => "monitor",
        "parts" => "part",
        "tests" => "test",
        "symptoms" => "symptom",
        "cases" => "case",
        "setups" => "setup",
        "tools" => "tool",
        "cautions" => "caution",
        "sources" => "source",
        "equipment" => "equipment",
        "factors" => "factor",
        _ => "synonyms",
    }
}

/// How a number of per cent in the message is written: `"5%"` is 0.05.
fn share_of(message: &str) -> Option<String> {
    let text = message.split('"').nth(1)?.trim();
    let percent: f64 = text.strip_suffix('%')?.trim().parse().ok()?;
    Some(format!("write it as a share: {}", percent / 100.0))
}

/// Reads the record of a file and tells the faults of its text.
fn read<T: Written + Record>(desk: &mut Desk, file: &KbFile) -> Option<Spanned<T>> {
    let only_remarks = file.text.lines().all(|l| l.trim().is_empty() || l.trim_start().starts_with('#'));
    if only_remarks {
        desk.here(ProblemCode::Empty, Place { line: 1, column: 1 }, 1, format!("this {} is empty", T::NAME), None);
        return None;
    }
    let (record, faults) = fields::read::<T>(&file.text);
    for fault in faults {
        let place = fault.place;
        match fault.fault {
            Fault::UnknownField { field, expected } => {
                let mut hint = super::near::did_you_mean(&super::near::near(&field, expected.iter().copied(), 2));
                if hint.is_none() {
                    hint = Some(format!("the fields are {}", expected.join(", ")));
                }
                let length = field.chars().count();
                desk.here(ProblemCode::UnknownField, place, length, format!("there is no field `{field}` here"), hint);
            }
            Fault::DuplicateKey { key } => {
                let length = key.chars().count();
                let hint = Some("keep one of the two".to_owned());
                desk.here(
                    ProblemCode::DuplicateKey,
                    place,
                    length,
                    format!("`{key}` stands twice in this record"),
                    hint,
                );
            }
            Fault::MissingField { record, field, meaning } => {
                let message = format!("this {record} has no `{field}`");
                let hint = Some(format!("add `{field}:` — {meaning}"));
                desk.here(ProblemCode::MissingField, place, 1, message, hint);
            }
            Fault::WrongShape { message } => {
                let hint = share_of(&message);
                desk.here(ProblemCode::WrongShape, place, 1, message, hint);
            }
            Fault::Alias => {
                let message = "an anchor, an alias or a merge key".to_owned();
                let hint = Some("write the value out where it is used".to_owned());
                desk.here(ProblemCode::Alias, place, 1, message, hint);
            }
            Fault::Syntax { message } => desk.here(ProblemCode::Syntax, place, 1, message, None),
        }
    }
    record
}

//! The desk at which entries are checked: it knows the file under the eye, collects problems and hands out checked
//! values. The rules of each kind of entry stand in its neighbours.

use crate::base::{Base, Basis};
use crate::fields::{Num, Nums};
use crate::files::KbFile;
use crate::near::{did_you_mean, near};
use crate::number::{Minutes, Money, Probability, Times, Weight};
use crate::problem::{Problem, ProblemCode};
use crate::yaml::{Place, Spanned, place};
use std::collections::HashMap;

/// A reference from one entry to another, to be looked up once all entries are there.
#[derive(Clone, Debug)]
pub(super) struct Reference {
    pub kind: &'static str,
    pub id: String,
    pub file: String,
    pub place: Place,
}

#[derive(Debug, Default)]
pub(super) struct Desk {
    problems: Vec<Problem>,
    file: String,
    pub family: String,
    pub id: String,
    pub references: Vec<Reference>,
    /// Where an id stands that stood somewhere else before.
    again: HashMap<(&'static str, String), String>,
    /// Where things stand that the cross-check may have to point at: ("suspect", id) and the like.
    pub places: HashMap<(&'static str, String), (String, Place)>,
}

impl Desk {
    pub fn new(problems: Vec<Problem>) -> Self {
        Self { problems, ..Self::default() }
    }

    pub fn open(&mut self, file: &KbFile, family: &str, id: &str) {
        file.path.clone_into(&mut self.file);
        family.clone_into(&mut self.family);
        id.clone_into(&mut self.id);
    }

    /// Path of the file under the eye.
    pub fn path(&self) -> String {
        self.file.clone()
    }

    pub fn into_problems(mut self) -> Vec<Problem> {
        self.problems
            .sort_by(|a, b| (&a.file, a.place, a.code, &a.message).cmp(&(&b.file, b.place, b.code, &b.message)));
        self.problems.dedup();
        self.problems
    }

    /// Whether no problem has been told so far.
    pub fn nothing_told(&self) -> bool {
        self.problems.is_empty()
    }

    pub fn whole_file(&mut self, code: ProblemCode, file: &str, message: String, hint: Option<String>) {
        let file = file.to_owned();
        self.problems.push(Problem { code, file, place: Place::default(), length: 1, message, hint });
    }

    pub fn here(&mut self, code: ProblemCode, place: Place, length: usize, message: String, hint: Option<String>) {
        let file = self.file.clone();
        self.at(code, &file, place, length, message, hint);
    }

    pub fn at(
        &mut self,
        code: ProblemCode,
        file: &str,
        place: Place,
        length: usize,
        message: String,
        hint: Option<String>,
    ) {
        let file = file.to_owned();
        self.problems.push(Problem { code, file, place, length: length.max(1), message, hint });
    }

    /// Remembers where something stands.
    pub fn remember(&mut self, kind: &'static str, id: &str, place: Place) {
        let file = self.file.clone();
        let first = self.places.entry((kind, id.to_owned())).or_insert_with(|| (file.clone(), place));
        if first.0 != file {
            self.again.insert((kind, id.to_owned()), file);
        }
    }

    /// Where something stands, if it was remembered.
    pub fn place_of(&self, kind: &'static str, id: &str) -> (String, Place) {
        self.places.get(&(kind, id.to_owned())).cloned().unwrap_or_default()
    }

    /// Whether the id is written in an entry that has problems of its own. Its references are then no further fault.
    pub fn is_written(&self, kind: &'static str, id: &str, base: &Base) -> bool {
        let there = |kind, id: &str| self.places.contains_key(&(kind, id.to_owned()));
        // What hangs in an entry that could not be read at all is taken to be in it.
        let lost = |kind, owner: &str, loaded: bool| there(kind, owner) && !loaded;
        there(kind, id)
            || match kind {
                "suspect" | "repair" => {
                    id.split_once('/').is_some_and(|(part, _)| lost("part", part, base.part(part).is_some()))
                }
                "reading" => id.split_once(':').is_some_and(|(test, _)| lost("test", test, base.test(test).is_some())),
                _ => false,
            }
    }

    /// The file's name as an id.
    pub fn check_file_id(&mut self, kind: &str, id: &str) {
        let start = Place { line: 1, column: 1 };
        if kind == "codes" {
            if !is_code_id(id) {
                let message = format!("`{id}` is not a code: a code is P and four hexadecimal digits, such as P0455");
                self.here(ProblemCode::BadId, start, 1, message, Some("the file's name is the id".to_owned()));
            }
        } else {
            self.check_word_id(id, start, "the file's name is the id");
        }
    }

    /// An id of lower-case words joined by hyphens.
    pub fn check_word_id(&mut self, id: &str, place: Place, hint: &str) -> bool {
        let good = !id.is_empty()
            && id.len() <= 60
            && id.split('-').all(|w| !w.is_empty() && w.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit()));
        if !good {
            let message = format!("`{id}` is not an id: lower-case words joined by hyphens");
            self.here(ProblemCode::BadId, place, id.chars().count(), message, Some(hint.to_owned()));
        }
        good
    }

    /// A text that must not be empty.
    pub fn text(&mut self, field: Option<&Spanned<String>>) -> Option<String> {
        let field = field?;
        let text = field.value.trim();
        if text.is_empty() {
            self.here(ProblemCode::EmptyText, place(field), 1, "this text is empty".to_owned(), None);
            return None;
        }
        Some(text.to_owned())
    }

    /// Texts, none of which may be empty.
    pub fn texts(&mut self, field: Option<&Spanned<Vec<Spanned<String>>>>) -> Vec<String> {
        field.map_or(&[][..], |f| &f.value[..]).iter().filter_map(|t| self.text(Some(t))).collect()
    }

    /// A word out of a fixed list.
    pub fn word<T>(
        &mut self,
        field: Option<&Spanned<String>>,
        words: &[&str],
        from: fn(&str) -> Option<T>,
    ) -> Option<T> {
        let field = field?;
        let found = from(&field.value);
        if found.is_none() {
            let hint = did_you_mean(&near(&field.value, words.iter().copied(), 2));
            let hint = hint.unwrap_or_else(|| format!("it is one of {}", words.join(", ")));
            let message = format!("`{}` is not one of the words for this field", field.value);
            self.here(ProblemCode::UnknownWord, place(field), field.value.chars().count(), message, Some(hint));
        }
        found
    }

    /// A plain number.
    pub fn number(&mut self, field: Option<&Spanned<Num>>) -> Option<f64> {
        let field = field?;
        match &field.value {
            Num::Good(v) if v.is_finite() => Some(*v),
            Num::Good(v) => {
                self.here(ProblemCode::WrongShape, place(field), 1, format!("{v} is not a usable number"), None);
                None
            }
            Num::Bad(text) => {
                let hint = text.starts_with('"').then(|| "write the number without quotes".to_owned());
                let message = format!("{text} stands where a number belongs");
                self.here(ProblemCode::WrongShape, place(field), text.chars().count(), message, hint);
                None
            }
        }
    }

    fn limited<T>(
        &mut self,
        code: ProblemCode,
        field: Option<&Spanned<Num>>,
        make: fn(f64) -> Result<T, crate::number::Refused>,
    ) -> Option<T> {
        let value = self.number(field)?;
        match make(value) {
            Ok(v) => Some(v),
            Err(why) => {
                let place = field.map(place).unwrap_or_default();
                self.here(code, place, value.to_string().chars().count(), format!("{value} {why}"), None);
                None
            }
        }
    }

    pub fn probability(&mut self, field: Option<&Spanned<Num>>) -> Option<Probability> {
        self.limited(ProblemCode::Probability, field, Probability::new)
    }
    pub fn weight(&mut self, field: Option<&Spanned<Num>>) -> Option<Weight> {
        self.limited(ProblemCode::Amount, field, Weight::new)
    }
    pub fn minutes(&mut self, field: Option<&Spanned<Num>>) -> Option<Minutes> {
        self.limited(ProblemCode::Amount, field, Minutes::new)
    }
    pub fn money(&mut self, field: Option<&Spanned<Num>>) -> Option<Money> {
        self.limited(ProblemCode::Amount, field, Money::new)
    }
    pub fn times(&mut self, field: Option<&Spanned<Num>>) -> Option<Times> {
        self.limited(ProblemCode::Amount, field, Times::new)
    }

    /// One probability per abnormal level, together at most 1.
    pub fn probabilities(&mut self, field: Option<&Spanned<Nums>>, levels: usize) -> Option<Vec<Probability>> {
        let field = field?;
        let at = place(field);
        let mut all = Vec::new();
        for n in &field.value.0 {
            match n {
                Num::Good(v) => match Probability::new(*v) {
                    Ok(p) => all.push(p),
                    Err(why) => self.here(ProblemCode::Probability, at, 1, format!("{v} {why}"), None),
                },
                Num::Bad(text) => {
                    let message = format!("{text} stands where a number belongs");
                    self.here(ProblemCode::WrongShape, at, text.chars().count(), message, None);
                }
            }
        }
        if all.len() != field.value.0.len() {
            return None;
        }
        if all.len() != levels {
            let message = format!("{} given, {levels} needed: one number per abnormal level", all.len());
            self.here(ProblemCode::LevelCount, at, 1, message, None);
            return None;
        }
        let sum: f64 = all.iter().map(|p| p.get()).sum();
        if sum > 1.0 + 1e-9 {
            self.here(ProblemCode::Sum, at, 1, format!("the levels add up to {sum:.4}, more than 1"), None);
            return None;
        }
        Some(all)
    }

    /// The basis of a number.
    pub fn basis(&mut self, field: Option<&Spanned<String>>) -> Option<Basis> {
        let field = field?;
        if field.value == "judgement" {
            return Some(Basis::Judgement);
        }
        self.refer("source", field);
        Some(Basis::Source(field.value.clone()))
    }

    /// Notes a reference, to be looked up at the end; gives the id.
    pub fn refer(&mut self, kind: &'static str, field: &Spanned<String>) -> String {
        let file = self.file.clone();
        self.references.push(Reference { kind, id: field.value.clone(), file, place: place(field) });
        field.value.clone()
    }

    /// A needed reference.
    pub fn reference(&mut self, kind: &'static str, field: Option<&Spanned<String>>) -> Option<String> {
        field.map(|f| self.refer(kind, f))
    }

    /// A list of references, none twice.
    pub fn refers(&mut self, kind: &'static str, field: Option<&Spanned<Vec<Spanned<String>>>>) -> Vec<String> {
        let mut out: Vec<String> = Vec::new();
        for one in field.map_or(&[][..], |f| &f.value[..]) {
            let id = self.refer(kind, one);
            if out.contains(&id) {
                self.doubled(&id, place(one));
            } else {
                out.push(id);
            }
        }
        out
    }

    /// Tells that an id stands twice in a list.
    pub fn doubled(&mut self, id: &str, place: Place) {
        let message = format!("`{id}` stands twice in this list");
        self.here(ProblemCode::DuplicateId, place, id.chars().count(), message, Some("keep one of the two".to_owned()));
    }

    /// Sorts every list by id and tells entries of one kind that share an id.
    pub fn sort_and_refuse_doubles(&mut self, base: &mut Base) {
        macro_rules! each {
            ($($list:ident $kind:literal),*) => { $(
                let at = order(&base.$list.iter().map(|e| e.id.as_str()).collect::<Vec<_>>());
                let mut entries: Vec<_> = std::mem::take(&mut base.$list).into_iter().map(Some).collect();
                base.$list.extend(at.into_iter().filter_map(|i| entries[i].take()));
                let ids: Vec<&str> = base.$list.iter().map(|e| e.id.as_str()).collect();
                for pair in ids.windows(2).filter(|p| p[0] == p[1]) {
                    let mut message = format!("two {} have the id `{}`", stringify!($list), pair[0]);
                    if let Some(other) = self.again.get(&($kind, pair[0].to_owned())) {
                        message = format!("{message}, the other in {other}");
                    }
                    let (file, place) = self.place_of($kind, pair[0]);
                    self.problems.push(Problem {
                        code: ProblemCode::DuplicateId, file, place, length: 1, message,
                        hint: Some("an id is the file's name, whatever the family".to_owned()),
                    });
                }
                base.$list.dedup_by(|a, b| a.id == b.id);
            )* };
        }
        each!(codes "code", monitors "monitor", parts "part", tests "test", symptoms "symptom", setups "setup",
              tools "tool", cautions "caution", sources "source", equipment "equipment", factors "factor", cases "case");
    }
}

/// The order in which ids are sorted: a sort of the entries themselves would be compiled for each kind.
fn order(ids: &[&str]) -> Vec<usize> {
    let mut at: Vec<usize> = (0..ids.len()).collect();
    at.sort_by_key(|i| ids[*i]);
    at
}

/// Whether the text is a code id of this family of codes: P and four hexadecimal digits, in capitals.
pub(super) fn is_code_id(id: &str) -> bool {
    id.len() == 5 && id.starts_with('P') && id[1..].chars().all(|c| c.is_ascii_digit() || ('A'..='F').contains(&c))
}

//! From words to one entry: sure enough to be taken as evidence, or a choice for the person to make. Never guesses.

use super::entry::Role;
use super::lexicon::StemId;
use super::words::Worth;
use super::{EntryKind, Finder, Hit, SearchError, words};

/// What some words stand for.
#[derive(Clone, Debug, PartialEq)]
pub enum Resolved {
    /// One entry, by id.
    One(String),
    /// Several that the words fit about equally well, or one that they fit only in part, best first.
    Several(Vec<Hit>),
    /// None; with known words that look like those typed.
    None {
        /// The known words.
        near: Vec<String>,
    },
}

impl Finder<'_> {
    /// The symptom that the words stand for.
    ///
    /// # Errors
    /// The index cannot be read.
    pub fn resolve_symptom(&self, text: &str) -> Result<Resolved, SearchError> {
        self.resolve(EntryKind::Symptom, text)
    }

    /// The entry of this kind that the words stand for.
    ///
    /// An id and a name of the base, word for word, are taken as they are. Otherwise one name of the best hit must mean the
    /// same as the words, all of them and not much beside, and no other entry may come near; anything less is a choice, since
    /// a wrong symptom costs more than a question.
    ///
    /// # Errors
    /// The index cannot be read.
    pub fn resolve(&self, kind: EntryKind, text: &str) -> Result<Resolved, SearchError> {
        let id = text.trim().to_lowercase();
        if self.has(kind, &id) {
            return Ok(Resolved::One(id));
        }
        if let Some(id) = self.word_for_word(kind, text) {
            return Ok(Resolved::One(id));
        }
        let s = &self.settings;
        let mut found = self.search(text, &[kind], s.choices)?;
        let Some(first) = found.hits.first() else { return Ok(Resolved::None { near: found.near }) };
        let next = found.hits.get(1);
        let ahead =
            next.is_none_or(|n| n.score <= first.score * f64::from(s.lead) && n.same <= first.same * f64::from(s.lead));
        // A word that nobody knows may be the one that matters, and what is denied is not said.
        let all = found.unknown.is_empty() && found.respelled.is_empty() && found.denied.is_empty();
        if all && ahead && first.same >= f64::from(s.sure) {
            return Ok(Resolved::One(first.id.clone()));
        }
        let least = first.score * f64::from(s.offered);
        found.hits.retain(|h| h.score >= least);
        Ok(Resolved::Several(found.hits))
    }

    /// The entry one of whose names has just these words, if it is the only one.
    fn word_for_word(&self, kind: EntryKind, text: &str) -> Option<String> {
        let plain = words::plain_words(text);
        if !plain.iter().any(|w| words::worth(&w.text) == Worth::Content) {
            return None;
        }
        let said = plain.iter().filter(|w| words::worth(&w.text) != Worth::Empty);
        let stems: Vec<StemId> = said.map(|w| self.packed.stem(&w.text)).collect::<Option<_>>()?;
        let mut row = Vec::new();
        // A name put together by the program may fit another fault of the part as well.
        let mut same = |wording: usize| {
            self.packed.role(wording) != Role::Made && {
                self.packed.words_of(wording, &mut row);
                row.iter().map(|w| w.stem).eq(stems.iter().copied())
            }
        };
        let of_kind = self.packed.entries.iter().enumerate().filter(|(_, e)| e.kind == kind);
        let mut ids = of_kind.filter(|(i, _)| self.packed.wordings_of(*i).any(&mut same)).map(|(_, e)| e.id);
        let one = ids.next()?;
        ids.next().is_none().then(|| one.to_owned())
    }
}

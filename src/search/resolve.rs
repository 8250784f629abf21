//! From words to one symptom: sure enough to be taken as evidence, or a choice for the person to make. Never guesses.

use super::lexicon::StemId;
use super::words::Worth;
use super::{EntryKind, Finder, Hit, SearchError, words};

/// What some words stand for.
#[derive(Clone, Debug, PartialEq)]
pub enum Resolved {
    /// One symptom, by id.
    One(String),
    /// Several that the words fit about equally well, best first.
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
    /// An id and a wording of the base, word for word, are taken as they are. Otherwise the best hit must be good in itself
    /// and clearly better than the next; anything less is a choice.
    ///
    /// # Errors
    /// The index cannot be read.
    pub fn resolve_symptom(&self, text: &str) -> Result<Resolved, SearchError> {
        let id = text.trim().to_lowercase();
        if self.has(EntryKind::Symptom, &id) {
            return Ok(Resolved::One(id));
        }
        if let Some(id) = self.word_for_word(text) {
            return Ok(Resolved::One(id));
        }
        let s = &self.settings;
        let mut found = self.search(text, &[EntryKind::Symptom], s.choices)?;
        let Some(first) = found.hits.first() else { return Ok(Resolved::None { near: found.near }) };
        let next = found.hits.get(1).map_or(0.0, |h| h.score);
        // A word that nobody knows may be the one that matters.
        if first.score * found.understood >= f64::from(s.sure) && next <= first.score * f64::from(s.lead) {
            return Ok(Resolved::One(first.id.clone()));
        }
        let least = first.score * f64::from(s.offered);
        found.hits.retain(|h| h.score >= least);
        Ok(Resolved::Several(found.hits))
    }

    /// The symptom one of whose wordings has just these words, if it is the only one.
    fn word_for_word(&self, text: &str) -> Option<String> {
        let plain = words::plain_words(text);
        if !plain.iter().any(|w| words::worth(&w.text) == Worth::Content) {
            return None;
        }
        let said = plain.iter().filter(|w| words::worth(&w.text) != Worth::Empty);
        let stems: Vec<StemId> = said.map(|w| self.packed.stem(&w.text)).collect::<Option<_>>()?;
        let mut row = Vec::new();
        let mut same = |wording: usize| {
            self.packed.words_of(wording, &mut row);
            row.iter().map(|w| w.stem).eq(stems.iter().copied())
        };
        let symptoms = self.packed.entries.iter().enumerate().filter(|(_, e)| e.kind == EntryKind::Symptom);
        let mut ids = symptoms.filter(|(i, _)| self.packed.wordings_of(*i).any(&mut same)).map(|(_, e)| e.id);
        let one = ids.next()?;
        ids.next().is_none().then(|| one.to_owned())
    }
}

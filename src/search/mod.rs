//! Search in the words people use: which symptoms, suspects, parts, codes, tests and cautions answer some words?
//!
//! A query is read into words and everything that may stand for them (`asked`); an index in memory says which entries hold
//! any of it (`index`); those are read closely and put in order (`closeness`). Typed text never reaches a query parser.
//! Does not print, ask or store.

mod asked;
mod closeness;
mod entry;
mod error;
mod excerpt;
mod index;
mod lexicon;
mod numbers;
mod resolve;
mod settings;
mod spelling;
mod synonyms;
mod words;

pub use entry::{Entry, EntryKind, Role, Wording, entries};
pub use error::SearchError;
pub use excerpt::Excerpt;
pub use resolve::Resolved;
pub use settings::Settings;

use crate::knowledge::base::Base;
use asked::{Asked, Reader};
use closeness::{Closeness, Read, closeness};
use index::{Builder, Recall};
use lexicon::{Lexicon, StemId, Word};
use std::collections::BTreeSet;
use synonyms::Synonyms;
use words::{Worth, plain_words, worth};

/// A base made ready to be searched.
pub struct Finder<'b> {
    base: &'b Base,
    entries: Vec<Entry<'b>>,
    read: Vec<Vec<Read>>,
    lexicon: Lexicon,
    synonyms: Synonyms,
    recall: Recall,
    settings: Settings,
}

/// One entry that answers.
#[derive(Clone, Debug, PartialEq)]
pub struct Hit {
    /// What sort of entry.
    pub kind: EntryKind,
    /// Its id in the base.
    pub id: String,
    /// Its name.
    pub name: String,
    /// How well it answers: about 1 when it says exactly what was asked, above 1 when it was named by its number or id.
    pub score: f64,
    /// The wording that answers best, with the words marked.
    pub excerpt: Excerpt,
    /// Whether the excerpt is the name itself.
    pub by_name: bool,
}

/// What a search found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Found {
    /// Best first.
    pub hits: Vec<Hit>,
    /// How many more there would be.
    pub more: usize,
    /// Words taken for mistyped, with what they were taken for.
    pub respelled: Vec<(String, String)>,
    /// Words, and codes by number, that nothing in the base answers.
    pub unknown: Vec<String>,
    /// Known words that look like the unknown ones; only when there is no hit.
    pub near: Vec<String>,
    /// Whether the query held nothing to look for: it was empty or held only words that say nothing.
    pub empty: bool,
    /// Share of the words that say something which the base knows at all, from 0 to 1.
    pub understood: f64,
}

impl<'b> Finder<'b> {
    /// Makes the base ready.
    ///
    /// # Errors
    /// The index cannot be built.
    pub fn new(base: &'b Base, settings: Settings) -> Result<Self, SearchError> {
        let entries = entries(base);
        let mut lexicon = Lexicon::default();
        let mut builder = Builder::new()?;
        let mut read = Vec::with_capacity(entries.len());
        for entry in &entries {
            let wordings: Vec<Read> =
                entry.wordings.iter().map(|w| Read { role: w.role, words: lexicon.learn(&w.text) }).collect();
            let (title, body): (Vec<&Read>, Vec<&Read>) =
                wordings.iter().partition(|r| matches!(r.role, Role::Name | Role::Also));
            let (title, body) = (stems_once(&title), stems_once(&body));
            builder.add(entry.kind, &title, &body, &lexicon)?;
            lexicon.count_entry(title.iter().chain(&body).copied().collect::<BTreeSet<_>>());
            read.push(wordings);
        }
        let synonyms = Synonyms::new(&base.synonyms, &mut lexicon);
        Ok(Self { base, entries, read, lexicon, synonyms, recall: builder.finish()?, settings })
    }

    /// Finds the entries of these kinds (all when none is given) that answer the words, at most so many.
    ///
    /// Double quotes ask for words that stand together. Nothing in `text` is an operator, and nothing in it is an error.
    ///
    /// # Errors
    /// The index cannot be read.
    pub fn search(&self, text: &str, kinds: &[EntryKind], most: usize) -> Result<Found, SearchError> {
        let asked = self.reader().read(text, |code| self.base.code(code).is_some());
        let mut hits: Vec<(f32, usize, Closeness)> = Vec::new();
        let candidates = self.recall.candidates(&asked, kinds, &self.lexicon, self.settings.candidates)?;
        let highest = candidates.first().map_or(1.0, |c| c.0);
        for (bm25, number) in candidates {
            let number = number as usize;
            if let Some(close) =
                closeness(&asked, &self.read[number], &self.lexicon, self.entries.len(), &self.settings)
            {
                let kind =
                    if self.entries[number].kind == EntryKind::Symptom { self.settings.symptom_first } else { 1.0 };
                hits.push((kind * close.score * (1.0 + self.settings.bm25 * bm25 / highest), number, close));
            }
        }
        let best = hits.iter().map(|h| h.0).fold(0.0, f32::max);
        hits.retain(|h| h.0 >= self.settings.floor.max(best * self.settings.noise));
        self.put_named_first(text, &asked, kinds, &mut hits);
        hits.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
        let more = hits.len().saturating_sub(most);
        let near = if hits.is_empty() { self.near(&asked) } else { Vec::new() };
        let empty = asked.terms.is_empty() && asked.codes.is_empty() && asked.unknown.is_empty();
        let understood = understood(&asked);
        let hits = hits.into_iter().take(most).map(|(score, number, close)| self.hit(score, number, &close)).collect();
        Ok(Found { hits, more, respelled: asked.respelled, unknown: asked.unknown, near, empty, understood })
    }

    fn reader(&self) -> Reader<'_> {
        Reader {
            lexicon: &self.lexicon,
            synonyms: &self.synonyms,
            entries: self.entries.len(),
            settings: &self.settings,
        }
    }

    /// What was named by its number or its id comes before everything else.
    fn put_named_first(&self, text: &str, asked: &Asked, kinds: &[EntryKind], hits: &mut Vec<(f32, usize, Closeness)>) {
        let ids: Vec<String> =
            text.split_whitespace().filter(|w| w.contains(['-', '/'])).map(str::to_lowercase).collect();
        let whole = text.trim().to_lowercase();
        for (number, entry) in self.entries.iter().enumerate() {
            let of_kind = kinds.is_empty() || kinds.contains(&entry.kind);
            let named =
                asked.codes.iter().any(|c| c == entry.id) || whole == entry.id || ids.iter().any(|i| i == entry.id);
            if !(named && of_kind) {
                continue;
            }
            match hits.iter_mut().find(|h| h.1 == number) {
                Some(hit) => hit.0 += 1.0,
                None => hits.push((1.0, number, Closeness::default())),
            }
        }
    }

    fn hit(&self, score: f32, number: usize, close: &Closeness) -> Hit {
        let entry = &self.entries[number];
        let text = entry.wordings.get(close.wording).map_or(entry.name, |w| &w.text);
        Hit {
            kind: entry.kind,
            id: entry.id.to_owned(),
            name: entry.name.to_owned(),
            score: f64::from(score),
            excerpt: Excerpt::new(text, &close.marks),
            by_name: close.wording == 0,
        }
    }

    /// Known words that look like the words of the query.
    fn near(&self, asked: &Asked) -> Vec<String> {
        /// Words looked at, suggestions for one, and suggestions in all.
        const WORDS: usize = 6;
        const EACH: usize = 2;
        const ALL: usize = 6;
        let mut out: Vec<String> = Vec::new();
        for term in asked.terms.iter().filter(|t| worth(&t.word) == Worth::Content).take(WORDS) {
            for word in spelling::alike(&term.word, &self.lexicon, EACH) {
                if !out.contains(&word) && out.len() < ALL {
                    out.push(word);
                }
            }
        }
        let codes = self.base.codes.iter().map(|c| c.id.as_str());
        let unknown = asked.unknown.iter().filter(|u| u.starts_with('P'));
        for code in unknown.flat_map(|u| crate::knowledge::near::near(u, codes.clone(), EACH)) {
            out.push(code.to_owned());
        }
        out
    }
}

#[expect(clippy::cast_precision_loss, reason = "words of a query")]
fn understood(asked: &Asked) -> f64 {
    let known =
        asked.terms.iter().filter(|t| t.weight > 0.0 && worth(&t.word) == Worth::Content).count() + asked.codes.len();
    known as f64 / (known + asked.unknown.len()).max(1) as f64
}

/// The stems of these wordings, each once.
fn stems_once(wordings: &[&Read]) -> Vec<StemId> {
    let mut stems: Vec<StemId> = wordings.iter().flat_map(|r| &r.words).map(|w| w.stem).collect();
    stems.sort_unstable();
    stems.dedup();
    stems
}

/// The stems of a text in order, to compare whole wordings; unknown words make it incomparable.
fn stems_of(text: &str, lexicon: &Lexicon) -> Option<Vec<StemId>> {
    plain_words(text).iter().filter(|w| worth(&w.text) != Worth::Empty).map(|w| lexicon.stem(&w.text)).collect()
}

/// The stems of a wording in order.
fn stems_in(words: &[Word]) -> impl Iterator<Item = StemId> {
    words.iter().map(|w| w.stem)
}

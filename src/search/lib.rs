//! Search in the words people use: which entries of a base answer some words?
//!
//! A base is packed once into an index (`packing`), for the shipped base when the program is built. A query is read into
//! words and everything that may stand for them, and into what it asks for and denies (`asked`); the index says which entries
//! hold any of it (`recall`); those are read closely (`closeness`) and put in order. Typed text never reaches a query parser.
//! Knows only knowledge: does not print, ask or store.

mod asked;
mod closeness;
mod codes;
mod denied;
mod english;
mod entry;
mod error;
mod excerpt;
mod gauge_questions;
mod intent;
mod lexicon;
mod order;
mod packed;
mod packing;
mod quantities;
mod recall;
mod resolve;
mod settings;
mod spelling;
mod stop_words;
mod synonyms;
mod turns;
mod ways;
mod words;

pub use entry::{Entry, EntryKind, Role, Wording, entries};
pub use error::SearchError;
pub use excerpt::Excerpt;
pub use packing::pack;
pub use resolve::Resolved;
pub use settings::Settings;
pub use ways::ways;

use asked::{Asked, Reader};
use closeness::{Close, Closeness};
use packed::Packed;
use recall::Recall;
use words::{Worth, worth};

/// An index made ready to be searched.
pub struct Finder<'p> {
    packed: Packed<'p>,
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
    /// How far one of its names means the same as the words, from 0 to 1: all of them, and nothing beside.
    pub same: f64,
}

/// What a search found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Found {
    /// Best first.
    pub hits: Vec<Hit>,
    /// How many more there would be.
    pub more: usize,
    /// The best test and the best caution that are near and not among the first hits.
    pub beside: Vec<Hit>,
    /// Words taken for mistyped, with what they were taken for.
    pub respelled: Vec<(String, String)>,
    /// Words, and codes by number, that nothing in the base answers.
    pub unknown: Vec<String>,
    /// Known words that look like the unknown ones; only when there is no hit.
    pub near: Vec<String>,
    /// What the query denies, as typed.
    pub denied: Vec<String>,
    /// Symptoms that are thereby absent: what is denied means just them.
    pub absent: Vec<Hit>,
    /// Whether the query held nothing to look for: it was empty or held only words that say nothing.
    pub empty: bool,
    /// Whether the query is in another language than English.
    pub foreign: bool,
    /// Share of the words that say something which the base knows at all, from 0 to 1.
    pub understood: f64,
}

/// An entry with what it scores.
struct Scored {
    score: f32,
    number: usize,
    close: Closeness,
}

impl<'p> Finder<'p> {
    /// Makes an index ready that [`pack`] made.
    ///
    /// # Errors
    /// Bytes that are no index.
    pub fn new(bytes: &'p [u8], settings: Settings) -> Result<Self, SearchError> {
        let packed = Packed::read(bytes)?;
        let recall = Recall::open(&packed.files)?;
        Ok(Self { packed, recall, settings })
    }

    /// Finds the entries of these kinds (all when none is given) that answer the words, at most so many.
    ///
    /// Double quotes ask for words that stand together. Nothing in `text` is an operator, and nothing in it is an error.
    ///
    /// # Errors
    /// The index cannot be read.
    pub fn search(&self, text: &str, kinds: &[EntryKind], most: usize) -> Result<Found, SearchError> {
        let mut asked = self.reader().read(text, |code| self.has(EntryKind::Code, code));
        if !asked.codes.is_empty() {
            asked.intent = asked.intent.and(EntryKind::Code, 0.5);
        }
        let mut hits: Vec<Scored> = Vec::new();
        let candidates = self.recall.candidates(&asked, kinds, &self.packed, self.settings.candidates)?;
        let highest = candidates.first().map_or(1.0, |c| c.0);
        let mut close = Close::new(&asked, &self.packed, &self.settings);
        for (bm25, number) in candidates {
            let number = number as usize;
            if let Some(close) = close.entry(number) {
                let score = close.score * (1.0 + self.settings.bm25 * bm25 / highest);
                hits.push(Scored { score, number, close });
            }
        }
        self.add_what_it_bears_on(&asked, &mut hits);
        for hit in &mut hits {
            hit.score *= self.of_kind(hit.number, hit.close.same, &asked);
        }
        let words: Vec<String> = asked.terms.iter().map(|t| t.word.clone()).collect();
        self.first_of_its_sort(&words, &mut hits);
        if asked.foreign {
            hits.clear();
        }
        let best = hits.iter().map(|h| h.score).fold(0.0, f32::max);
        hits.retain(|h| h.score >= self.settings.floor.max(best * self.settings.noise));
        self.put_named_first(text, &asked, kinds, &mut hits);
        hits.sort_by(|a, b| b.score.total_cmp(&a.score).then_with(|| a.number.cmp(&b.number)));
        let beside = self.put_in_order(&asked, kinds, &mut hits, most);
        let more = hits.len().saturating_sub(most);
        let near = if hits.is_empty() { self.near(&asked) } else { Vec::new() };
        let empty = asked.terms.is_empty() && asked.codes.is_empty() && asked.unknown.is_empty();
        let understood = understood(&asked);
        let hits = hits.iter().take(most).map(|h| self.hit(h)).collect();
        let Asked { respelled, unknown, denied, foreign, .. } = asked;
        let absent = self.absent(&denied)?;
        Ok(Found { hits, more, beside, respelled, unknown, near, denied, absent, empty, foreign, understood })
    }

    /// The symptoms that are denied: those that the words after a denial stand for.
    fn absent(&self, denied: &[String]) -> Result<Vec<Hit>, SearchError> {
        let mut out: Vec<Hit> = Vec::new();
        for text in denied {
            let words = words::plain_words(text).into_iter().filter(|w| w.text != words::NOT).map(|w| w.text);
            let found = self.search(&words.collect::<Vec<_>>().join(" "), &[EntryKind::Symptom], 2)?;
            let [first, rest @ ..] = &found.hits[..] else { continue };
            let clear = rest.iter().all(|h| h.same <= first.same * f64::from(self.settings.lead));
            if clear && first.same >= f64::from(self.settings.sure) && out.iter().all(|h| h.id != first.id) {
                out.push(first.clone());
            }
        }
        Ok(out)
    }

    /// Whether the index has an entry of this kind and id.
    #[must_use]
    pub fn has(&self, kind: EntryKind, id: &str) -> bool {
        self.packed.entries.iter().any(|e| e.kind == kind && e.id == id)
    }

    fn reader(&self) -> Reader<'_> {
        Reader { packed: &self.packed, settings: &self.settings }
    }

    fn hit(&self, scored: &Scored) -> Hit {
        let entry = self.packed.entries[scored.number];
        let wordings = self.packed.wordings_of(scored.number);
        Hit {
            kind: entry.kind,
            id: entry.id.to_owned(),
            name: self.packed.name(scored.number).to_owned(),
            score: f64::from(scored.score),
            excerpt: Excerpt::new(self.packed.wordings.at(wordings.start + scored.close.wording), &scored.close.marks),
            by_name: scored.close.wording == 0,
            same: f64::from(scored.close.same),
        }
    }

    /// Known words that look like the words of the query.
    fn near(&self, asked: &Asked) -> Vec<String> {
        /// Words looked at, suggestions for one, and suggestions in all.
        const WORDS: usize = 6;
        const EACH: usize = 2;
        const ALL: usize = 6;
        let mut out: Vec<String> = Vec::new();
        for term in asked.terms.iter().filter(|t| worth(&t.word) == Worth::Content && !asked.foreign).take(WORDS) {
            for word in spelling::alike(&term.word, &self.packed, EACH) {
                if !out.contains(&word) && out.len() < ALL {
                    out.push(word);
                }
            }
        }
        let codes = self.packed.entries.iter().filter(|e| e.kind == EntryKind::Code).map(|e| e.id);
        let unknown = asked.unknown.iter().filter(|u| u.starts_with('P'));
        for code in unknown.flat_map(|u| knowledge::near::near(u, codes.clone(), EACH)) {
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

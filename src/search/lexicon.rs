//! All words of a base by their stems, and in how many entries each occurs. Learns while the base is read; a query only
//! looks up.

use super::packed::Packed;
use super::words::{Worth, is_abbreviation, plain_words, worth};
use std::collections::{BTreeMap, HashMap};
use tantivy::tokenizer::{Language, RawTokenizer, Stemmer, TextAnalyzer};

/// A stem, by number.
pub type StemId = u32;

/// A word of a wording: its stem and where it stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Word {
    /// The stem.
    pub stem: StemId,
    /// First byte.
    pub from: u32,
    /// Byte after the last.
    pub to: u32,
}

/// Brings words to their stems.
pub struct Stems(TextAnalyzer);

impl Default for Stems {
    fn default() -> Self {
        Self(TextAnalyzer::builder(RawTokenizer::default()).filter(Stemmer::new(Language::English)).build())
    }
}

impl Stems {
    /// The stem of a plain word.
    pub fn of(&mut self, word: &str) -> String {
        let mut stem = word.to_owned();
        if !is_abbreviation(word) {
            self.0.token_stream(word).process(&mut |token| stem.clone_from(&token.text));
        }
        stem
    }
}

/// All words and stems of a base while it is read.
#[derive(Default)]
pub struct Lexicon {
    stemmer: Stems,
    by_word: BTreeMap<String, StemId>,
    by_stem: HashMap<String, StemId>,
    stems: Vec<String>,
    entries_with: Vec<u32>,
}

impl Lexicon {
    /// The words of a text without the empty ones; words not met before are learned.
    pub fn learn(&mut self, text: &str) -> Vec<Word> {
        let words = plain_words(text);
        let said = words.into_iter().filter(|w| worth(&w.text) != Worth::Empty);
        #[expect(clippy::cast_possible_truncation, reason = "a wording is far below 4 GB")]
        said.map(|w| Word { stem: self.learn_word(w.text), from: w.from as u32, to: w.to as u32 }).collect()
    }

    fn learn_word(&mut self, word: String) -> StemId {
        if let Some(stem) = self.by_word.get(&word) {
            return *stem;
        }
        let stem = self.stemmer.of(&word);
        let id = *self.by_stem.entry(stem).or_insert_with_key(|stem| {
            self.stems.push(stem.clone());
            self.entries_with.push(0);
            #[expect(clippy::cast_possible_truncation, reason = "there are not four thousand million words")]
            let id = (self.stems.len() - 1) as StemId;
            id
        });
        self.by_word.insert(word, id);
        id
    }

    /// Counts one more entry for each of these stems, which are those of one entry, each once.
    pub fn count_entry(&mut self, stems: impl IntoIterator<Item = StemId>) {
        for stem in stems {
            if let Some(count) = self.entries_with.get_mut(stem as usize) {
                *count += 1;
            }
        }
    }

    /// A stem as text.
    #[must_use]
    pub fn text(&self, stem: StemId) -> &str {
        self.stems.get(stem as usize).map_or("", String::as_str)
    }

    /// In how many entries the stem occurs.
    #[must_use]
    pub fn entries_with(&self, stem: StemId) -> u32 {
        self.entries_with.get(stem as usize).copied().unwrap_or_default()
    }

    /// All words with their stems, sorted.
    #[must_use]
    pub fn known(&self) -> Vec<(&str, StemId)> {
        self.by_word.iter().map(|(w, s)| (w.as_str(), *s)).collect()
    }

    /// The stems in the order of their texts.
    #[must_use]
    pub fn sorted(&self) -> Vec<StemId> {
        #[expect(clippy::cast_possible_truncation, reason = "stems are numbered so")]
        let mut all: Vec<StemId> = (0..self.stems.len() as StemId).collect();
        all.sort_by_key(|s| self.text(*s));
        all
    }

    /// The place of every stem in that order.
    #[must_use]
    pub fn places(&self) -> Vec<StemId> {
        let mut places = vec![0; self.stems.len()];
        for (place, stem) in self.sorted().into_iter().enumerate() {
            #[expect(clippy::cast_possible_truncation, reason = "stems are numbered so")]
            let place = place as StemId;
            places[stem as usize] = place;
        }
        places
    }
}

impl Packed<'_> {
    /// The stem of a word, if it is known.
    #[must_use]
    pub fn stem(&self, word: &str) -> Option<StemId> {
        let of_word = self.known.find(word).map(|i| self.known_stems.at(i));
        #[expect(clippy::cast_possible_truncation, reason = "stems are numbered so")]
        of_word.or_else(|| self.stems.find(&Stems::default().of(word)).map(|i| i as StemId))
    }

    /// A stem as text.
    #[must_use]
    pub fn stem_text(&self, stem: StemId) -> &str {
        self.stems.at(stem as usize)
    }

    /// In how many entries the stem occurs.
    #[must_use]
    pub fn entries_with_stem(&self, stem: StemId) -> u32 {
        self.entries_with.at(stem as usize)
    }

    /// All known words that say something, with their stems.
    pub fn content_words(&self) -> impl Iterator<Item = (&str, StemId)> {
        let all = self.known.iter().enumerate();
        all.filter(|(_, w)| worth(w) == Worth::Content).map(|(i, w)| (w, self.known_stems.at(i)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forms_of_a_word_share_a_stem_and_abbreviations_have_none() {
        let mut lexicon = Lexicon::default();
        let words = lexicon.learn("The valve leaks, leaking valves; 12 mils of MIL, miles");
        assert_eq!((words[0].stem, words[1].stem), (words[3].stem, words[2].stem));
        let text = |i: usize| lexicon.text(words[i].stem).to_owned();
        assert_eq!((text(4), text(5), text(6)), ("12".to_owned(), "mils".to_owned(), "mil".to_owned()));
        assert_ne!(text(6), text(7));
        assert_eq!(lexicon.entries_with(words[0].stem), 0);
        lexicon.count_entry([words[0].stem]);
        assert_eq!(lexicon.entries_with(words[0].stem), 1);
        let places = lexicon.places();
        assert!(lexicon.sorted().iter().enumerate().all(|(i, s)| places[*s as usize] as usize == i));
    }
}

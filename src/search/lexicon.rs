//! All words of a base by their stems, and in how many entries each occurs. Learns while the base is read; a query only
//! looks up.

use super::words::{Worth, plain, raw_words, worth};
use std::collections::HashMap;
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

/// All words and stems of a base, and in how many entries each stem occurs.
pub struct Lexicon {
    stemmer: TextAnalyzer,
    by_word: HashMap<String, (StemId, Worth)>,
    /// Words as they stand in texts, with the stems of what is not empty in them; most words come up again and again.
    met: HashMap<String, Vec<StemId>>,
    by_stem: HashMap<String, StemId>,
    stems: Vec<String>,
    entries_with: Vec<u32>,
}

impl Default for Lexicon {
    fn default() -> Self {
        let stemmer = TextAnalyzer::builder(RawTokenizer::default()).filter(Stemmer::new(Language::English)).build();
        Self {
            stemmer,
            by_word: HashMap::new(),
            met: HashMap::new(),
            by_stem: HashMap::new(),
            stems: Vec::new(),
            entries_with: Vec::new(),
        }
    }
}

impl std::fmt::Debug for Lexicon {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Lexicon").field("words", &self.by_word.len()).field("stems", &self.stems.len()).finish()
    }
}

impl Lexicon {
    /// The words of a text without the empty ones; words not met before are learned.
    pub fn learn(&mut self, text: &str) -> Vec<Word> {
        let raw_words = raw_words(text);
        let mut out = Vec::with_capacity(raw_words.len());
        for (from, to) in raw_words {
            let raw = &text[from..to];
            if !self.met.contains_key(raw) {
                let stems = plain(raw).into_iter().filter_map(|word| self.learn_word(word)).collect();
                self.met.insert(raw.to_owned(), stems);
            }
            #[expect(clippy::cast_possible_truncation, reason = "a wording is far below 4 GB")]
            let (from, to) = (from as u32, to as u32);
            out.extend(self.met.get(raw).into_iter().flatten().map(|stem| Word { stem: *stem, from, to }));
        }
        out
    }

    /// The stem of a plain word, learned if need be; none for an empty word.
    fn learn_word(&mut self, word: String) -> Option<StemId> {
        let worth = worth(&word);
        let stem = match self.by_word.get(&word) {
            Some((stem, _)) => *stem,
            None => {
                let stem = self.learn_stem(&word);
                self.by_word.insert(word, (stem, worth));
                stem
            }
        };
        (worth != Worth::Empty).then_some(stem)
    }

    fn learn_stem(&mut self, word: &str) -> StemId {
        let mut stem = word.to_owned();
        self.stemmer.token_stream(word).process(&mut |token| stem.clone_from(&token.text));
        if let Some(id) = self.by_stem.get(&stem) {
            return *id;
        }
        #[expect(clippy::cast_possible_truncation, reason = "there are not four thousand million words")]
        let id = self.stems.len() as StemId;
        self.by_stem.insert(stem.clone(), id);
        self.stems.push(stem);
        self.entries_with.push(0);
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

    /// The stem of a word, if it is known.
    #[must_use]
    pub fn stem(&self, word: &str) -> Option<StemId> {
        if let Some((id, _)) = self.by_word.get(word) {
            return Some(*id);
        }
        let mut stem = word.to_owned();
        self.stemmer.clone().token_stream(word).process(&mut |token| stem.clone_from(&token.text));
        self.by_stem.get(&stem).copied()
    }

    /// A stem as text.
    #[must_use]
    pub fn text(&self, stem: StemId) -> &str {
        self.stems.get(stem as usize).map_or("", String::as_str)
    }

    /// In how many entries the stem occurs.
    #[must_use]
    pub fn entries_with(&self, stem: StemId) -> u32 {
        self.entries_with.get(stem as usize).copied().unwrap_or(0)
    }

    /// All words that say something, in no order.
    pub fn content_words(&self) -> impl Iterator<Item = (&str, StemId)> {
        self.by_word.iter().filter(|(_, (_, w))| *w == Worth::Content).map(|(word, (stem, _))| (word.as_str(), *stem))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forms_of_a_word_share_a_stem_and_count_once_an_entry() {
        let mut lexicon = Lexicon::default();
        let words = lexicon.learn("the valve leaks, valves leak");
        assert_eq!(words.len(), 4);
        assert_eq!((words[0].stem, words[1].stem), (words[2].stem, words[3].stem));
        assert_eq!(lexicon.stem("leaking"), Some(words[1].stem));
        assert_eq!(lexicon.stem("never-heard"), None);
        assert_eq!(lexicon.entries_with(words[0].stem), 0);
        lexicon.count_entry([words[0].stem]);
        assert_eq!(lexicon.entries_with(words[0].stem), 1);
    }
}

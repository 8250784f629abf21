//! From text to words: where they stand, what they are reduced to, and how often they occur. Knows English, not cars.

use std::collections::HashMap;
use tantivy::tokenizer::{Language, RawTokenizer, Stemmer, TextAnalyzer};

/// Words longer than this are no words; they would only cost time.
const LONGEST_WORD: usize = 40;

/// Words that say nothing about a car.
const EMPTY: &[&str] = &[
    "a", "about", "actually", "also", "am", "an", "and", "any", "anyone", "are", "as", "be", "because", "been",
    "being", "but", "could", "did", "do", "does", "done", "each", "even", "ever", "every", "for", "from", "get",
    "gets", "getting", "give", "go", "goes", "going", "got", "had", "has", "have", "having", "he", "hello", "help",
    "her", "here", "hers", "hey", "hi", "him", "his", "how", "i", "id", "if", "ill", "im", "is", "it", "its", "ive",
    "just", "kind", "know", "let", "lets", "like", "likes", "lot", "make", "makes", "may", "me", "might", "mine",
    "my", "of", "or", "our", "ours", "own", "please", "quite", "really", "right", "s", "said", "say", "says", "seem",
    "seems", "she", "should", "so", "some", "somebody", "somehow", "someone", "sometimes", "sort", "t", "tell",
    "than", "that", "thats", "the", "their", "them", "then", "there", "these", "they", "theyre", "thing", "think",
    "this", "those", "to", "us", "very", "was", "we", "well", "were", "what", "whatever", "which", "who", "why",
    "will", "would", "yet", "you", "your", "youre", "yours",
];

/// Words that say a little.
const WEAK: &[&str] = &[
    "above", "after", "again", "all", "always", "anything", "around", "at", "away", "back", "before", "below", "bit",
    "by", "came", "can", "car", "come", "comes", "coming", "constantly", "day", "days", "down", "during",
    "everything", "few", "first", "found", "gone", "in", "into", "keep", "keeps", "lately", "long", "many", "more",
    "most", "much", "near", "never", "new", "next", "no", "not", "now", "off", "often", "on", "once", "only", "onto",
    "other", "out", "over", "properly", "put", "round", "same", "seconds", "see", "seen", "since", "something",
    "still", "straight", "take", "takes", "through", "time", "times", "too", "took", "two", "under", "until", "up",
    "vehicle", "want", "wants", "when", "whenever", "where", "while", "with", "without",
];

/// How much a word says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Worth {
    /// It says something about a car.
    Content,
    /// It says a little: where, when, how often.
    Weak,
    /// It says nothing.
    Empty,
}

/// How much the word says.
#[must_use]
pub fn worth(word: &str) -> Worth {
    if EMPTY.binary_search(&word).is_ok() {
        Worth::Empty
    } else if WEAK.binary_search(&word).is_ok() || word.chars().count() == 1 {
        Worth::Weak
    } else {
        Worth::Content
    }
}

/// One word as it stands in a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plain {
    /// Lower case, one English, no apostrophes.
    pub text: String,
    /// First byte in the text.
    pub from: usize,
    /// Byte after the last.
    pub to: usize,
}

/// The words of a text. Anything that is not a letter or a digit parts them; a point between digits does not.
#[must_use]
pub fn plain_words(text: &str) -> Vec<Plain> {
    let mut out = Vec::new();
    let mut chars = text.char_indices().peekable();
    let mut start = None;
    let mut last = ' ';
    while let Some((at, c)) = chars.next() {
        let next = chars.peek().map_or(' ', |(_, n)| *n);
        let joins = matches!(c, '\'' | '’' | '`') && last.is_alphabetic() && next.is_alphabetic()
            || c == '.' && last.is_ascii_digit() && next.is_ascii_digit();
        match start {
            None if c.is_alphanumeric() => start = Some(at),
            Some(from) if !c.is_alphanumeric() && !joins => {
                push_word(&text[from..at], from, at, &mut out);
                start = None;
            }
            _ => {}
        }
        last = c;
    }
    if let Some(from) = start {
        push_word(&text[from..], from, text.len(), &mut out);
    }
    out
}

fn push_word(raw: &str, from: usize, to: usize, out: &mut Vec<Plain>) {
    if raw.len() > LONGEST_WORD {
        return;
    }
    let lower = raw.to_lowercase().replace(['’', '`'], "'");
    let mut push = |text: &str| out.push(Plain { text: text.to_owned(), from, to });
    // "won't close" and "will not close" are the same words.
    if let Some((_, verb)) = NEGATED.iter().find(|(short, _)| *short == lower.replace('\'', "")) {
        push(verb);
        push("not");
        return;
    }
    let word = lower.split('\'').next().unwrap_or_default();
    push(&one_english(word));
}

/// Short forms with "not", and the verb in them.
const NEGATED: &[(&str, &str)] = &[
    ("arent", "are"), ("cannot", "can"), ("cant", "can"), ("couldnt", "could"), ("didnt", "did"), ("doesnt", "does"),
    ("dont", "do"), ("hasnt", "has"), ("havent", "have"), ("isnt", "is"), ("shouldnt", "should"), ("wasnt", "was"),
    ("werent", "were"), ("wont", "will"), ("wouldnt", "would"),
];

/// Spellings that differ between Englishes, brought to one.
fn one_english(word: &str) -> String {
    const PAIRS: [(&str, &str); 7] = [
        ("vapour", "vapor"), ("odour", "odor"), ("colour", "color"), ("fuell", "fuel"), ("litre", "liter"), ("metre", "meter"), ("tyre", "tire"),
    ];
    let mut word = word.to_owned();
    for (there, here) in PAIRS {
        if word.contains(there) {
            word = word.replace(there, here);
        }
    }
    word
}

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
    by_stem: HashMap<String, StemId>,
    stems: Vec<String>,
    entries_with: Vec<u32>,
}

impl Default for Lexicon {
    fn default() -> Self {
        let stemmer = TextAnalyzer::builder(RawTokenizer::default()).filter(Stemmer::new(Language::English)).build();
        Self { stemmer, by_word: HashMap::new(), by_stem: HashMap::new(), stems: Vec::new(), entries_with: Vec::new() }
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
        let mut out = Vec::new();
        for plain in plain_words(text) {
            let known = match self.by_word.get(&plain.text) {
                Some(known) => *known,
                None => {
                    let known = (self.learn_stem(&plain.text), worth(&plain.text));
                    self.by_word.insert(plain.text, known);
                    known
                }
            };
            #[expect(clippy::cast_possible_truncation, reason = "a wording is far below 4 GB")]
            if known.1 != Worth::Empty {
                out.push(Word { stem: known.0, from: plain.from as u32, to: plain.to as u32 });
            }
        }
        out
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

    /// Counts one more entry for each of these stems, each at most once.
    pub fn count_entry(&mut self, stems: &mut Vec<StemId>) {
        stems.sort_unstable();
        stems.dedup();
        for stem in stems {
            self.entries_with[*stem as usize] += 1;
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

    fn texts(text: &str) -> Vec<String> {
        plain_words(text).into_iter().map(|w| w.text).collect()
    }

    #[test]
    fn the_lists_are_sorted_and_apart() {
        assert!(EMPTY.is_sorted() && WEAK.is_sorted());
        assert!(EMPTY.iter().all(|w| WEAK.binary_search(w).is_err()));
    }

    #[test]
    fn short_forms_numbers_and_two_englishes_come_out_alike() {
        assert_eq!(texts("It won’t close"), ["it", "will", "not", "close"]);
        assert_eq!(texts("cannot, can't; cant"), ["can", "not", "can", "not", "can", "not"]);
        assert_eq!(texts("a 0.020 in. hole"), ["a", "0.020", "in", "hole"]);
        assert_eq!(texts("Refuelling vapours"), texts("refueling vapors"));
        assert_eq!(texts("the car's cap"), ["the", "car", "cap"]);
        assert!(texts("🚗 ((\"'' -- *").is_empty());
        assert!(texts(&"x".repeat(10_000)).is_empty());
    }

    #[test]
    fn words_know_where_they_stand() {
        let text = "Ärger: cap’s off";
        for w in plain_words(text) {
            assert!(text.get(w.from..w.to).is_some(), "{w:?}");
        }
        let mut lexicon = Lexicon::default();
        let words = lexicon.learn("the valve leaks, valves leak");
        assert_eq!(words.len(), 4);
        assert_eq!(words[0].stem, words[2].stem);
        assert_eq!(lexicon.stem("leaking"), Some(words[1].stem));
    }
}

//! From text to words: where they stand, in one English, and which of them say something. Knows English, not cars.

/// Words longer than this are no words; they would only cost time.
const LONGEST_WORD: usize = 40;

/// Words that say nothing about a car.
const EMPTY: &[&str] = &[
    "a",
    "about",
    "actually",
    "also",
    "am",
    "an",
    "and",
    "any",
    "anyone",
    "are",
    "as",
    "be",
    "because",
    "been",
    "being",
    "but",
    "could",
    "did",
    "do",
    "does",
    "done",
    "each",
    "even",
    "ever",
    "every",
    "for",
    "from",
    "get",
    "gets",
    "getting",
    "give",
    "go",
    "goes",
    "going",
    "got",
    "had",
    "has",
    "have",
    "having",
    "he",
    "hello",
    "help",
    "her",
    "here",
    "hers",
    "hey",
    "hi",
    "him",
    "his",
    "how",
    "i",
    "id",
    "if",
    "ill",
    "im",
    "is",
    "it",
    "its",
    "ive",
    "just",
    "kind",
    "know",
    "let",
    "lets",
    "like",
    "likes",
    "lot",
    "make",
    "makes",
    "may",
    "me",
    "might",
    "mine",
    "my",
    "of",
    "or",
    "our",
    "ours",
    "own",
    "please",
    "quite",
    "really",
    "right",
    "s",
    "said",
    "say",
    "says",
    "seem",
    "seems",
    "she",
    "should",
    "so",
    "some",
    "somebody",
    "somehow",
    "someone",
    "sometimes",
    "sort",
    "t",
    "tell",
    "than",
    "that",
    "thats",
    "the",
    "their",
    "them",
    "then",
    "there",
    "these",
    "they",
    "theyre",
    "thing",
    "think",
    "this",
    "those",
    "to",
    "us",
    "very",
    "was",
    "we",
    "well",
    "were",
    "what",
    "whatever",
    "which",
    "who",
    "why",
    "will",
    "would",
    "yet",
    "you",
    "your",
    "youre",
    "yours",
];

/// Words that say a little.
const WEAK: &[&str] = &[
    "above",
    "after",
    "again",
    "all",
    "always",
    "anything",
    "around",
    "at",
    "away",
    "back",
    "before",
    "below",
    "bit",
    "by",
    "came",
    "can",
    "car",
    "come",
    "comes",
    "coming",
    "constantly",
    "day",
    "days",
    "down",
    "during",
    "everything",
    "few",
    "first",
    "found",
    "gone",
    "in",
    "into",
    "keep",
    "keeps",
    "lately",
    "long",
    "many",
    "more",
    "most",
    "much",
    "near",
    "never",
    "new",
    "next",
    "no",
    "not",
    "now",
    "off",
    "often",
    "on",
    "once",
    "only",
    "onto",
    "other",
    "out",
    "over",
    "properly",
    "put",
    "round",
    "same",
    "seconds",
    "see",
    "seen",
    "since",
    "something",
    "still",
    "straight",
    "take",
    "takes",
    "through",
    "time",
    "times",
    "too",
    "took",
    "two",
    "under",
    "until",
    "up",
    "vehicle",
    "want",
    "wants",
    "when",
    "whenever",
    "where",
    "while",
    "with",
    "without",
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
    for (from, to) in raw_words(text) {
        let raw = &text[from..to];
        out.extend(plain(raw).into_iter().map(|text| Plain { text, from, to }));
    }
    out
}

/// Where the words of a text stand.
pub(super) fn raw_words(text: &str) -> Vec<(usize, usize)> {
    let mut out = Vec::new();
    let mut chars = text.char_indices().peekable();
    let mut start = None;
    let mut last = ' ';
    while let Some((at, c)) = chars.next() {
        let part_of_word = c.is_alphanumeric() || {
            let next = chars.peek().map_or(' ', |(_, n)| *n);
            matches!(c, '\'' | '’' | '`') && last.is_alphabetic() && next.is_alphabetic()
                || c == '.' && last.is_ascii_digit() && next.is_ascii_digit()
        };
        match (start, part_of_word) {
            (None, true) => start = Some(at),
            (Some(from), false) => {
                out.push((from, at));
                start = None;
            }
            _ => {}
        }
        last = c;
    }
    out.extend(start.map(|from| (from, text.len())));
    out
}

/// A word brought to its plain form; "won't" gives two, something endless gives none.
pub(super) fn plain(raw: &str) -> Vec<String> {
    if raw.len() > LONGEST_WORD {
        return Vec::new();
    }
    let lower = raw.to_lowercase().replace(['’', '`'], "'");
    // "won't close" and "will not close" are the same words.
    if let Some((_, verb)) = NEGATED.iter().find(|(short, _)| *short == lower.replace('\'', "")) {
        return vec![(*verb).to_owned(), "not".to_owned()];
    }
    let word = lower.split('\'').next().unwrap_or_default();
    vec![one_english(word)]
}

/// Short forms with "not", and the verb in them.
const NEGATED: &[(&str, &str)] = &[
    ("arent", "are"),
    ("cannot", "can"),
    ("cant", "can"),
    ("couldnt", "could"),
    ("didnt", "did"),
    ("doesnt", "does"),
    ("dont", "do"),
    ("hasnt", "has"),
    ("havent", "have"),
    ("isnt", "is"),
    ("shouldnt", "should"),
    ("wasnt", "was"),
    ("werent", "were"),
    ("wont", "will"),
    ("wouldnt", "would"),
];

/// Spellings that differ between Englishes, brought to one.
fn one_english(word: &str) -> String {
    const PAIRS: [(&str, &str); 7] = [
        ("vapour", "vapor"),
        ("odour", "odor"),
        ("colour", "color"),
        ("fuell", "fuel"),
        ("litre", "liter"),
        ("metre", "meter"),
        ("tyre", "tire"),
    ];
    let mut word = word.to_owned();
    for (there, here) in PAIRS {
        if word.contains(there) {
            word = word.replace(there, here);
        }
    }
    word
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
    }
}

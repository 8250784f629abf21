//! Which words are English at all. A real word is never taken for a mistyped one, and a query without English is told so.

use super::lexicon::Stems;

/// Common English words, sorted, one a line. Made from SCOWL (levels 10 and 20; of level 35 the words of up to six
/// letters, because short words are the ones that lie one slip from another), Copyright 2000-2011 by Kevin Atkinson: see
/// `english.licence`.
const WORDS: &str = include_str!("english.txt");

/// Words of other languages that stand in nearly every sentence of them and in no English one.
const FOREIGN: &[&str] = &[
    "aber", "alla", "auf", "aus", "auto", "avec", "bei", "beim", "che", "com", "como", "con", "cuando", "dal", "dans",
    "das", "de", "del", "della", "dem", "den", "der", "des", "det", "dopo", "du", "een", "ein", "eine", "einem",
    "einen", "el", "en", "est", "et", "fra", "gli", "het", "hij", "hvis", "ich", "il", "ist", "je", "jest", "kein",
    "keine", "la", "las", "le", "les", "los", "mais", "mein", "meine", "mi", "mit", "muy", "nach", "nao", "nel",
    "nicht", "nie", "niet", "ohne", "oder", "ou", "para", "pas", "per", "pero", "por", "por", "qual", "quand",
    "quando", "que", "qui", "se", "sehr", "si", "sie", "sin", "sur", "sur", "tra", "und", "une", "van", "voor", "vom",
    "von", "wenn", "wie", "wird", "zum", "zur",
];

/// Whether this plain word is a common English one, by itself or by its stem.
#[must_use]
pub fn is_english(word: &str) -> bool {
    is_listed(word) || {
        let stem = Stems::default().of(word);
        stem.len() >= 3
            && (is_listed(&stem) || is_listed(&format!("{stem}e")))
            && word.len() - stem.len().min(word.len()) <= 4
    }
}

/// Whether the word stands in nearly every sentence of another language.
#[must_use]
pub fn is_foreign(word: &str) -> bool {
    FOREIGN.contains(&word)
}

fn is_listed(word: &str) -> bool {
    let bytes = WORDS.as_bytes();
    let (mut low, mut high) = (0, bytes.len());
    while low < high {
        let middle = usize::midpoint(low, high);
        let from = bytes[..middle].iter().rposition(|b| *b == b'\n').map_or(0, |i| i + 1);
        let to = bytes[middle..].iter().position(|b| *b == b'\n').map_or(bytes.len(), |i| middle + i);
        match bytes[from..to].cmp(word.as_bytes()) {
            std::cmp::Ordering::Equal => return true,
            std::cmp::Ordering::Less => low = to + 1,
            std::cmp::Ordering::Greater => high = from,
        }
    }
    false
}

/// The listed words that begin with this letter, for finding what a slip may have been meant to be.
pub fn beginning_with(letter: char) -> impl Iterator<Item = &'static str> {
    WORDS.lines().skip_while(move |w| !w.starts_with(letter)).take_while(move |w| w.starts_with(letter))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn english_is_known_with_its_endings_and_other_words_are_not() {
        assert!(WORDS.lines().is_sorted() && WORDS.lines().count() > 15_000);
        for word in ["dad", "ton", "wife", "chance", "tin", "zoo", "wives", "chances", "married", "shopping"] {
            assert!(is_english(word), "{word}");
        }
        for word in ["solanoid", "cannister", "gasolina", "tankdeckel", "qqxz", "vavle", "presure", "", "zzzz"] {
            assert!(!is_english(word), "{word}");
        }
        assert!(beginning_with('z').all(|w| w.starts_with('z')) && beginning_with('z').count() > 5);
    }
}

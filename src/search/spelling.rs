//! Mistyped words: which known words were probably meant. Only looks at words that nobody knows, so that a word which
//! occurs in the base is never taken for another.

use super::lexicon::{Lexicon, StemId};
use crate::knowledge::near::distance;

/// Most words that a mistyped one may stand for.
const MOST: usize = 4;

/// The known words that this unknown one was probably meant to be: all at the smallest distance, by name.
///
/// One slip in words of up to seven letters, two in longer ones; the first letter is right, or swapped with the
/// second. In words of three letters only a missing one is seen, shorter ones are too alike to guess.
#[must_use]
pub fn meant<'l>(word: &str, lexicon: &'l Lexicon) -> Vec<(&'l str, StemId)> {
    let letters = word.chars().count();
    let allowed = match letters {
        0..=2 => return Vec::new(),
        3..=7 => 1,
        _ => 2,
    };
    let mut start = word.chars();
    let (first, second) = (start.next(), start.next());
    let mut best = allowed;
    let mut found: Vec<(&str, StemId)> = Vec::new();
    for (known, stem) in lexicon.content_words() {
        let other = known.chars().next();
        if (other != first && other != second)
            || known.len().abs_diff(word.len()) > 2 * allowed
            || known.chars().any(char::is_numeric)
        {
            continue;
        }
        // Three letters are too few to guess which of them is wrong, but enough to see that one is missing.
        if letters == 3 && known.chars().count() <= letters {
            continue;
        }
        let slips = distance(word, known);
        if slips < best {
            best = slips;
            found.clear();
        }
        if slips <= best {
            found.push((known, stem));
        }
    }
    found.sort_unstable();
    found.truncate(MOST);
    found
}

/// Known words that look like this one at all, most alike first: what to suggest when nothing was found.
///
/// Alike by the share of common letter pairs (Dice 1945), which sees past wrong endings and halves of words.
#[must_use]
pub fn alike(word: &str, lexicon: &Lexicon, most: usize) -> Vec<String> {
    /// Below this two words have nothing to do with each other.
    const LEAST: f64 = 0.3;
    let pairs = pairs_of(word);
    if pairs.is_empty() {
        return Vec::new();
    }
    let mut found: Vec<(f64, &str)> = lexicon
        .content_words()
        .filter(|(_, stem)| lexicon.entries_with(*stem) > 0)
        .filter_map(|(known, _)| {
            let theirs = pairs_of(known);
            let common = pairs.iter().filter(|p| theirs.contains(p)).count();
            #[expect(clippy::cast_precision_loss, reason = "letters of a word")]
            let share = 2.0 * common as f64 / (pairs.len() + theirs.len()) as f64;
            (share >= LEAST).then_some((share, known))
        })
        .collect();
    found.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(b.1)));
    found.into_iter().take(most).map(|(_, w)| w.to_owned()).collect()
}

fn pairs_of(word: &str) -> Vec<(char, char)> {
    let letters: Vec<char> = word.chars().collect();
    letters.windows(2).map(|w| (w[0], w[1])).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lexicon() -> Lexicon {
        let mut lexicon = Lexicon::default();
        let words = lexicon.learn("purge valve canister hose nose cap solenoid");
        lexicon.count_entry(words.iter().map(|w| w.stem));
        lexicon
    }

    fn meant_words(word: &str) -> Vec<String> {
        meant(word, &lexicon()).into_iter().map(|(w, _)| w.to_owned()).collect()
    }

    #[test]
    fn slips_are_forgiven_by_length_and_ties_all_count() {
        assert_eq!(meant_words("pugre"), ["purge"]);
        assert_eq!(meant_words("upurge"), ["purge"]);
        assert_eq!(meant_words("cannisterr"), ["canister"]);
        assert!(meant_words("cep").is_empty());
        assert_eq!(meant_words("hos"), ["hose"]);
        assert!(meant_words("hexe").is_empty());
        assert_eq!(meant_words("hose"), ["hose"]);
    }

    #[test]
    fn what_looks_alike_is_suggested_and_nonsense_is_not() {
        assert_eq!(alike("purger", &lexicon(), 1), ["purge"]);
        assert!(alike("qqqq", &lexicon(), 3).is_empty());
    }
}

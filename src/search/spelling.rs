//! Mistyped words: which known words were probably meant. Only looks at words that are neither the base's nor English, so
//! that a word which is one is never taken for another.

use super::english;
use super::lexicon::StemId;
use super::packed::Packed;
use knowledge::near::distance;

/// Most words that a mistyped one may stand for.
const MOST: usize = 3;

/// The known words that this unknown one was probably meant to be: all at the smallest distance, commonest first.
///
/// One slip in words of up to five letters, two in longer ones; the first letter is right, or swapped with the second. In
/// words of three letters only a missing one is seen, shorter ones are too alike to guess. Where an English word that is not
/// the base's lies nearer, nothing is meant.
#[must_use]
pub fn meant<'p>(word: &str, packed: &'p Packed) -> Vec<(&'p str, StemId)> {
    let letters = word.chars().count();
    let allowed = match letters {
        0..=2 => return Vec::new(),
        3..=5 => 1,
        _ => 2,
    };
    if word.bytes().any(|b| b.is_ascii_digit()) || english::is_english(word) {
        return Vec::new();
    }
    let mut start = word.chars();
    let (first, second) = (start.next(), start.next());
    let mut best = allowed;
    let mut found: Vec<(&str, StemId)> = Vec::new();
    for (known, stem) in packed.content_words() {
        let other = known.chars().next();
        if (other != first && other != second)
            || known.len().abs_diff(word.len()) > allowed
            || known.len() < 3
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
    let nearer = |w: &str| w.len().abs_diff(word.len()) < best && distance(word, w) < best;
    if best > 1 && first.is_some_and(|first| english::beginning_with(first).any(nearer)) {
        return Vec::new();
    }
    found.sort_by_key(|(known, stem)| (std::cmp::Reverse(packed.entries_with_stem(*stem)), *known));
    found.truncate(MOST);
    found
}

/// Known words that look like this one at all, most alike first: what to suggest when nothing was found.
///
/// Alike by the share of common letter pairs (Dice 1945), which sees past wrong endings and halves of words.
#[must_use]
pub fn alike(word: &str, packed: &Packed, most: usize) -> Vec<String> {
    /// Below this two words have nothing to do with each other.
    const LEAST: f64 = 0.3;
    let pairs = pairs_of(word);
    if pairs.is_empty() {
        return Vec::new();
    }
    let mut found: Vec<(f64, &str)> = packed
        .content_words()
        .filter(|(_, stem)| packed.entries_with_stem(*stem) > 0)
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
    use super::super::packing::pack;
    use super::*;
    use knowledge::base::Base;

    fn with_words(use_it: impl Fn(&Packed)) {
        let words = "purge valve canister hose nose cap solenoid handle bad time".split(' ').map(str::to_owned);
        let base = Base { synonyms: vec![words.collect()], ..Base::default() };
        use_it(&Packed::read(&pack(&base).unwrap()).unwrap());
    }

    #[test]
    fn slips_are_forgiven_by_length_and_real_words_are_left_alone() {
        with_words(|packed| {
            let meant_words =
                |word: &str| meant(word, packed).into_iter().map(|(w, _)| w.to_owned()).collect::<Vec<_>>();
            assert_eq!(meant_words("pugre"), ["purge"]);
            assert_eq!(meant_words("upurge"), ["purge"]);
            assert_eq!(meant_words("cannisterr"), ["canister"]);
            assert_eq!(meant_words("solanoid"), ["solenoid"]);
            for word in ["cep", "dad", "tin", "candle", "wife", "verge", "ab"] {
                assert!(meant_words(word).is_empty(), "{word}: {:?}", meant_words(word));
            }
        });
    }
}

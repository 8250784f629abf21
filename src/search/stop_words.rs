//! Words that say little or nothing about a car. Knows English, not cars.

use super::words::Worth;
use std::collections::HashMap;
use std::sync::LazyLock;

/// `[empty]` say nothing, `[weak]` a little (where, when, how often), `[story]` are told round a complaint (people, times,
/// places, how it was felt).
static LISTS: LazyLock<HashMap<&'static str, Worth>> = LazyLock::new(|| {
    let mut out = HashMap::new();
    let mut worth = Worth::Empty;
    for word in include_str!("little_words.txt").split_whitespace() {
        match word {
            "[empty]" => worth = Worth::Empty,
            "[weak]" => worth = Worth::Weak,
            "[story]" => worth = Worth::Story,
            _ => {
                out.insert(word, worth);
            }
        }
    }
    out
});

/// What a listed word is worth.
pub(super) fn listed(word: &str) -> Option<Worth> {
    LISTS.get(word).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_word_stands_in_two_lists() {
        let all = include_str!("little_words.txt").split_whitespace().filter(|w| !w.starts_with('['));
        assert_eq!(all.count(), LISTS.len());
        let of = |worth| LISTS.values().filter(|w| **w == worth).count();
        assert!(of(Worth::Empty) > 200 && of(Worth::Weak) > 80 && of(Worth::Story) > 200);
    }
}

//! How else a text may say what it says, for other texts than the base's: the shop's own notes. Looks nothing up.

use super::words::{Worth, plain_words, worth};

/// For every word that says something, the ways to say it: itself, and what stands in one group with it. Phrases of a group
/// that the text holds are found as well.
#[must_use]
pub fn ways(text: &str, groups: &[Vec<String>]) -> Vec<Vec<String>> {
    /// Longest row of words looked up as a phrase.
    const LONGEST: usize = 4;
    let words: Vec<String> = plain_words(text).into_iter().map(|w| w.text).collect();
    let mut out = Vec::new();
    let mut at = 0;
    while at < words.len() {
        let row = |count: usize| words[at..at + count].join(" ");
        let longest = LONGEST.min(words.len() - at);
        let phrase = (2..=longest).rev().map(row).find(|p| groups.iter().any(|g| g.contains(p)));
        let (said, count) = match phrase {
            Some(phrase) => (phrase.clone(), phrase.split(' ').count()),
            None => (words[at].clone(), 1),
        };
        at += count;
        if count > 1 || worth(&said) == Worth::Content {
            let mut all = vec![said.clone()];
            all.extend(groups.iter().filter(|g| g.contains(&said)).flatten().filter(|w| **w != said).cloned());
            all.dedup();
            out.push(all);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_and_phrases_bring_their_group_along() {
        let groups =
            vec![vec!["filler cap".to_owned(), "gas cap".to_owned()], vec!["loose".to_owned(), "undone".to_owned()]];
        let found = ways("the gas cap was undone twice", &groups);
        assert_eq!(found, [vec!["gas cap", "filler cap"], vec!["undone", "loose"]]);
        assert!(ways("the of and", &groups).is_empty());
    }
}

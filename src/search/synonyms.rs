//! Groups of words that mean the same, made ready to be looked up by their stems. A phrase may stand in several groups.

use super::lexicon::{Lexicon, StemId};
use std::collections::HashMap;

/// The groups of a base.
#[derive(Debug, Default)]
pub struct Synonyms {
    groups: Vec<Vec<Vec<StemId>>>,
    /// First stem of a phrase to the groups and places where a phrase starts so.
    starts: HashMap<StemId, Vec<(u32, u32)>>,
    /// Words that stand alone in one group, each with its mates: inside a phrase one may stand for the other.
    mates: HashMap<StemId, Vec<StemId>>,
}

/// A phrase of some group found in a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Found {
    /// Number of the group.
    pub group: usize,
    /// Number of words it covers.
    pub words: usize,
    /// Whether its words stand in the text as they are, rather than words that mean the same.
    pub exact: bool,
}

impl Synonyms {
    /// Makes the groups ready; their words are learned, so that typing one of them wrong is noticed too.
    #[must_use]
    pub fn new(groups: &[Vec<String>], lexicon: &mut Lexicon) -> Self {
        let mut out = Self::default();
        for (g, group) in groups.iter().enumerate() {
            let mut phrases: Vec<Vec<StemId>> = Vec::new();
            for phrase in group {
                let stems: Vec<StemId> = lexicon.learn(phrase).iter().map(|w| w.stem).collect();
                if stems.is_empty() || phrases.contains(&stems) {
                    continue;
                }
                #[expect(clippy::cast_possible_truncation, reason = "groups are counted in hundreds")]
                out.starts.entry(stems[0]).or_default().push((g as u32, phrases.len() as u32));
                phrases.push(stems);
            }
            let alone: Vec<StemId> = phrases.iter().filter(|p| p.len() == 1).map(|p| p[0]).collect();
            for word in &alone {
                out.mates.entry(*word).or_default().extend(alone.iter().filter(|w| *w != word));
            }
            out.groups.push(phrases);
        }
        out
    }

    fn mates(&self, word: StemId) -> &[StemId] {
        self.mates.get(&word).map_or(&[], Vec::as_slice)
    }

    /// The phrases of a group.
    #[must_use]
    pub fn group(&self, group: usize) -> &[Vec<StemId>] {
        self.groups.get(group).map_or(&[], Vec::as_slice)
    }

    /// All phrases of any group with which this row of stems begins; `None` stands for a word nobody knows. Inside a
    /// phrase of several words a word may stand for its mate: "full of petrol" is "full of fuel".
    #[must_use]
    pub fn at_start_of(&self, stems: &[Option<StemId>]) -> Vec<Found> {
        let Some(Some(first)) = stems.first() else { return Vec::new() };
        let mut out: Vec<Found> = Vec::new();
        for start in std::iter::once(first).chain(self.mates(*first)) {
            for (g, p) in self.starts.get(start).map_or(&[][..], Vec::as_slice) {
                let phrase = &self.groups[*g as usize][*p as usize];
                let exact = phrase.len() <= stems.len() && phrase.iter().zip(stems).all(|(a, b)| Some(*a) == *b);
                let close = phrase.len() > 1
                    && phrase.len() <= stems.len()
                    && phrase.iter().zip(stems).all(|(a, b)| self.same(*a, *b));
                let found = Found { group: *g as usize, words: phrase.len(), exact };
                if (exact || close)
                    && !out.iter().any(|f| f.group == found.group && f.words == found.words && f.exact >= exact)
                {
                    out.push(found);
                }
            }
        }
        out
    }

    fn same(&self, phrase: StemId, text: Option<StemId>) -> bool {
        text.is_some_and(|text| text == phrase || self.mates(text).contains(&phrase))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_in_two_groups_is_found_in_both_and_phrases_by_all_their_words() {
        let mut lexicon = Lexicon::default();
        let groups = [vec!["petrol", "gas", "fuel"], vec!["filler cap", "gas cap"], vec!["gas", "vapor"]];
        let groups: Vec<Vec<String>> = groups.iter().map(|g| g.iter().map(|w| (*w).to_owned()).collect()).collect();
        let synonyms = Synonyms::new(&groups, &mut lexicon);
        let stems: Vec<Option<StemId>> = ["gas", "cap", "zzz"].iter().map(|w| lexicon.stem(w)).collect();
        let found: Vec<(usize, usize)> = synonyms.at_start_of(&stems).iter().map(|f| (f.group, f.words)).collect();
        assert_eq!(found, [(0, 1), (1, 2), (2, 1)]);
        assert!(synonyms.at_start_of(&stems[2..]).is_empty());
    }
}

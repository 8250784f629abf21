//! Groups of words that mean the same, made ready to be looked up by their stems. A phrase may stand in several groups.

use super::words::{Lexicon, StemId};
use std::collections::HashMap;

/// The groups of a base.
#[derive(Debug, Default)]
pub struct Synonyms {
    groups: Vec<Vec<Vec<StemId>>>,
    /// First stem of a phrase to the groups and places where a phrase starts so.
    starts: HashMap<StemId, Vec<(u32, u32)>>,
}

/// A phrase of some group found in a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Found {
    /// Number of the group.
    pub group: usize,
    /// Number of words it covers.
    pub words: usize,
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
            out.groups.push(phrases);
        }
        out
    }

    /// The phrases of a group.
    #[must_use]
    pub fn group(&self, group: usize) -> &[Vec<StemId>] {
        self.groups.get(group).map_or(&[], Vec::as_slice)
    }

    /// All phrases of any group with which this row of stems begins; `None` stands for a word nobody knows.
    #[must_use]
    pub fn at_start_of(&self, stems: &[Option<StemId>]) -> Vec<Found> {
        let Some(Some(first)) = stems.first() else { return Vec::new() };
        let starts = self.starts.get(first).map_or(&[][..], Vec::as_slice);
        starts
            .iter()
            .filter_map(|(g, p)| {
                let phrase = &self.groups[*g as usize][*p as usize];
                let fits = phrase.len() <= stems.len() && phrase.iter().zip(stems).all(|(a, b)| Some(*a) == *b);
                fits.then_some(Found { group: *g as usize, words: phrase.len() })
            })
            .collect()
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

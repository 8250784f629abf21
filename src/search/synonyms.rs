//! Groups of words that mean the same, looked up by their stems. A phrase may stand in several groups.

use super::lexicon::StemId;
use super::packed::Packed;

/// A phrase of some group found in a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Found {
    /// Number of the group.
    pub group: usize,
    /// Number of words of the text that it covers.
    pub words: usize,
    /// Whether its words stand in the text as they are, rather than words that mean the same.
    pub exact: bool,
    /// Whether the phrase has several words.
    pub several: bool,
}

/// A word of a text; no stem stands for a word that nobody knows.
#[derive(Clone, Debug)]
pub struct Placed {
    /// Its stem.
    pub stem: Option<StemId>,
    /// Its mates.
    pub mates: Vec<StemId>,
}

impl Packed<'_> {
    /// Words that stand alone in one group with this one: inside a phrase one may stand for the other.
    fn mates(&self, word: StemId) -> Vec<StemId> {
        let mut out = Vec::new();
        for (group, phrase) in self.starting(word) {
            if self.phrase(phrase).len() == 1 {
                let others = self.phrases_of(group).filter(|p| self.phrase(*p).len() == 1);
                out.extend(others.filter_map(|p| self.phrase(p).next()).filter(|s| *s != word));
            }
        }
        out
    }

    /// The phrases of a group as rows of stems.
    pub fn group(&self, group: usize) -> impl Iterator<Item = Vec<StemId>> {
        self.phrases_of(group).map(|p| self.phrase(p).collect())
    }

    /// The words of a text, each with its mates.
    #[must_use]
    pub fn row(&self, stems: impl IntoIterator<Item = Option<StemId>>) -> Vec<Placed> {
        stems.into_iter().map(|stem| Placed { stem, mates: stem.map(|s| self.mates(s)).unwrap_or_default() }).collect()
    }

    /// All phrases of any group with which this row begins. Inside a phrase of several words a word may stand for its
    /// mate: "full of petrol" is "full of fuel". Once in a phrase the text may have a strange word: "will not quite close"
    /// is "will not close".
    #[must_use]
    pub fn at_start_of(&self, row: &[Placed]) -> Vec<Found> {
        let Some(Placed { stem: Some(first), mates }) = row.first() else { return Vec::new() };
        let mut out: Vec<Found> = Vec::new();
        for start in std::iter::once(first).chain(mates) {
            for (group, phrase) in self.starting(*start) {
                let Some((words, exact)) = covers(self.phrase(phrase), row) else { continue };
                let several = self.phrase(phrase).len() > 1;
                let found = Found { group, words, exact, several };
                if (exact || several)
                    && !out.iter().any(|f| f.group == found.group && f.words == found.words && f.exact >= exact)
                {
                    out.push(found);
                }
            }
        }
        out
    }
}

/// How many words of the text the phrase covers, and whether word for word.
fn covers(phrase: impl Iterator<Item = StemId>, row: &[Placed]) -> Option<(usize, bool)> {
    let (mut at, mut exact, mut strange) = (0, true, false);
    for (i, stem) in phrase.enumerate() {
        let fits = |at: usize| row.get(at).is_some_and(|p| p.stem == Some(stem) || p.mates.contains(&stem));
        if !fits(at) && i > 0 && !strange {
            strange = true;
            at += 1;
        }
        if !fits(at) {
            return None;
        }
        exact &= row[at].stem == Some(stem);
        at += 1;
    }
    Some((at, exact))
}

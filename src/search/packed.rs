//! The index as bytes: what a base comes to once its words are read, in a form that is used as it lies. Built by
//! `packing`, for the shipped base when the program is built; only looked up here.

use super::entry::{EntryKind, Role};
use super::lexicon::{StemId, Word};
use serde::{Deserialize, Serialize};

/// Numbers of four bytes, used as they lie.
#[derive(Clone, Copy, Debug, Default, Serialize, Deserialize)]
pub struct Numbers<'p>(#[serde(borrow)] &'p [u8]);

impl<'p> Numbers<'p> {
    /// Bytes of one number.
    pub const WIDTH: usize = 4;

    /// The numbers that lie in these bytes; bytes over at the end are none.
    #[must_use]
    pub fn new(bytes: &'p [u8]) -> Self {
        Self(bytes)
    }

    /// How many there are.
    #[must_use]
    pub fn len(self) -> usize {
        self.0.len() / Self::WIDTH
    }

    /// The number at this place, 0 beyond the end.
    #[must_use]
    pub fn at(self, place: usize) -> u32 {
        let from = place * Self::WIDTH;
        self.0.get(from..from + Self::WIDTH).and_then(|b| b.try_into().ok()).map_or(0, u32::from_le_bytes)
    }

    /// Where the part `which` of something cut at these ends lies.
    #[must_use]
    pub fn part(self, which: usize) -> std::ops::Range<usize> {
        let from = which.checked_sub(1).map_or(0, |before| self.at(before));
        from as usize..self.at(which).max(from) as usize
    }
}

/// Texts end to end.
#[derive(Clone, Copy, Debug, Default, Serialize, Deserialize)]
pub struct Strings<'p> {
    /// All of them.
    pub text: &'p str,
    /// Where each ends.
    #[serde(borrow)]
    pub ends: Numbers<'p>,
}

impl<'p> Strings<'p> {
    /// How many there are.
    #[must_use]
    pub fn len(self) -> usize {
        self.ends.len()
    }

    /// The text at this place, empty beyond the end.
    #[must_use]
    pub fn at(self, place: usize) -> &'p str {
        self.text.get(self.ends.part(place)).unwrap_or_default()
    }

    /// The place of this text among texts that are sorted.
    #[must_use]
    pub fn find(self, text: &str) -> Option<usize> {
        let (mut low, mut high) = (0, self.len());
        while low < high {
            let middle = usize::midpoint(low, high);
            match self.at(middle).cmp(text) {
                std::cmp::Ordering::Less => low = middle + 1,
                std::cmp::Ordering::Greater => high = middle,
                std::cmp::Ordering::Equal => return Some(middle),
            }
        }
        None
    }

    /// All of them in order.
    pub fn iter(self) -> impl Iterator<Item = &'p str> {
        (0..self.len()).map(move |i| self.at(i))
    }
}

/// How [`Packed::common`] writes that something is as common as others.
pub const COMMON_AT: u32 = 100_000;

/// One entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Head<'p> {
    /// What sort.
    pub kind: EntryKind,
    /// Id in the base.
    pub id: &'p str,
}

/// The whole index of a base.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Packed<'p> {
    /// The entries by kind and then by id.
    #[serde(borrow)]
    pub entries: Vec<Head<'p>>,
    /// Which wordings belong to an entry: where its last one ends.
    pub entry_ends: Numbers<'p>,
    /// The wordings of all entries; the first of an entry is its name.
    pub wordings: Strings<'p>,
    /// What each wording is to its entry.
    pub roles: &'p [u8],
    /// Where the words of a wording end among all words.
    pub word_ends: Numbers<'p>,
    /// The words of all wordings: stem, first byte, byte after the last.
    pub words: Numbers<'p>,
    /// Where the rows of each entry end in [`Self::bears`].
    pub bears_ends: Numbers<'p>,
    /// What the tests and repairs bear on, in rows: the number of a suspect's entry, and how much it is borne on, in thousandths.
    pub bears: Numbers<'p>,
    /// How common what each entry tells of is among others of its sort: ln of the ratio, in thousandths and above [`COMMON_AT`].
    pub common: Numbers<'p>,
    /// All plain words that occur, sorted.
    pub known: Strings<'p>,
    /// The stem of each.
    pub known_stems: Numbers<'p>,
    /// All stems, sorted; a stem's place is its number.
    pub stems: Strings<'p>,
    /// In how many entries each stem occurs.
    pub entries_with: Numbers<'p>,
    /// Where the phrases of a group end among all phrases.
    pub group_ends: Numbers<'p>,
    /// Where the stems of a phrase end among all stems of phrases.
    pub phrase_ends: Numbers<'p>,
    /// The stems of all phrases.
    pub phrase_stems: Numbers<'p>,
    /// First stem, group and phrase of every phrase, sorted.
    pub starts: Numbers<'p>,
    /// The files of the tantivy index.
    #[serde(borrow)]
    pub files: Vec<(&'p str, &'p [u8])>,
}

impl<'p> Packed<'p> {
    /// Reads an index without copying it.
    ///
    /// # Errors
    /// Bytes that are no index.
    pub fn read(bytes: &'p [u8]) -> Result<Self, postcard::Error> {
        postcard::from_bytes(bytes)
    }

    /// The wordings of an entry.
    #[must_use]
    pub fn wordings_of(&self, entry: usize) -> std::ops::Range<usize> {
        self.entry_ends.part(entry)
    }

    /// The name of an entry.
    #[must_use]
    pub fn name(&self, entry: usize) -> &'p str {
        self.wordings.at(self.wordings_of(entry).start)
    }

    /// What a wording is to its entry.
    #[must_use]
    pub fn role(&self, wording: usize) -> Role {
        Role::from_number(self.roles.get(wording).copied().unwrap_or_default())
    }

    /// The words of a wording, into a row that is used again.
    pub fn words_of(&self, wording: usize, row: &mut Vec<Word>) {
        row.clear();
        row.extend(self.word_ends.part(wording).map(|w| Word {
            stem: self.words.at(3 * w),
            from: self.words.at(3 * w + 1),
            to: self.words.at(3 * w + 2),
        }));
    }

    /// The phrases of a group, by number.
    #[must_use]
    pub fn phrases_of(&self, group: usize) -> std::ops::Range<usize> {
        self.group_ends.part(group)
    }

    /// The stems of a phrase.
    pub fn phrase(&self, phrase: usize) -> impl ExactSizeIterator<Item = StemId> + Clone + use<'p> {
        let stems = self.phrase_stems;
        self.phrase_ends.part(phrase).map(move |i| stems.at(i))
    }

    /// The groups and phrases that begin with this stem.
    pub fn starting(&self, stem: StemId) -> impl Iterator<Item = (usize, usize)> + use<'p> {
        let starts = self.starts;
        let (mut low, mut high) = (0, starts.len() / 3);
        while low < high {
            let middle = usize::midpoint(low, high);
            if starts.at(3 * middle) < stem { low = middle + 1 } else { high = middle }
        }
        (low..starts.len() / 3)
            .take_while(move |i| starts.at(3 * i) == stem)
            .map(move |i| (starts.at(3 * i + 1) as usize, starts.at(3 * i + 2) as usize))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_found_where_they_lie_and_nothing_beyond() {
        let ends: Vec<u8> = [3_u32, 3, 7].iter().flat_map(|n| n.to_le_bytes()).collect();
        let strings = Strings { text: "abcdefg", ends: Numbers::new(&ends) };
        assert_eq!(strings.iter().collect::<Vec<_>>(), ["abc", "", "defg"]);
        assert_eq!((strings.at(3), strings.at(99)), ("", ""));
        let sorted = Strings { text: "abcdefg", ends: Numbers::new(&ends[..4]) };
        assert_eq!((sorted.find("abc"), sorted.find("x"), sorted.find("")), (Some(0), None, None));
        assert!(Packed::read(b"no index").is_err());
    }
}

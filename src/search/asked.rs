//! From what a person typed to what is looked for: words with everything that may stand for them. Raw text goes no
//! further than this.

use super::lexicon::{Lexicon, StemId};
use super::numbers::numbers;
use super::settings::Settings;
use super::spelling::meant;
use super::synonyms::Synonyms;
use super::words::{Plain, Worth, plain_words, worth};
use std::collections::HashMap;

/// One word of the query.
#[derive(Clone, Debug, PartialEq)]
pub struct Term {
    /// As typed, in lower case.
    pub word: String,
    /// What finding it is worth: the rarer in the base, the more.
    pub weight: f32,
}

/// A row of stems that answers some words of the query; kept under its first stem.
#[derive(Clone, Debug, PartialEq)]
pub struct Lead {
    /// The stems after the first.
    pub tail: Vec<StemId>,
    /// First word answered.
    pub from: usize,
    /// Word after the last one answered.
    pub to: usize,
    /// How well, 1 being the word itself.
    pub quality: f32,
}

/// A query, understood.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// The words that count.
    pub terms: Vec<Term>,
    /// What answers them, by first stem.
    pub leads: HashMap<StemId, Vec<Lead>>,
    /// Rows of words that must stand together; a `None` inside is a word that occurs nowhere.
    pub phrases: Vec<Vec<Option<StemId>>>,
    /// Codes by number: as the base would write them.
    pub codes: Vec<String>,
    /// Words taken for mistyped, with what they were taken for.
    pub respelled: Vec<(String, String)>,
    /// Words that nothing in the base answers.
    pub unknown: Vec<String>,
}

/// What a query is read with.
#[derive(Clone, Copy, Debug)]
pub struct Reader<'s> {
    /// The words of the base.
    pub lexicon: &'s Lexicon,
    /// The groups of the base.
    pub synonyms: &'s Synonyms,
    /// How many entries there are.
    pub entries: usize,
    /// The numbers.
    pub settings: &'s Settings,
}

impl Reader<'_> {
    /// Reads a query. Nothing in a text can make this fail.
    ///
    /// `known_code` tells whether the base describes a code: a number that is not one of its codes stays a word.
    #[must_use]
    pub fn read(&self, text: &str, known_code: impl Fn(&str) -> bool) -> Asked {
        let mut asked = Asked::default();
        let words = plain_words(text);
        let mut taken = vec![false; words.len()];
        for number in numbers(&words) {
            let known = known_code(&number.code);
            if known || number.certain {
                taken[number.word..number.word + number.words].fill(true);
                let list = if known { &mut asked.codes } else { &mut asked.unknown };
                if !list.contains(&number.code) {
                    list.push(number.code);
                }
            }
        }
        let mut said: Vec<Plain> = Vec::new();
        for (word, taken) in words.into_iter().zip(taken) {
            // A word said twice is not worth twice.
            if !taken
                && worth(&word.text) != Worth::Empty
                && said.len() < self.settings.words
                && said.iter().all(|s| s.text != word.text)
            {
                said.push(word);
            }
        }
        let all_weak = said.iter().all(|w| worth(&w.text) == Worth::Weak);
        let stems: Vec<Option<StemId>> = said.iter().map(|w| self.lexicon.stem(&w.text)).collect();
        for (at, word) in said.iter().enumerate() {
            self.answers(at, word, &said, &stems, &mut asked);
        }
        for (at, word) in said.into_iter().enumerate() {
            let weight = self.weight(at, &asked);
            let weight =
                if worth(&word.text) == Worth::Weak && !all_weak { weight * self.settings.weak } else { weight };
            if weight == 0.0 && worth(&word.text) == Worth::Content {
                asked.unknown.push(word.text.clone());
            }
            asked.terms.push(Term { word: word.text, weight });
        }
        asked.phrases = self.phrases(text);
        asked
    }

    /// Everything that may stand for the word, and for the phrases that begin with it.
    fn answers(&self, at: usize, word: &Plain, said: &[Plain], stems: &[Option<StemId>], asked: &mut Asked) {
        let s = self.settings;
        let occurs = stems[at].is_some_and(|stem| self.occurs(stem));
        if let Some(stem) = stems[at].filter(|_| occurs) {
            add(asked, &[stem], (at, at + 1), 1.0);
        }
        for stem in self.other_forms(&word.text) {
            add(asked, &[stem], (at, at + 1), s.form);
        }
        let found = self.synonyms.at_start_of(&stems[at..]);
        for f in &found {
            for phrase in self.synonyms.group(f.group) {
                let span = (at, at + f.words);
                add(asked, phrase, span, if f.exact { s.synonym } else { s.second_hand });
                if !occurs && f.words == 1 {
                    self.second_hand(phrase, span, s.second_hand, asked);
                }
            }
        }
        let joined = said.get(at + 1).and_then(|next| self.lexicon.stem(&format!("{}{}", word.text, next.text)));
        if let Some(stem) = joined {
            add(asked, &[stem], (at, at + 2), s.form);
            self.second_hand(&[stem], (at, at + 2), s.synonym, asked);
        }
        if occurs || !found.is_empty() || worth(&word.text) != Worth::Content {
            return;
        }
        if let Some(parts) = self.parted(&word.text) {
            add(asked, &parts, (at, at + 1), s.form);
            self.second_hand(&parts, (at, at + 1), s.synonym, asked);
            return;
        }
        for (known, stem) in meant(&word.text, self.lexicon) {
            if self.occurs(stem) {
                add(asked, &[stem], (at, at + 1), s.typo);
            }
            self.second_hand(&[stem], (at, at + 1), s.typo * s.synonym, asked);
            asked.respelled.push((word.text.clone(), known.to_owned()));
        }
    }

    /// The group mates of something that itself only stands for a word.
    fn second_hand(&self, phrase: &[StemId], span: (usize, usize), quality: f32, asked: &mut Asked) {
        let row: Vec<Option<StemId>> = phrase.iter().copied().map(Some).collect();
        for f in self.synonyms.at_start_of(&row).into_iter().filter(|f| f.exact && f.words == phrase.len()) {
            for mate in self.synonyms.group(f.group) {
                add(asked, mate, span, quality);
            }
        }
    }

    fn occurs(&self, stem: StemId) -> bool {
        self.lexicon.entries_with(stem) > 0
    }

    /// Forms of a word that stemming keeps apart: `rusty` and `rust`, `noisy` and `noise`.
    fn other_forms(&self, word: &str) -> Vec<StemId> {
        let own = self.lexicon.stem(word);
        let bare = word.trim_end_matches('y');
        [bare.to_owned(), format!("{bare}e"), format!("{word}y"), format!("{}y", word.trim_end_matches('e'))]
            .iter()
            .filter(|form| form.len() >= 4 && *form != word)
            .filter_map(|form| self.lexicon.stem(form))
            .filter(|stem| Some(*stem) != own && self.occurs(*stem))
            .collect()
    }

    /// A word written in one that the base writes in two.
    fn parted(&self, word: &str) -> Option<[StemId; 2]> {
        word.char_indices().map(|(i, _)| i).filter(|i| *i >= 3 && word.len() - i >= 3).find_map(|i| {
            let (a, b) = (self.lexicon.stem(&word[..i])?, self.lexicon.stem(&word[i..])?);
            Some([a, b])
        })
    }

    /// Robertson and Spärck Jones' weight of a word, by the number of entries that hold it or one of its group: a
    /// rare word for a common thing says no more than the common word.
    fn weight(&self, at: usize, asked: &Asked) -> f32 {
        let mut answered = false;
        let mut most = 0;
        for (stem, leads) in &asked.leads {
            for lead in leads.iter().filter(|l| l.from <= at && at < l.to) {
                answered |= self.occurs(*stem) && lead.tail.iter().all(|t| self.occurs(*t));
                if lead.tail.is_empty() && lead.to - lead.from == 1 {
                    most = most.max(self.lexicon.entries_with(*stem));
                }
            }
        }
        if answered { rarity(self.entries, most) } else { 0.0 }
    }

    /// What stands between double quotes; a quote that is never closed is no quote.
    fn phrases(&self, text: &str) -> Vec<Vec<Option<StemId>>> {
        let parts: Vec<&str> = text.split(['"', '“', '”', '„']).collect();
        let closed = (parts.len() - 1) / 2;
        parts
            .iter()
            .skip(1)
            .step_by(2)
            .take(closed)
            .map(|part| {
                let said = plain_words(part).into_iter().filter(|w| worth(&w.text) != Worth::Empty);
                said.take(self.settings.words).map(|w| self.lexicon.stem(&w.text)).collect()
            })
            .filter(|phrase: &Vec<Option<StemId>>| !phrase.is_empty())
            .collect()
    }
}

fn add(asked: &mut Asked, row: &[StemId], (from, to): (usize, usize), quality: f32) {
    let Some((first, tail)) = row.split_first() else { return };
    let leads = asked.leads.entry(*first).or_default();
    match leads.iter_mut().find(|l| l.from == from && l.to == to && l.tail == tail) {
        Some(same) => same.quality = same.quality.max(quality),
        None => leads.push(Lead { tail: tail.to_vec(), from, to, quality }),
    }
}

/// ln(1 + (N − n + ½) / (n + ½)): what a word that stands in `with` of `entries` entries says.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "numbers of entries")]
pub fn rarity(entries: usize, with: u32) -> f32 {
    let (all, with) = (entries as f32, with as f32);
    (1.0 + (all - with + 0.5).max(0.0) / (with + 0.5)).ln()
}

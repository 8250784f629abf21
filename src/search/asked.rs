//! From what a person typed to what is looked for: words with everything that may stand for them. Raw text goes no
//! further than this.

use super::codes::numbers;
use super::denied::{clauses, denied};
use super::english;
use super::entry::EntryKind;
use super::intent::{Intent, asking_verb, asks_whether_it_is_safe, tells_what_to_do};
use super::lexicon::StemId;
use super::packed::Packed;
use super::settings::Settings;
use super::spelling::meant;
use super::synonyms::Placed;
use super::words::{NOT, Plain, Worth, plain_words, worth};
use std::collections::BTreeMap;

/// One word of the query.
#[derive(Clone, Debug, PartialEq)]
pub struct Term {
    /// As typed, in lower case.
    pub word: String,
    /// What finding it is worth: the rarer in the base, the more.
    pub weight: f32,
    /// The thought to which it belongs.
    pub clause: usize,
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
    pub leads: BTreeMap<StemId, Vec<Lead>>,
    /// Rows of words that must stand together; a `None` inside is a word that occurs nowhere.
    pub phrases: Vec<Vec<Option<StemId>>>,
    /// Codes by number: as the base would write them.
    pub codes: Vec<String>,
    /// Words taken for mistyped, with what they were taken for.
    pub respelled: Vec<(String, String)>,
    /// Words that nothing in the base answers.
    pub unknown: Vec<String>,
    /// What the query denies, as typed.
    pub denied: Vec<String>,
    /// What sort of answer is asked for.
    pub intent: Intent,
    /// Whether the query is in another language.
    pub foreign: bool,
}

/// What a query is read with.
#[derive(Clone, Copy, Debug)]
pub struct Reader<'s> {
    /// The words of the base.
    pub packed: &'s Packed<'s>,
    /// The numbers.
    pub settings: &'s Settings,
}

/// A word that counts, and where it stood.
struct Said {
    word: Plain,
    clause: usize,
    stem: Option<StemId>,
}

impl Reader<'_> {
    /// Reads a query. Nothing in a text can make this fail.
    ///
    /// `known_code` tells whether the base describes a code: a number that is not one of its codes stays a word.
    #[must_use]
    pub fn read(&self, text: &str, known_code: impl Fn(&str) -> bool) -> Asked {
        let words = plain_words(text);
        let mut intent = Intent::of(&words);
        if asks_whether_it_is_safe(text, &words) {
            intent = intent.and(EntryKind::Caution, 1.0);
        }
        let mut asked = Asked { intent, foreign: self.is_foreign(&words), ..Asked::default() };
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
        let clauses = clauses(text, &words);
        if tells_what_to_do(&words, &clauses) {
            asked.intent = asked.intent.and(EntryKind::Repair, 0.7);
        }
        let before = taken.clone();
        for range in denied(&words, &clauses).into_iter().filter(|_| !asked.intent.is_about_safety()) {
            taken[range.clone()].fill(true);
            let last = &words[range.end - 1];
            asked.denied.extend(text.get(words[range.start].from..last.to).map(str::to_owned));
        }
        if let Some(at) = asking_verb(&words) {
            taken[at] = true;
        }
        let counts = |(w, taken): (&Plain, &bool)| !taken && worth(&w.text) == Worth::Content;
        // A query of nothing but denials asks for what it denies.
        if !words.iter().zip(&taken).any(counts) && asked.codes.is_empty() {
            taken = before;
            asked.denied.clear();
        }
        let mut said: Vec<Said> = Vec::new();
        for ((word, taken), clause) in words.into_iter().zip(taken).zip(clauses) {
            // A word said twice is not worth twice; a denial belongs to the word after it.
            if !taken
                && worth(&word.text) != Worth::Empty
                && said.len() < self.settings.words
                && (word.text == NOT || said.iter().all(|s| s.word.text != word.text))
            {
                let stem = self.packed.stem(&word.text);
                said.push(Said { word, clause, stem });
            }
        }
        self.all_answers(&said, &mut asked);
        let only_weak = said.iter().all(|s| worth(&s.word.text) != Worth::Content);
        for (at, s) in said.into_iter().enumerate() {
            let rarity = self.weight(at, &asked);
            let share = match worth(&s.word.text) {
                Worth::Weak if !only_weak => self.settings.weak,
                Worth::Story if !only_weak => self.settings.story,
                _ => 1.0,
            };
            if rarity == 0.0 && worth(&s.word.text) == Worth::Content {
                asked.unknown.push(s.word.text.clone());
            }
            asked.terms.push(Term { word: s.word.text, weight: rarity * share, clause: s.clause });
        }
        asked.phrases = self.phrases(text);
        asked
    }

    /// Whether more of the words are another language's than English or the base's.
    fn is_foreign(&self, words: &[Plain]) -> bool {
        let of = |w: &&Plain| w.text.chars().count() >= 2 && w.text.chars().all(char::is_alphabetic);
        let (mut english, mut foreign, mut strange) = (0, 0, 0);
        for word in words.iter().filter(of).map(|w| w.text.as_str()) {
            if english::is_foreign(word) {
                foreign += 1;
            } else if english::is_english(word) || self.packed.known.find(word).is_some() {
                english += 1;
            } else {
                strange += 1;
            }
        }
        if foreign > 0 { foreign + strange > english } else { strange >= 2 && english == 0 }
    }

    /// Everything that may stand for the words and for the phrases among them.
    fn all_answers(&self, said: &[Said], asked: &mut Asked) {
        let row = self.packed.row(said.iter().map(|s| s.stem));
        // "Will not shut" is one thought: inside it "shut" must not be found for itself.
        let mut covered = vec![false; said.len()];
        for at in 0..said.len() {
            let starts = self.packed.at_start_of(&row[at..]);
            let denial = |to: usize| said[at..to].iter().any(|s| s.word.text == NOT);
            for found in starts.iter().filter(|f| f.words > 1 && denial(at + f.words)) {
                covered[at..at + found.words].fill(true);
            }
            self.answers(at, said, &row, asked);
        }
        let contrary = |lead: &Lead, first: StemId| {
            let single = lead.tail.is_empty() && lead.to - lead.from == 1;
            single && covered[lead.from] && self.packed.stem_text(first) != NOT
        };
        for (first, leads) in &mut asked.leads {
            leads.retain(|lead| !contrary(lead, *first));
        }
        asked.leads.retain(|_, leads| !leads.is_empty());
    }

    fn answers(&self, at: usize, said: &[Said], row: &[Placed], asked: &mut Asked) {
        let s = self.settings;
        let word = &said[at].word.text;
        let occurs = said[at].stem.is_some_and(|stem| self.occurs(stem));
        if let Some(stem) = said[at].stem.filter(|_| occurs) {
            add(asked, &[stem], (at, at + 1), 1.0);
        }
        for stem in self.other_forms(word) {
            add(asked, &[stem], (at, at + 1), s.form);
        }
        let found = self.packed.at_start_of(&row[at..]);
        for f in &found {
            for phrase in self.packed.group(f.group) {
                let span = (at, at + f.words);
                add(asked, &phrase, span, if f.exact { s.synonym } else { s.second_hand });
                if !occurs && f.words == 1 {
                    self.second_hand(&phrase, span, s.second_hand, asked);
                }
            }
        }
        let joined = said.get(at + 1).and_then(|next| self.packed.stem(&format!("{word}{}", next.word.text)));
        if let Some(stem) = joined {
            add(asked, &[stem], (at, at + 2), s.form);
            self.second_hand(&[stem], (at, at + 2), s.synonym, asked);
        }
        if occurs || !found.is_empty() || worth(word) != Worth::Content || said[at].stem.is_some() {
            return;
        }
        if let Some(parts) = self.parted(word) {
            add(asked, &parts, (at, at + 1), s.form);
            self.second_hand(&parts, (at, at + 1), s.synonym, asked);
            return;
        }
        if asked.foreign {
            return;
        }
        for (known, stem) in meant(word, self.packed) {
            if self.occurs(stem) {
                add(asked, &[stem], (at, at + 1), s.typo);
            }
            self.second_hand(&[stem], (at, at + 1), s.typo * s.synonym, asked);
            asked.respelled.push((word.clone(), known.to_owned()));
        }
    }

    /// The group mates of something that itself only stands for a word.
    fn second_hand(&self, phrase: &[StemId], span: (usize, usize), quality: f32, asked: &mut Asked) {
        let row: Vec<Placed> = phrase.iter().map(|s| Placed { stem: Some(*s), mates: Vec::new() }).collect();
        for f in self.packed.at_start_of(&row).into_iter().filter(|f| f.exact && f.words == phrase.len()) {
            for mate in self.packed.group(f.group) {
                add(asked, &mate, span, quality);
            }
        }
    }

    fn occurs(&self, stem: StemId) -> bool {
        self.packed.entries_with_stem(stem) > 0
    }

    /// Forms of a word that stemming keeps apart: `rusty` and `rust`, `noisy` and `noise`.
    fn other_forms(&self, word: &str) -> Vec<StemId> {
        if super::words::is_abbreviation(word) || word.len() < 4 {
            return Vec::new();
        }
        let own = self.packed.stem(word);
        let forms = match word.strip_suffix('y') {
            Some(bare) => vec![bare.to_owned(), format!("{bare}e")],
            None => vec![format!("{word}y"), format!("{}y", word.trim_end_matches('e'))],
        };
        forms
            .iter()
            .filter(|form| form.len() >= 4)
            .filter_map(|form| self.packed.known.find(form).map(|i| self.packed.known_stems.at(i)))
            .filter(|stem| Some(*stem) != own && self.occurs(*stem))
            .collect()
    }

    /// A word written in one that the base writes in two.
    fn parted(&self, word: &str) -> Option<[StemId; 2]> {
        let place = |part: &str| self.packed.known.find(part).map(|i| self.packed.known_stems.at(i));
        word.char_indices()
            .map(|(i, _)| i)
            .filter(|i| *i >= 3 && word.len() - i >= 3)
            .find_map(|i| Some([place(&word[..i])?, place(&word[i..])?]))
    }

    /// Robertson and Spärck Jones' weight of a word, by the number of entries that hold it or one of its group: a
    /// rare word for a common thing says no more than the common word. Of a phrase its rarest word counts.
    fn weight(&self, at: usize, asked: &Asked) -> f32 {
        let mut answered = false;
        let mut most = 0;
        for (stem, leads) in &asked.leads {
            for lead in leads.iter().filter(|l| l.from <= at && at < l.to) {
                let row = std::iter::once(stem).chain(&lead.tail);
                let rarest = row.map(|s| self.packed.entries_with_stem(*s)).min().unwrap_or_default();
                answered |= rarest > 0;
                if lead.to - lead.from == 1 || lead.tail.is_empty() {
                    most = most.max(rarest);
                }
            }
        }
        if !answered {
            return 0.0;
        }
        if most == 0 {
            // Answered only as part of a phrase: by its rarest word there.
            let parts = asked.leads.iter().flat_map(|(stem, leads)| leads.iter().map(move |l| (stem, l)));
            let of = parts.filter(|(_, l)| l.from <= at && at < l.to).map(|(stem, l)| {
                let row = std::iter::once(stem).chain(&l.tail);
                row.map(|s| self.packed.entries_with_stem(*s)).min().unwrap_or_default()
            });
            most = of.max().unwrap_or_default();
        }
        rarity(self.packed.entries.len(), most).powf(self.settings.rarity)
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
                said.take(self.settings.words).map(|w| self.packed.stem(&w.text)).collect()
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

//! How close an entry comes to a query, wording by wording. The index says which entries to look at; this says which is
//! best, and where its words stand.

use super::asked::{Asked, Lead, rarity};
use super::lexicon::{StemId, Word};
use super::packed::Packed;
use super::settings::Settings;
use super::words::{NOT, Worth, worth};

/// How an entry answers.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Closeness {
    /// 0 is nothing; about 1 is every word in one short wording.
    pub score: f32,
    /// The wording that fits best.
    pub wording: usize,
    /// Where the words asked for stand in it, as bytes.
    pub marks: Vec<(usize, usize)>,
    /// The smaller of two shares, over the names of the entry: what of the query one of them answers, and what of itself
    /// was asked for. Near 1 both mean the same.
    pub same: f32,
}

/// What one wording gives.
struct Fit {
    /// How well each word of the query is answered.
    answered: Vec<f32>,
    /// The words of the wording that answer.
    used: Vec<bool>,
    /// Share of neighbouring words that stand together here too.
    together: f32,
}

/// A word answered at least so well counts as being there.
const ANSWERED: f32 = 0.65;

/// Reads entries closely for one query.
pub struct Close<'a> {
    asked: &'a Asked,
    packed: &'a Packed<'a>,
    settings: &'a Settings,
    /// The leads by first stem, so that nothing is looked up word by word.
    leads: Vec<&'a [Lead]>,
    /// The terms of each thought, with its share of the query's weight.
    thoughts: Vec<(Vec<usize>, f32)>,
    total: f32,
    row: Vec<Word>,
}

impl<'a> Close<'a> {
    /// Makes a query ready.
    #[must_use]
    pub fn new(asked: &'a Asked, packed: &'a Packed<'a>, settings: &'a Settings) -> Self {
        let mut leads: Vec<&[Lead]> = vec![&[]; packed.stems.len()];
        for (stem, list) in &asked.leads {
            leads[*stem as usize] = list;
        }
        let total: f32 = asked.terms.iter().map(|t| t.weight).sum();
        let mut thoughts: Vec<(Vec<usize>, f32)> = Vec::new();
        for (i, term) in asked.terms.iter().enumerate() {
            match thoughts.last_mut().filter(|(terms, _)| asked.terms[terms[0]].clause == term.clause) {
                Some((terms, _)) => terms.push(i),
                None => thoughts.push((vec![i], 0.0)),
            }
        }
        for (terms, share) in &mut thoughts {
            *share = terms.iter().map(|t| asked.terms[*t].weight).sum::<f32>() / total.max(f32::MIN_POSITIVE);
        }
        Self { asked, packed, settings, leads, thoughts, total, row: Vec::new() }
    }

    /// Reads an entry; none when a phrase that must be there is not.
    ///
    /// For every wording, coverage is the share of the query's weight that it answers, precision the share of its own
    /// weight that was asked for. The score is mostly the best wording's, because a symptom is recognised by one way of
    /// saying it, and partly what all wordings answer together.
    #[must_use]
    pub fn entry(&mut self, number: usize) -> Option<Closeness> {
        if self.total <= 0.0 || !self.holds_phrases(number) {
            return None;
        }
        let s = self.settings;
        let mut everywhere = vec![0.0_f32; self.asked.terms.len()];
        let mut best = (0.0, 0, Vec::new());
        let mut same = 0.0_f32;
        for (i, wording) in self.packed.wordings_of(number).enumerate() {
            let mut row = std::mem::take(&mut self.row);
            self.packed.words_of(wording, &mut row);
            let fit = self.fit(&row);
            let covered = self.coverage(&fit.answered);
            if covered > 0.0 {
                let share = self.packed.role(wording).share();
                let precise = self.precision(&row, &fit.used);
                if self.packed.role(wording).names() {
                    let most = self.whole(&fit.answered).min(precise);
                    // Counting words is the dearer half, and most wordings are out of it already.
                    if most > same {
                        same = same.max(most.min(self.alike(&row, &fit)));
                    }
                }
                let score = share * covered * (1.0 - s.precision + s.precision * precise + s.together * fit.together);
                if score > best.0 {
                    let used = row.iter().zip(&fit.used).filter(|(_, used)| **used);
                    best = (score, i, used.map(|(w, _)| (w.from as usize, w.to as usize)).collect());
                }
                for (all, here) in everywhere.iter_mut().zip(&fit.answered) {
                    *all = all.max(share * here);
                }
            }
            self.row = row;
        }
        let (score, wording, marks) = best;
        let score = s.best_wording * score + (1.0 - s.best_wording) * self.coverage(&everywhere);
        Some(Closeness { score, wording, marks, same })
    }

    /// The share of the query's weight that is answered; a whole thought counts for more than its share, so that what
    /// fits one thought of a long story is not drowned by the rest of it.
    fn coverage(&self, answered: &[f32]) -> f32 {
        let of = |terms: &[usize]| terms.iter().map(|t| self.asked.terms[*t].weight * answered[*t]).sum::<f32>();
        let whole = self.whole(answered);
        let one = |(at, (terms, share)): (usize, &(Vec<usize>, f32))| {
            let later = if at == 0 { 1.0 } else { self.settings.later };
            if *share > 0.0 { later * of(terms) / (self.total * share) * share.powf(self.settings.clause) } else { 0.0 }
        };
        self.thoughts.iter().enumerate().map(one).fold(whole, f32::max)
    }

    /// The share of words that say something which the query and the wording have in common, counted and not weighed: a
    /// common word that is missing, such as "exhaust", may be the one that matters. Nothing where one of them denies and
    /// the other does not.
    fn alike(&self, row: &[Word], fit: &Fit) -> f32 {
        let not = |text: &str| text == NOT;
        let terms = || self.asked.terms.iter().zip(&fit.answered);
        let words = || row.iter().zip(&fit.used).map(|(w, used)| (self.packed.stem_text(w.stem), *used));
        let one_sided = terms().any(|(t, a)| not(&t.word) && *a == 0.0) || words().any(|(w, used)| not(w) && !used);
        let said = terms().filter(|(t, _)| worth(&t.word) == Worth::Content);
        let written = words().filter(|(w, _)| worth(w) == Worth::Content);
        let (said, answered) = said.fold((0, 0), |(n, a), (_, q)| (n + 1, a + usize::from(*q >= ANSWERED)));
        let (written, used) = written.fold((0, 0), |(n, a), (_, used)| (n + 1, a + usize::from(used)));
        if one_sided || said < 2 {
            return 0.0;
        }
        #[expect(clippy::cast_precision_loss, reason = "words of a query")]
        let share = |part: usize, all: usize| if all == 0 { 0.0 } else { part as f32 / all as f32 };
        share(answered, said).min(share(used, written))
    }

    /// The share of the whole query's weight that is answered.
    fn whole(&self, answered: &[f32]) -> f32 {
        self.asked.terms.iter().zip(answered).map(|(t, a)| t.weight * a).sum::<f32>() / self.total
    }

    fn fit(&self, words: &[Word]) -> Fit {
        let mut answered = vec![0.0_f32; self.asked.terms.len()];
        let mut place = vec![usize::MAX; self.asked.terms.len()];
        let mut used = vec![false; words.len()];
        for (at, word) in words.iter().enumerate() {
            for lead in self.leads.get(word.stem as usize).copied().unwrap_or_default() {
                let Some((places, gaps)) = follow(words, at, &lead.tail) else { continue };
                let quality = lead.quality * self.settings.gap.powi(gaps);
                used[at] = true;
                places.iter().for_each(|p| used[*p] = true);
                for term in lead.from..lead.to {
                    if quality > answered[term] {
                        answered[term] = quality;
                        place[term] = at;
                    }
                }
            }
        }
        let pairs = place.windows(2).filter(|p| p[1] != usize::MAX && p[0] <= p[1] && p[1] - p[0] <= 2).count();
        #[expect(clippy::cast_precision_loss, reason = "words of a query")]
        let together = pairs as f32 / place.len().saturating_sub(1).max(1) as f32;
        Fit { answered, used, together }
    }

    fn precision(&self, words: &[Word], used: &[bool]) -> f32 {
        let (mut all, mut asked) = (0.0, 0.0);
        for (word, used) in words.iter().zip(used) {
            let weight = rarity(self.packed.entries.len(), self.packed.entries_with_stem(word.stem));
            all += weight;
            asked += if *used { weight } else { 0.0 };
        }
        if all > 0.0 { asked / all } else { 0.0 }
    }

    /// Whether every phrase that must stand together stands in some wording.
    fn holds_phrases(&self, number: usize) -> bool {
        let mut row = Vec::new();
        self.asked.phrases.iter().all(|phrase| {
            self.packed.wordings_of(number).any(|wording| {
                self.packed.words_of(wording, &mut row);
                holds(&row, phrase)
            })
        })
    }
}

/// Where the rest of a row stands after its first word, at most one other word between two; and how many there are
/// between.
fn follow(words: &[Word], first: usize, tail: &[StemId]) -> Option<(Vec<usize>, i32)> {
    let (mut at, mut gaps, mut places) = (first, 0, Vec::new());
    for stem in tail {
        let next = (1..=2).find(|step| words.get(at + step).is_some_and(|w| w.stem == *stem))?;
        gaps += i32::from(next == 2);
        at += next;
        places.push(at);
    }
    Some((places, gaps))
}

/// Whether the words stand in the wording one after the other.
fn holds(words: &[Word], phrase: &[Option<StemId>]) -> bool {
    words.windows(phrase.len()).any(|w| w.iter().zip(phrase).all(|(w, p)| Some(w.stem) == *p))
}

//! How close an entry comes to a query, wording by wording. The index says which entries to look at; this says which is
//! best, and where its words stand.

use super::asked::{Asked, rarity};
use super::entry::Role;
use super::lexicon::{Lexicon, StemId, Word};
use super::settings::Settings;

/// A wording as rows of stems.
#[derive(Clone, Debug, PartialEq)]
pub struct Read {
    /// What it is to its entry.
    pub role: Role,
    /// Its words without the empty ones.
    pub words: Vec<Word>,
}

/// How an entry answers.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Closeness {
    /// 0 is nothing; about 1 is every word in one short wording.
    pub score: f32,
    /// The wording that fits best.
    pub wording: usize,
    /// Where the words asked for stand in it, as bytes.
    pub marks: Vec<(usize, usize)>,
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

/// Reads an entry closely; none when a phrase that must be there is not.
///
/// For every wording, coverage is the share of the query's weight that it answers, precision the share of its own
/// weight that was asked for. The score is mostly the best wording's, because a symptom is recognised by one way of saying it, and
/// partly what all wordings answer together.
#[must_use]
pub fn closeness(
    asked: &Asked,
    wordings: &[Read],
    lexicon: &Lexicon,
    entries: usize,
    s: &Settings,
) -> Option<Closeness> {
    if !asked.phrases.iter().all(|p| wordings.iter().any(|w| holds(&w.words, p))) {
        return None;
    }
    let total: f32 = asked.terms.iter().map(|t| t.weight).sum();
    if total <= 0.0 {
        return None;
    }
    let coverage = |answered: &[f32]| asked.terms.iter().zip(answered).map(|(t, a)| t.weight * a).sum::<f32>() / total;
    let mut everywhere = vec![0.0_f32; asked.terms.len()];
    let mut best = (0.0, 0, Vec::new());
    for (i, wording) in wordings.iter().enumerate() {
        let fit = fit(asked, &wording.words, s);
        let covered = coverage(&fit.answered);
        if covered == 0.0 {
            continue;
        }
        let share = wording.role.share();
        let precise = precision(&wording.words, &fit.used, lexicon, entries);
        let score = share * covered * (1.0 - s.precision + s.precision * precise + s.together * fit.together);
        if score > best.0 {
            best = (score, i, fit.used);
        }
        for (all, here) in everywhere.iter_mut().zip(&fit.answered) {
            *all = all.max(share * here);
        }
    }
    let (score, wording, used) = best;
    let words = wordings.get(wording).map_or(&[][..], |w| w.words.as_slice());
    let marks =
        words.iter().zip(used).filter(|(_, used)| *used).map(|(w, _)| (w.from as usize, w.to as usize)).collect();
    Some(Closeness { score: s.best_wording * score + (1.0 - s.best_wording) * coverage(&everywhere), wording, marks })
}

fn fit(asked: &Asked, words: &[Word], s: &Settings) -> Fit {
    let mut answered = vec![0.0_f32; asked.terms.len()];
    let mut place = vec![usize::MAX; asked.terms.len()];
    let mut used = vec![false; words.len()];
    for (at, word) in words.iter().enumerate() {
        for lead in asked.leads.get(&word.stem).map_or(&[][..], Vec::as_slice) {
            let Some((places, gaps)) = follow(words, at, &lead.tail) else { continue };
            let quality = lead.quality * s.gap.powi(gaps);
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

fn precision(words: &[Word], used: &[bool], lexicon: &Lexicon, entries: usize) -> f32 {
    let (mut all, mut asked) = (0.0, 0.0);
    for (word, used) in words.iter().zip(used) {
        let weight = rarity(entries, lexicon.entries_with(word.stem));
        all += weight;
        asked += if *used { weight } else { 0.0 };
    }
    if all > 0.0 { asked / all } else { 0.0 }
}

/// Whether the words stand in the wording one after the other.
fn holds(words: &[Word], phrase: &[Option<StemId>]) -> bool {
    words.windows(phrase.len()).any(|w| w.iter().zip(phrase).all(|(w, p)| Some(w.stem) == *p))
}

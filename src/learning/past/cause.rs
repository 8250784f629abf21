//! From a shop's words for what was at fault to suspects. A matcher gives scores; here it is decided what is sure,
//! what a person must look at, and what says that nobody knew.

use crate::knowledge::base::Base;
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// Finds suspects by words.
pub trait CauseMatcher {
    /// Suspect ids with scores between 0 and 1, best first; empty when no word fits. 1 means that all of the words
    /// fit and nothing else does.
    fn suspects(&self, words: &str) -> Vec<(String, f64)>;
}

/// What the words for a cause say.
#[derive(Clone, Debug, PartialEq)]
pub enum Said {
    /// This suspect.
    Found(String),
    /// These suspects at once.
    Several(Vec<String>),
    /// Nobody was sure; these came to mind, with shares of belief.
    Unsure(Vec<(String, f64)>),
    /// Nothing was wrong.
    NoFault,
    /// Words that a person has to look at, with what they may mean.
    Held(Vec<(String, f64)>),
}

/// Score from which one suspect is taken to be meant.
const SURE: f64 = 0.62;
/// Lead over the next that it needs.
const LEAD: f64 = 0.10;
/// Score at which the words are all but the suspect's own name; a small lead is enough then.
const ALL_BUT_SAID: f64 = 0.95;
/// That lead.
const LEAD_WHEN_SAID: f64 = 0.02;
/// Score below which a suspect is not even proposed.
const WORTH_A_LOOK: f64 = 0.25;

/// Words that say that nothing was wrong.
const NO_FAULT: [&str; 8] =
    ["nff", "ntf", "no fault", "no fault found", "could not duplicate", "could not reproduce", "cnd", "all ok"];
/// Words that say that nobody was sure.
const UNSURE: [&str; 10] =
    ["?", "maybe", "poss", "possibly", "probably", "prob", "suspect", "suspected", "not sure", "unsure"];
/// Words that say that the cause was never found.
const UNKNOWN: [&str; 7] = ["unknown", "not found", "customer declined", "declined", "gave up", "referred", "n/a"];

/// What these words say.
#[must_use]
pub fn said(words: &str, matcher: &dyn CauseMatcher) -> Said {
    let lower = words.to_lowercase();
    let padded = format!(
        " {} ",
        lower.replace(['.', ',', ';', '(', ')', '-', '/'], " ").split_whitespace().collect::<Vec<_>>().join(" ")
    );
    let says = |list: &[&str]| {
        list.iter().any(|w| {
            if *w == "?" { lower.contains('?') } else { padded.contains(&format!(" {} ", w.replace('/', " "))) }
        })
    };
    if words.trim().is_empty() || says(&UNKNOWN) {
        return Said::Unsure(Vec::new());
    }
    if says(&NO_FAULT) {
        return Said::NoFault;
    }
    // Two faults are written with a plus or an "and"; both halves must be sure, else it is one phrase.
    for joint in [" + ", " and ", " & ", "; "] {
        let halves: Vec<&str> = lower.split(joint).collect();
        if halves.len() == 2 {
            let both: Vec<Option<String>> = halves.iter().map(|h| sure(h, &matcher.suspects(h))).collect();
            if let [Some(a), Some(b)] = both.as_slice()
                && a != b
            {
                return Said::Several(vec![a.clone(), b.clone()]);
            }
        }
    }
    let found: Vec<(String, f64)> =
        matcher.suspects(&lower).into_iter().filter(|(_, s)| *s >= WORTH_A_LOOK).take(4).collect();
    if says(&UNSURE) {
        let sum: f64 = found.iter().map(|f| f.1).sum();
        return Said::Unsure(found.into_iter().map(|(id, s)| (id, s / sum)).collect());
    }
    sure(&lower, &found).map_or(Said::Held(found), Said::Found)
}

/// The suspect that is surely meant. One word names a part or a fault, never one failing in one way, so it is not enough.
fn sure(words: &str, found: &[(String, f64)]) -> Option<String> {
    let (id, score) = found.first()?;
    let next = found.get(1).map_or(0.0, |f| f.1);
    let lead = if *score >= ALL_BUT_SAID { LEAD_WHEN_SAID } else { LEAD };
    let enough = words.split_whitespace().nth(1).is_some();
    (enough && *score >= SURE && score - next >= lead).then(|| id.clone())
}

/// Matches by words in common with the names of suspects and parts, rare words weighing more; slips of one letter
/// in longer words are forgiven.
#[derive(Clone, Debug)]
pub struct WordMatcher {
    suspects: Vec<(String, Vec<BTreeSet<u32>>)>,
    words: HashMap<String, u32>,
    weight: Vec<f64>,
    alias: BTreeMap<String, String>,
    /// The suspects' own names with their words in order, which sets of words cannot tell apart: "bank 1 sensor 2" and
    /// "bank 2 sensor 1".
    by_name: HashMap<Vec<String>, usize>,
}

/// Words that say nothing about which part it is.
const EMPTY: [&str; 33] = [
    "all", "good", "now", "ok", "done", "one", "traced", "sorted", "fixed", "the", "a", "an", "of", "in", "on", "at",
    "to", "is", "was", "were", "and", "with", "when", "found", "replaced", "new", "bad", "faulty", "failed", "fitted",
    "by", "for", "it",
];

impl WordMatcher {
    /// A matcher over the suspects of a base.
    #[must_use]
    pub fn new(base: &Base) -> Self {
        let mut out = Self {
            suspects: Vec::new(),
            words: HashMap::new(),
            weight: Vec::new(),
            alias: BTreeMap::new(),
            by_name: HashMap::new(),
        };
        // Single words that mean the same are one word here.
        for group in &base.synonyms {
            let single: Vec<String> =
                group.iter().filter(|w| !w.contains(' ')).map(|w| stem(&w.to_lowercase())).collect();
            if let Some((first, rest)) = single.split_first() {
                for w in rest {
                    out.alias.entry(w.clone()).or_insert_with(|| first.clone());
                }
            }
        }
        let mut in_suspects: Vec<BTreeSet<u32>> = Vec::new();
        for (part, s) in base.suspects() {
            let mode = s.name.strip_prefix(part.name.to_lowercase().as_str()).unwrap_or(&s.name).to_owned();
            let id = s.id.replace(['/', '-'], " ");
            let mut phrases = vec![out.take(&s.name), out.take(&id)];
            for name in std::iter::once(&part.name).chain(&part.also) {
                phrases.push(out.take(&format!("{name} {mode}")));
            }
            phrases.retain(|p| !p.is_empty());
            in_suspects.push(phrases.iter().flatten().copied().collect());
            let in_order = out.tokens(&s.name).collect();
            out.by_name.insert(in_order, out.suspects.len());
            out.suspects.push((s.id.clone(), phrases));
        }
        let n = out.suspects.len() as f64;
        out.weight = (0..out.words.len())
            .map(|w| {
                let with = in_suspects.iter().filter(|s| s.contains(&u32::try_from(w).unwrap_or(u32::MAX))).count();
                (1.0 + n / (with as f64 + 1.0)).ln()
            })
            .collect();
        out
    }

    fn tokens<'a>(&'a self, text: &'a str) -> impl Iterator<Item = String> + 'a {
        text.split(|c: char| !c.is_alphanumeric())
            .filter(|w| !w.is_empty())
            .map(str::to_lowercase)
            .filter(|w| !EMPTY.contains(&w.as_str()))
            .map(|w| {
                let stemmed = stem(&w);
                self.alias.get(&stemmed).cloned().unwrap_or(stemmed)
            })
    }

    fn take(&mut self, text: &str) -> BTreeSet<u32> {
        let tokens: Vec<String> = self.tokens(text).collect();
        tokens
            .into_iter()
            .map(|t| {
                let next = u32::try_from(self.words.len()).unwrap_or(u32::MAX);
                *self.words.entry(t).or_insert(next)
            })
            .collect()
    }

    fn word(&self, token: &str) -> Option<u32> {
        if let Some(w) = self.words.get(token) {
            return Some(*w);
        }
        if token.chars().count() < 4 {
            return None;
        }
        let close = |w: &&String| {
            w.len().abs_diff(token.len()) <= 1 && w.len() >= 4 && crate::knowledge::near::distance(w, token) <= 1
        };
        // The smallest by name, so that the order of a hash table decides nothing.
        self.words.keys().filter(close).min().map(|w| self.words[w])
    }
}

/// Cuts the commonest English endings, so that "leaks", "leaking" and "leaked" are one.
fn stem(word: &str) -> String {
    for ending in ["ings", "ing", "ed", "es", "s", "y"] {
        if let Some(cut) = word.strip_suffix(ending)
            && cut.len() >= 3
            && !(ending == "s" && cut.ends_with('s'))
        {
            return cut.trim_end_matches('e').to_owned();
        }
    }
    word.trim_end_matches('e').to_owned()
}

impl CauseMatcher for WordMatcher {
    /// Weighted overlap 2 |A and B| / (|A| + |B|) (L. Dice, "Measures of the amount of ecologic association between
    /// species", Ecology 26, 1945) with the best of each suspect's names, words that no name holds weighing as one
    /// common word.
    fn suspects(&self, words: &str) -> Vec<(String, f64)> {
        let known: Vec<Option<u32>> = self.tokens(words).map(|t| self.word(&t)).collect();
        let given: BTreeSet<u32> = known.iter().flatten().copied().collect();
        let strange = known.iter().filter(|w| w.is_none()).count() as f64;
        let weigh = |set: &mut dyn Iterator<Item = u32>| -> f64 { set.map(|w| self.weight[w as usize]).sum() };
        let of_given = weigh(&mut given.iter().copied()) + strange;
        let best = |phrases: &[BTreeSet<u32>]| -> f64 {
            let scores = phrases.iter().map(|p| {
                let common = weigh(&mut p.intersection(&given).copied());
                2.0 * common / (of_given + weigh(&mut p.iter().copied()))
            });
            scores.fold(0.0, f64::max)
        };
        let named = self.by_name.get(&self.tokens(words).collect::<Vec<_>>());
        let mut out: Vec<(String, f64)> = self
            .suspects
            .iter()
            .enumerate()
            .map(|(k, (id, p))| {
                // Beside a suspect called by its own name, the same words in another order are another's.
                let most = if named.is_some_and(|n| *n != k) { ALL_BUT_SAID } else { 1.0 };
                (id.clone(), best(p).min(most))
            })
            .filter(|(_, s)| *s > 0.05)
            .collect();
        out.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shipped;

    fn read(words: &str) -> Said {
        said(words, &WordMatcher::new(&shipped::base().unwrap()))
    }

    #[test]
    fn plain_words_find_their_suspect() {
        for (words, id) in [
            ("purge valve leaking when shut", "purge-valve/leaks"),
            ("Purge valve stuck open", "purge-valve/stuck-open"),
            ("purge solenoid stuck open", "purge-valve/stuck-open"),
            ("filler cap seal worn", "filler-cap/seal-worn"),
            ("pruge vlave stuck open", "purge-valve/stuck-open"),
        ] {
            assert_eq!(read(words), Said::Found(id.to_owned()), "{words}");
        }
    }

    #[test]
    fn every_suspect_is_found_by_its_own_name() {
        let base = shipped::base().unwrap();
        let matcher = WordMatcher::new(&base);
        let lost: Vec<_> = base
            .suspects()
            .map(|(_, s)| (s.id.clone(), said(&s.name, &matcher)))
            .filter(|(id, read)| *read != Said::Found(id.clone()))
            .collect();
        assert!(lost.len() * 50 <= base.suspects().count(), "{lost:#?}");
    }

    #[test]
    fn doubt_and_silence_are_heard() {
        assert_eq!(read(""), Said::Unsure(vec![]));
        assert_eq!(read("NFF"), Said::NoFault);
        assert!(matches!(read("purge valve stuck open?"), Said::Unsure(c) if c[0].0 == "purge-valve/stuck-open"));
        assert!(matches!(read("flux capacitor worn through"), Said::Held(_)));
        assert!(matches!(read("valve"), Said::Held(_)));
    }

    #[test]
    fn two_faults_are_two() {
        let two = read("filler cap seal worn and purge valve stuck open");
        assert_eq!(two, Said::Several(vec!["filler-cap/seal-worn".into(), "purge-valve/stuck-open".into()]));
    }
}

//! Finds suspects and parts by words in common with their names: rare words weigh more, slips of one letter in longer words
//! are forgiven.

use super::cause::{ALL_BUT_SAID, CauseMatcher};
use knowledge::base::Base;
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// Matches by words in common with the names of suspects and parts, rare words weighing more; slips of one letter
/// in longer words are forgiven.
#[derive(Clone, Debug)]
pub struct WordMatcher {
    suspects: Vec<OneSuspect>,
    parts: Vec<OnePart>,
    words: HashMap<String, u32>,
    weight: Vec<f64>,
    alias: BTreeMap<String, String>,
    /// The suspects' own names with their words in order, which sets of words cannot tell apart: "bank 1 sensor 2" and
    /// "bank 2 sensor 1".
    by_name: HashMap<Vec<String>, usize>,
}

/// A suspect as words.
#[derive(Clone, Debug)]
struct OneSuspect {
    id: String,
    /// Index of its part.
    part: usize,
    /// All that it may be called.
    phrases: Vec<BTreeSet<u32>>,
    /// How many of the phrases are its own, with the way it fails spelt out.
    own: usize,
    /// Words that tell the way it fails: of its own phrases, less those that name the part.
    way: BTreeSet<u32>,
}

/// A part as words.
#[derive(Clone, Debug)]
struct OnePart {
    id: String,
    names: Vec<BTreeSet<u32>>,
    suspects: Vec<usize>,
}

/// A part that words name.
#[derive(Clone, Debug, PartialEq)]
pub struct Named {
    /// Its id.
    pub part: String,
    /// Suspects of it that the words allow: those whose way of failing they touch, all where they touch none.
    pub may_be: Vec<String>,
    /// Whether they touch any.
    pub way: bool,
    /// How much of the words is understood so, 0 to 1.
    pub certainty: f64,
}

/// Words that say nothing about which part it is, nor in which way it failed: what was done about it, above all.
const EMPTY: [&str; 58] = [
    "all",
    "good",
    "now",
    "ok",
    "done",
    "one",
    "traced",
    "sorted",
    "fixed",
    "the",
    "a",
    "an",
    "of",
    "in",
    "on",
    "at",
    "to",
    "is",
    "was",
    "were",
    "and",
    "with",
    "when",
    "found",
    "replaced",
    "new",
    "bad",
    "faulty",
    "failed",
    "fitted",
    "by",
    "for",
    "it",
    "renewed",
    "renew",
    "replace",
    "rplcd",
    "repl",
    "changed",
    "change",
    "swapped",
    "swap",
    "repaired",
    "repair",
    "installed",
    "install",
    "defective",
    "duff",
    "kaput",
    "unit",
    "assembly",
    "assy",
    "complete",
    "oem",
    "genuine",
    "again",
    "part",
    "customer",
];

impl WordMatcher {
    /// A matcher over the suspects of a base.
    #[must_use]
    pub fn new(base: &Base) -> Self {
        let mut out = Self {
            suspects: Vec::new(),
            parts: Vec::new(),
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
        for part in &base.parts {
            let names: Vec<BTreeSet<u32>> =
                std::iter::once(&part.name).chain(&part.also).map(|n| out.take(n)).filter(|n| !n.is_empty()).collect();
            let of_part: BTreeSet<u32> = names.iter().flatten().copied().collect();
            let place = out.parts.len();
            out.parts.push(OnePart { id: part.id.clone(), names, suspects: Vec::new() });
            for s in &part.suspects {
                let mode = s.name.strip_prefix(part.name.to_lowercase().as_str()).unwrap_or(&s.name).to_owned();
                let id = s.id.replace(['/', '-'], " ");
                let mut phrases = vec![out.take(&s.name), out.take(&id)];
                phrases.extend(s.also.iter().map(|a| out.take(a)));
                phrases.retain(|p| !p.is_empty());
                let own = phrases.len();
                for name in std::iter::once(&part.name).chain(&part.also) {
                    phrases.push(out.take(&format!("{name} {mode}")));
                }
                phrases.retain(|p| !p.is_empty());
                let way = phrases[..own].iter().flatten().filter(|w| !of_part.contains(w)).copied().collect();
                in_suspects.push(phrases.iter().flatten().copied().collect());
                let in_order = out.tokens(&s.name).collect();
                out.by_name.insert(in_order, out.suspects.len());
                out.parts[place].suspects.push(out.suspects.len());
                out.suspects.push(OneSuspect { id: s.id.clone(), part: place, phrases, own, way });
            }
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

    /// The words that are known, and how many are not.
    fn known(&self, words: &str) -> (BTreeSet<u32>, f64) {
        let known: Vec<Option<u32>> = self.tokens(words).map(|t| self.word(&t)).collect();
        (known.iter().flatten().copied().collect(), known.iter().filter(|w| w.is_none()).count() as f64)
    }

    fn weigh(&self, words: impl Iterator<Item = u32>) -> f64 {
        words.map(|w| self.weight[w as usize]).sum()
    }

    /// Weighted overlap 2 |A and B| / (|A| + |B|) (L. Dice, "Measures of the amount of ecologic association between
    /// species", Ecology 26, 1945), words that no name holds weighing as one common word.
    fn overlap(&self, given: &BTreeSet<u32>, strange: f64, phrase: &BTreeSet<u32>) -> f64 {
        let both = self.weigh(phrase.intersection(given).copied());
        2.0 * both / (self.weigh(given.iter().copied()) + strange + self.weigh(phrase.iter().copied()))
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
            w.len().abs_diff(token.len()) <= 1 && w.len() >= 4 && knowledge::near::distance(w, token) <= 1
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
    /// The best overlap with each suspect's names.
    fn suspects(&self, words: &str) -> Vec<(String, f64)> {
        let (given, strange) = self.known(words);
        let best = |phrases: &[BTreeSet<u32>]| -> f64 {
            phrases.iter().map(|p| self.overlap(&given, strange, p)).fold(0.0, f64::max)
        };
        let named = self.by_name.get(&self.tokens(words).collect::<Vec<_>>());
        let mut out: Vec<(String, f64)> = self
            .suspects
            .iter()
            .enumerate()
            .map(|(k, s)| {
                // Beside a suspect called by its own name, the same words in another order are another's.
                let most = if named.is_some_and(|n| *n != k) { ALL_BUT_SAID } else { 1.0 };
                (s.id.clone(), best(&s.phrases).min(most))
            })
            .filter(|(_, s)| *s > 0.05)
            .collect();
        out.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        out
    }

    fn names_the_way(&self, words: &str, suspect: &str) -> bool {
        let Some(k) = self.suspects.iter().position(|s| s.id == suspect) else { return false };
        let s = &self.suspects[k];
        if self.by_name.get(&self.tokens(words).collect::<Vec<_>>()) == Some(&k) {
            return true;
        }
        let (given, strange) = self.known(words);
        let whole = self.parts[s.part].names.iter().filter(|n| n.is_subset(&given)).flatten().copied().collect();
        let rest: BTreeSet<u32> = given.difference(&whole).copied().collect();
        // Where nothing is left beside the part's name, no way was said, though a mode may be called much the same.
        let whole_name = |p: &BTreeSet<u32>| self.overlap(&given, strange, p) >= ALL_BUT_SAID;
        !rest.is_empty() && (!s.way.is_disjoint(&rest) || s.phrases[..s.own].iter().any(whole_name))
    }

    fn part(&self, words: &str) -> Option<Named> {
        let (given, strange) = self.known(words);
        // The longest name of which every word is there; where two parts go by it, it is one of both.
        let of_part = |p: &OnePart| {
            let whole = p.names.iter().filter(|n| n.is_subset(&given)).map(|n| self.weigh(n.iter().copied()));
            whole.fold(0.0, f64::max)
        };
        let scored: Vec<f64> = self.parts.iter().map(of_part).collect();
        let most = scored.iter().copied().fold(0.0, f64::max);
        let parts: Vec<&OnePart> =
            (0..scored.len()).filter(|i| most > 0.0 && scored[*i] > most - 1e-9).map(|i| &self.parts[i]).collect();
        let first = parts.first()?;
        let longest = |p: &OnePart| {
            let whole = p.names.iter().filter(|n| n.is_subset(&given)).cloned();
            whole.max_by(|a, b| self.weigh(a.iter().copied()).total_cmp(&self.weigh(b.iter().copied())))
        };
        let names: BTreeSet<u32> = parts.iter().flat_map(|p| &p.names).flatten().copied().collect();
        let rest: BTreeSet<u32> = given.difference(&names).copied().collect();
        let hit = |s: usize| self.weigh(self.suspects[s].way.intersection(&rest).copied());
        let all: Vec<usize> = parts.iter().flat_map(|p| &p.suspects).copied().collect();
        let best = all.iter().map(|s| hit(*s)).fold(0.0, f64::max);
        let may_be: Vec<usize> = all.into_iter().filter(|s| hit(*s) > best - 1e-9).collect();
        let mut understood = longest(first)?;
        if best > 0.0 {
            understood.extend(self.suspects[*may_be.first()?].way.intersection(&rest));
        }
        Some(Named {
            part: first.id.clone(),
            way: best > 0.0,
            certainty: self.overlap(&given, strange, &understood),
            may_be: may_be.into_iter().map(|s| self.suspects[s].id.clone()).collect(),
        })
    }

    fn modes(&self, part: &str) -> Vec<String> {
        let place = self.parts.iter().position(|p| p.id == part);
        self.suspects.iter().filter(|s| Some(s.part) == place).map(|s| s.id.clone()).collect()
    }
}

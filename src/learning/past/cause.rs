//! From a shop's words for what was at fault to suspects. A matcher gives scores; here it is decided what is sure,
//! what a person must look at, and what says that nobody knew.

use super::words::Named;

/// Finds suspects by words.
pub trait CauseMatcher: Sync {
    /// Suspect ids with scores between 0 and 1, best first; empty when no word fits. 1 means that all of the words
    /// fit and nothing else does.
    fn suspects(&self, words: &str) -> Vec<(String, f64)>;

    /// Whether the words say in which way this suspect's part failed, and not only that it did, or was replaced.
    fn names_the_way(&self, words: &str, suspect: &str) -> bool;

    /// The part that the words name, if they name one.
    fn part(&self, words: &str) -> Option<Named>;

    /// The suspects of a part; none when the base has no such part.
    fn modes(&self, part: &str) -> Vec<String>;
}

/// What the words for a cause say.
#[derive(Clone, Debug, PartialEq)]
pub enum Said {
    /// This suspect.
    Found(String),
    /// These suspects at once.
    Several(Vec<String>),
    /// One of these ways in which one part can fail; the words do not say which.
    OneOf(Vec<String>),
    /// Nobody was sure; these came to mind, with shares of belief.
    Unsure(Vec<(String, f64)>),
    /// Nothing was wrong.
    NoFault,
    /// Words that a person has to look at, with what they may mean.
    Held(Vec<(String, f64)>),
}

/// Certainty from which words are taken to mean one suspect, or one part: how much of them is understood so. What is below is
/// held for a person.
pub const SURE: f64 = 0.62;
/// Lead over the next that it needs.
const LEAD: f64 = 0.10;
/// Score at which the words are all but the suspect's own name; a small lead is enough then.
pub(super) const ALL_BUT_SAID: f64 = 0.95;
/// That lead.
const LEAD_WHEN_SAID: f64 = 0.02;
/// Certainty from which a single way that a part's name goes with settles it, though others come near.
const SURE_OF_THE_WAY: f64 = 0.75;
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

/// What these words say, and how certain that is: how much of them was understood so, 0 to 1.
#[must_use]
pub fn said(words: &str, matcher: &dyn CauseMatcher) -> (Said, f64) {
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
        return (Said::Unsure(Vec::new()), 1.0);
    }
    if says(&NO_FAULT) {
        return (Said::NoFault, 1.0);
    }
    // Two faults are written with a plus or an "and"; both halves must be sure, else it is one phrase.
    for joint in [" + ", " and ", " & ", "; "] {
        let halves: Vec<&str> = lower.split(joint).collect();
        if halves.len() == 2 {
            let both: Vec<Option<(String, f64)>> =
                halves.iter().map(|h| sure(h, &matcher.suspects(h), matcher)).collect();
            if let [Some(a), Some(b)] = both.as_slice()
                && a.0 != b.0
            {
                return (Said::Several(vec![a.0.clone(), b.0.clone()]), a.1.min(b.1));
            }
        }
    }
    let found: Vec<(String, f64)> =
        matcher.suspects(&lower).into_iter().filter(|(_, s)| *s >= WORTH_A_LOOK).take(4).collect();
    let best = found.first().map_or(0.0, |f| f.1);
    let named = matcher.part(&lower).filter(|n| n.certainty >= SURE);
    if says(&UNSURE) {
        return match named.filter(|n| !n.way) {
            Some(n) => (Said::OneOf(n.may_be), n.certainty),
            None => {
                let sum: f64 = found.iter().map(|f| f.1).sum();
                (Said::Unsure(found.into_iter().map(|(id, s)| (id, s / sum)).collect()), best)
            }
        };
    }
    if let Some((id, score)) = sure(&lower, &found, matcher) {
        return (Said::Found(id), score);
    }
    match named {
        Some(Named { may_be, way, certainty, .. }) if may_be.len() == 1 && (!way || certainty >= SURE_OF_THE_WAY) => {
            (Said::Found(may_be[0].clone()), certainty)
        }
        Some(Named { may_be, certainty, .. }) if may_be.len() > 1 => (Said::OneOf(may_be), certainty),
        _ => (Said::Held(found), best),
    }
}

/// The suspect that is surely meant, with its score. One word names a part or a fault, never one failing in one way, so it is
/// not enough; nor are many that name the part alone.
fn sure(words: &str, found: &[(String, f64)], matcher: &dyn CauseMatcher) -> Option<(String, f64)> {
    let (id, score) = found.first()?;
    let next = found.get(1).map_or(0.0, |f| f.1);
    let lead = if *score >= ALL_BUT_SAID { LEAD_WHEN_SAID } else { LEAD };
    let enough = words.split_whitespace().nth(1).is_some();
    // A part that the words name better is meant, and not a suspect of another that shares words with it.
    let other = || matcher.part(words).is_some_and(|n| !n.may_be.contains(id) && n.certainty > *score);
    (enough && *score >= SURE && score - next >= lead && matcher.names_the_way(words, id) && !other())
        .then(|| (id.clone(), *score))
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::past::words::WordMatcher;

    fn read(words: &str) -> Said {
        said(words, &WordMatcher::new(&shipped::base().unwrap())).0
    }

    /// A part that was replaced, by whatever name, is some mode of it and never one.
    #[test]
    fn a_part_alone_is_some_mode_of_it() {
        for words in [
            "replaced gas cap",
            "new gas cap",
            "gas cap faulty, replaced",
            "fuel cap",
            "filler cap renewed",
            "purge valve replaced",
            "bad purge solenoid",
            "new EGR valve fitted",
            "canister vent valve replaced",
        ] {
            let Said::OneOf(modes) = read(words) else { panic!("{words}: {:?}", read(words)) };
            // Where two parts go by one name it may be either; never fewer than all modes of one.
            let base = shipped::base().unwrap();
            let part = base.part(modes[0].split('/').next().unwrap()).unwrap();
            assert!(modes.len() > 1 && part.suspects.iter().all(|s| modes.contains(&s.id)), "{words}: {modes:?}");
        }
        // With part of the way said, those modes are left that it fits.
        let Said::OneOf(modes) = read("purge valve stuck") else { panic!("{:?}", read("purge valve stuck")) };
        assert!(modes.iter().all(|m| m.starts_with("purge-valve/stuck")) && modes.len() > 1, "{modes:?}");
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
            .map(|(_, s)| (s.id.clone(), said(&s.name, &matcher).0))
            .filter(|(id, read)| *read != Said::Found(id.clone()))
            .collect();
        assert!(lost.len() * 50 <= base.suspects().count(), "{lost:#?}");
    }

    #[test]
    fn doubt_and_silence_are_heard() {
        assert_eq!(read(""), Said::Unsure(vec![]));
        assert_eq!(read("NFF"), Said::NoFault);
        assert!(matches!(read("purge valve stuck open?"), Said::Unsure(c) if c[0].0 == "purge-valve/stuck-open"));
        assert!(matches!(read("gas cap?"), Said::OneOf(c) if c.len() > 1));
        for vague in ["evap leak", "the usual", "hose thing at back", "leak found and sorted"] {
            assert!(matches!(read(vague), Said::Held(_)), "{vague}: {:?}", read(vague));
        }
        assert!(matches!(read("flux capacitor worn through"), Said::Held(_)));
        assert!(matches!(read("valve"), Said::Held(_)));
    }

    #[test]
    fn two_faults_are_two() {
        let two = read("filler cap seal worn and purge valve stuck open");
        assert_eq!(two, Said::Several(vec!["filler-cap/seal-worn".into(), "purge-valve/stuck-open".into()]));
    }
}

//! What a query denies: "no smell", "it is not the cap", "runs fine". What is denied must not attract. Knows a few turns of
//! English, not cars; "will not shut" is no denial but a fault, and stays.

use super::words::{NOT, Plain, Worth, worth};
use std::ops::Range;

/// What one would rather not have: denied, it is absent. (`no power` is not: there it is the lack that is complained of.)
const UNWELCOME: &[&str] = &[
    "bubbles",
    "code",
    "codes",
    "complaint",
    "complaints",
    "crack",
    "cracks",
    "drip",
    "drips",
    "dripping",
    "dtc",
    "dtcs",
    "fault",
    "faults",
    "fumes",
    "hiss",
    "hissing",
    "knock",
    "leak",
    "leakage",
    "leaking",
    "leaks",
    "light",
    "lights",
    "message",
    "misfire",
    "misfires",
    "noise",
    "noises",
    "odor",
    "odors",
    "problem",
    "problems",
    "puddle",
    "puddles",
    "rattle",
    "rattles",
    "rust",
    "smell",
    "smells",
    "smelling",
    "smoke",
    "smokes",
    "smoking",
    "sound",
    "sounds",
    "stink",
    "stumble",
    "symptom",
    "symptoms",
    "warning",
    "warnings",
    "whiff",
];

/// Words that may stand between the denial and what is denied.
const BETWEEN: &[&str] = &[
    "any", "audible", "check", "engine", "evidence", "exhaust", "external", "fault", "fuel", "funny", "gas",
    "gasoline", "obvious", "odd", "of", "other", "petrol", "sign", "signs", "strange", "stored", "trace", "traces",
    "trouble", "unusual", "visible", "visual", "warning",
];

/// Verbs after which praise says that nothing is wrong.
const GOES: &[&str] = &[
    "runs", "run", "running", "drives", "driving", "idles", "idling", "starts", "starting", "pulls", "works",
    "working", "ran", "drove", "started",
];

/// Verbs that tie a thing to its praise.
const IS: &[&str] = &[
    "is", "are", "was", "were", "looks", "look", "looked", "seems", "seem", "seemed", "checks", "checked", "tests",
    "tested", "feels",
];

/// Praise.
const FINE: &[&str] = &[
    "fine",
    "ok",
    "okay",
    "good",
    "well",
    "great",
    "perfect",
    "perfectly",
    "normal",
    "normally",
    "sound",
    "smoothly",
    "intact",
    "alright",
];

/// The words of the text that are denied, as ranges. `parts` tells where thoughts end: a denial does not reach beyond.
#[must_use]
pub fn denied(words: &[Plain], clauses: &[usize]) -> Vec<Range<usize>> {
    let text = |i: usize| words.get(i).map_or("", |w| w.text.as_str());
    let is = |i: usize, list: &[&str]| list.contains(&text(i));
    let same = |a: usize, b: usize| clauses.get(a).is_some() && clauses.get(a) == clauses.get(b);
    let mut out: Vec<Range<usize>> = Vec::new();
    for i in 0..words.len() {
        if text(i) == NOT {
            let mut at = i + 1;
            while same(i, at)
                && !is(at, UNWELCOME)
                && at <= i + 4
                && (is(at, BETWEEN) || worth(text(at)) == Worth::Empty)
            {
                at += 1;
            }
            // "Warning light" and "fault code": the last of them is what is denied.
            if same(i, at) && is(at, UNWELCOME) || (at > i + 1 && is(at - 1, UNWELCOME)) {
                out.push(i..reach(i, words, clauses));
                continue;
            }
            let article = (1..=2).find(|k| matches!(text(i + k), "the" | "my") && same(i, i + k));
            if article.is_some_and(|k| {
                k == 1 || matches!(text(i + 1), "be" | "been" | "by" | "in" | "from" | "just" | "only")
            }) && !is(i + 1, &["just", "only"])
            {
                out.push(i..reach(i, words, clauses));
            }
        } else if is(i, FINE) && text(i + 1) != "to" && i > 0 && same(i - 1, i) {
            let verb = (1..=2).filter_map(|k| i.checked_sub(k)).find(|v| same(*v, i) && (is(*v, IS) || is(*v, GOES)));
            if let Some(verb) = verb {
                let mut from = verb;
                while from > 0 && same(from - 1, verb) && verb - from < 4 {
                    from -= 1;
                }
                // A question asks whether it is fine; it does not say so.
                if !is(from, &["is", "are", "what", "how", "does", "if", "whether", "should", "can"]) {
                    out.push(from..i + 1);
                }
            }
        } else if is(i, FINE)
            && is(i + 1, &["in", "at", "on", "when", "once", "otherwise", "during", "after", "while", "if"])
            && (i == 0 || !same(i - 1, i))
        {
            // "Fine in town": a thought that begins with praise says where nothing is wrong.
            out.push(i..reach(i, words, clauses));
        } else if (text(i) == "ruled" || text(i) == "eliminated") && same(i, i + 1)
            || (text(i) == "wrong" && text(i + 1) == "with" && i > 0 && text(i - 1) == "nothing")
        {
            out.push(i..reach(i, words, clauses));
        }
    }
    out
}

/// How far a denial reaches: to the end of the thought, at most so many words.
fn reach(from: usize, words: &[Plain], clauses: &[usize]) -> usize {
    const WORDS: usize = 6;
    let turns = |i: usize| {
        matches!(words[i].text.as_str(), "when" | "after" | "while" | "just" | "only" | "since" | "until" | "still")
    };
    (from + 1..words.len())
        .take(WORDS)
        .find(|i| clauses.get(*i) != clauses.get(from) || turns(*i))
        .unwrap_or_else(|| words.len().min(from + 1 + WORDS))
}

/// The thought to which each word belongs: parted by stops and by joining words.
#[must_use]
pub fn clauses(text: &str, words: &[Plain]) -> Vec<usize> {
    let mut clause = 0;
    let mut end = 0;
    let mut out = Vec::with_capacity(words.len());
    for word in words {
        let between = text.get(end..word.from).unwrap_or_default();
        if between.contains([',', '.', ';', ':', '!', '?', '(', ')', '\n', '–', '—', '|', '+'])
            || between.contains(" - ")
            || matches!(word.text.as_str(), "and" | "but" | "because" | "then")
        {
            clause += 1;
        }
        end = end.max(word.to);
        out.push(clause);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::words::plain_words;
    use super::*;

    fn left(text: &str) -> String {
        let words = plain_words(text);
        let denied = denied(&words, &clauses(text, &words));
        let kept = words
            .iter()
            .enumerate()
            .filter(|(i, w)| !denied.iter().any(|d| d.contains(i)) && worth(&w.text) != Worth::Empty);
        kept.map(|(_, w)| w.text.as_str()).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn what_is_denied_falls_away_and_faults_stay() {
        assert_eq!(left("hisses at the cap, no smell, runs fine"), "hisses at cap");
        assert_eq!(left("it's not the cap but the tank hisses"), "tank hisses");
        assert_eq!(left("hard to start without a code"), "hard start");
        assert_eq!(left("no smell of petrol, clicks off"), "clicks off");
        assert_eq!(left("purge valve will not shut"), "purge valve not shut");
        assert_eq!(left("no power uphill"), "not power uphill");
        assert_eq!(left("is it fine to smoke"), "fine smoke");
        assert_eq!(left("nothing wrong with the cap, still stalls"), "nothing still stalls");
        assert_eq!(left("gauge does not move"), "gauge not move");
        assert_eq!(left("gets hot on the motorway, fine in town"), "hot on motorway");
    }
}

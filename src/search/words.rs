//! From text to words: where they stand, in one English, and which of them say something. Knows English, not cars.

use super::stop_words::listed;

/// Words longer than this are no words; they would only cost time.
const LONGEST_WORD: usize = 40;

/// How much a word says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Worth {
    /// It says something about a car.
    Content,
    /// It says a little: where, when, how often.
    Weak,
    /// It tells a story round the complaint: people, times, places.
    Story,
    /// It says nothing.
    Empty,
}

/// How much the word says.
#[must_use]
pub fn worth(word: &str) -> Worth {
    let alone = || if word.chars().count() == 1 { Worth::Weak } else { Worth::Content };
    listed(word).unwrap_or_else(alone)
}

/// One word as it stands in a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plain {
    /// Lower case, one English, no apostrophes.
    pub text: String,
    /// First byte in the text.
    pub from: usize,
    /// Byte after the last.
    pub to: usize,
}

/// The words of a text. Anything that is not a letter or a digit parts them; a point between digits does not.
///
/// "Never", "no", "without", "fails to" and their like all come out as `not`, because a valve that never shuts, fails to
/// shut and does not shut is one and the same.
#[must_use]
pub fn plain_words(text: &str) -> Vec<Plain> {
    let mut out: Vec<Plain> = Vec::new();
    for (from, to) in raw_words(text) {
        let raw = &text[from..to];
        for word in plain(raw) {
            match out.last_mut().filter(|last| word == "to" && REFUSING.contains(&last.text.as_str())) {
                Some(last) => NOT.clone_into(&mut last.text),
                None => out.push(Plain { text: word, from, to }),
            }
        }
    }
    out
}

/// The one word for every way to deny.
pub const NOT: &str = "not";

/// Words that deny what follows, by themselves.
const DENYING: &[&str] = &["never", "no", "nor", "without"];

/// Words that deny what follows after a `to`.
const REFUSING: &[&str] = &["fail", "failed", "failing", "fails", "refuse", "refused", "refuses", "refusing", "unable"];

/// Where the words of a text stand.
fn raw_words(text: &str) -> Vec<(usize, usize)> {
    let mut out = Vec::new();
    let mut chars = text.char_indices().peekable();
    let mut start = None;
    let mut last = ' ';
    while let Some((at, c)) = chars.next() {
        let part_of_word = c.is_alphanumeric() || {
            let next = chars.peek().map_or(' ', |(_, n)| *n);
            matches!(c, '\'' | '’' | '`' | '&') && last.is_alphabetic() && next.is_alphabetic()
                || c == '.' && last.is_ascii_digit() && next.is_ascii_digit()
        };
        match (start, part_of_word) {
            (None, true) => start = Some(at),
            (Some(from), false) => {
                out.push((from, at));
                start = None;
            }
            _ => {}
        }
        last = c;
    }
    out.extend(start.map(|from| (from, text.len())));
    out
}

/// A word brought to its plain form; "won't" gives two, something endless gives none.
fn plain(raw: &str) -> Vec<String> {
    if raw.len() > LONGEST_WORD {
        return Vec::new();
    }
    let lower = raw.to_lowercase().replace(['’', '`'], "'");
    // "won't close" and "will not close" are the same words.
    if let Some((_, verb)) = NEGATED.iter().find(|(short, _)| *short == lower.replace('\'', "")) {
        return vec![(*verb).to_owned(), "not".to_owned()];
    }
    let word = lower.split('\'').next().unwrap_or_default();
    if DENYING.contains(&word) {
        return vec![NOT.to_owned()];
    }
    if let Ok(at) = THUMBED.binary_search_by_key(&word, |(typed, _)| typed) {
        return vec![THUMBED[at].1.to_owned()];
    }
    vec![one_english(word)]
}

/// Little words as they are typed with a thumb, where spelling by likeness does not help: they are what tells what is asked.
const THUMBED: &[(&str, &str)] = &[
    ("chek", "check"),
    ("chekd", "checked"),
    ("chk", "check"),
    ("chkd", "checked"),
    ("hav", "have"),
    ("hw", "how"),
    ("meas", "measure"),
    ("msr", "measure"),
    ("repl", "replace"),
    ("shld", "should"),
    ("tst", "test"),
    ("ur", "your"),
    ("wat", "what"),
    ("wats", "what"),
    ("wen", "when"),
    ("wher", "where"),
    ("wich", "which"),
    ("wid", "with"),
    ("wif", "with"),
    ("wud", "would"),
];

/// Short forms with "not", and the verb in them.
const NEGATED: &[(&str, &str)] = &[
    ("arent", "are"),
    ("cannot", "can"),
    ("cant", "can"),
    ("canna", "can"),
    ("couldnt", "could"),
    ("didnt", "did"),
    ("doesnt", "does"),
    ("aint", "is"),
    ("dinnae", "do"),
    ("dont", "do"),
    ("hasnt", "has"),
    ("havent", "have"),
    ("isnt", "is"),
    ("shouldnt", "should"),
    ("wasnt", "was"),
    ("werent", "were"),
    ("wont", "will"),
    ("wouldnt", "would"),
];

/// Spellings that differ between Englishes, brought to one.
fn one_english(word: &str) -> String {
    const INSIDE: &[(&str, &str)] = &[
        ("vapour", "vapor"),
        ("odour", "odor"),
        ("colour", "color"),
        ("fuell", "fuel"),
        ("litre", "liter"),
        ("metre", "meter"),
        ("tyre", "tire"),
        ("sulph", "sulf"),
        ("aluminium", "aluminum"),
        ("centre", "center"),
        ("fibre", "fiber"),
        ("mould", "mold"),
        ("plough", "plow"),
        ("grey", "gray"),
        ("behaviour", "behavior"),
        ("catalys", "cataly"),
        ("catalyz", "cataly"),
    ];
    let mut word = word.to_owned();
    for (there, here) in INSIDE {
        if word.contains(there) && !(*there == "catalys" && word.starts_with("catalyst")) {
            word = word.replace(there, here);
        }
    }
    // "pressurise" and "pressurize", "energised" and "energized".
    for (there, here) in [("ise", "ize"), ("ised", "ized"), ("ises", "izes"), ("ising", "izing"), ("iser", "izer")] {
        if let Some(head) = word.strip_suffix(there).filter(|h| h.len() >= 5 && h.ends_with(['r', 'n', 'l', 'd'])) {
            return format!("{head}{here}");
        }
    }
    word
}

/// Short words that are abbreviations or units: they have no endings that could be taken off.
const ABBREVIATIONS: &[&str] = &[
    "ac", "aip", "amp", "amps", "bar", "bat", "cat", "cats", "cel", "cels", "cons", "cvv", "dc", "dmm", "dpf", "dps",
    "ecm", "ecu", "egr", "ems", "eps", "evap", "gas", "gpf", "hg", "inc", "ldp", "led", "leds", "maf", "map", "mil",
    "mils", "ms", "nox", "nvld", "o2", "obd", "ohms", "orvr", "pcm", "pcs", "pcv", "ports", "psi", "ptfe", "pwm",
    "sai", "sas", "sec", "sol", "sols", "tdc", "temp", "temps", "tps", "vac", "vacs", "vsv",
];

/// Whether the word has no endings to take off: an abbreviation, or anything with a digit in it.
#[must_use]
pub fn is_abbreviation(word: &str) -> bool {
    ABBREVIATIONS.binary_search(&word).is_ok() || word.bytes().any(|b| b.is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(text: &str) -> Vec<String> {
        plain_words(text).into_iter().map(|w| w.text).collect()
    }

    #[test]
    fn the_lists_are_sorted() {
        assert!(ABBREVIATIONS.is_sorted() && THUMBED.is_sorted());
    }

    #[test]
    fn short_forms_numbers_and_two_englishes_come_out_alike() {
        assert_eq!(texts("It won’t close"), ["it", "will", "not", "close"]);
        assert_eq!(texts("cannot, can't; cant"), ["can", "not", "can", "not", "can", "not"]);
        assert_eq!(texts("a 0.020 in. hole"), ["a", "0.020", "in", "hole"]);
        assert_eq!(texts("Refuelling vapours"), texts("refueling vapors"));
        assert_eq!(texts("the car's cap"), ["the", "car", "cap"]);
        assert!(texts("🚗 ((\"'' -- *").is_empty());
        assert!(texts(&"x".repeat(10_000)).is_empty());
    }

    #[test]
    fn words_know_where_they_stand() {
        let text = "Ärger: cap’s off";
        for w in plain_words(text) {
            assert!(text.get(w.from..w.to).is_some(), "{w:?}");
        }
    }
}

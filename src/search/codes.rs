//! Code numbers in any form inside a sentence: `P0455`, `p 04-42`, `po455`, `P. 0455`, `0455`, `455`, and said aloud: "oh four
//! four two", "p zero four ninety-six". Whether a code is known is the base's matter.

use super::words::Plain;

/// A number that reads as a code, and the words of the text it takes up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Number {
    /// As the base would write it: `P0455`.
    pub code: String,
    /// First of the words.
    pub word: usize,
    /// How many words.
    pub words: usize,
    /// Whether it can be nothing but a code: written or said with its P and four digits.
    pub certain: bool,
}

/// Most words that one code may be parted into: P, and four digits.
const PIECES: usize = 6;

/// All code numbers among the words, in order, each as long as it goes.
#[must_use]
pub fn numbers(words: &[Plain]) -> Vec<Number> {
    let mut out = Vec::new();
    let mut at = 0;
    while at < words.len() {
        let longest = PIECES.min(words.len() - at);
        let found = (1..=longest).rev().find_map(|count| code_of(&words[at..at + count]).map(|found| (count, found)));
        match found {
            Some((count, (code, certain))) => {
                out.push(Number { code, word: at, words: count, certain });
                at += count;
            }
            None => at += 1,
        }
    }
    out
}

/// The code that these words make up together, and whether they can be nothing else.
fn code_of(words: &[Plain]) -> Option<(String, bool)> {
    let mut pieces: Vec<&str> = words.iter().map(|w| w.text.as_str()).collect();
    let led = match pieces[0] {
        "p" | "pee" | "papa" => {
            pieces.remove(0);
            true
        }
        first => match first.strip_prefix('p').filter(|tail| written(tail).is_some()) {
            Some(tail) => {
                pieces[0] = tail;
                true
            }
            None => false,
        },
    };
    let aloud = pieces.iter().any(|p| written(p).is_none());
    let digits = digits_of(&pieces)?;
    let hex = digits.chars().all(|c| c.is_ascii_hexdigit());
    let decimal = digits.chars().filter(char::is_ascii_digit).count();
    let alone = pieces.len() == 1;
    let full = match digits.len() {
        // In several pieces only what begins as these codes do is one: "12 14" is a pair of numbers.
        4 if led || alone || digits.starts_with("04") => digits,
        // "455" is said where every code begins with P0.
        3 if led || alone || aloud && digits.starts_with('4') => format!("0{digits}"),
        _ => return None,
    };
    let certain = led && (words.len() > 1 || words[0].text.len() == 5);
    (hex && decimal >= 2).then(|| (format!("P{}", full.to_uppercase()), certain))
}

/// The digits of all pieces, three or four in all.
fn digits_of(pieces: &[&str]) -> Option<String> {
    let mut digits = String::new();
    let mut at = 0;
    while let Some(piece) = pieces.get(at) {
        let unit = pieces.get(at + 1).and_then(|next| ones(next)).filter(|n| *n != 0);
        if let Some(written) = written(piece) {
            digits.push_str(&written);
        } else if let Some(one) = ones(piece) {
            digits.push_str(&one.to_string());
        } else if let Some(ten) = tens(piece) {
            // "ninety-six" is two words and two digits.
            digits.push_str(&(ten + unit.unwrap_or(0)).to_string());
            at += usize::from(unit.is_some());
        } else if let Some(teen) = teens(piece) {
            digits.push_str(&teen.to_string());
        } else if *piece == "double" && unit.is_some() {
            digits.push_str(&unit.unwrap_or(0).to_string().repeat(2));
            at += 1;
        } else if *piece == "hundred" && at > 0 {
            // "four hundred one": what follows fills up the noughts.
            let rest = digits_of(&pieces[at + 1..]).unwrap_or_default();
            return (rest.len() <= 2).then(|| format!("{digits}{rest:0>2}"));
        } else {
            return None;
        }
        if digits.len() > 4 {
            return None;
        }
        at += 1;
    }
    Some(digits)
}

/// Digits as written, the letter O read as a nought, which is common where a code is copied by hand.
fn written(piece: &str) -> Option<String> {
    let digits = piece.replace('o', "0");
    let plain = digits.len() <= 4 && !digits.is_empty() && digits.chars().all(|c| c.is_ascii_hexdigit());
    (plain && piece.bytes().any(|b| b.is_ascii_digit())).then_some(digits)
}

fn ones(word: &str) -> Option<u32> {
    const ONES: [&[&str]; 10] = [
        &["zero", "oh", "o", "nought", "naught", "null"],
        &["one"],
        &["two"],
        &["three"],
        &["four"],
        &["five"],
        &["six"],
        &["seven"],
        &["eight"],
        &["nine", "niner"],
    ];
    (0..).zip(ONES).find(|(_, words)| words.contains(&word)).map(|(n, _)| n)
}

fn tens(word: &str) -> Option<u32> {
    const TENS: [&str; 8] = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"];
    (2..).zip(TENS).find(|(_, w)| *w == word || (*w == "forty" && word == "fourty")).map(|(n, _)| 10 * n)
}

fn teens(word: &str) -> Option<u32> {
    const TEENS: [&str; 10] =
        ["ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"];
    (10..).zip(TEENS).find(|(_, w)| *w == word).map(|(n, _)| n)
}

#[cfg(test)]
mod tests {
    use super::super::words::plain_words;
    use super::*;

    fn codes(text: &str) -> Vec<String> {
        numbers(&plain_words(text)).into_iter().map(|n| n.code).collect()
    }

    #[test]
    fn every_way_to_write_a_code_is_read() {
        let ways = [
            "P0455",
            "p 0455",
            "po455",
            "PO455",
            "P-0455",
            "0455",
            "455",
            "(p0455)",
            "P.0455",
            "P_0455",
            "P. 0455",
            "p 04-55",
            "p04 55",
            "P 0 4 5 5",
            "oh four five five",
            "p zero four fifty-five",
            "pee oh four fifty five",
            "four five five",
            "zero 4 five 5",
            "four fifty five",
            "p oh four double five",
            "four hundred fifty five",
            "it says four-five-five again",
            "P 0455!",
            "p0 455",
        ];
        for text in ways {
            assert_eq!(codes(text), ["P0455"], "{text}");
        }
        assert_eq!(codes("what is p04ab and 0442?"), ["P04AB", "P0442"]);
        assert_eq!(codes("p zero four ninety-six and four oh one, four eleven"), ["P0496", "P0401", "P0411"]);
    }

    #[test]
    fn words_and_other_numbers_are_no_codes() {
        let others = [
            "face",
            "bad cafe",
            "0.020 in",
            "12 volts",
            "14000 miles",
            "pool",
            "p",
            "P045512",
            "2009x",
            "12 14",
            "two or three times",
            "one two three",
            "four cylinders",
            "a 4 5",
            "forty five minutes",
            "ten past nine",
            "four by four",
        ];
        for text in others {
            assert!(codes(text).is_empty(), "{text}: {:?}", codes(text));
        }
        assert!(!numbers(&plain_words("455"))[0].certain);
        assert!(numbers(&plain_words("p 9999"))[0].certain);
    }
}

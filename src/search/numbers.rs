//! Code numbers in any form inside a sentence: `P0455`, `p 0455`, `po455`, `P-04AB`, `0455`, `455`. Whether a code is known is
//! the base's matter.

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
    /// Whether it can be nothing but a code: written with its P and four digits.
    pub certain: bool,
}

/// All code numbers among the words, in order.
#[must_use]
pub fn numbers(words: &[Plain]) -> Vec<Number> {
    let mut out = Vec::new();
    let mut at = 0;
    while let Some(word) = words.get(at) {
        let next = words.get(at + 1).filter(|_| word.text == "p");
        if let Some((code, certain)) = next.and_then(|n| code_of(&format!("p{}", n.text))) {
            out.push(Number { code, word: at, words: 2, certain });
            at += 2;
        } else {
            if let Some((code, certain)) = code_of(&word.text) {
                out.push(Number { code, word: at, words: 1, certain });
            }
            at += 1;
        }
    }
    out
}

/// The code that a word can stand for, and whether it can stand for nothing else.
fn code_of(word: &str) -> Option<(String, bool)> {
    let digits = word.strip_prefix('p').unwrap_or(word);
    let has_letter_p = digits.len() < word.len();
    // The letter O for the digit nought, which is common where the code is copied by hand.
    let digits = digits.replace('o', "0");
    let hex = digits.chars().all(|c| c.is_ascii_hexdigit());
    let decimal = digits.chars().filter(char::is_ascii_digit).count();
    let full = match digits.len() {
        4 => digits,
        // "455" is said where every code begins with P0.
        3 => format!("0{digits}"),
        _ => return None,
    };
    (hex && decimal >= 2).then(|| (format!("P{}", full.to_uppercase()), has_letter_p && word.len() == 5))
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
        for text in ["P0455", "p 0455", "po455", "PO455", "P-0455", "0455", "455", "(p0455)", "P.0455", "P_0455"] {
            assert_eq!(codes(text), ["P0455"], "{text}");
        }
        assert_eq!(codes("what is p04ab and 0442?"), ["P04AB", "P0442"]);
    }

    #[test]
    fn words_and_other_numbers_are_no_codes() {
        for text in ["face", "bad cafe", "0.020 in", "12 volts", "14000 miles", "pool", "p", "P045512", "2009x"] {
            assert!(codes(text).is_empty(), "{text}: {:?}", codes(text));
        }
        assert!(!numbers(&plain_words("455"))[0].certain);
        assert!(numbers(&plain_words("p 9999"))[0].certain);
    }
}

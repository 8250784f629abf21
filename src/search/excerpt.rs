//! A piece of text with the words that were found marked in it. Knows no colours.

use std::ops::Range;

/// Longest excerpt, in letters.
const LONGEST: usize = 140;
/// Letters before the first found word, where the beginning is cut off.
const BEFORE: usize = 40;

/// A text and the places in it that answer the query.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Excerpt {
    /// The text.
    pub text: String,
    /// Ranges of bytes in it, in order, apart.
    pub marks: Vec<Range<usize>>,
}

impl Excerpt {
    /// The text, cut to a readable length round the first mark.
    #[must_use]
    pub fn new(text: &str, marks: &[(usize, usize)]) -> Self {
        let mut marks: Vec<(usize, usize)> = marks.to_vec();
        marks.sort_unstable();
        let first = marks.first().map_or(0, |m| m.0);
        let from = if text.chars().count() <= LONGEST { 0 } else { cut_before(text, first) };
        let to =
            text[from..].char_indices().nth(LONGEST).map_or(text.len(), |(i, _)| word_end_before(text, from, from + i));
        let lead = if from > 0 { "… " } else { "" };
        let tail = if to < text.len() { " …" } else { "" };
        let shown = text[from..to].trim_end();
        let mut ranges: Vec<Range<usize>> = Vec::new();
        for (a, b) in marks.into_iter().filter(|(a, b)| *a >= from && *b <= from + shown.len()) {
            let (a, b) = (a - from + lead.len(), b - from + lead.len());
            match ranges.last_mut() {
                // Two words out of one, such as "won't", have one place.
                Some(last) if last.end >= a => last.end = last.end.max(b),
                _ => ranges.push(a..b),
            }
        }
        Self { text: format!("{lead}{shown}{tail}"), marks: ranges }
    }

    /// The text in pieces, each with whether it is marked.
    pub fn pieces(&self) -> Vec<(&str, bool)> {
        let mut out = Vec::new();
        let mut at = 0;
        for mark in &self.marks {
            out.push((&self.text[at..mark.start], false));
            out.push((&self.text[mark.clone()], true));
            at = mark.end;
        }
        out.push((&self.text[at..], false));
        out.retain(|(piece, _)| !piece.is_empty());
        out
    }
}

/// The start of a word not long before this place.
fn cut_before(text: &str, place: usize) -> usize {
    let head = &text[..place];
    let Some((early, _)) = head.char_indices().rev().nth(BEFORE) else { return 0 };
    head[early..].find(' ').map_or(place, |blank| early + blank + 1)
}

/// The end of the last whole word before this place.
fn word_end_before(text: &str, from: usize, to: usize) -> usize {
    text[from..to].rfind(' ').map_or(to, |blank| from + blank)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_text_stays_whole_and_touching_marks_join() {
        let e = Excerpt::new("valve won't shut", &[(6, 11), (0, 5), (6, 11)]);
        assert_eq!(e.pieces(), [("valve", true), (" ", false), ("won't", true), (" shut", false)]);
    }

    #[test]
    fn a_long_text_is_cut_at_words_round_the_first_mark() {
        let text = format!("{}needle{}", "häy ".repeat(60), " straw".repeat(60));
        let at = text.find("needle").unwrap();
        let e = Excerpt::new(&text, &[(at, at + 6)]);
        assert!(e.text.starts_with("… häy") && e.text.ends_with("straw …"), "{}", e.text);
        assert_eq!(&e.text[e.marks[0].clone()], "needle");
        assert!(e.text.chars().count() <= LONGEST + 4);
        assert!(Excerpt::new(&"é".repeat(500), &[]).text.chars().count() <= LONGEST + 4);
    }
}

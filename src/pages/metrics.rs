//! How wide a text is, and where its lines break, by the advance widths of a real font. Draws nothing.

use super::widths::{BOLD, REGULAR, RUNS, SIGNS};
use unicode_width::UnicodeWidthChar;

/// Size and weight of a text.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Font {
    /// Size in pixels.
    pub size: f64,
    /// Whether it is bold.
    pub bold: bool,
}

impl Font {
    /// An upright font of that size.
    #[must_use]
    pub const fn plain(size: f64) -> Self {
        Self { size, bold: false }
    }

    /// A bold font of that size.
    #[must_use]
    pub const fn bold(size: f64) -> Self {
        Self { size, bold: true }
    }

    /// Width of the text in pixels: an upper bound for the fonts that systems show for `sans-serif`. A character that the
    /// table does not have counts one em a column that it takes on a terminal, which only few scripts exceed; see
    /// [`known`].
    #[must_use]
    pub fn width(self, text: &str) -> f64 {
        text.chars().map(|c| f64::from(self.advance(c))).sum::<f64>() * self.size / 1000.0
    }

    fn advance(self, c: char) -> u16 {
        if let Some(w) = listed(c, self.bold) {
            return w;
        }
        #[expect(clippy::cast_possible_truncation, reason = "at most two columns")]
        let columns = c.width().unwrap_or(0) as u16;
        1000 * columns
    }

    /// The text in lines of at most that width, broken at blanks, or inside a word that is wider than a line.
    #[must_use]
    pub fn wrap(self, text: &str, room: f64) -> Vec<String> {
        let mut lines = Vec::new();
        let mut line = String::new();
        for word in text.split_whitespace() {
            let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
            if self.width(&longer) <= room {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for c in word.chars() {
                if !line.is_empty() && self.width(&line) + self.width(c.encode_utf8(&mut [0; 4])) > room {
                    lines.push(std::mem::take(&mut line));
                }
                line.push(c);
            }
        }
        if !line.is_empty() {
            lines.push(line);
        }
        lines
    }

    /// The same in at most so many lines; where something is missing the last one ends in `…`.
    #[must_use]
    pub fn wrap_at_most(self, text: &str, room: f64, most: usize) -> Vec<String> {
        let mut lines = self.wrap(text, room);
        if lines.len() > most {
            lines.truncate(most);
            if let Some(last) = lines.last_mut() {
                while !last.is_empty() && self.width(last) + self.width(" …") > room {
                    last.pop();
                }
                last.truncate(last.trim_end_matches([' ', ',', ';', ':']).len());
                last.push_str(" …");
            }
        }
        lines
    }
}

fn listed(c: char, bold: bool) -> Option<u16> {
    let mut start = 0;
    for (first, last) in RUNS {
        if (first..=last).contains(&c) {
            let at = start + (c as usize - first as usize);
            return Some(if bold { BOLD[at] } else { REGULAR[at] });
        }
        start += last as usize - first as usize + 1;
    }
    SIGNS.iter().find(|s| s.0 == c).map(|s| if bold { s.2 } else { s.1 })
}

/// Whether every character's width is known from the font; otherwise a drawing says how wide the text may become.
#[must_use]
pub fn known(text: &str) -> bool {
    text.chars().all(|c| listed(c, false).is_some())
}

#[cfg(test)]
mod tests {
    use super::*;
    use ttf_parser::Face;

    /// The table against the font itself, to a thousandth of the size.
    #[test]
    fn widths_are_those_of_the_font() {
        for (bold, file) in [(false, dejavu::sans::regular()), (true, dejavu::sans::bold())] {
            let face = Face::parse(file, 0).unwrap();
            let em = f64::from(face.units_per_em());
            let runs = RUNS.into_iter().flat_map(|(first, last)| first..=last);
            for c in runs.chain(SIGNS.iter().map(|s| s.0)) {
                let glyph = face.glyph_index(c).and_then(|g| face.glyph_hor_advance(g));
                let real = f64::from(glyph.unwrap_or_else(|| panic!("the font has no {c:?}"))) * 1000.0 / em;
                let told = f64::from(listed(c, bold).unwrap());
                assert!((0.0..1.0).contains(&(told - real)), "{c:?}: {told} for {real}");
            }
        }
    }

    #[test]
    fn no_line_is_wider_than_its_room() {
        let font = Font::bold(12.0);
        for text in ["one two three four five six", &"x".repeat(400), "a 漢字漢字漢字漢字漢字漢字漢字 b", "Wij Grüße…"]
        {
            for room in [30.0, 80.0, 300.0] {
                let lines = font.wrap(text, room);
                assert!(lines.iter().all(|l| font.width(l) <= room), "{text} {room} {lines:?}");
                let all: String = lines.concat().split_whitespace().collect();
                assert_eq!(all, text.split_whitespace().collect::<String>(), "nothing is lost");
            }
        }
    }

    #[test]
    fn what_is_cut_says_so() {
        let font = Font::plain(10.0);
        let lines = font.wrap_at_most("one two three four five six seven", 60.0, 2);
        assert_eq!(lines.len(), 2);
        assert!(lines[1].ends_with('…') && font.width(&lines[1]) <= 60.0, "{lines:?}");
        assert_eq!(font.wrap_at_most("one", 60.0, 2), ["one"]);
    }
}

//! Plain text on a terminal: harmless, wrapped and padded to true widths. Knows nothing of what it says.

use unicode_width::UnicodeWidthStr;

/// Whether a character can steer a terminal or turn the direction of text around it.
fn steers(c: char) -> bool {
    let turns = matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{61c}');
    c.is_control() || turns || matches!(c, '\u{feff}' | '\u{2028}' | '\u{2029}')
}

/// The text as one line without anything that could steer the terminal; what was taken out shows as `�`, a line
/// break or tab as a blank.
#[must_use]
pub fn harmless(text: &str) -> String {
    text.replace("\r\n", "\n")
        .chars()
        .map(|c| match c {
            '\n' | '\t' | '\r' => ' ',
            c if steers(c) => '\u{fffd}',
            c => c,
        })
        .collect()
}

/// The text with its line breaks, each line harmless.
#[must_use]
pub fn harmless_lines(text: &str) -> String {
    let lines: Vec<String> = text.replace("\r\n", "\n").split('\n').map(harmless).collect();
    lines.join("\n")
}

/// Columns that the text takes.
#[must_use]
pub fn columns(text: &str) -> usize {
    UnicodeWidthStr::width(text)
}

/// The text cut to so many columns, with `…` where something is missing.
#[must_use]
pub fn cut(text: &str, width: usize) -> String {
    if columns(text) <= width {
        return text.to_owned();
    }
    let mut out = String::new();
    for c in text.chars() {
        let mut longer = out.clone();
        longer.push(c);
        if columns(&longer) + 1 > width {
            break;
        }
        out = longer;
    }
    out.push('…');
    out
}

/// The text cut at a word to so many columns, with `…` where something is missing; a single word that is longer is cut
/// inside.
#[must_use]
pub fn cut_words(text: &str, width: usize) -> String {
    let text = harmless(text);
    if columns(&text) <= width {
        return text;
    }
    let mut out = String::new();
    for word in text.split_whitespace() {
        let longer = if out.is_empty() { word.to_owned() } else { format!("{out} {word}") };
        if columns(&longer) + 2 > width {
            break;
        }
        out = longer;
    }
    if out.is_empty() { cut(&text, width) } else { format!("{} …", out.trim_end_matches([',', ';', ':'])) }
}

/// The text with blanks behind it up to so many columns.
#[must_use]
pub fn left(text: &str, width: usize) -> String {
    format!("{text}{}", " ".repeat(width.saturating_sub(columns(text))))
}

/// The text with blanks before it up to so many columns.
#[must_use]
pub fn right(text: &str, width: usize) -> String {
    format!("{}{text}", " ".repeat(width.saturating_sub(columns(text))))
}

/// Columns that a lead must leave for text.
const LEAST_ROOM: usize = 16;

/// Appends the text wrapped to the width, the first line after `first`, the others after blanks of its width.
pub fn paragraph(out: &mut String, first: &str, text: &str, width: usize) {
    hanging(out, first, &" ".repeat(columns(first)), text, width);
}

/// Appends the text wrapped to the width, with one lead for the first line and another for the rest.
pub fn hanging(out: &mut String, first: &str, rest: &str, text: &str, width: usize) {
    // Where a lead leaves next to no room, the lines under it stand further left, and the first one takes what it needs.
    let narrow = columns(rest) + LEAST_ROOM > width;
    let rest = if narrow { &rest[..rest.len().min(2)] } else { rest };
    let text = harmless(text);
    let text = text.trim();
    if columns(first) + LEAST_ROOM > width && columns(first) + columns(text) > width {
        out.push_str(first.trim_end());
        out.push('\n');
        return hanging(out, rest, rest, text, width.max(columns(rest) + LEAST_ROOM));
    }
    // A word is never parted at its hyphen: ids are typed back as they stand.
    let options = textwrap::Options::new(width)
        .initial_indent(first)
        .subsequent_indent(rest)
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
        .break_words(true);
    let wrapped = textwrap::wrap(text, options);
    for line in wrapped {
        out.push_str(line.trim_end());
        out.push('\n');
    }
}

/// A probability as a person reads it: whole per cent, one digit below ten, never a false 0 or 100.
#[must_use]
pub fn percent(p: f64) -> String {
    let hundredths = p * 100.0;
    if hundredths > 99.5 && p < 1.0 {
        ">99 %".to_owned()
    } else if hundredths >= 9.95 {
        format!("{hundredths:.0} %")
    } else if hundredths >= 0.095 {
        format!("{hundredths:.1} %")
    } else if p > 0.0 {
        "<0.1 %".to_owned()
    } else {
        "0 %".to_owned()
    }
}

/// Minutes in words: `2 min`, `1 h 05`.
#[must_use]
pub fn minutes(minutes: f64) -> String {
    let whole = minutes.round();
    if whole < 60.0 {
        format!("{whole:.0} min")
    } else {
        format!("{:.0} h {:02.0}", (whole / 60.0).floor(), whole % 60.0)
    }
}

/// A bar of so many columns for a share between 0 and 1, in eighths of a column.
#[must_use]
pub fn bar(share: f64, width: usize) -> String {
    const EIGHTHS: [&str; 8] = ["", "▏", "▎", "▍", "▌", "▋", "▊", "▉"];
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "a share of a few dozen columns"
    )]
    let eighths = (share.clamp(0.0, 1.0) * width as f64 * 8.0).round() as usize;
    format!("{}{}", "█".repeat(eighths / 8), EIGHTHS[eighths % 8])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_that_steers_a_terminal_gets_through() {
        let nasty = "a\u{1b}[31mb\u{7}\u{202e}c\nd\u{9b}2J";
        let shown = harmless(nasty);
        assert!(!shown.chars().any(|c| c.is_control() || c == '\u{202e}'), "{shown:?}");
        assert_eq!(harmless("Grüße 👋"), "Grüße 👋");
    }

    #[test]
    fn probabilities_are_never_falsely_certain() {
        assert_eq!(percent(0.9999), ">99 %");
        assert_eq!(percent(0.183), "18 %");
        assert_eq!(percent(0.0994), "9.9 %");
        assert_eq!(percent(0.0999), "10 %");
        assert_eq!(percent(1e-9), "<0.1 %");
    }

    #[test]
    fn widths_are_columns_not_bytes() {
        assert_eq!(cut("漢字漢字", 5), "漢字…");
        assert_eq!(cut_words("one two three", 9), "one two …");
        assert_eq!(cut_words("one two, three", 10), "one two …");
        assert_eq!(cut_words("unbreakable", 5), "unbr…");
        assert_eq!(left("é", 3), "é  ");
        assert_eq!(bar(0.5, 4), "██");
    }
}

//! The few styles that screens use. They are always written; the output stream drops them where there is no colour.

use anstyle::{AnsiColor, Effects, Style};
use std::fmt::Display;

/// A heading.
pub const HEADING: Style = Style::new().effects(Effects::BOLD);
/// An id that can be typed back.
pub const ID: Style = AnsiColor::Cyan.on_default();
/// Something that is good to know and less than the rest.
pub const QUIET: Style = Style::new().effects(Effects::DIMMED);
/// Words that were looked for.
pub const FOUND: Style = Style::new().effects(Effects::BOLD.insert(Effects::UNDERLINE));
/// A caution: what can hurt.
pub const CAUTION: Style = AnsiColor::Yellow.on_default().effects(Effects::BOLD);
/// Something wrong.
pub const WRONG: Style = AnsiColor::Red.on_default().effects(Effects::BOLD);
/// The bar of a probability.
pub const BAR: Style = AnsiColor::Blue.on_default();

/// The text in that style.
pub fn paint(style: Style, text: impl Display) -> String {
    format!("{style}{text}{style:#}")
}

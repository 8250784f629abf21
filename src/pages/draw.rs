//! The small layer that all drawings stand on: one set of colours and line widths, texts that keep to their room.
//! Knows nothing of what is drawn.

use super::metrics::{Font, known};
use maud::{Markup, PreEscaped, html};
use screens::text::harmless;

/// Colours by name: name, on white paper, on a dark screen. Text on each of the grounds has a contrast of 4.5 to 1 or
/// more (WCAG 2.1, 1.4.3); the browser's check measures it.
const COLOURS: [(&str, &str, &str); 15] = [
    ("paper", "#ffffff", "#14161a"),
    ("ground", "#f4f5f7", "#1d2026"),
    ("ink", "#16181d", "#eceef2"),
    ("quiet", "#4a4f5a", "#b6bcc8"),
    ("rule", "#c3c7d0", "#4b515d"),
    ("edge", "#6a7080", "#8d95a5"),
    ("link", "#174ea6", "#9cc2ff"),
    ("test", "#ffffff", "#1d2026"),
    ("repair", "#e6eefb", "#1b2b45"),
    ("done", "#dcefdc", "#1b3a22"),
    ("hand", "#fbe9d2", "#46300f"),
    ("caution", "#fff3cd", "#3d3110"),
    ("caution-edge", "#8a5a00", "#e0b04a"),
    ("bar", "#2a62b8", "#6ea3f5"),
    ("bar-text", "#ffffff", "#0b0d10"),
];

/// Shapes of a drawing, in the colours by name.
const SHAPES: &str = "
.drawing{font-family:Arial,'Liberation Sans',Helvetica,sans-serif}
.drawing .paper{fill:var(--paper)}
.drawing .ink{fill:var(--ink)}
.drawing .quiet{fill:var(--quiet)}
.drawing .bold{font-weight:bold}
.drawing .box{stroke:var(--ink);stroke-width:1}
.drawing .test{fill:var(--test)}
.drawing .repair{fill:var(--repair)}
.drawing .done{fill:var(--done)}
.drawing .hand{fill:var(--hand)}
.drawing .way{fill:none;stroke:var(--ink);stroke-width:1}
.drawing .main{stroke-width:3}
.drawing .rule{fill:none;stroke:var(--rule);stroke-width:1}
.drawing .bar{fill:var(--bar)}
.drawing .span{fill:none;stroke:var(--ink);stroke-width:1.5}
";

/// Which colours.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Theme {
    /// White paper.
    Light,
    /// A dark screen.
    Dark,
}

/// The colours as declarations of a style sheet.
#[must_use]
pub fn colours(theme: Theme) -> String {
    let pick = |c: &(&str, &'static str, &'static str)| if theme == Theme::Light { c.1 } else { c.2 };
    COLOURS.iter().map(|c| format!("--{}:{};", c.0, pick(c))).collect()
}

/// The shapes for a page that declares the colours.
#[must_use]
pub fn shapes() -> &'static str {
    SHAPES
}

/// The shapes with the colours put in, for a drawing that stands alone: not every program that shows drawings knows
/// named colours.
fn shapes_alone() -> String {
    COLOURS.iter().fold(SHAPES.to_owned(), |s, (name, light, _)| s.replace(&format!("var(--{name})"), light))
}

/// A length to a tenth of a pixel.
#[must_use]
pub fn px(x: f64) -> f64 {
    (x * 10.0).round() / 10.0
}

/// A line of text that starts at `x`, or ends there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Where it starts or ends.
    pub x: f64,
    /// Its base line.
    pub y: f64,
    /// How it is set.
    pub font: Font,
    /// Whether it ends at `x`.
    pub ends: bool,
    /// Whether it matters less.
    pub quiet: bool,
}

impl Line {
    /// A line that starts there.
    #[must_use]
    pub const fn at(x: f64, y: f64, font: Font) -> Self {
        Self { x, y, font, ends: false, quiet: false }
    }

    /// The same in the colour of what matters less.
    #[must_use]
    pub const fn quiet(self) -> Self {
        Self { quiet: true, ..self }
    }

    /// The same, ending there.
    #[must_use]
    pub const fn ends(self) -> Self {
        Self { ends: true, ..self }
    }

    /// Draws it. A text with characters whose width the table does not know is held to the width that it was given room
    /// for, whatever font shows it.
    #[must_use]
    pub fn draw(self, words: &str) -> Markup {
        let words = harmless(words);
        let held = (!known(&words)).then(|| px(self.font.width(&words)));
        let class =
            format!("{}{}", if self.quiet { "quiet" } else { "ink" }, if self.font.bold { " bold" } else { "" });
        html! {
            text x=(px(self.x)) y=(px(self.y)) font-size=(self.font.size) class=(class)
                text-anchor=[self.ends.then_some("end")] textLength=[held]
                lengthAdjust=[held.map(|_| "spacingAndGlyphs")] { (words) }
            "\n"
        }
    }
}

/// A drawing that stands alone as a file, of that size in pixels.
#[must_use]
pub fn alone(width: f64, height: f64, title: &str, body: &Markup) -> String {
    let svg = html! {
        svg xmlns="http://www.w3.org/2000/svg" class="drawing" width=(px(width)) height=(px(height))
            viewBox=(format!("0 0 {} {}", px(width), px(height))) {
            title { (harmless(title)) }
            style { (PreEscaped(shapes_alone())) }
            rect width=(px(width)) height=(px(height)) class="paper" {}
            "\n" (body)
        }
    };
    svg.into_string() + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_alone_needs_no_named_colour() {
        let drawing =
            alone(10.0, 10.0, "<t>", &Line::at(1.0, 9.0, Font::plain(9.0)).draw("a <b> & \u{1b}[31m\u{202e}"));
        assert!(!drawing.contains("var(") && drawing.contains("#16181d"), "{drawing}");
        assert!(drawing.contains("&lt;b&gt; &amp;") && drawing.contains("&lt;t&gt;"));
        assert!(!drawing.contains('\u{1b}') && !drawing.contains('\u{202e}'));
    }

    #[test]
    fn a_text_of_unknown_width_is_held_to_its_room() {
        let shown = |words| Line::at(0.0, 0.0, Font::plain(10.0)).draw(words).into_string();
        assert!(shown("漢字").contains("textLength=\"40\""), "{}", shown("漢字"));
        assert!(!shown("plain words, 3 %").contains("textLength"));
    }
}

//! Suspects as bars with their intervals: a drawing that stands alone. Computes nothing.

use super::draw::{Line, alone, px};
use super::metrics::Font;
use maud::{Markup, html};
use screens::text::{harmless, percent};

/// One bar.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// What it is about.
    pub name: String,
    /// Between 0 and 1.
    pub share: f64,
    /// Ends of its interval.
    pub interval: Option<(f64, f64)>,
}

/// What is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Bars {
    /// Heading.
    pub title: String,
    /// What must be known to read it, a paragraph each.
    pub notes: Vec<String>,
    /// The bars, from the top.
    pub bars: Vec<Bar>,
}

const WIDE: f64 = 760.0;
const MARGIN: f64 = 24.0;
/// Where bars begin and end; left of them are the names, right of them the numbers.
const FROM: f64 = 290.0;
const TO: f64 = 600.0;
const HEADING: Font = Font::bold(18.0);
const NOTE: Font = Font::plain(11.5);
const NAME: Font = Font::plain(12.5);
const NUMBER: Font = Font::bold(12.5);
const SMALL: Font = Font::plain(10.5);

/// The drawing as a file.
#[must_use]
pub fn svg(bars: &Bars) -> String {
    let (body, high) = chart(bars);
    alone(WIDE, high, &bars.title, &body)
}

/// The drawing inside a page.
#[must_use]
pub fn figure(bars: &Bars) -> Markup {
    let (body, high) = chart(bars);
    html! {
        svg class="drawing chart" viewBox=(format!("0 0 {WIDE} {}", px(high))) role="img" aria-label=(harmless(&bars.title)) {
            (body)
        }
    }
}

fn chart(bars: &Bars) -> (Markup, f64) {
    let mut y = MARGIN;
    let mut body = html! {};
    for line in HEADING.wrap_at_most(&harmless(&bars.title), WIDE - 2.0 * MARGIN, 3) {
        y += 16.0;
        body = html! { (body) (Line::at(MARGIN, y, HEADING).draw(&line)) };
        y += 7.0;
    }
    for note in &bars.notes {
        for line in NOTE.wrap_at_most(&harmless(note), WIDE - 2.0 * MARGIN, 6) {
            y += 15.0;
            body = html! { (body) (Line::at(MARGIN, y, NOTE).quiet().draw(&line)) };
        }
    }
    y += 18.0;
    let most = bars.bars.iter().map(|b| b.interval.map_or(b.share, |i| i.1).max(b.share)).fold(0.0, f64::max);
    let scale = scale(most);
    let at = |share: f64| FROM + (TO - FROM) * (share / scale).clamp(0.0, 1.0);
    let top = y;
    let mut rows = html! {};
    for bar in &bars.bars {
        let name = NAME.wrap_at_most(&harmless(&bar.name), FROM - MARGIN - 14.0, 3);
        #[expect(clippy::cast_precision_loss, reason = "at most three lines")]
        let high = (name.len().max(1) as f64 * 15.0).max(22.0) + 8.0;
        let middle = y + high / 2.0;
        let number = match bar.interval {
            Some((low, high)) => format!("{} to {}", percent(low), percent(high)),
            None => String::new(),
        };
        rows = html! {
            (rows)
            @for (i, line) in name.iter().enumerate() {
                @let up = 15.0 * (f64::from(u32::try_from(i).unwrap_or(0)) - (f64::from(u32::try_from(name.len()).unwrap_or(1)) - 1.0) / 2.0);
                (Line::at(FROM - 12.0, middle + 4.0 + up, NAME).ends().draw(line))
            }
            rect class="bar" x=(FROM) y=(px(middle - 8.0)) width=(px((at(bar.share) - FROM).max(1.0))) height="16" {}
            @if let Some((low, high)) = bar.interval {
                path class="span" d=(format!("M{0} {1}v12m0 -6H{2}m0 -6v12", px(at(low)), px(middle - 6.0), px(at(high)))) {}
            }
            "\n"
            (Line::at(TO + 14.0, middle + 4.5, NUMBER).draw(&percent(bar.share)))
            (Line::at(TO + 66.0, middle + 4.0, SMALL).quiet().draw(&number))
        };
        y += high;
    }
    let ticks = ticks(scale);
    let axis = html! {
        @for t in &ticks {
            path class="rule" d=(format!("M{} {}V{}", px(at(*t)), px(top), px(y + 4.0))) {}
            @let label = percent(*t);
            (Line::at(at(*t) - SMALL.width(&label) / 2.0, y + 17.0, SMALL).quiet().draw(&label))
        }
    };
    (html! { (body) (axis) (rows) }, y + 17.0 + MARGIN)
}

/// Where the axis ends: the next tenth, or the next hundredth where all is rare.
fn scale(most: f64) -> f64 {
    let step = if most > 0.1 { 0.1 } else { 0.01 };
    (((most / step - 1e-9).ceil().max(1.0) * step * 1e3).round() / 1e3).min(1.0)
}

/// Marks of an axis at round shares, at most eight.
fn ticks(scale: f64) -> Vec<f64> {
    let step = [0.002, 0.005, 0.01, 0.02, 0.05, 0.1].into_iter().find(|s| scale / s < 7.5).unwrap_or(0.2);
    (0..=7).map(|i| step * f64::from(i)).take_while(|t| *t <= scale + 1e-9).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hostile_names_stay_inside_and_harmless() {
        let bar = |name: &str| Bar { name: name.into(), share: 0.31, interval: Some((0.1, 0.62)) };
        let names = ["<script>alert(1)</script>", &"w".repeat(10_000), "\u{202e}evil", "漢字".repeat(80).as_str()]
            .map(bar)
            .to_vec();
        let drawing = svg(&Bars { title: "A & <B>".into(), notes: vec!["n".repeat(5_000)], bars: names });
        assert!(!drawing.contains("<script") && !drawing.contains('\u{202e}') && drawing.len() < 12_000);
        assert_eq!(drawing.matches("<text").count(), drawing.matches("</text>").count());
    }

    #[test]
    fn the_axis_holds_all() {
        assert_eq!((scale(0.62), scale(0.034), scale(0.0), scale(0.999), scale(0.3)), (0.7, 0.04, 0.01, 1.0, 0.3));
        assert_eq!((ticks(0.7).len(), ticks(1.0).len(), ticks(0.04).len()), (8, 6, 5));
    }
}

//! A plan as a drawing on sheets of A4: the likeliest way goes straight down, the other outcomes are turned in, each
//! box as high as its words need. No line crosses a box, for a way that is turned in stays to the right of the line
//! that it leaves. Knows nothing of costs and probabilities.

use super::draw::{Line, alone, px};
use super::metrics::Font;
use maud::{Markup, html};
use screens::plan::{Drawn, Outcome, Poster, Sort};
use screens::text::{harmless, percent};

/// Width and height of what is drawn on one sheet, in pixels of 1/96 inch: A4 within margins of about 12 mm.
pub const WIDE: f64 = 700.0;
/// See [`WIDE`].
pub const HIGH: f64 = 1000.0;
/// A sheet of A4 with its margins, for a file that stands alone.
const SHEET: (f64, f64) = (794.0, 1123.0);
/// Room for the line at the foot of a sheet.
const FOOT: f64 = 24.0;
/// How far an outcome is turned in, at most, and the width that a box keeps however deep it is.
const STEP: f64 = 22.0;
const NARROWEST: f64 = 300.0;
/// Where the way down leaves a box, from its left edge.
const RAIL: f64 = 9.0;
/// Between edge and words of a box.
const PAD: f64 = 7.0;
/// Between boxes: the widest that takes no sheet more than the narrowest.
const APART: [f64; 3] = [9.0, 6.0, 4.0];

const TITLE: Font = Font::bold(11.5);
const SMALL: Font = Font::plain(10.0);
const HEADING: Font = Font::bold(19.0);
const NOTE: Font = Font::plain(11.0);

/// What the shapes mean, under the notes.
const LEGEND: &str = "White: a test. Blue: a repair. Green: done. Orange: handed on. The thick line is the likeliest \
    outcome, and goes on at the same place of the next sheet; what is turned in is every other one, likeliest first. Three \
    dots: what else can follow there is too rare or too far on to be drawn.";
/// What stands for steps that are not drawn.
const MORE: &str = "...";

/// The drawing, one picture a sheet.
#[must_use]
pub fn sheets(poster: &Poster) -> Vec<Markup> {
    let drawn = Sheets::of(poster);
    let n = drawn.count();
    (0..n)
        .map(|page| {
            let label = format!("{}, drawing, sheet {} of {n}", harmless(&poster.title), page + 1);
            html! {
                svg class="drawing sheet-drawing" viewBox=(format!("0 0 {WIDE} {HIGH}")) role="img" aria-label=(label) {
                    (drawn.page(page, &poster.title))
                }
            }
        })
        .collect()
}

/// The drawing as one file, its sheets one below the other.
#[must_use]
pub fn svg(poster: &Poster) -> String {
    let drawn = Sheets::of(poster);
    let n = drawn.count();
    let (x, y) = ((SHEET.0 - WIDE) / 2.0, (SHEET.1 - HIGH) / 2.0);
    let body = html! {
        // A browser that prints it puts a sheet on a sheet.
        style { "@page{size:A4;margin:0}" }
        @for page in 0..n {
            @let top = SHEET.1 * small(page);
            @if page > 0 { path class="rule" d=(format!("M0 {}H{}", px(top), SHEET.0)) {} }
            svg x=(px(x)) y=(px(top + y)) width=(WIDE) height=(HIGH) viewBox=(format!("0 0 {WIDE} {HIGH}")) {
                (drawn.page(page, &poster.title))
            }
        }
    };
    alone(SHEET.0, SHEET.1 * small(n), &poster.title, &body)
}

/// A count of sheets or lines as a number.
fn small(n: usize) -> f64 {
    f64::from(u32::try_from(n).unwrap_or(u32::MAX))
}

/// A thing that stands on one sheet.
struct Item {
    page: usize,
    markup: Markup,
}

/// A line straight down, over all sheets from the top of the first.
#[derive(Clone, Copy)]
struct Rail {
    x: f64,
    from: f64,
    to: f64,
    main: bool,
}

#[derive(Default)]
struct Sheets {
    items: Vec<Item>,
    rails: Vec<Rail>,
    /// Where the next box may begin, from the top of the first sheet.
    next: f64,
    step: f64,
    apart: f64,
}

/// Where a box stands.
struct Placed {
    top: f64,
    bottom: f64,
}

impl Sheets {
    fn of(poster: &Poster) -> Self {
        let deepest = small(turns(&poster.root));
        let step = STEP.min((WIDE - NARROWEST) / deepest.max(1.0));
        let set = |apart: f64| {
            let mut out = Self { step, apart, ..Self::default() };
            out.head(poster);
            out.place(&poster.root, 0.0, None);
            out
        };
        let mut all = APART.map(set);
        let fewest = all.iter().map(Self::count).min().unwrap_or(0);
        let widest = all.iter().position(|s| s.count() == fewest).unwrap_or(0);
        std::mem::take(&mut all[widest])
    }

    fn count(&self) -> usize {
        self.items.iter().map(|i| i.page).max().unwrap_or(0) + 1
    }

    /// What stands on one sheet, in its own coordinates.
    fn page(&self, page: usize, title: &str) -> Markup {
        let top = HIGH * small(page);
        let foot = format!("{}, sheet {} of {}", harmless(title), page + 1, self.count());
        let ends = HIGH - FOOT;
        html! {
            @for r in &self.rails {
                @let (from, to) = ((r.from - top).max(0.0), (r.to - top).min(ends));
                @if from < to {
                    path class=(if r.main { "way main" } else { "way" }) d=(format!("M{} {}V{}", px(r.x), px(from), px(to))) {}
                    "\n"
                }
            }
            @for i in self.items.iter().filter(|i| i.page == page) { (i.markup) }
            (Line::at(0.0, HIGH - 6.0, SMALL).quiet().draw(&cut(&foot, SMALL, WIDE)))
        }
    }

    fn head(&mut self, poster: &Poster) {
        let mut y = 20.0;
        let mut lines = html! {};
        let mut put = |words: &str, font: Font, lead: f64, quiet: bool| {
            for line in font.wrap_at_most(&harmless(words), WIDE, 12) {
                let at = Line { quiet, ..Line::at(0.0, y, font) };
                lines = html! { (lines) (at.draw(&line)) };
                y += lead;
            }
        };
        put(&poster.title, HEADING, 24.0, false);
        for note in poster.notes.iter().map(String::as_str).chain([LEGEND]) {
            put(note, NOTE, 14.5, true);
        }
        self.items.push(Item { page: 0, markup: lines });
        self.next = y + 6.0;
    }

    /// Where something of that height begins: here, or at the top of the next sheet.
    fn room_for(&mut self, height: f64) -> (usize, f64) {
        let page = (self.next / HIGH).floor().max(0.0);
        let y = if self.next + height > page * HIGH + HIGH - FOOT { (page + 1.0) * HIGH } else { self.next };
        self.next = y + height + self.apart;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count of sheets")]
        let page = (y / HIGH) as usize;
        (page, y)
    }

    /// Draws the box with all that follows below it.
    fn place(&mut self, node: &Drawn, x: f64, comes: Option<&Outcome>) -> Placed {
        let own = self.single(node, x, comes);
        let mut ways: Vec<&Outcome> = node.branches.iter().filter(|o| o.then.sort != Sort::Done).collect();
        // Stable, so that equal ones stay in the order of the plan.
        ways.sort_by(|a, b| b.mass.total_cmp(&a.mass));
        let (main, asides) = match ways.split_first() {
            Some((main, asides)) => (Some(*main), asides),
            None => (None, &[][..]),
        };
        let rail = x + RAIL;
        for o in asides {
            let there = self.place(&o.then, x + self.step, Some(o));
            let y = there.top + PAD + TITLE.size / 2.0;
            let page = (y / HIGH).floor();
            let d = format!("M{} {}H{}", px(rail), px(y - page * HIGH), px(x + self.step));
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count of sheets")]
            self.items.push(Item { page: page as usize, markup: html! { path class="way" d=(d) {} "\n" } });
        }
        if let Some(o) = main {
            let there = self.place(&o.then, x, Some(o));
            self.rails.push(Rail { x: rail, from: own.bottom, to: there.top, main: true });
        }
        own
    }

    /// One box with the outcome that leads to it above.
    fn single(&mut self, node: &Drawn, x: f64, comes: Option<&Outcome>) -> Placed {
        let wide = WIDE - x;
        let room = wide - 2.0 * PAD;
        let label = comes.map_or_else(Vec::new, |o| {
            let words = format!("{} ({})", harmless(&o.shows), percent(o.mass));
            SMALL.wrap_at_most(&words, wide - RAIL - 10.0, 3)
        });
        let titles = TITLE.wrap_at_most(&harmless(&node.title), room, 4);
        let facts = if node.id.is_empty() { node.facts.clone() } else { format!("{} · {}", node.facts, node.id) };
        let mut facts = SMALL.wrap_at_most(&harmless(&facts), room - 20.0, 2);
        let done: Vec<String> = node
            .branches
            .iter()
            .filter(|o| o.then.sort == Sort::Done)
            .map(|o| cut(&format!("{}: done ({})", harmless(&o.shows), percent(o.mass)), SMALL, room - 2.0 * PAD))
            .collect();
        if node.branches.iter().all(|o| o.then.sort == Sort::Done) && !node.sort.ends() {
            match facts.last_mut() {
                Some(last) => last.push_str(&format!("  {MORE}")),
                None => facts.push(MORE.to_owned()),
            }
        }
        let over = 13.0 * small(label.len());
        let high = 2.0 * PAD + 14.0 * small(titles.len()) + 12.5 * small(facts.len()) + 18.0 * small(done.len());
        let (page, y) = self.room_for(over + high);
        let (local, class) = (y - HIGH * small(page), class(node.sort));
        let round = if node.sort.ends() { 12.0 } else { 2.0 };
        let top = local + over;
        let markup = html! {
            @for (i, line) in label.iter().enumerate() {
                (Line::at(x + RAIL + 8.0, local + 9.5 + 13.0 * small(i), SMALL).draw(line))
            }
            rect x=(px(x)) y=(px(top)) width=(px(wide)) height=(px(high)) rx=(round) class=(format!("box {class}")) {}
            "\n"
            @for (i, line) in titles.iter().enumerate() {
                (Line::at(x + PAD, top + PAD + 10.0 + 14.0 * small(i), TITLE).draw(line))
            }
            @let below = top + PAD + 14.0 * small(titles.len());
            @for (i, line) in facts.iter().enumerate() {
                (Line::at(x + PAD, below + 10.0 + 12.5 * small(i), SMALL).quiet().draw(line))
            }
            @let below = below + 12.5 * small(facts.len());
            @for (i, line) in done.iter().enumerate() {
                @let at = below + 3.0 + 18.0 * small(i);
                rect x=(px(x + PAD)) y=(px(at)) width=(px(SMALL.width(line) + 2.0 * PAD)) height="15" rx="7.5" class="box done" {}
                "\n"
                (Line::at(x + 2.0 * PAD, at + 11.0, SMALL).draw(line))
            }
        };
        self.items.push(Item { page, markup });
        Placed { top: y + over, bottom: y + over + high }
    }
}

fn class(sort: Sort) -> &'static str {
    match sort {
        Sort::Test => "test",
        Sort::Repair => "repair",
        Sort::Done => "done",
        Sort::HandOn => "hand",
    }
}

/// How often outcomes are turned in on the deepest way.
fn turns(node: &Drawn) -> usize {
    let mut ways: Vec<&Outcome> = node.branches.iter().filter(|o| o.then.sort != Sort::Done).collect();
    ways.sort_by(|a, b| b.mass.total_cmp(&a.mass));
    ways.iter().enumerate().map(|(i, o)| turns(&o.then) + usize::from(i > 0)).max().unwrap_or(0)
}

/// One line of at most that width.
fn cut(text: &str, font: Font, room: f64) -> String {
    font.wrap_at_most(text, room, 1).pop().unwrap_or_default()
}

#[cfg(test)]
mod tests;

//! A plan as a drawing to print and hang on the wall: the likeliest way goes straight down, other outcomes to the right,
//! so that the page stays about as wide as it is high. Knows nothing of costs and probabilities.

use super::plan::{Drawn, Outcome, Poster, Sort};
use super::text::{columns, cut, harmless, percent};
use std::fmt::Write as _;

/// Width and height of a box, in pixels.
const BOX: usize = 264;
const HIGH: usize = 66;
/// Room between boxes side by side for the outcome, and the height of a row.
const GAP: usize = 190;
const ROW: usize = 104;
/// Letters in a line of a box and of an outcome, by the widths of a plain sans-serif at 12 and 11 pixels.
const LETTERS: usize = 40;
const LABEL: usize = 26;
/// Where the way down leaves a box, and where the way to the right turns down, from the edges of the box.
const DOWN: usize = 18;
const TURN: usize = 14;
/// Margin of the page.
const MARGIN: usize = 28;
/// Columns of a page: with boxes and gaps about as wide as many plans are high.
const COLUMNS: usize = 5;

/// The drawing.
#[must_use]
pub fn svg(poster: &Poster) -> String {
    let mut page = Page::default();
    let rows = page.place(&poster.root, 0, 0);
    let width = (page.deepest + 1) * (BOX + GAP) - GAP + STUB;
    let width = width.max(3 * BOX);
    let mut head = String::new();
    text(&mut head, 0, 16, "22", "#000", "bold", &poster.title);
    let mut y = 22;
    for note in &poster.notes {
        for line in textwrap::wrap(&harmless(note), width / 7) {
            y += 18;
            text(&mut head, 0, y, "13", "#222", "normal", line.trim_end());
        }
    }
    let top = y + 30;
    let (page_width, page_height) = (width + 2 * MARGIN, top + rows * ROW + 2 * MARGIN);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{page_width}\" height=\"{page_height}\" \
         viewBox=\"0 0 {page_width} {page_height}\" font-family=\"Helvetica, Arial, sans-serif\">\n\
         <rect width=\"{page_width}\" height=\"{page_height}\" fill=\"white\"/>\n\
         <g transform=\"translate({MARGIN} {MARGIN})\">\n{head}<g transform=\"translate(0 {top})\">\n{}{}</g>\n</g>\n</svg>\n",
        page.lines, page.boxes
    )
}

/// Room to the right of the last column for the mark that a way goes on.
const STUB: usize = 30;

#[derive(Default)]
struct Page {
    /// Lines and their labels, drawn under the boxes.
    lines: String,
    boxes: String,
    deepest: usize,
}

impl Page {
    /// Draws the node at this column and row with all that follows, and returns how many rows that takes.
    ///
    /// In the first column, and in the last that the page has, the likeliest way on goes down; between them it goes on to
    /// the right, with the others below it.
    fn place(&mut self, node: &Drawn, column: usize, row: usize) -> usize {
        self.deepest = self.deepest.max(column);
        let (x, y) = (column * (BOX + GAP), row * ROW);
        self.node(node, x, y);
        let mut ways: Vec<&Outcome> = node.branches.iter().filter(|o| o.then.sort != Sort::Done).collect();
        // Stable, so that equal ones stay in the order of the plan.
        ways.sort_by(|a, b| b.mass.total_cmp(&a.mass));
        let mut used = 0;
        let down = column == 0 || column + 1 == COLUMNS;
        // From the last column there is only the way down, one after the other.
        let aside = match (column + 1 == COLUMNS, down) {
            (true, _) => &ways[..0],
            (_, true) => ways.get(1..).unwrap_or_default(),
            _ => &ways[..],
        };
        for o in aside {
            self.aside(o, x + BOX, y, (row + used) * ROW);
            used += self.place(&o.then, column + 1, row + used);
        }
        used = used.max(1);
        let below = if down { &ways[..ways.len() - aside.len()] } else { &[] };
        for o in below {
            self.down(o, x, y, (row + used) * ROW);
            used += self.place(&o.then, column, row + used);
        }
        used
    }

    fn node(&mut self, node: &Drawn, x: usize, y: usize) {
        let (fill, round) = match node.sort {
            Sort::Test => ("#ffffff", 3),
            Sort::Repair => ("#e6eefb", 3),
            Sort::Done => ("#dff0df", 14),
            Sort::HandOn => ("#fbe9d2", 14),
        };
        let _ = writeln!(
            self.boxes,
            "<rect x=\"{x}\" y=\"{y}\" width=\"{BOX}\" height=\"{HIGH}\" rx=\"{round}\" fill=\"{fill}\" stroke=\"#222\"/>"
        );
        for (i, line) in lines(&node.title, LETTERS, 2).iter().enumerate() {
            text(&mut self.boxes, x + 9, y + 17 + 15 * i, "12", "#000", "bold", line);
        }
        let facts =
            if node.id.is_empty() { vec![node.facts.clone()] } else { vec![node.facts.clone(), node.id.clone()] };
        for (i, line) in facts.iter().rev().enumerate() {
            text(
                &mut self.boxes,
                x + 9,
                y + HIGH - 7 - 13 * i,
                "11",
                "#333",
                "normal",
                &cut(&harmless(line), LETTERS + 2),
            );
        }
        if let Some(done) = node.branches.iter().find(|o| o.then.sort == Sort::Done) {
            // An ending needs no box of its own: it is pinned to the repair.
            let (left, upper) = (x + BOX - 118, y + HIGH - 32);
            let _ = writeln!(
                self.boxes,
                "<rect class=\"done\" x=\"{left}\" y=\"{upper}\" width=\"112\" height=\"16\" rx=\"8\" fill=\"#cfe8cf\" stroke=\"#222\"/>"
            );
            text(
                &mut self.boxes,
                left + 10,
                upper + 12,
                "11",
                "#000",
                "bold",
                &format!("then done: {}", percent(done.mass)),
            );
        }
        if node.branches.iter().all(|o| o.then.sort == Sort::Done) && !node.sort.ends() {
            // The way goes on, but with too few cars or too far on to be drawn.
            let _ = writeln!(
                self.lines,
                "<path d=\"M{} {}h{}\" stroke=\"#222\" stroke-dasharray=\"3 3\"/>",
                x + BOX,
                y + HIGH / 2,
                STUB - 6
            );
        }
    }

    /// From the right edge of a box to a box further right, at the same height or below.
    fn aside(&mut self, o: &Outcome, x: usize, from: usize, to: usize) {
        let (start, end) = (from + HIGH / 2, to + HIGH / 2);
        let _ =
            writeln!(self.lines, "<path d=\"M{x} {start}h{TURN}V{end}H{}\" fill=\"none\" stroke=\"#222\"/>", x + GAP);
        let label = lines(&o.shows, LABEL, 3);
        for (i, line) in label.iter().enumerate() {
            let at = end - 5 - 13 * (label.len() - 1 - i);
            text(&mut self.lines, x + TURN + 5, at, "11", "#000", "normal", line);
        }
        text(&mut self.lines, x + TURN + 5, end + 13, "11", "#333", "bold", &percent(o.mass));
    }

    /// From the lower edge of a box to a box straight below it.
    fn down(&mut self, o: &Outcome, x: usize, from: usize, to: usize) {
        let _ = writeln!(
            self.lines,
            "<path d=\"M{} {}V{to}\" fill=\"none\" stroke=\"#222\" stroke-width=\"2\"/>",
            x + DOWN,
            from + HIGH
        );
        let words = level_kept(&harmless(&o.shows), LETTERS);
        text(&mut self.lines, x + DOWN + 8, to - 12, "11", "#000", "normal", &format!("{words}, {}", percent(o.mass)));
    }
}

fn text(out: &mut String, x: usize, y: usize, size: &str, fill: &str, weight: &str, words: &str) {
    let _ = writeln!(
        out,
        "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" fill=\"{fill}\" font-weight=\"{weight}\">{}</text>",
        escaped(words)
    );
}

/// The text in at most so many lines.
fn lines(text: &str, letters: usize, most: usize) -> Vec<String> {
    let text = harmless(text);
    let wrapped = textwrap::wrap(&text, letters);
    let mut out: Vec<String> = wrapped.iter().take(most).map(|l| l.trim_end().to_owned()).collect();
    if wrapped.len() > most
        && let Some(last) = out.last_mut()
    {
        *last = if columns(last) + 2 > letters { cut(last, letters.saturating_sub(1)) } else { format!("{last} …") };
    }
    out
}

/// An outcome cut to so many letters; of a single reading the name is cut, since the level is what matters.
fn level_kept(shows: &str, letters: usize) -> String {
    match shows.rsplit_once(": ") {
        Some((name, level)) if !shows.contains("; ") && columns(shows) > letters => {
            format!("{}: {level}", cut(name, letters.saturating_sub(columns(level) + 2).max(8)))
        }
        _ => cut(shows, letters),
    }
}

fn escaped(text: &str) -> String {
    harmless(text).replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn node(title: &str, sort: Sort, branches: Vec<Outcome>) -> Drawn {
        Drawn { title: title.into(), id: "t".into(), facts: "5 %".into(), sort, branches }
    }

    fn to(shows: &str, mass: f64, then: Drawn) -> Outcome {
        Outcome { shows: shows.into(), mass, then }
    }

    /// A chain of steps, each with an outcome aside after which the job ends and one after which it goes on.
    fn chain(steps: usize) -> Drawn {
        let done = || node("Done", Sort::Done, Vec::new());
        let repair = || node("Replace it", Sort::Repair, vec![to("gone", 0.2, done())]);
        let mut out = node("Hand on", Sort::HandOn, Vec::new());
        for k in 0..steps {
            let odd = if k % 2 == 0 { repair() } else { node("Look", Sort::Test, vec![to("bad", 0.1, repair())]) };
            let branches =
                vec![to("a \"<b>\" & c\u{1b}[31m", 0.2, odd), to("x", 0.1, repair()), to("normal", 0.7, out)];
            let title =
                "Look <first> at a thing with a name that is longer than one box holds in two lines of text, really";
            out = node(title, Sort::Test, branches);
        }
        out
    }

    /// Places and sizes of the boxes.
    fn boxes(drawing: &str) -> Vec<[usize; 4]> {
        let number = |line: &str, key: &str| -> Option<usize> {
            let from = line.find(&format!(" {key}=\""))? + key.len() + 3;
            line[from..].split('"').next()?.parse().ok()
        };
        let all = drawing.lines().filter(|l| l.starts_with("<rect x="));
        all.filter_map(|l| Some([number(l, "x")?, number(l, "y")?, number(l, "width")?, number(l, "height")?]))
            .collect()
    }

    #[test]
    fn texts_are_escaped_and_cut() {
        let drawing = svg(&Poster { title: "Plan".into(), notes: vec!["A <note>.".into()], root: chain(2) });
        assert!(!drawing.contains('\u{1b}') && !drawing.contains("\"<b>\"") && !drawing.contains("<note>"));
        assert!(drawing.contains("&lt;first&gt;") && drawing.contains('…'));
        assert_eq!(drawing.matches("<text").count(), drawing.matches("</text>").count());
    }

    #[test]
    fn of_a_reading_too_long_the_level_stays() {
        assert_eq!(level_kept("lamp in the plug of the valve: dim", 24), "lamp in the plug o…: dim");
        assert_eq!(level_kept("all normal", 24), "all normal");
        assert_eq!(columns(&level_kept("one reading: abnormal; another: abnormal", 24)), 24);
    }

    #[test]
    fn no_two_boxes_overlap_and_a_long_plan_stays_on_the_page() {
        let mut root = chain(9);
        // The longest way is also one that starts aside.
        root.branches.push(to("aside", 0.3, chain(9)));
        let drawing = svg(&Poster { title: "Plan".into(), notes: Vec::new(), root });
        let boxes = boxes(&drawing);
        let (tests, repairs, looks, ends) = (9 + 9, 9 + 9 + 5 + 5, 4 + 4, 2);
        assert_eq!(boxes.len(), tests + looks + repairs + 8 + ends);
        assert_eq!(drawing.matches("class=\"done\"").count(), repairs + 8);
        for (i, a) in boxes.iter().enumerate() {
            for b in &boxes[i + 1..] {
                let apart = a[0] + a[2] <= b[0] || b[0] + b[2] <= a[0] || a[1] + a[3] <= b[1] || b[1] + b[3] <= a[1];
                assert!(apart, "{a:?} {b:?}");
            }
        }
        assert!(boxes.iter().all(|b| b[0] <= (COLUMNS - 1) * (BOX + GAP)));
    }
}

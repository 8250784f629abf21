//! A plan as a drawing: Graphviz and Mermaid text for other programs, and SVG to print and hang on the wall.

use super::plan::Drawn;
use super::text::{columns, cut, harmless};
use std::fmt::Write as _;

/// Graphviz text.
#[must_use]
pub fn dot(plan: &Drawn) -> String {
    let mut out = String::from("digraph plan {\n  rankdir=LR;\n  node [shape=box, fontname=\"sans-serif\"];\n");
    let quoted = |s: &str| harmless(s).replace('\\', "\\\\").replace('"', "\\\"");
    number(plan, &mut 0, &mut |id, node, from| {
        let shape = if node.end { ", style=rounded" } else { "" };
        let _ = writeln!(out, "  n{id} [label=\"{}\\n{}\"{shape}];", quoted(&node.title), quoted(&node.facts));
        if let Some((parent, label)) = from {
            let _ = writeln!(out, "  n{parent} -> n{id} [label=\"{}\"];", quoted(label));
        }
    });
    out.push_str("}\n");
    out
}

/// Mermaid text.
#[must_use]
pub fn mermaid(plan: &Drawn) -> String {
    let mut out = String::from("flowchart LR\n");
    let quoted =
        |s: &str| harmless(s).replace('&', "&amp;").replace('"', "&quot;").replace('<', "&lt;").replace('>', "&gt;");
    number(plan, &mut 0, &mut |id, node, from| {
        let _ = writeln!(out, "  n{id}[\"{}<br/>{}\"]", quoted(&node.title), quoted(&node.facts));
        if let Some((parent, label)) = from {
            let _ = writeln!(out, "  n{parent} -->|\"{}\"| n{id}", quoted(label));
        }
    });
    out
}

/// Gives every node a number, parents first.
fn number<'d>(plan: &'d Drawn, next: &mut usize, tell: &mut dyn FnMut(usize, &'d Drawn, Option<(usize, &'d str)>)) {
    fn walk<'d>(
        node: &'d Drawn,
        from: Option<(usize, &'d str)>,
        next: &mut usize,
        tell: &mut dyn FnMut(usize, &'d Drawn, Option<(usize, &'d str)>),
    ) {
        let id = *next;
        *next += 1;
        tell(id, node, from);
        for (label, then) in &node.branches {
            walk(then, Some((id, label)), next, tell);
        }
    }
    walk(plan, None, next, tell);
}

/// Width of a box, room between boxes for the outcome, height of a row, in pixels; letters in a line of either.
const BOX: usize = 230;
const GAP: usize = 190;
const ROW: usize = 64;
const LETTERS: usize = 34;

/// A drawing: steps from left to right, one row for every way in which the job ends.
#[must_use]
pub fn svg(plan: &Drawn) -> String {
    let mut body = String::new();
    let mut rows = 0;
    let mut deepest = 0;
    place(plan, 0, &mut rows, &mut deepest, &mut body);
    let (width, height) = ((deepest + 1) * (BOX + GAP) - GAP + 40, rows * ROW + 40);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"-20 -20 {width} {height}\" \
         font-family=\"sans-serif\" font-size=\"12\">\n<rect x=\"-20\" y=\"-20\" width=\"{width}\" height=\"{height}\" \
         fill=\"white\"/>\n{body}</svg>\n"
    )
}

/// Draws the node and what follows, and returns its middle.
fn place(node: &Drawn, depth: usize, rows: &mut usize, deepest: &mut usize, out: &mut String) -> usize {
    *deepest = (*deepest).max(depth);
    let x = depth * (BOX + GAP);
    let mut middles = Vec::new();
    for (label, then) in &node.branches {
        middles.push((label, place(then, depth + 1, rows, deepest, out)));
    }
    let y = match (middles.first(), middles.last()) {
        (Some(a), Some(b)) => usize::midpoint(a.1, b.1),
        _ => {
            *rows += 1;
            (*rows - 1) * ROW + ROW / 2
        }
    };
    for (label, to) in middles {
        let (from, end) = (x + BOX, x + BOX + GAP);
        let bend = from + 24;
        let _ = writeln!(
            out,
            "<path d=\"M{from} {y} C{bend} {y} {from} {to} {bend} {to} H{end}\" fill=\"none\" stroke=\"#555\"/>"
        );
        for (i, line) in lines(label, 26).iter().enumerate() {
            let at = if i == 0 { to - 5 } else { to + 14 };
            let _ = writeln!(
                out,
                "<text x=\"{}\" y=\"{at}\" font-size=\"11\" fill=\"#333\">{}</text>",
                bend + 4,
                escaped(line)
            );
        }
    }
    let (fill, round) = if node.end { ("#e7f2e7", 16) } else { ("#f4f4f8", 4) };
    let _ = writeln!(
        out,
        "<rect x=\"{x}\" y=\"{}\" width=\"{BOX}\" height=\"52\" rx=\"{round}\" fill=\"{fill}\" stroke=\"#333\"/>",
        y - 26
    );
    let title = lines(&node.title, LETTERS);
    for (i, line) in title.iter().enumerate() {
        let _ = writeln!(out, "<text x=\"{}\" y=\"{}\">{}</text>", x + 8, y - 10 + 14 * i, escaped(line));
    }
    let _ = writeln!(
        out,
        "<text x=\"{}\" y=\"{}\" font-size=\"11\" fill=\"#555\">{}</text>",
        x + 8,
        y + 19,
        escaped(&node.facts)
    );
    y
}

/// The text in at most two lines.
fn lines(text: &str, letters: usize) -> Vec<String> {
    let text = harmless(text);
    let wrapped = textwrap::wrap(&text, letters);
    let mut out: Vec<String> = wrapped.iter().take(2).map(|l| l.trim_end().to_owned()).collect();
    if wrapped.len() > 2
        && let Some(last) = out.last_mut()
    {
        *last = if columns(last) + 2 > letters { cut(last, letters.saturating_sub(1)) } else { format!("{last} …") };
    }
    out
}

fn escaped(text: &str) -> String {
    harmless(text).replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn end(title: &str) -> Drawn {
        Drawn { title: title.into(), facts: "5 %".into(), end: true, branches: Vec::new() }
    }

    fn example() -> Drawn {
        let branches = vec![("a \"<b>\" & c\u{1b}[31m".into(), end("Done")), ("all normal".into(), end("Hand on"))];
        Drawn {
            title: "Look <first> at a thing with a name that is longer than one box holds in two lines".into(),
            facts: "2 EUR".into(),
            end: false,
            branches,
        }
    }

    #[test]
    fn every_form_escapes_what_would_break_it() {
        for text in [dot(&example()), mermaid(&example()), svg(&example())] {
            assert!(!text.contains('\u{1b}'));
            assert!(!text.contains("\"<b>\""), "{text}");
        }
        let drawing = svg(&example());
        assert_eq!(drawing.matches("<rect").count(), 4);
        assert_eq!(drawing.matches("<path").count(), 2);
        assert!(drawing.contains("&lt;first&gt;") && drawing.contains('…'));
    }

    #[test]
    fn arrows_lead_from_parents_to_children() {
        let text = dot(&example());
        assert!(text.contains("n0 -> n1") && text.contains("n0 -> n2") && !text.contains("n1 -> n2"));
    }
}

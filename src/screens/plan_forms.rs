//! A plan as Graphviz and Mermaid text, for other programs to draw. The drawing of our own is in `pages::poster`.

use super::plan::Drawn;
use super::text::{harmless, percent};
use std::fmt::Write as _;

/// Graphviz text.
#[must_use]
pub fn dot(plan: &Drawn) -> String {
    let mut out = String::from("digraph plan {\n  rankdir=LR;\n  node [shape=box, fontname=\"sans-serif\"];\n");
    let quoted = |s: &str| harmless(s).replace('\\', "\\\\").replace('"', "\\\"");
    number(plan, &mut 0, &mut |id, node, from| {
        let shape = if node.sort.ends() { ", style=rounded" } else { "" };
        let title =
            textwrap::wrap(&node.title, 40).iter().map(|l| quoted(l.trim_end())).collect::<Vec<_>>().join("\\n");
        let _ = writeln!(out, "  n{id} [label=\"{title}\\n{}\"{shape}];", quoted(&facts(node)));
        if let Some((parent, label)) = from {
            let _ = writeln!(out, "  n{parent} -> n{id} [label=\"{}\"];", quoted(&label));
        }
    });
    out.push_str("}\n");
    out
}

/// The facts, with the id to look the step up by.
fn facts(node: &Drawn) -> String {
    if node.id.is_empty() { node.facts.clone() } else { format!("[{}] {}", node.id, node.facts) }
}

/// Mermaid text.
#[must_use]
pub fn mermaid(plan: &Drawn) -> String {
    let mut out = String::from("flowchart LR\n");
    let quoted =
        |s: &str| harmless(s).replace('&', "&amp;").replace('"', "&quot;").replace('<', "&lt;").replace('>', "&gt;");
    number(plan, &mut 0, &mut |id, node, from| {
        let _ = writeln!(out, "  n{id}[\"{}<br/>{}\"]", quoted(&node.title), quoted(&facts(node)));
        if let Some((parent, label)) = from {
            let _ = writeln!(out, "  n{parent} -->|\"{}\"| n{id}", quoted(&label));
        }
    });
    out
}

/// Gives every node a number, parents first.
fn number<'d>(plan: &'d Drawn, next: &mut usize, tell: &mut dyn FnMut(usize, &'d Drawn, Option<(usize, String)>)) {
    fn walk<'d>(
        node: &'d Drawn,
        from: Option<(usize, String)>,
        next: &mut usize,
        tell: &mut dyn FnMut(usize, &'d Drawn, Option<(usize, String)>),
    ) {
        let id = *next;
        *next += 1;
        tell(id, node, from);
        for o in &node.branches {
            walk(&o.then, Some((id, format!("{} ({})", o.shows, percent(o.mass)))), next, tell);
        }
    }
    walk(plan, None, next, tell);
}

#[cfg(test)]
mod tests {
    use super::super::plan::{Outcome, Sort};
    use super::*;

    fn node(title: &str, sort: Sort, branches: Vec<Outcome>) -> Drawn {
        Drawn { title: title.into(), id: "t".into(), facts: "5 %".into(), sort, branches }
    }

    fn example() -> Drawn {
        let end = |shows: &str| Outcome { shows: shows.into(), mass: 0.5, then: node("Done", Sort::Done, Vec::new()) };
        node("Look <first> at \"it\"", Sort::Test, vec![end("a \"<b>\" & c\u{1b}[31m"), end("all normal")])
    }

    #[test]
    fn both_forms_escape_what_would_break_them() {
        for text in [dot(&example()), mermaid(&example())] {
            assert!(!text.contains('\u{1b}'));
            assert!(!text.contains("\"<b>\""), "{text}");
        }
    }

    #[test]
    fn arrows_lead_from_parents_to_children() {
        let text = dot(&example());
        assert!(text.contains("n0 -> n1") && text.contains("n0 -> n2") && !text.contains("n1 -> n2"));
    }
}

//! Problems of a base as reports: file, line, column, the line shown, what to do.

use super::text::harmless;
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use knowledge::Problem;
use knowledge::files::KbFile;
use std::collections::HashMap;

/// All problems, one after another, with the lines they stand in.
///
/// `folder` is what stands before the paths, so that an editor can open them.
#[must_use]
pub fn report(problems: &[Problem], files: &[KbFile], folder: &str, width: usize) -> String {
    let texts: HashMap<&str, &str> = files.iter().map(|f| (f.path.as_str(), f.text.as_str())).collect();
    let renderer = Renderer::styled().term_width(width);
    let mut out = String::new();
    for p in problems {
        out.push_str(&one(p, texts.get(p.file.as_str()).copied(), folder, &renderer));
        out.push_str("\n\n");
    }
    out
}

fn one(p: &Problem, text: Option<&str>, folder: &str, renderer: &Renderer) -> String {
    let message = harmless(&p.message);
    let path = harmless(&if folder.is_empty() { p.file.clone() } else { format!("{folder}/{}", p.file) });
    let title = Level::ERROR.primary_title(message.as_str()).id(p.code.word());
    let shown = text.and_then(|t| around(t, p));
    let mut group = match &shown {
        Some((line, first, span)) => title.element(
            Snippet::source(line.as_str())
                .line_start(*first)
                .path(path.as_str())
                .annotation(AnnotationKind::Primary.span(span.clone())),
        ),
        None => title.element(annotate_snippets::Origin::path(path.as_str())),
    };
    let hint = p.hint.as_deref().map(harmless);
    if let Some(hint) = &hint {
        group = group.element(Level::HELP.message(hint.as_str()));
    }
    renderer.render(&[group])
}

/// The line of a problem without what could steer a terminal, its number, and the bytes to underline.
fn around(text: &str, p: &Problem) -> Option<(String, usize, std::ops::Range<usize>)> {
    let number = usize::try_from(p.place.line).ok().filter(|l| *l > 0)?;
    let line = harmless(text.lines().nth(number - 1)?);
    let from = usize::try_from(p.place.column).unwrap_or(1).max(1) - 1;
    let bytes = |chars: usize| line.char_indices().nth(chars).map_or(line.len(), |(i, _)| i);
    let (start, end) = (bytes(from), bytes(from + p.length));
    Some((line, number, start..end.max(start)))
}

/// One line that counts.
#[must_use]
pub fn count(problems: usize) -> String {
    if problems == 1 { "1 problem".to_owned() } else { format!("{problems} problems") }
}

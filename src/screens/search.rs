//! The answer to `search`: each hit with its kind, its id and the words that were found marked, and for symptoms what they
//! speak for. As a screen and as JSON.

use super::Look;
use super::paint::{FOUND, ID, QUIET, paint};
use super::text::{columns, hanging, harmless, left, percent};
use inference::{Raised, Related};
use search::{EntryKind, Excerpt, Found, Hit};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// What was found, with what each hit speaks for: nothing for hits that are not symptoms.
#[derive(Debug)]
pub struct SearchScreen<'a> {
    /// The words as typed.
    pub words: &'a str,
    /// What was found.
    pub found: &'a Found,
    /// What symptoms speak for, by symptom; all that are among the hits.
    pub related: &'a BTreeMap<String, Related>,
    /// What the suspects among that are called, by id.
    pub names: &'a BTreeMap<String, String>,
}

/// Columns of the word for the kind, and of the blanks before what belongs to a hit.
pub(super) const KIND: usize = 13;

impl SearchScreen<'_> {
    /// The whole screen.
    #[must_use]
    pub fn text(&self, look: Look) -> String {
        let mut out = String::new();
        for (typed, taken) in &self.found.respelled {
            hanging(
                &mut out,
                "",
                "",
                &format!("\"{typed}\" is not in the base; looked for \"{taken}\" too"),
                look.width,
            );
        }
        for code in self.unknown_codes() {
            hanging(&mut out, "", "", &format!("{code} is not in this base"), look.width);
        }
        for text in &self.found.denied {
            let text = format!(
                "\"{}\" is taken as said to be absent and looks for nothing",
                super::text::cut(text.trim(), 60)
            );
            hanging(&mut out, "", "", &text, look.width);
        }
        for hit in &self.found.absent {
            let text = format!("not there: {} (--no-symptom {})", hit.name, hit.id);
            hanging(&mut out, "", "  ", &text, look.width);
        }
        if self.found.hits.is_empty() {
            self.nothing(&mut out, look);
            return out;
        }
        for hit in &self.found.hits {
            if !out.is_empty() {
                out.push('\n');
            }
            one_hit(&mut out, hit, look);
            if let Some(related) = self.related_to(hit) {
                self.speaks_for(&mut out, related, look);
            }
        }
        for hit in &self.found.beside {
            let lead = if hit.kind == EntryKind::Caution { "to heed" } else { "a test for it" };
            let _ = writeln!(out, "\n{lead}");
            one_hit(&mut out, hit, look);
        }
        if self.found.more > 0 {
            let more = format!("{} more; show them with --top, or ask for one kind with --in", self.found.more);
            let _ = write!(out, "\n{}\n", paint(QUIET, more));
        }
        out
    }

    fn related_to(&self, hit: &Hit) -> Option<&Related> {
        self.related.get(&hit.id).filter(|_| hit.kind == EntryKind::Symptom)
    }

    fn unknown_codes(&self) -> impl Iterator<Item = &String> {
        self.found.unknown.iter().filter(|u| u.starts_with('P'))
    }

    fn nothing(&self, out: &mut String, look: Look) {
        let text = if self.found.foreign {
            "Nothing found in English, and the words do not read as English: the base knows no other language."
                .to_owned()
        } else if self.found.empty {
            "There is nothing to look for in that: name a part, a noise, a smell, or a code.".to_owned()
        } else {
            format!("Nothing answers \"{}\".", super::text::cut(self.words.trim(), 60))
        };
        hanging(out, "", "", &text, look.width);
        if !self.found.near.is_empty() {
            hanging(out, "", "", &format!("Words that look alike: {}", self.found.near.join(", ")), look.width);
        }
    }

    fn speaks_for(&self, out: &mut String, related: &Related, look: Look) {
        let mut line = |lead: &str, raised: &[Raised], name: &dyn Fn(&str) -> String| {
            let list: Vec<String> = raised
                .iter()
                .map(|r| format!("{} ({} from {})", name(&r.id), percent(r.after), percent(r.before)))
                .collect();
            if !list.is_empty() {
                hanging(
                    out,
                    &format!("{}{lead} ", " ".repeat(KIND)),
                    &" ".repeat(KIND + 2),
                    &list.join("; "),
                    look.width,
                );
            }
        };
        line("raises most:", &related.suspects, &|id| self.names.get(id).map_or_else(|| id.to_owned(), Clone::clone));
        line("often with it:", &related.codes, &str::to_owned);
    }

    /// `faultodds.search/2`. Marks are counted in characters, from and to.
    #[must_use]
    pub fn json(&self) -> Value {
        let raised = |list: &[Raised]| -> Vec<Value> {
            list.iter().map(|r| json!({"id": r.id, "probability": r.after, "without": r.before})).collect()
        };
        let hits: Vec<Value> = self
            .found
            .hits
            .iter()
            .map(|h| {
                let mut value = json!({
                    "kind": h.kind.word(), "id": h.id, "name": h.name, "score": h.score,
                    "excerpt": {"text": h.excerpt.text, "marks": marks_in_characters(&h.excerpt)}, "from": "base",
                });
                if let Some(related) = self.related_to(h) {
                    value["suspects"] = json!(raised(&related.suspects));
                    value["codes"] = json!(raised(&related.codes));
                }
                value
            })
            .collect();
        let respelled: Vec<Value> =
            self.found.respelled.iter().map(|(typed, taken)| json!({"typed": typed, "taken_for": taken})).collect();
        let named = |list: &[Hit]| -> Vec<Value> {
            list.iter().map(|h| json!({"kind": h.kind.word(), "id": h.id, "name": h.name, "score": h.score})).collect()
        };
        json!({
            "schema": "faultodds.search/2",
            "words": self.words,
            "hits": hits,
            "beside": named(&self.found.beside),
            "denied": self.found.denied,
            "absent": named(&self.found.absent),
            "foreign": self.found.foreign,
            "more": self.found.more,
            "respelled": respelled,
            "unknown": self.found.unknown,
            "near": self.found.near,
        })
    }
}

pub(super) fn marks_in_characters(excerpt: &Excerpt) -> Vec<[usize; 2]> {
    let count = |to: usize| excerpt.text[..to].chars().count();
    excerpt.marks.iter().map(|m| [count(m.start), count(m.end)]).collect()
}

fn one_hit(out: &mut String, hit: &Hit, look: Look) {
    let kind = left(hit.kind.word(), KIND);
    let lead = " ".repeat(KIND);
    if hit.by_name && !hit.excerpt.marks.is_empty() {
        marked(out, &kind, &lead, &hit.excerpt, look.width);
    } else {
        hanging(out, &kind, &lead, &hit.name, look.width);
    }
    let _ = writeln!(out, "{lead}{}", paint(ID, harmless(&hit.id)));
    if !hit.by_name && !hit.excerpt.marks.is_empty() {
        marked(out, &lead, &lead, &hit.excerpt, look.width);
    }
}

/// Appends an excerpt wrapped to the width with its marks painted; colour codes must not be counted as columns, so the
/// lines are made before anything is painted.
pub(super) fn marked(out: &mut String, first: &str, rest: &str, excerpt: &Excerpt, width: usize) {
    let mut text = String::new();
    let mut flags: Vec<bool> = Vec::new();
    for (piece, mark) in excerpt.pieces() {
        let piece = harmless(piece);
        flags.extend(std::iter::repeat_n(mark, piece.len()));
        text.push_str(&piece);
    }
    let room = width.saturating_sub(columns(rest).max(columns(first))).max(20);
    let mut at = 0;
    for (i, line) in textwrap::wrap(&text, textwrap::Options::new(room).break_words(true)).iter().enumerate() {
        out.push_str(if i == 0 { first } else { rest });
        // A line is a part of the text unless a word was broken with a hyphen, which textwrap does not do here.
        let start = text[at..].find(line.as_ref()).map_or(at, |found| at + found);
        let mut from = start;
        let end = (start + line.len()).min(text.len());
        while from < end {
            let flag = flags[from];
            let to = flags[from..end].iter().position(|f| *f != flag).map_or(end, |n| from + n);
            let piece = text.get(from..to).unwrap_or_default();
            if flag {
                out.push_str(&paint(FOUND, piece));
            } else {
                out.push_str(piece);
            }
            from = to;
        }
        at = end;
        out.push('\n');
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain(painted: &str) -> String {
        anstream::adapter::strip_str(painted).to_string()
    }

    #[test]
    fn marks_survive_wrapping_and_cost_no_columns() {
        let excerpt = Excerpt::new("a whoosh of air when the füller cap is opened after a drive", &[(2, 8), (25, 36)]);
        let mut out = String::new();
        marked(&mut out, "  ", "  ", &excerpt, 24);
        let shown = plain(&out);
        assert_eq!(shown.split_whitespace().collect::<Vec<_>>().join(" "), excerpt.text);
        assert!(shown.lines().all(|l| columns(l) <= 24), "{shown}");
        assert!(out.contains(&paint(FOUND, "whoosh")));
        assert_eq!(marks_in_characters(&excerpt)[1], [25, 35]);
    }
}

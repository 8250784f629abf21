//! The file of causes that a person has to look at: written for editing, read back as decisions.

use super::error::PastError;
use crate::knowledge::base::Base;
use crate::knowledge::near::{did_you_mean, near};
use crate::knowledge::yaml::{Spanned, parse_long, place};
use crate::learning::overlay::quoted;
use serde::Deserialize;
use std::fmt::Write as _;

/// Version of the file's shape.
pub const SCHEMA: &str = "faultodds.review/1";

/// Words that stand for no suspect.
pub const WORDS: [&str; 4] = ["unsure", "no-fault", "not-listed", "leave-out"];

/// Words that are held, how often they occur, and what they may mean.
#[derive(Clone, Debug, PartialEq)]
pub struct Held {
    /// As the shop wrote them.
    pub words: String,
    /// Rows that say so.
    pub rows: u64,
    /// Candidates with scores.
    pub candidates: Vec<(String, f64)>,
}

/// The review file.
#[must_use]
pub fn to_yaml(held: &[Held]) -> String {
    let mut out = String::from(
        "# Causes that the words alone do not settle. Put an id in place of each `?` (or several, joined by ` + `), or one of\n\
         # unsure (nobody knew), no-fault, not-listed (a cause that the base does not have), leave-out. Lines left at `?` stay held.\n",
    );
    // Writing to a text cannot fail.
    let _ = writeln!(out, "schema: {SCHEMA}\ncauses:{}", if held.is_empty() { " []" } else { "" });
    for h in held {
        let may: Vec<String> = h.candidates.iter().map(|(id, s)| format!("{id} {s:.2}")).collect();
        let may = if may.is_empty() { "nothing close".to_owned() } else { may.join(", ") };
        let _ = writeln!(out, "  - {{words: {}, cause: \"?\"}}  # {} rows; {may}", quoted(&h.words), h.rows);
    }
    out
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawReview {
    schema: Spanned<String>,
    causes: Vec<RawCause>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawCause {
    words: String,
    cause: Spanned<String>,
}

/// Reads the decisions: words and what they mean, those still open left out.
///
/// # Errors
/// Everything that is wrong, with places.
pub fn from_yaml(text: &str, base: &Base) -> Result<Vec<(String, String)>, PastError> {
    let raw = parse_long::<RawReview>(text).map_err(|e| PastError::Written {
        told: vec![format!(
            "line {}, column {}: this is not a review file: {:?}",
            e.place.line, e.place.column, e.fault
        )],
    })?;
    let (mut out, mut told) = (Vec::new(), Vec::new());
    if raw.value.schema.value != SCHEMA {
        told.push(format!("line {}: this is not a review file of the shape {SCHEMA}", place(&raw.value.schema).line));
    }
    for c in raw.value.causes {
        let cause = c.cause.value.trim();
        if cause == "?" || cause.is_empty() {
            continue;
        }
        for id in cause.split('+').map(str::trim).filter(|id| !WORDS.contains(id) && base.suspect(id).is_none()) {
            let p = place(&c.cause);
            let close = did_you_mean(&near(id, base.suspects().map(|(_, s)| s.id.as_str()), 2))
                .map_or(String::new(), |h| format!("; {h}"));
            told.push(format!("line {}, column {}: the base has no suspect `{id}`{close}", p.line, p.column));
        }
        out.push((c.words, cause.to_owned()));
    }
    if told.is_empty() { Ok(out) } else { Err(PastError::Written { told }) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shipped;

    #[test]
    fn what_is_written_is_read_back() {
        let base = shipped::base().unwrap();
        let held = [Held {
            words: "it \"leaks\"\nsomewhere".into(),
            rows: 3,
            candidates: vec![("filler-cap/seal-worn".into(), 0.4)],
        }];
        let text = to_yaml(&held);
        assert!(from_yaml(&text, &base).unwrap().is_empty(), "still open");
        let read = from_yaml(&text.replace("cause: \"?\"", "cause: filler-cap/seal-worn"), &base).unwrap();
        assert_eq!(read, [("it \"leaks\"\nsomewhere".to_owned(), "filler-cap/seal-worn".to_owned())]);
        let error =
            from_yaml(&text.replace("cause: \"?\"", "cause: filler-cap/seal-wron"), &base).unwrap_err().to_string();
        assert!(error.contains("line 5") && error.contains("did you mean"), "{error}");
    }
}

//! The file of causes that a person has to look at: written for editing, read back as decisions.

use super::error::PastError;
use super::wordings::{Shown, Wording};
use crate::overlay::quoted;
use knowledge::base::Base;
use knowledge::fields::parse_long;
use knowledge::near::{did_you_mean, near};
use knowledge::yaml::{Spanned, place};
use std::fmt::Write as _;

/// Version of the file's shape.
pub const SCHEMA: &str = "faultodds.review/1";

/// Words that stand for no suspect.
pub const WORDS: [&str; 4] = ["unsure", "no-fault", "not-listed", "leave-out"];

/// What stands in the file for what a wording is read as now; `?` for what is held.
#[must_use]
pub fn label(w: &Wording, base: &Base) -> String {
    if let Some(decided) = &w.decided {
        return decided.clone();
    }
    let ids: Vec<&str> = w.candidates.iter().map(|(id, _)| id.as_str()).collect();
    match w.state.as_str() {
        "held" => "?".to_owned(),
        "no-fault" => "no-fault".to_owned(),
        "left-out" => "leave-out".to_owned(),
        "unsure" if ids.is_empty() => "unsure".to_owned(),
        "unsure" => {
            let part = ids[0].split('/').next().unwrap_or_default();
            let all = base.part(part).map(|p| p.suspects.iter().map(|s| s.id.as_str()).collect::<Vec<_>>());
            let whole = all.is_some_and(|all| all.len() == ids.len() && all.iter().all(|s| ids.contains(s)));
            if whole { part.to_owned() } else { ids.join(" or ") }
        }
        _ => w.cause.clone(),
    }
}

/// The review file: wordings with some of their jobs.
#[must_use]
pub fn to_yaml(wordings: &[(Wording, Vec<Shown>)], base: &Base) -> String {
    let mut out = String::from(
        "# What the shop's words for causes are taken to mean. Put an id in place of each `?`, or another where it is wrong: several at\n\
         # once joined by ` + `, one of several by ` or `, a part's id for some fault of it; or unsure (nobody knew), no-fault,\n\
         # not-listed (a cause that the base does not have), leave-out. `?` stays held; `?` in place of your own decision takes it\n\
         # back. Lines that you leave as they are (`was` keeps what was printed) change nothing. Then: faultodds past decide FILE\n",
    );
    // Writing to a text cannot fail.
    let _ = writeln!(out, "schema: {SCHEMA}\ncauses:{}", if wordings.is_empty() { " []" } else { "" });
    for (w, jobs) in wordings {
        let may: Vec<String> = w.candidates.iter().map(|(id, s)| format!("{id} {s:.2}")).collect();
        let told = match (&w.decided, w.state.as_str()) {
            (Some(_), _) => "decided by you".to_owned(),
            (None, "held") if may.is_empty() => "nothing close".to_owned(),
            (None, "held") => may.join(", "),
            _ => w.certainty.map_or_else(String::new, |c| format!("certainty {:.0} %", 100.0 * c)),
        };
        let n = format!("{} job{}", w.jobs, if w.jobs == 1 { "" } else { "s" });
        let now = quoted(&label(w, base));
        let _ = writeln!(out, "  - {{words: {}, cause: {now}, was: {now}}}  # {n}; {told}", quoted(&w.words));
        for j in jobs {
            let line = [j.job.as_str(), &j.date, &j.codes, &j.car]
                .iter()
                .filter(|c| !c.is_empty())
                .copied()
                .collect::<Vec<_>>();
            let plain: String = line.join(", ").chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
            let _ = writeln!(out, "    # {plain}");
        }
    }
    out
}

knowledge::written! {
    RawReview "review" {
        need schema: Spanned<String>;
        need causes: Vec<RawCause>;
    }
}
knowledge::written! {
    RawCause "decision" {
        need words: String;
        need cause: Spanned<String>;
        may was: String;
    }
}

/// Reads the decisions: words and what they mean, none for `?`.
///
/// # Errors
/// Everything that is wrong, with places.
pub fn from_yaml(text: &str, base: &Base) -> Result<Vec<(String, Option<String>)>, PastError> {
    let raw = parse_long::<RawReview>(text).map_err(|faults| PastError::Written {
        told: faults.iter().map(|e| format!("line {}, column {}: {}", e.place.line, e.place.column, e.fault)).collect(),
    })?;
    let (mut out, mut told) = (Vec::new(), Vec::new());
    if raw.schema.value != SCHEMA {
        told.push(format!("line {}: this is not a review file of the shape {SCHEMA}", place(&raw.schema).line));
    }
    for c in raw.causes {
        let cause = c.cause.value.trim();
        // As it was printed: nobody has decided anything there, whatever was decided elsewhere since.
        if c.was.as_deref().is_some_and(|was| was.trim() == cause) {
            continue;
        }
        if cause == "?" || cause.is_empty() {
            out.push((c.words, None));
            continue;
        }
        let p = place(&c.cause);
        told.extend(unknown(cause, base).into_iter().map(|t| format!("line {}, column {}: {t}", p.line, p.column)));
        out.push((c.words, Some(cause.to_owned())));
    }
    if told.is_empty() { Ok(out) } else { Err(PastError::Written { told }) }
}

/// The ids in a decision that the base does not know, one sentence each.
#[must_use]
pub fn unknown(cause: &str, base: &Base) -> Vec<String> {
    let known = |id: &str| WORDS.contains(&id) || base.suspect(id).is_some() || base.part(id).is_some();
    let ids = cause.split('+').flat_map(|c| c.split(" or ")).map(str::trim).filter(|id| !known(id));
    let one = |id: &str| {
        let all = base.suspects().map(|(_, s)| s.id.as_str()).chain(base.parts.iter().map(|p| p.id.as_str()));
        let close = did_you_mean(&near(id, all, 2)).map_or(String::new(), |h| format!("; {h}"));
        format!("the base has no suspect `{id}`{close}")
    };
    ids.map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_back() {
        let base = shipped::base().unwrap();
        let held = Wording {
            words: "it \"leaks\"\nsomewhere".into(),
            state: "held".into(),
            cause: String::new(),
            candidates: vec![("filler-cap/seal-worn".into(), 0.4)],
            jobs: 3,
            certainty: Some(0.4),
            decided: None,
            came_back: 0,
        };
        let modes: Vec<(String, f64)> =
            base.part("purge-valve").unwrap().suspects.iter().map(|s| (s.id.clone(), 0.2)).collect();
        let part =
            Wording { state: "unsure".into(), candidates: modes, words: "new purge valve".into(), ..held.clone() };
        let job =
            Shown { job: "77".into(), date: "2021-04-03".into(), codes: "P0442".into(), car: "Orlo\n Finch".into() };
        let text = to_yaml(&[(held.clone(), vec![job]), (part.clone(), vec![])], &base);
        assert!(text.contains("# 77, 2021-04-03, P0442, Orlo  Finch"), "{text}");
        assert!(from_yaml(&text, &base).unwrap().is_empty(), "a line as it was printed decides nothing");
        // A file of an earlier version does not tell what was printed.
        let earlier =
            text.replace(", was: \"?\"", "").replace(", was: purge-valve", "").replace(", was: \"purge-valve\"", "");
        let read = from_yaml(&earlier, &base).unwrap();
        assert_eq!(read[0], (held.words.clone(), None), "still open");
        assert_eq!(read[1], ("new purge valve".to_owned(), Some("purge-valve".to_owned())));
        let read = from_yaml(
            &text.replace("cause: purge-valve,", "cause: \"?\",").replace("cause: \"purge-valve\",", "cause: \"?\","),
            &base,
        )
        .unwrap();
        assert_eq!(read, [("new purge valve".to_owned(), None)], "taken back");
        let read = from_yaml(&text.replace("cause: \"?\"", "cause: filler-cap/seal-worn"), &base).unwrap();
        assert_eq!(read[0].1.as_deref(), Some("filler-cap/seal-worn"));
        let error =
            from_yaml(&text.replace("cause: \"?\"", "cause: filler-cap/seal-wron"), &base).unwrap_err().to_string();
        assert!(error.contains("line 7") && error.contains("did you mean"), "{error}");
    }
}

//! The answer to `search --in past`: each text with where it stands, what was at fault and which codes were read. As a screen and
//! as JSON.

use super::Look;
use super::paint::{QUIET, paint};
use super::search::{KIND, marked, marks_in_characters};
use super::text::{cut, hanging, left};
use learning::own_words::{OwnHit, OwnText, Source};
use serde_json::{Value, json};
use std::fmt::Write as _;

/// What was found among the shop's own words.
#[derive(Debug)]
pub struct OwnScreen<'a> {
    /// The words as typed.
    pub words: &'a str,
    /// Best first.
    pub hits: &'a [OwnHit],
    /// How many more there would be.
    pub more: usize,
    /// Whether the shop has any words of its own.
    pub any: bool,
}

impl OwnScreen<'_> {
    /// The whole screen.
    #[must_use]
    pub fn text(&self, look: Look) -> String {
        let mut out = String::new();
        if self.hits.is_empty() {
            let text = if self.any {
                format!("Nothing in the shop's own jobs answers \"{}\".", cut(self.words.trim(), 60))
            } else {
                "This shop has no words of its own yet: they come with jobs (faultodds job) and with past ones that are \
                 brought in (faultodds past)."
                    .to_owned()
            };
            hanging(&mut out, "", "", &text, look.width);
            return out;
        }
        for hit in self.hits {
            if !out.is_empty() {
                out.push('\n');
            }
            let first = match &hit.own.source {
                Source::Job { number } => left(&format!("job {number}"), KIND),
                Source::Past { .. } => left("past", KIND),
            };
            let lead = " ".repeat(KIND);
            marked(&mut out, &first, &lead, &hit.excerpt, look.width);
            hanging(&mut out, &lead, &lead, &about(&hit.own), look.width);
            if !hit.own.causes.is_empty() {
                hanging(&mut out, &lead, &lead, &format!("cause: {}", hit.own.causes.join(", ")), look.width);
            }
        }
        if self.more > 0 {
            let _ = write!(out, "\n{}\n", paint(QUIET, format!("{} more; show them with --top", self.more)));
        }
        out
    }

    /// `faultodds.search-past/1`. Marks are counted in characters, from and to.
    #[must_use]
    pub fn json(&self) -> Value {
        let hits: Vec<Value> = self
            .hits
            .iter()
            .map(|hit| {
                let (from, job, jobs) = match &hit.own.source {
                    Source::Job { number } => ("jobs", json!(number), 1),
                    Source::Past { jobs, job } => ("past", json!(job), *jobs),
                };
                json!({
                    "from": from, "job": job, "jobs": jobs, "day": hit.own.day, "codes": hit.own.codes,
                    "causes": hit.own.causes, "car": hit.own.car,
                    "excerpt": {"text": hit.excerpt.text, "marks": marks_in_characters(&hit.excerpt)},
                })
            })
            .collect();
        json!({"schema": "faultodds.search-past/1", "words": self.words, "hits": hits, "more": self.more})
    }
}

/// When, how often, on which car and with which codes.
fn about(own: &OwnText) -> String {
    let mut parts: Vec<String> = Vec::new();
    match &own.source {
        Source::Past { jobs, job } if *jobs > 1 => {
            let which = job.as_ref().map(|job| format!(" ({job})")).unwrap_or_default();
            parts.push(format!("{jobs} jobs, the last one of {}{which}", own.day));
        }
        Source::Past { job: Some(job), .. } => parts.push(format!("{}, no. {job}", own.day)),
        _ => parts.push(own.day.clone()),
    }
    parts.extend([own.car.clone(), own.codes.join(" ")].into_iter().filter(|p| !p.is_empty()));
    parts.join("; ")
}

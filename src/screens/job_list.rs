//! Jobs as a table.

use super::Look;
use super::job::day;
use super::paint::{HEADING, QUIET, paint};
use super::text::{cut, harmless, left, right};
use crate::jobs::store::{Page, Row};
use jiff::ZonedDateTime;
use std::fmt::Write as _;

/// The table, newest first.
#[must_use]
pub fn list(page: &Page, now: &ZonedDateTime, look: Look) -> String {
    if page.rows.is_empty() {
        return "no job matches\n".to_owned();
    }
    let number = page.rows.iter().map(|r| r.number.to_string().len()).max().unwrap_or(1).max(3);
    let mut out = String::new();
    let head = format!("{}  {}  {}  {}", right("job", number), left("opened", 10), left("state", 9), left("codes", 12));
    let _ = writeln!(out, "{}", paint(HEADING, format!("{head}  what")));
    for r in &page.rows {
        let state = r.verdict.map_or("open", |v| v.word());
        let line = format!(
            "{}  {}  {}  {}  ",
            right(&r.number.to_string(), number),
            day(r.opened_at, now),
            left(state, 9),
            left(&cut(&r.codes.join(" "), 12), 12)
        );
        let room = look.width.saturating_sub(super::text::columns(&line)).max(10);
        let _ = writeln!(out, "{line}{}", cut(&harmless(&what(r)), room));
    }
    if page.total > page.rows.len() {
        let over = if page.counted_all { "" } else { "more than " };
        let told = format!("{} of {over}{}; see more with --most N", page.rows.len(), page.total);
        let _ = writeln!(out, "{}", paint(QUIET, told));
    }
    out
}

fn what(r: &Row) -> String {
    let causes = r.causes.join(" ");
    let parts = [r.reference.as_deref().unwrap_or(""), &r.car, &causes];
    let parts: Vec<&str> = parts.into_iter().filter(|p| !p.is_empty()).collect();
    parts.join(" · ")
}

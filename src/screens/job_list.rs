//! Jobs as a table.

use super::Look;
use super::job_words::{day, time};
use super::paint::{HEADING, QUIET, paint};
use super::text::{cut, cut_words, left, right};
use jiff::ZonedDateTime;
use jobs::store::{Page, Row};
use std::fmt::Write as _;

/// The table, newest first.
#[must_use]
pub fn list(page: &Page, now: &ZonedDateTime, look: Look) -> String {
    if page.rows.is_empty() {
        return "no job matches\n".to_owned();
    }
    let number = page.rows.iter().map(|r| r.number.to_string().len()).max().unwrap_or(1).max(3);
    let mut out = String::new();
    // On the narrowest screens what is said of a job stands below it, and the day is left to `job show`.
    let narrow = look.width < 56;
    let opened = if narrow { String::new() } else { format!("{}  ", left("opened", 10)) };
    let head = format!("{}  {opened}{}  {}", right("job", number), left("state", 9), left("codes", 12));
    let what_too = if narrow { "" } else { "  what" };
    let _ = writeln!(out, "{}", paint(HEADING, format!("{head}{what_too}")));
    for r in &page.rows {
        let state = r.verdict.map_or("open", |v| v.word());
        if narrow {
            let codes = cut(&r.codes.join(" "), 12);
            let _ = writeln!(out, "{}  {}  {codes}", right(&r.number.to_string(), number), left(state, 9));
            let _ = writeln!(
                out,
                "{}  {}",
                right("", number),
                cut_words(&what(r, now), look.width.saturating_sub(number + 2))
            );
            continue;
        }
        let line = format!(
            "{}  {}  {}  {}  ",
            right(&r.number.to_string(), number),
            day(r.opened_at, now),
            left(state, 9),
            left(&cut(&r.codes.join(" "), 12), 12)
        );
        let room = look.width.saturating_sub(super::text::columns(&line)).max(10);
        let _ = writeln!(out, "{line}{}", cut_words(&what(r, now), room));
    }
    if page.total > page.rows.len() {
        let over = if page.counted_all { "" } else { "more than " };
        let told = format!("{} of {over}{}; see more with --most N", page.rows.len(), page.total);
        let _ = writeln!(out, "{}", paint(QUIET, told));
    }
    out
}

fn what(r: &Row, now: &ZonedDateTime) -> String {
    let causes = r.causes.join(" ");
    let mut parts = vec![r.reference.clone().unwrap_or_default(), r.car.clone(), causes];
    parts.retain(|p| !p.is_empty());
    // Two cars with one code and no word on either are told apart by the hour and by how far they are.
    if r.reference.is_none() && r.car.is_empty() {
        let events = if r.events == 1 { "1 event".to_owned() } else { format!("{} events", r.events) };
        parts.push(format!("opened {}, {events}", &time(r.opened_at, now)[11..]));
    }
    parts.join(" · ")
}

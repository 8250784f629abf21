//! The lists of `kb list`.

use super::paint::{HEADING, ID, paint};
use super::text::{columns, hanging, left};
use evidence::vehicle_meanings;
use knowledge::acts::Act;
use knowledge::base::{Base, Hazard};
use std::fmt::Write as _;

/// Kinds that can be listed, with what the list is called.
pub const KINDS: [&str; 14] = [
    "codes", "monitors", "parts", "suspects", "repairs", "tests", "symptoms", "tools", "setups", "cautions", "sources",
    "cases", "vehicle", "acts",
];

/// Id and name of every entry of a kind; nothing when there is no such kind.
#[must_use]
pub fn entries(base: &Base, kind: &str) -> Option<Vec<(String, String)>> {
    macro_rules! list {
        ($list:ident, $name:ident) => {
            base.$list.iter().map(|e| (e.id.clone(), e.$name.clone())).collect()
        };
    }
    if kind.trim_end_matches('s') == "vehicle" {
        return Some(vehicle_meanings(base));
    }
    let with_s = format!("{}s", kind.trim_end_matches('s'));
    Some(match with_s.as_str() {
        "codes" => list!(codes, title),
        "monitors" => list!(monitors, name),
        "parts" => list!(parts, name),
        "suspects" => base.suspects().map(|(_, s)| (s.id.clone(), s.name.clone())).collect(),
        "repairs" => base.repairs().map(|(_, r)| (r.id.clone(), r.does.clone())).collect(),
        "tests" => list!(tests, name),
        "symptoms" => list!(symptoms, name),
        "tools" => list!(tools, name),
        "setups" => list!(setups, name),
        "cautions" => list!(cautions, name),
        "sources" => list!(sources, title),
        "cases" => list!(cases, title),
        "acts" => acts(base),
        _ => return None,
    })
}

/// What a step can do to a car, with the cautions of this base that cover what that brings.
fn acts(base: &Base) -> Vec<(String, String)> {
    let one = |act: Act| {
        let covers = |h: &Hazard| {
            let covering = base.cautions.iter().filter(|c| c.covers.contains(h)).map(|c| c.id.as_str());
            covering.collect::<Vec<_>>().join(" or ")
        };
        let mut cautions: Vec<String> = act.hazards().iter().map(covers).filter(|c| !c.is_empty()).collect();
        cautions.dedup();
        let calls = if cautions.is_empty() { String::new() } else { format!(" Calls for {}.", cautions.join("; ")) };
        (act.word().to_owned(), format!("{}{calls}", act.stands_for()))
    };
    Act::all().map(one).collect()
}

/// The list as text.
#[must_use]
pub fn text(entries: &[(String, String)], width: usize) -> String {
    let widest = entries.iter().map(|(id, _)| columns(id)).max().unwrap_or(0).min(width / 2);
    let mut out = String::new();
    for (id, name) in entries {
        let mut line = String::new();
        let blanks = " ".repeat(widest + 2);
        if columns(id) > widest {
            // An id that fills its column stands on a line of its own.
            let _ = writeln!(line, "{id}");
            hanging(&mut line, &blanks, &blanks, name, width);
        } else {
            hanging(&mut line, &format!("{}  ", left(id, widest)), &blanks, name, width);
        }
        out.push_str(&line.replacen(id.as_str(), &paint(ID, id), 1));
    }
    out
}

/// How many entries there are of each kind.
#[must_use]
pub fn counts(base: &Base) -> String {
    let mut out = format!("{}\n", paint(HEADING, "Entries of each kind"));
    for kind in KINDS {
        let count = entries(base, kind).map_or(0, |e| e.len());
        let _ = writeln!(out, "{count:>6}  {kind}");
    }
    out
}

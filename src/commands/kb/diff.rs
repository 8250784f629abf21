//! `kb diff`: how two bases differ, entry by entry and number by number.

use super::super::base::{check_folder, overlaid};
use super::super::{Ending, Io, Stop};
use knowledge::Base;
use screens::failure::Failure;
use screens::paint::{HEADING, ID, paint};
use screens::problems;
use screens::text::{cut, harmless};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::Path;

/// One difference: where, before, after; a missing side is an entry or field that is not there.
type Difference = (String, Option<Value>, Option<Value>);

pub(super) fn run(old: &str, new: &str, as_json: bool, io: &mut Io) -> Result<Ending, Stop> {
    let mut after = load(new)?;
    if let Some(path) = &io.overlay {
        after = overlaid(&after, path)?.0;
    }
    let (old, new) = (flat(&load(old)?)?, flat(&after)?);
    let mut keys: Vec<&String> = old.keys().chain(new.keys()).collect();
    keys.sort();
    keys.dedup();
    let differences: Vec<Difference> = keys
        .into_iter()
        .filter(|k| old.get(*k) != new.get(*k))
        .map(|k| (k.clone(), old.get(k).cloned(), new.get(k).cloned()))
        .collect();
    if as_json {
        let list: Vec<Value> =
            differences.iter().map(|(at, old, new)| json!({"at": at, "old": old, "new": new})).collect();
        io.show_json(&json!({"schema": "faultodds.diff/1", "differences": list}))?;
    } else {
        let text = screen(&differences, [&old, &new], io.look.width);
        io.show(&text)?;
    }
    Ok(if differences.is_empty() { Ending::Done } else { Ending::No })
}

fn load(which: &str) -> Result<Base, Stop> {
    if which == "shipped" {
        return Ok(shipped::base().map_err(|e| Failure::new(e.to_string()))?);
    }
    // A file is an overlay, laid over the shipped base.
    if Path::new(which).is_file() {
        let shipped = shipped::base().map_err(|e| Failure::new(e.to_string()))?;
        return Ok(overlaid(&shipped, Path::new(which))?.0);
    }
    let checked = check_folder(Path::new(which))?;
    if checked.problems.is_empty() {
        return Ok(checked.base);
    }
    let failure = Failure::new(format!("the base in {which} has {}", problems::count(checked.problems.len())));
    Err(failure.hint(format!("see them with: faultodds kb check --kb {which}")).into())
}

/// Every value of the base under a path such as `tests purge-valve-hold readings hold false_alarm`.
fn flat(base: &Base) -> Result<BTreeMap<String, Value>, Stop> {
    let value = serde_json::to_value(base).map_err(|e| Failure::new(e.to_string()))?;
    let mut out = BTreeMap::new();
    walk("", &value, &mut out);
    // Where an expectation stands in its file is no difference of knowledge.
    out.retain(|k, _| !(k.starts_with("cases ") && (k.ends_with(" line") || k.ends_with(" column"))));
    Ok(out)
}

fn walk(at: &str, value: &Value, out: &mut BTreeMap<String, Value>) {
    let under = |key: &str| if at.is_empty() { key.to_owned() } else { format!("{at} {key}") };
    match value {
        Value::Object(fields) => fields.iter().for_each(|(k, v)| walk(&under(k), v, out)),
        Value::Array(items) => {
            for (i, item) in items.iter().enumerate() {
                // An item is known by its own id where it has one, so that an insertion is one difference.
                let own = ["id", "suspect", "symptom", "code"].iter().find_map(|k| item.get(k)).and_then(Value::as_str);
                walk(&under(own.unwrap_or(&format!("#{}", i + 1))), item, out);
            }
        }
        leaf => {
            out.insert(at.to_owned(), leaf.clone());
        }
    }
}

/// The entry that a path belongs to: kind and id.
fn entry_of(at: &str) -> &str {
    let end = at.match_indices(' ').nth(1).map_or(at.len(), |(i, _)| i);
    &at[..end]
}

fn screen(differences: &[Difference], bases: [&BTreeMap<String, Value>; 2], width: usize) -> String {
    if differences.is_empty() {
        return "the two bases say the same\n".to_owned();
    }
    let mut out = String::new();
    let mut shown_in_all = 0;
    let shown = |v: &Option<Value>| match v {
        None => "(not there)".to_owned(),
        Some(Value::String(s)) => harmless(s),
        Some(v) => v.to_string(),
    };
    let [older, newer] = bases.map(|b| b.keys().map(|k| entry_of(k)).collect::<BTreeSet<&str>>());
    let mut whole: BTreeSet<&str> = BTreeSet::new();
    for (at, old, new) in differences {
        // An entry that only one base has is one difference to read, however many values it holds.
        let entry = entry_of(at);
        if !older.contains(entry) || !newer.contains(entry) {
            if whole.insert(entry) {
                let values = differences.iter().filter(|d| entry_of(&d.0) == entry).count();
                let side = if newer.contains(entry) { "only in the newer base" } else { "only in the older base" };
                let _ = writeln!(out, "{}\n   {side}, with {values} values", paint(ID, harmless(entry)));
                shown_in_all += 1;
            }
            continue;
        }
        let _ = writeln!(out, "{}", paint(ID, harmless(at)));
        let _ = writeln!(out, "   - {}", cut(&shown(old), width.saturating_sub(5)));
        let _ = writeln!(out, "   + {}", cut(&shown(new), width.saturating_sub(5)));
        shown_in_all += 1;
    }
    let s = if shown_in_all == 1 { "" } else { "s" };
    format!("{}\n{out}", paint(HEADING, format!("{shown_in_all} difference{s}")))
}

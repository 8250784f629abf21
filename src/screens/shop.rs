//! What counts as true of the shop, and where that stands.

use super::Look;
use super::paint::{HEADING, paint};
use super::text::{hanging, minutes, paragraph};
use knowledge::Base;
use planning::{Aim, Shop};
use std::fmt::Write as _;
use std::path::Path;

/// The shop as it counts now.
#[must_use]
pub fn show(shop: &Shop, file: Option<&Path>, base: &Base, look: Look) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}", paint(HEADING, "the shop"));
    match file {
        Some(file) => paragraph(&mut out, "  file      ", &file.display().to_string(), look.width),
        None => {
            let text = "none: all of this is an example, and so is every amount of money that follows from it. Begin a \
                file of your own with: faultodds shop start";
            paragraph(&mut out, "  file      ", text, look.width);
        }
    }
    let currency = &shop.currency;
    paragraph(&mut out, "  rate      ", &format!("{:.2} {currency} an hour", shop.labour_rate), look.width);
    let hand_on = format!("{:.2} {currency}, or {}", shop.hand_on_cost, minutes(shop.hand_on_minutes));
    paragraph(&mut out, "  hand on   ", &hand_on, look.width);
    paragraph(&mut out, "  re-test   ", &minutes(shop.retest_minutes), look.width);
    let (cost, time) = shop.second_visit;
    let visit = match shop.at_hand.len() {
        _ if cost == 0.0 && time == 0.0 => "costs nothing: every part counts as at hand".to_owned(),
        n => format!("{cost:.2} {currency} and {} for a part; at hand are those of {n} repairs", minutes(time)),
    };
    paragraph(&mut out, "  2nd visit ", &visit, look.width);
    let aim = match shop.aim {
        Aim::Money => "money",
        Aim::Minutes => "minutes",
    };
    paragraph(&mut out, "  keeps low ", aim, look.width);
    let tools = match &shop.tools {
        None => "not listed: every tool counts as at hand".to_owned(),
        Some(tools) if tools.is_empty() => "none".to_owned(),
        Some(tools) => {
            let name = |t: &String| base.tool(t).map_or_else(|| t.clone(), |t| t.name.clone());
            tools.iter().map(name).collect::<Vec<_>>().join("; ")
        }
    };
    paragraph(&mut out, "  tools     ", &tools, look.width);
    let own = format!("{} own times, {} own prices", shop.minutes.len(), shop.prices.len());
    paragraph(&mut out, "  own       ", &own, look.width);
    out
}

/// A file was begun.
#[must_use]
pub fn started(path: &Path, look: Look) -> String {
    let mut out = String::new();
    let text = format!("{} is begun with example values. Put in your own, then: faultodds shop check", path.display());
    hanging(&mut out, "", "", &text, look.width);
    out
}

/// The file is sound.
#[must_use]
pub fn sound(path: &Path, look: Look) -> String {
    let mut out = String::new();
    hanging(&mut out, "", "", &format!("{}: all well", path.display()), look.width);
    out
}

//! What was already done to the car before this visit, among the reasons: beside how it multiplied the odds of the leaders, which
//! are seldom what it removed, how it did those of what it removes.

use super::super::Look;
use super::super::text::{hanging, harmless};
use super::{RankScreen, factor};
use ranking::Before;

/// Suspects named for each repair.
const MOVED: usize = 4;
/// A suspect whose odds it changes by less than this factor shows as `·` and is not named.
const LEAST_FACTOR: f64 = 1.05;

impl RankScreen<'_> {
    /// `already done: Fit a new purge valve (second-hand)`.
    pub(super) fn done_before(&self, before: &Before) -> String {
        let said = self.told.repairs.get(before.repair).map_or("", String::as_str);
        let (id, how) = said.split_once('=').map_or((said, None), |(id, how)| (id.trim(), Some(how.trim())));
        let does = self.base.repair(id).map_or(id, |(_, r)| r.does.as_str());
        match how {
            Some(how) => format!("already done: {does} ({how})"),
            None => format!("already done: {does}"),
        }
    }

    /// The suspects that each repair removes, those first whose probability it moved most; one paragraph a repair.
    pub(super) fn moved_before(&self, out: &mut String, look: Look) {
        for before in &self.ranking.before {
            let removes = &self.told.evidence.repairs[before.repair].suspects;
            let mut moved = before.moved(LEAST_FACTOR);
            moved.retain(|(s, _)| removes.contains(s));
            let name = |s: usize| self.base.suspect_name(&self.network.suspects[s].id);
            let shown = moved.iter().take(MOVED).map(|(s, ln)| format!("{} {}", name(*s), factor(*ln)));
            let mut words: Vec<String> = shown.collect();
            if moved.len() > MOVED {
                words.push(format!("{} more that matter less", moved.len() - MOVED));
            }
            if words.is_empty() {
                words.push("it removes no suspect of this car".to_owned());
            }
            let text = format!("{}: {}", self.done_before(before), words.join("; "));
            hanging(out, "   ", "      ", &harmless(&text), look.width);
        }
    }
}

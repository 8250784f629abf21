//! In which order hits are told: what was named comes first, then the best of the sort asked for. A question of safety is led by
//! what is to be heeded, one with quantities by what is computed from them.

use super::asked::Asked;
use super::closeness::Closeness;
use super::packed::COMMON_AT;
use super::{EntryKind, Finder, Hit, Scored};
use std::collections::HashMap;

/// Hits among which a test or a caution is seen anyway.
const SEEN: usize = 3;

impl Finder<'_> {
    /// A test that finds, or a repair that removes, what the words describe gains by it where a test or a repair is asked for.
    pub(super) fn add_what_it_bears_on(&self, asked: &Asked, hits: &mut [Scored]) {
        let of_kind = |h: &Scored| {
            let kind = self.packed.entries[h.number].kind;
            if matches!(kind, EntryKind::Test | EntryKind::Repair) { asked.intent.of_kind(kind) } else { 0.0 }
        };
        if hits.iter().all(|h| of_kind(h) <= 0.0) {
            return;
        }
        let scores: HashMap<usize, f32> = hits.iter().map(|h| (h.number, h.score)).collect();
        for hit in hits.iter_mut() {
            let wanted = of_kind(hit);
            if wanted > 0.0 {
                let rows = self.packed.bears_ends.part(hit.number);
                #[expect(clippy::cast_precision_loss, reason = "thousandths")]
                let score = |row: usize| {
                    let of = scores.get(&(self.packed.bears.at(2 * row) as usize)).copied().unwrap_or_default();
                    of * self.packed.bears.at(2 * row + 1) as f32 / 1000.0
                };
                hit.score += self.settings.bears * wanted * rows.map(score).fold(0.0, f32::max);
            }
        }
    }

    /// What the sort of entry makes of its score.
    pub(super) fn of_kind(&self, number: usize, same: f32, asked: &Asked) -> f32 {
        let kind = self.packed.entries[number].kind;
        let wanted = 1.0 + self.settings.wanted * asked.intent.of_kind(kind);
        let s = &self.settings;
        #[expect(clippy::cast_precision_loss, reason = "thousandths")]
        let common = (self.packed.common.at(number) as f32 - COMMON_AT as f32) / 1000.0;
        wanted
            * (1.0 + s.common * common)
            * match kind {
                EntryKind::Symptom => s.symptom,
                // Nothing but the name of a part asks for the part; "how do I check" it asks for a test.
                EntryKind::Part if same >= s.sure && asked.intent.is_open() => s.named,
                EntryKind::Part => s.part,
                EntryKind::Repair | EntryKind::Circumstance => s.aside,
                // What is to be heeded has a place beside where something else is asked for.
                EntryKind::Caution if asked.intent.asks_for_another(kind) => s.unasked,
                _ => 1.0,
            }
    }

    /// Of entries that are the same but for the bank or for being the second of their sort, the first one stands for all, unless
    /// the words say which.
    pub(super) fn first_of_its_sort(&self, words: &[String], hits: &mut [Scored]) {
        let says = |which: &[&str]| words.iter().any(|w| which.contains(&w.as_str()));
        if says(&["2", "two", "second", "b", "other", "rear", "right", "left"]) {
            return;
        }
        let entry = |h: &Scored| (self.packed.entries[h.number].kind, self.packed.entries[h.number].id);
        let there: HashMap<(EntryKind, String), f32> =
            hits.iter().map(|h| ((entry(h).0, entry(h).1.to_owned()), h.score)).collect();
        for hit in hits.iter_mut() {
            let (kind, id) = entry(hit);
            let first = first_of(id).and_then(|first| there.get(&(kind, first)));
            if let Some(score) = first.filter(|score| **score >= hit.score * self.settings.first_of_sort) {
                hit.score = hit.score.min(*score) * self.settings.later_of_sort;
            }
        }
    }

    /// What was named by its number or its id comes before everything else.
    pub(super) fn put_named_first(&self, text: &str, asked: &Asked, kinds: &[EntryKind], hits: &mut Vec<Scored>) {
        let ids: Vec<String> =
            text.split_whitespace().filter(|w| w.contains(['-', '/'])).map(str::to_lowercase).collect();
        let whole = text.trim().to_lowercase();
        let before = hits.iter().map(|h| h.score).fold(1.0, f32::max) + f32::EPSILON;
        for (number, entry) in self.packed.entries.iter().enumerate() {
            let of_kind = kinds.is_empty() || kinds.contains(&entry.kind);
            let named =
                asked.codes.iter().any(|c| c == entry.id) || whole == entry.id || ids.iter().any(|i| i == entry.id);
            if !(named && of_kind) {
                continue;
            }
            match hits.iter_mut().find(|h| h.number == number) {
                Some(hit) => hit.score += before,
                None => hits.push(Scored { score: before, number, close: Closeness::default() }),
            }
        }
    }

    /// Puts the best hit of the sort asked for in front, and gives the best test and the best caution that are near and would
    /// not be seen a place of their own.
    pub(super) fn put_in_order(
        &self,
        asked: &Asked,
        kinds: &[EntryKind],
        hits: &mut [Scored],
        most: usize,
    ) -> Vec<Hit> {
        let kind_of = |h: &Scored| self.packed.entries[h.number].kind;
        let Some(best) = hits.first().map(|h| h.score) else { return Vec::new() };
        if let Some(leader) = asked.intent.leader() {
            let near = |h: &Scored| kind_of(h) == leader && h.score >= best * self.settings.leads;
            if let Some(at) = hits.iter().position(near) {
                hits[..=at].rotate_right(1);
            }
        }
        let mut beside = Vec::new();
        for kind in [EntryKind::Test, EntryKind::Caution] {
            let near = hits.iter().position(|h| kind_of(h) == kind && h.score >= best * self.settings.beside);
            if let Some(at) = near.filter(|at| *at >= SEEN.min(most) && kinds.is_empty()) {
                beside.push(self.hit(&hits[at]));
            }
        }
        beside
    }
}

/// The id of the first of its sort, for one that is not the first: `catalyst-1/broken` for `catalyst-2/broken`.
fn first_of(id: &str) -> Option<String> {
    let (part, rest) = id.split_once('/').map_or((id, ""), |(part, rest)| (part, rest));
    let first = match part.rsplit_once('-')? {
        (stem, "2") => format!("{stem}-1"),
        (stem, "b" | "c") => stem.to_owned(),
        _ => return None,
    };
    Some(if rest.is_empty() { first } else { format!("{first}/{rest}") })
}

//! Minutes of tests and repairs and prices of parts, by the shop's own jobs.

use super::counts::{Counts, Kind};
use super::fit::{LEVEL, Number, What, around};
use super::spread::Histogram;
use super::strength::{Evidence, Strengths};
use knowledge::base::Base;
use std::collections::BTreeMap;

/// Jobs that a shipped time or price is worth: the base gives amounts no weight of their own.
pub const WEIGHT: f64 = 10.0;

/// What the jobs say of how far the shipped minutes and prices hold, by family.
pub(super) fn evidence(base: &Base, counts: &Counts, out: &mut BTreeMap<(What, String), Evidence>) {
    each(base, counts, &mut |what, family, _, shipped, histogram| {
        if let Some((off, sampling, doubt)) = histogram.off(shipped, WEIGHT) {
            let told = Evidence::of_amount(off, sampling, doubt, histogram.jobs());
            out.entry((what, family.to_owned())).or_default().add(&told);
        }
    });
}

/// Learns the usual minutes and prices.
pub(super) fn learn(base: &Base, counts: &Counts, strengths: &Strengths, out: &mut Vec<Number>) {
    each(base, counts, &mut |what, family, of, shipped, histogram| {
        let usual = histogram.usual(shipped, WEIGHT * strengths.for_draws(what, family), LEVEL);
        let new = if strengths.leaves(what, family) { shipped } else { usual.value };
        let (low, high) = around((usual.low, usual.high), new);
        let (of, on, level) = (of.to_owned(), String::new(), String::new());
        out.push(Number { what, of, on, level, old: shipped, new, low, high, jobs: usual.jobs });
    });
}

/// Every amount that jobs speak of: what it is, its family, whose it is, the shipped one and the jobs'.
fn each(base: &Base, counts: &Counts, take: &mut dyn FnMut(What, &str, &str, f64, &Histogram)) {
    for (kind, what) in [(Kind::Minutes, What::Minutes), (Kind::Price, What::Price)] {
        for (of, histogram) in counts.histograms(kind) {
            let repair = base.repair(&of);
            let (shipped, family) = match (what, repair, base.test(&of)) {
                (What::Minutes, Some((part, r)), _) => (r.minutes.get(), &part.family),
                (What::Price, Some((part, r)), _) => (r.parts_cost.get(), &part.family),
                (What::Minutes, None, Some(t)) => (t.minutes.get(), &t.family),
                _ => continue,
            };
            // A repair without parts has no usual price to move on a log scale.
            if shipped > 0.0 {
                take(what, family, &of, shipped, &histogram);
            }
        }
    }
}

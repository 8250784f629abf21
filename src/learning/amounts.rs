//! Minutes of tests and repairs and prices of parts, by the shop's own jobs.

use super::counts::{Counts, Kind};
use super::fit::{LEVEL, Number, What};
use crate::knowledge::base::Base;

/// Jobs that a shipped time or price is worth: the base gives amounts no weight of their own.
pub const WEIGHT: f64 = 10.0;

/// Learns the usual minutes and prices.
pub(super) fn learn(base: &Base, counts: &Counts, out: &mut Vec<Number>) {
    for (kind, what) in [(Kind::Minutes, What::Minutes), (Kind::Price, What::Price)] {
        for (of, histogram) in counts.histograms(kind) {
            let repair = base.repair(&of).map(|(_, r)| r);
            let shipped = match (what, repair, base.test(&of)) {
                (What::Minutes, Some(r), _) => r.minutes.get(),
                (What::Price, Some(r), _) => r.parts_cost.get(),
                (What::Minutes, None, Some(t)) => t.minutes.get(),
                _ => continue,
            };
            // A repair without parts has no usual price to move on a log scale.
            if shipped <= 0.0 {
                continue;
            }
            let usual = histogram.usual(shipped, WEIGHT, LEVEL);
            out.push(Number {
                what,
                of,
                on: String::new(),
                level: String::new(),
                old: shipped,
                new: usual.value,
                low: usual.low,
                high: usual.high,
                jobs: usual.jobs,
            });
        }
    }
}

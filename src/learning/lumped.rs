//! Counts that can be shown to others: no cell speaks of fewer jobs than a stated number, rare cells are lumped.

use super::counts::{Counts, Key, Kind};
use std::collections::BTreeMap;

/// The usual threshold: five jobs (judgement, as in published tables of counts).
pub const LEAST: f64 = 5.0;

impl Counts {
    /// The table in which every cell holds at least `least` jobs (k-anonymity; L. Sweeney, International Journal of Uncertainty
    /// 10, 2002). What is rarer gives up its details until enough jobs are alike, and is left out at the end:
    ///
    /// * a confirmed cause gives up its codes, then its name; an unsure job its results, then its candidates, then its codes;
    ///   a job without a fault its codes: no job is lost from the sum unless fewer than `least` are left over;
    /// * in a group, rare causes are lumped under no name, so that the size of the group stays;
    /// * of a reading, all levels are left out for a suspect one of whose levels is rare: leaving out the rare level alone
    ///   would make a test look better than it is;
    /// * rare bins of minutes and prices are put together with their neighbours, at the mean of the bins.
    #[must_use]
    pub fn lumped(&self, least: f64) -> Self {
        let mut out = Self::default();
        for kind in [Kind::Cause, Kind::Pair, Kind::Unsure, Kind::NoFault] {
            let mut cells: BTreeMap<Key, f64> = self.of(kind).map(|(k, n)| (k.clone(), n)).collect();
            for give_up in steps(kind) {
                let mut next: BTreeMap<Key, f64> = BTreeMap::new();
                for (mut key, n) in cells {
                    if n < least {
                        give_up(&mut key);
                    }
                    *next.entry(key).or_default() += n;
                }
                cells = next;
            }
            cells.into_iter().filter(|(_, n)| *n >= least).for_each(|(k, n)| out.add(k, n));
        }
        let mut groups: BTreeMap<Key, f64> = BTreeMap::new();
        for (key, n) in self.of(Kind::Group) {
            let subject = if n < least { String::new() } else { key.subject.clone() };
            *groups.entry(Key { subject, ..key.clone() }).or_default() += n;
        }
        groups.into_iter().filter(|(_, n)| *n >= least).for_each(|(k, n)| out.add(k, n));
        let mut readings: BTreeMap<(&str, &str), Vec<(&Key, f64)>> = BTreeMap::new();
        for (key, n) in self.of(Kind::Reading) {
            readings.entry((&key.subject, &key.object)).or_default().push((key, n));
        }
        for cells in readings.into_values().filter(|c| c.iter().all(|(_, n)| *n >= least)) {
            cells.into_iter().for_each(|(k, n)| out.add(k.clone(), n));
        }
        for kind in [Kind::Minutes, Kind::Price] {
            let mut amounts: BTreeMap<&str, Vec<(i64, f64)>> = BTreeMap::new();
            for (key, n) in self.of(kind) {
                if let Ok(bin) = key.level.parse() {
                    amounts.entry(&key.subject).or_default().push((bin, n));
                }
            }
            for (subject, mut bins) in amounts {
                bins.sort_unstable_by_key(|b| b.0);
                for (bin, n) in neighbours(&bins, least) {
                    let (group, object) = (String::new(), String::new());
                    out.add(Key { kind, group, subject: subject.to_owned(), object, level: bin.to_string() }, n);
                }
            }
        }
        out
    }
}

/// What a cell of this kind gives up, one after another.
fn steps(kind: Kind) -> &'static [fn(&mut Key)] {
    match kind {
        Kind::Cause | Kind::Pair => &[
            |k| k.object.clear(),
            |k| {
                k.subject.clear();
                k.object.clear();
            },
        ],
        Kind::Unsure => &[|k| k.level.clear(), |k| k.subject.clear(), |k| k.object.clear()],
        _ => &[|k| k.object.clear()],
    }
}

/// Neighbouring bins put together until each holds enough; what is left over at the end goes to the last.
fn neighbours(bins: &[(i64, f64)], least: f64) -> Vec<(i64, f64)> {
    let mut out: Vec<(f64, f64)> = Vec::new();
    let (mut sum, mut n) = (0.0, 0.0);
    for (bin, jobs) in bins {
        sum += *bin as f64 * jobs;
        n += jobs;
        if n >= least {
            out.push((sum, n));
            (sum, n) = (0.0, 0.0);
        }
    }
    if let (Some(last), true) = (out.last_mut(), n > 0.0) {
        (last.0, last.1) = (last.0 + sum, last.1 + n);
    }
    #[expect(clippy::cast_possible_truncation, reason = "the mean of bins is a bin")]
    out.into_iter().map(|(sum, n)| ((sum / n).round() as i64, n)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn key(kind: Kind, group: &str, subject: &str, object: &str, level: &str) -> Key {
        let own = str::to_owned;
        Key { kind, group: own(group), subject: own(subject), object: own(object), level: own(level) }
    }

    proptest! {
        /// Whatever is counted: no cell below the threshold, no job made up, and none lost but a rest.
        #[test]
        fn no_cell_is_rare_and_no_job_is_made(
            cells in prop::collection::vec((0..4_usize, 0..5_usize, 0..4_usize, 1..9_u32), 1..60),
            least in 1..7_u32,
        ) {
            let (kinds, mut counts) = ([Kind::Cause, Kind::Pair, Kind::Unsure, Kind::NoFault], Counts::default());
            for (kind, subject, object, n) in cells {
                let subject = if kind == 3 { String::new() } else { format!("a/{subject}") };
                counts.add(key(kinds[kind], "", &subject, &format!("P{object}"), ""), f64::from(n));
            }
            let (least, lumped) = (f64::from(least), counts.lumped(f64::from(least)));
            prop_assert!(lumped.rows().all(|(_, n)| n >= least));
            prop_assert!(lumped.jobs() <= counts.jobs() && lumped.jobs() >= counts.jobs() - 4.0 * least);
            if least <= 1.0 { prop_assert_eq!(lumped, counts); }
        }
    }

    #[test]
    fn groups_keep_their_size_and_amounts_their_middle() {
        let mut counts = Counts::default();
        counts.add(key(Kind::Group, "make:orlo", "a/b", "", ""), 20.0);
        counts.add(key(Kind::Group, "make:orlo", "a/c", "", ""), 3.0);
        counts.add(key(Kind::Group, "make:orlo", "a/d", "", ""), 4.0);
        counts.add(key(Kind::Group, "make:rare", "a/d", "", ""), 4.0);
        for bin in 0..9 {
            counts.add(key(Kind::Minutes, "", "a/r", "", &bin.to_string()), 2.0);
        }
        counts.add(key(Kind::Reading, "", "a/b", "t:r", "normal"), 30.0);
        counts.add(key(Kind::Reading, "", "a/b", "t:r", "abnormal"), 2.0);
        let lumped = counts.lumped(5.0);
        let of = |kind| lumped.of(kind).map(|(k, n)| (k.group.clone() + &k.subject + &k.level, n)).collect::<Vec<_>>();
        assert_eq!(of(Kind::Group), [("make:orlo".to_owned(), 7.0), ("make:orloa/b".to_owned(), 20.0)]);
        assert!(of(Kind::Reading).is_empty(), "the rare result is not hidden behind the common one");
        assert_eq!(of(Kind::Minutes), [("a/r1".to_owned(), 6.0), ("a/r4".to_owned(), 6.0), ("a/r7".to_owned(), 6.0)]);
    }
}

//! What was learned, as a file of changes laid over a base. The shipped base is never edited: a base with the overlay
//! is made in memory, and leaving the overlay away undoes it.

mod file;
pub(crate) mod slot;

pub(crate) use file::quoted;
pub use file::{OverlayError, Trouble};

use super::fit::{GroupNumber, Learned, Number, What};
use knowledge::base::Base;
use knowledge::number::Probability;
use network::build::JOBS_PER_FAULT;

/// Version of the file's shape.
pub const SCHEMA: &str = "faultodds.overlay/1";

/// Numbers that moved by less than this share are left as shipped.
const NOTABLE: f64 = 0.005;

/// One changed number.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// The number: old, new, interval, jobs.
    pub number: Number,
    /// Jobs that the old number was worth and that the new one is, where the base keeps a weight with it.
    pub weights: Option<(f64, f64)>,
    /// Line in the file, 0 when it comes from none.
    pub line: u32,
    /// Column in that line.
    pub column: u32,
}

/// A set of changes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Overlay {
    /// When it was made, as written.
    pub made: String,
    /// Jobs behind it.
    pub jobs: f64,
    /// The numbers.
    pub rows: Vec<Row>,
    /// Factors for groups of cars.
    pub groups: Vec<GroupNumber>,
    /// The shop that it is for, by its name among those that were counted; empty where there is but one.
    pub shop: String,
}

/// Probabilities stay this far from 0 and 1.
const EDGE: f64 = 1e-6;

impl Overlay {
    /// The overlay of what was learned on a base, without numbers that hardly moved or have less than a job behind them.
    #[must_use]
    pub fn of(base: &Base, learned: &Learned, made: &str) -> Self {
        let mut rows = Vec::new();
        for n in &learned.numbers {
            let Some(old) = slot::get(base, n) else { continue };
            let mut n = Number {
                old,
                new: digits(n.new),
                low: digits(n.low),
                high: digits(n.high),
                jobs: (n.jobs * 10.0).round() / 10.0,
                ..n.clone()
            };
            if !matches!(n.what, What::Minutes | What::Price) {
                n.new = n.new.clamp(EDGE, 1.0 - EDGE);
            }
            // The prevalence of every suspect moves when shares move, so all of them are written.
            let moved = (n.new / n.old).ln().abs() > NOTABLE;
            if !(moved && (n.jobs >= 1.0 || n.what == What::Prior)) {
                continue;
            }
            let weights = slot::weight(base, &n).map(|old| (old, digits(worth(&n).clamp(old.min(0.5), 1e6))));
            rows.push(Row { number: n, weights, line: 0, column: 0 });
        }
        let groups = learned.groups.iter().map(|g| GroupNumber {
            times: digits(g.times),
            low: digits(g.low),
            high: digits(g.high),
            ..g.clone()
        });
        Self { made: made.to_owned(), jobs: learned.jobs, rows, groups: groups.collect(), shop: String::new() }
    }

    /// An overlay that puts every number where it says, without weights: for drawing worlds.
    #[must_use]
    pub fn plain(numbers: Vec<Number>) -> Self {
        let rows = numbers.into_iter().map(|number| Row { number, weights: None, line: 0, column: 0 }).collect();
        Self { rows, ..Self::default() }
    }

    /// The base with the changes.
    ///
    /// # Errors
    /// Every row that speaks of something the base does not have, or of a base with other numbers.
    pub fn apply(&self, base: &Base) -> Result<Base, Vec<Trouble>> {
        self.put(base, |n| (n.old, n.new), |w| w.1)
    }

    /// The base before the changes, from the base with them.
    ///
    /// # Errors
    /// As [`Self::apply`].
    pub fn undo(&self, base: &Base) -> Result<Base, Vec<Trouble>> {
        self.put(base, |n| (n.new, n.old), |w| w.0)
    }

    fn put(
        &self,
        base: &Base,
        turn: impl Fn(&Number) -> (f64, f64),
        weight: impl Fn((f64, f64)) -> f64,
    ) -> Result<Base, Vec<Trouble>> {
        let mut out = base.clone();
        let mut troubles = Vec::new();
        for row in &self.rows {
            let trouble = |message: String| Trouble { line: row.line, column: row.column, message };
            let (from, to) = turn(&row.number);
            match slot::get(base, &row.number) {
                None => troubles.push(trouble(format!("the base has no {}", slot::name(&row.number)))),
                Some(now) if (now - from).abs() > 1e-9 * from.abs().max(1e-9) => {
                    troubles.push(trouble(format!(
                        "{} is {now} in this base and {from} in the base that the overlay was made for",
                        slot::name(&row.number)
                    )));
                }
                Some(_) => {
                    if !slot::set(&mut out, &row.number, to, row.weights.map(&weight)) {
                        troubles.push(trouble(format!("{} cannot become {to}", slot::name(&row.number))));
                    }
                }
            }
        }
        if troubles.is_empty() { Ok(out) } else { Err(troubles) }
    }

    /// The factors that hold for a car of these groups, `(by, value)`: of the groups that the overlay knows, those of
    /// the narrowest count, model before engine before make; the shop's own for the parts of which these say nothing.
    #[must_use]
    pub fn factors(&self, groups: &[(&str, String)]) -> Vec<&GroupNumber> {
        let of = |by: &str| -> Vec<&GroupNumber> {
            let Some((_, value)) = groups.iter().find(|(b, _)| *b == by) else { return Vec::new() };
            self.groups.iter().filter(|g| g.by == by && g.value == *value).collect()
        };
        let mut out = ["model", "engine", "make"].into_iter().map(of).find(|f| !f.is_empty()).unwrap_or_default();
        let own = self.groups.iter().filter(|g| g.by == "shop" && g.value == self.shop);
        let rest: Vec<&GroupNumber> = own.filter(|g| out.iter().all(|o| o.of != g.of)).collect();
        out.extend(rest);
        out
    }

    /// The prior as shipped of a suspect whose prior it changes.
    #[must_use]
    pub fn shipped_prior(&self, suspect: &str) -> Option<f64> {
        let numbers = self.rows.iter().map(|r| &r.number);
        numbers.filter(|n| n.what == What::Prior && n.of == suspect).map(|n| n.old).next()
    }

    /// What it changes of an entry, one sentence each: of a suspect, a code, a reading or its test, a repair, or a part with all
    /// that belongs to it.
    #[must_use]
    pub fn about(&self, id: &str) -> Vec<String> {
        let id = id.trim().to_lowercase();
        let belongs = |of: &str| {
            let of = of.to_lowercase();
            of == id || of.strip_prefix(id.as_str()).is_some_and(|rest| rest.starts_with(['/', ':']))
        };
        let rows = self.rows.iter().map(|r| &r.number).filter(|n| belongs(&n.of) || belongs(&n.on)).map(|n| {
            let show = |x: f64| match n.what {
                What::Minutes => format!("{x:.0} min"),
                What::Price => format!("{x:.2}"),
                _ => format!("{} %", digits_of(100.0 * x)),
            };
            format!(
                "{}: {} as shipped, {} by {:.0} jobs of this shop ({} to {})",
                slot::name(n),
                show(n.old),
                show(n.new),
                n.jobs,
                show(n.low),
                show(n.high)
            )
        });
        let groups = self.groups.iter().filter(|g| belongs(&g.of)).map(|g| {
            format!("`{}` on {} {}: {:.1} times as often ({:.1} to {:.1})", g.of, g.by, g.value, g.times, g.low, g.high)
        });
        rows.chain(groups).collect()
    }

    /// The base for a car of these groups, with their factors on the prevalences.
    #[must_use]
    pub fn for_car(&self, base: &Base, groups: &[(&str, String)]) -> Base {
        let mut out = base.clone();
        for g in self.factors(groups) {
            let scaled = |p: Probability| Probability::new((p.get() * g.times).clamp(EDGE, 0.5)).unwrap_or(p);
            for s in out.parts.iter_mut().filter(|p| p.id == g.of).flat_map(|p| &mut p.suspects) {
                s.prior = scaled(s.prior);
            }
        }
        out
    }
}

/// Two significant digits, for reading.
fn digits_of(x: f64) -> f64 {
    format!("{x:.1e}").parse().unwrap_or(x)
}

/// Six significant digits: more would pretend.
fn digits(x: f64) -> f64 {
    format!("{x:.5e}").parse().unwrap_or(x)
}

/// Jobs that a number with this interval is worth, sd from the 90 % interval: for a prevalence, (p / sd)² faults
/// found; for other probabilities p (1 - p) / sd² - 1.
fn worth(n: &Number) -> f64 {
    let sd = (n.high - n.low) / (2.0 * 1.644_853_627);
    if n.what == What::Prior {
        return (n.new / sd).powi(2) * JOBS_PER_FAULT;
    }
    n.new * (1.0 - n.new) / (sd * sd).max(1e-18) - 1.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::counts::{Counter, Counts};
    use crate::fit::fit;
    use crate::job::{Cause, ClosedJob};

    fn some_counts() -> Counts {
        let mut counter = Counter::default();
        for i in 0..120 {
            let mut job = ClosedJob::on(jiff::civil::date(2024, 1, 1));
            job.codes = vec![if i % 3 == 0 { "P0455".into() } else { "P0442".into() }];
            job.make = Some("Orlo".into());
            job.cause =
                Cause::Found(if i % 4 == 0 { "purge-valve/leaks".into() } else { "filler-cap/seal-worn".into() });
            job.results = vec![("cap-look-reseat:seal".into(), "abnormal".into())];
            counter.add(&job);
        }
        counter.finish()
    }

    #[test]
    fn an_overlay_is_undone_to_the_last_bit() {
        let base = shipped::base().unwrap();
        let before = base.clone();
        let overlay = Overlay::of(&base, &fit(&base, &some_counts(), 1), "today");
        assert!(overlay.rows.len() > 20);
        let text = overlay.to_yaml();
        let read = Overlay::from_yaml(&text).unwrap();
        let tuned = read.apply(&base).unwrap();
        assert_ne!(tuned, base);
        assert_eq!(read.undo(&tuned).unwrap(), before);
        assert_eq!(base, before, "the shipped base never changes");
        let numbers = |o: &Overlay| o.rows.iter().map(|r| (r.number.clone(), r.weights)).collect::<Vec<_>>();
        assert_eq!(numbers(&read), numbers(&overlay));
    }

    #[test]
    fn no_jobs_change_nothing() {
        let base = shipped::base().unwrap();
        let overlay = Overlay::of(&base, &fit(&base, &Counts::default(), 1), "today");
        assert!(overlay.rows.is_empty(), "{:?}", overlay.rows);
    }

    #[test]
    fn an_overlay_for_another_base_is_refused_with_places() {
        let base = shipped::base().unwrap();
        let overlay = Overlay::of(&base, &fit(&base, &some_counts(), 1), "today");
        let read = Overlay::from_yaml(&overlay.to_yaml()).unwrap();
        let tuned = read.apply(&base).unwrap();
        let troubles = read.apply(&tuned).unwrap_err();
        assert_eq!(troubles.len(), read.rows.len());
        assert!(troubles[0].line > 1 && troubles[0].message.contains("made for"), "{:?}", troubles[0]);
    }

    #[test]
    fn a_damaged_overlay_is_told_with_its_place() {
        let good = "schema: faultodds.overlay/1\nmade: today\njobs: 3\nnumbers:\n  - {what: prior, of: a/b, old: 0.1, new: NEW, low: 0.1, high: 0.3, jobs: 3}\ngroups: []\n";
        assert!(Overlay::from_yaml(&good.replace("NEW", "0.2")).is_ok());
        for (bad, line) in [
            (good.replace("NEW", "\"0.2\""), 5),
            (good.replace("NEW", "1.5"), 5),
            (good.replace("what: prior", "what: price-tag"), 5),
            (good.replace("overlay/1", "overlay/7"), 1),
        ] {
            let bad = bad.replace("NEW", "0.2");
            let OverlayError::Troubles(t) = Overlay::from_yaml(&bad).unwrap_err();
            assert_eq!(t[0].line, line, "{bad} {t:?}");
        }
    }
}

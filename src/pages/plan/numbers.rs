//! A reading that is a number, for a page that cannot ask this program: its units, and how probable each number is at
//! each level, as a table between whose points is gone straight. A test holds the table to the likelihoods themselves.

use evidence::kind_of;
use gauge::atmosphere::{SEA_LEVEL_PA, pressure_at_height_pa};
use gauge::digits::tidy;
use gauge::electric::coil_ohm_at;
use gauge::smoothed::{centre, width};
use gauge::{Observed, Unit, likelihoods};
use knowledge::base::{Adjust, Distribution, Measure, Quantity};
use serde_json::{Value, json};

/// How far the logarithm of a likelihood may be off between two points of a table: one part in a hundred.
const TOLERANCE: f64 = 0.01;
/// Points from which a table is thinned out.
const POINTS: u32 = 1200;

/// A number that a page asks for.
#[derive(Clone, Debug, PartialEq)]
pub struct NumberForm {
    /// What is typed, in words: `drop from 20 inHg over 240 s`.
    pub what: String,
    /// Units by symbol, the test's own first; a number in them times the first factor plus the second is in the own one.
    pub units: Vec<(&'static str, f64, f64)>,
    /// What it was measured under, where that is asked for: the words, and the unit.
    pub under: Option<(&'static str, &'static str)>,
    /// The tables, for the page's script.
    pub tables: Value,
}

impl NumberForm {
    /// The form for a measure; nothing for a unit that no table knows, which `kb check` refuses.
    #[must_use]
    pub fn of(measure: &Measure) -> Option<Self> {
        let own = Unit::find(&measure.unit, kind_of(measure.quantity)).ok()?;
        let mut units = vec![(own.symbol(), 1.0, 0.0)];
        for unit in Unit::all(own.kind()).into_iter().filter(|u| *u != own) {
            let zero = own.from_si(unit.to_si(0.0));
            units.push((
                unit.symbol(),
                own.from_si(unit.to_si(1.0)) - zero,
                if zero.abs() < 1e-9 { 0.0 } else { zero },
            ));
        }
        let what = match (measure.start, measure.over_s) {
            (Some(start), Some(s)) => format!("drop from {} {}, read after {}", tidy(start), measure.unit, span(s)),
            _ => measure.quantity.word().replace('-', " "),
        };
        let (under, factors) = under(measure.adjust);
        let table = |observed: fn(f64) -> Observed| table(measure, observed);
        Some(Self {
            what,
            units,
            under,
            tables: json!({
                "exact": table(Observed::Exact)?, "above": table(Observed::Above)?, "below": table(Observed::Below)?,
                "start": measure.start, "least": least(measure), "unsigned": measure.adjust == Some(Adjust::Unsigned),
                "under": factors,
            }),
        })
    }
}

fn span(seconds: f64) -> String {
    if seconds >= 60.0 && (seconds / 60.0).fract() == 0.0 {
        format!("{} min", tidy(seconds / 60.0))
    } else {
        format!("{} s", tidy(seconds))
    }
}

/// What else is asked for, and by what the number is then multiplied.
fn under(adjust: Option<Adjust>) -> (Option<(&'static str, &'static str)>, Value) {
    let points = |from: i32, to: i32, step: usize, f: &dyn Fn(f64) -> Option<f64>| -> Value {
        let list = (from..=to).step_by(step).filter_map(|x| Some(json!([x, short(f(f64::from(x))?)])));
        Value::Array(list.collect())
    };
    match adjust {
        Some(Adjust::CopperAt20C) => (
            Some(("temperature of the winding, where it is not 20 °C", "C")),
            points(-40, 180, 5, &|c| coil_ohm_at(1.0, c, 20.0).ok()),
        ),
        Some(Adjust::SeaLevel) => (
            Some(("height above the sea, where it matters", "m")),
            points(0, 4000, 100, &|h| Some(SEA_LEVEL_PA / pressure_at_height_pa(h))),
        ),
        Some(Adjust::Unsigned) | None => (None, Value::Null),
    }
}

/// The lowest number that can be.
fn least(measure: &Measure) -> Option<f64> {
    let signed = matches!(measure.quantity, Quantity::Temperature | Quantity::Voltage | Quantity::Current);
    (!signed).then_some(0.0)
}

/// The numbers that the distributions reach.
fn range(measure: &Measure) -> (f64, f64) {
    let ends = |d: &Distribution| match *d {
        Distribution::LogNormal { median, spread } => (0.0, median * spread.powi(5)),
        _ => (centre(d) - 8.0 * width(d), centre(d) + 8.0 * width(d)),
    };
    let all = measure.when.iter().map(ends);
    let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |a, b| (a.0.min(b.0), a.1.max(b.1)));
    let low = least(measure).map_or(low, |l| low.max(l));
    (low, measure.start.map_or(high, |start| high.min(start)))
}

/// Numbers with the logarithms of their likelihoods, one a level: `{"x": […], "ln": [[…], …]}`.
fn table(measure: &Measure, observed: fn(f64) -> Observed) -> Option<Value> {
    let (low, high) = range(measure);
    let mut xs: Vec<f64> = (0..=POINTS).map(|i| low + (high - low) * f64::from(i) / f64::from(POINTS)).collect();
    // A narrow distribution beside a wide one has its own points.
    for d in &measure.when {
        let (from, to) = (centre(d) - 8.0 * width(d), centre(d) + 8.0 * width(d));
        xs.extend((0..=POINTS).map(|i| from + (to - from) * f64::from(i) / f64::from(POINTS)));
    }
    // The edges of a uniform one are as sharp as its gauge.
    let edges = measure.when.iter().flat_map(|d| match *d {
        Distribution::Uniform { low, high } => vec![low, high],
        _ => Vec::new(),
    });
    for edge in edges {
        xs.extend((-32..=32).map(|i| edge + measure.resolution * f64::from(i) / 16.0));
    }
    xs.retain(|x| (low..=high).contains(x));
    // Distributions of what cannot be below zero are finest there.
    if low >= 0.0 {
        xs.extend((1..POINTS).map(|i| low + (high - low) * 10f64.powf(-4.0 * f64::from(i) / f64::from(POINTS))));
    }
    xs.sort_by(f64::total_cmp);
    xs.dedup();
    let rows: Vec<(f64, Vec<f64>)> = xs
        .into_iter()
        .map(|x| {
            let found = likelihoods(&measure.when, observed(x), measure.resolution).ok()?;
            Some((x, found.into_iter().map(f64::ln).collect()))
        })
        .collect::<Option<_>>()?;
    let rows = thinned(&rows);
    let ln = (0..measure.when.len()).map(|l| rows.iter().map(|r| round(r.1[l], 1e3)).collect::<Vec<f64>>());
    Some(json!({"x": rows.iter().map(|r| short(r.0)).collect::<Vec<f64>>(), "ln": ln.collect::<Vec<_>>()}))
}

/// The fewest of the rows, one after the other, between which the straight line stays within the tolerance.
fn thinned(rows: &[(f64, Vec<f64>)]) -> Vec<&(f64, Vec<f64>)> {
    let fits = |from: usize, to: usize| {
        let (a, b) = (&rows[from], &rows[to]);
        rows[from + 1..to].iter().all(|r| {
            let t = (r.0 - a.0) / (b.0 - a.0);
            r.1.iter().zip(a.1.iter().zip(&b.1)).all(|(y, (p, q))| (p + t * (q - p) - y).abs() <= TOLERANCE)
        })
    };
    let mut out = vec![&rows[0]];
    let mut at = 0;
    while at + 1 < rows.len() {
        let mut to = at + 1;
        let mut stride = 1;
        while to + stride < rows.len() && fits(at, to + stride) {
            to += stride;
            stride *= 2;
        }
        while stride > 0 {
            if to + stride < rows.len() && fits(at, to + stride) {
                to += stride;
            }
            stride /= 2;
        }
        out.push(&rows[to]);
        at = to;
    }
    out
}

fn round(x: f64, per: f64) -> f64 {
    (x * per).round() / per
}

/// Five digits.
pub(super) fn short(x: f64) -> f64 {
    if x == 0.0 || !x.is_finite() {
        return 0.0;
    }
    let unit = 10f64.powf(x.abs().log10().floor() - 4.0);
    format!("{:.4e}", (x / unit).round() * unit).parse().unwrap_or(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As the script reads a table.
    fn read(table: &Value, level: usize, x: f64) -> f64 {
        let list = |v: &Value| v.as_array().unwrap().iter().map(|n| n.as_f64().unwrap()).collect::<Vec<f64>>();
        let (xs, ln) = (list(&table["x"]), list(&table["ln"][level]));
        let at = xs.partition_point(|p| *p < x).clamp(1, xs.len() - 1);
        let t = ((x - xs[at - 1]) / (xs[at] - xs[at - 1])).clamp(0.0, 1.0);
        ln[at - 1] + t * (ln[at] - ln[at - 1])
    }

    /// Every number that the shipped base asks for: what the page reads between the points is what the program computes.
    #[test]
    fn tables_are_the_likelihoods() {
        let base = shipped::base().unwrap();
        let measures = base.tests.iter().flat_map(|t| &t.readings).filter_map(|r| r.measure.as_ref());
        let (mut n, mut bytes) = (0, 0);
        for measure in measures {
            let form = NumberForm::of(measure).unwrap();
            let (low, high) = range(measure);
            type Kind = fn(f64) -> Observed;
            let kinds = [("exact", Observed::Exact as Kind), ("above", Observed::Above), ("below", Observed::Below)];
            for (name, observed) in kinds {
                for i in 0..=97 {
                    let x = low + (high - low) * (f64::from(i) / 97.0).powi(2);
                    let real = likelihoods(&measure.when, observed(x), measure.resolution).unwrap();
                    for (level, p) in real.iter().enumerate() {
                        let told = read(&form.tables[name], level, x);
                        assert!((told - p.ln()).abs() < 0.03, "{} {name} {x}: {told} for {}", measure.unit, p.ln());
                    }
                }
            }
            n += 1;
            bytes += form.tables.to_string().len();
        }
        assert!(n > 20 && bytes / n < 9_000, "{n} numbers with {} bytes each", bytes / n);
    }

    #[test]
    fn units_are_brought_to_the_own_one() {
        let base = shipped::base().unwrap();
        let measures = base.tests.iter().flat_map(|t| &t.readings).filter_map(|r| r.measure.as_ref());
        for measure in measures {
            let own = Unit::find(&measure.unit, kind_of(measure.quantity)).unwrap();
            for (symbol, times, plus) in NumberForm::of(measure).unwrap().units {
                let unit = Unit::find(symbol, own.kind()).unwrap();
                let (there, back) = (own.from_si(unit.to_si(7.0)), 7.0 * times + plus);
                assert!((there - back).abs() < 1e-6 * there.abs().max(1.0), "{symbol}");
            }
        }
    }

    #[test]
    fn five_digits_are_kept() {
        assert_eq!((short(0.000_123_456_7), short(98_765.43), short(-0.25)), (0.000_123_46, 98765.0, -0.25));
    }
}

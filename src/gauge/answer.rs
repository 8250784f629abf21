//! What a user is told about a number: value, range, reasons, formula, source, codes, warnings. Computes nothing itself but ranges by corners.

use crate::digits::rough;
use crate::error::GaugeError;
use crate::fit::Comparison;
use crate::leak_class::{LeakClass, row_of, rows_between};
use crate::units::Unit;
use serde::Serialize;

/// How well a formula or rule is founded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Basis {
    /// Document and section are named in the source.
    Published,
    /// A rule of the trade without a source.
    CommonPractice,
    /// A published figure recalled, not checked against its document.
    FromMemory,
}

/// One number with its unit and range. An absent end is open.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Figure {
    /// What it is, in words.
    pub label: String,
    /// Its unit.
    pub unit: Unit,
    /// The usual value.
    pub value: f64,
    /// Least.
    pub low: Option<f64>,
    /// Most.
    pub high: Option<f64>,
}

impl Figure {
    /// A figure from values in SI.
    #[must_use]
    pub fn from_si(label: &str, unit: Unit, value: f64, range: Option<(f64, f64)>) -> Self {
        let (low, high) = range.map_or((None, None), |(low, high)| (Some(unit.from_si(low)), Some(unit.from_si(high))));
        Self { label: label.into(), unit, value: unit.from_si(value), low, high }
    }

    /// The same figure in another unit of its kind; itself when the kinds differ.
    #[must_use]
    pub fn in_unit(&self, unit: Unit) -> Self {
        if unit.kind() != self.unit.kind() {
            return self.clone();
        }
        let turn = |value: f64| unit.from_si(self.unit.to_si(value));
        Self {
            label: self.label.clone(),
            unit,
            value: turn(self.value),
            low: self.low.map(turn),
            high: self.high.map(turn),
        }
    }

    /// `0.021 in (0.017 to 0.025 in)`.
    #[must_use]
    pub fn words(&self) -> String {
        let unit = self.unit.symbol();
        let value = format!("{} {unit}", rough(self.value));
        match (self.low, self.high) {
            (Some(low), Some(high)) if rough(low) == rough(high) => value,
            (Some(low), Some(high)) => format!("{value} ({} to {} {unit})", rough(low), rough(high)),
            (Some(low), None) => format!("{value} (at least {} {unit})", rough(low)),
            (None, Some(high)) => format!("{value} (at most {} {unit})", rough(high)),
            (None, None) => value,
        }
    }
}

/// The whole answer to one question.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// Stable name of the question, for scripts.
    pub question: &'static str,
    /// The answer in one sentence.
    pub headline: String,
    /// The number behind it.
    pub value: Figure,
    /// Further numbers.
    pub also: Vec<Figure>,
    /// What the input was understood as, and what was assumed where nothing was said.
    pub taken: Vec<String>,
    /// What makes the range.
    pub range_because: Vec<String>,
    /// Name of the formula.
    pub formula: &'static str,
    /// Where it comes from.
    pub source: &'static str,
    /// How well it is founded.
    pub basis: Basis,
    /// Class of the hole, where the answer is one.
    pub leak_class: Option<LeakClass>,
    /// The classes that the range touches, in words, the usual value's first.
    pub class_words: Vec<&'static str>,
    /// Codes of these classes, in the same order.
    pub codes: Vec<&'static str>,
    /// Both shapes laid through three or more points.
    pub shape: Option<Comparison>,
    /// What could make the answer wrong.
    pub warnings: Vec<String>,
    /// What could hurt somebody.
    pub cautions: Vec<String>,
}

impl Answer {
    /// An answer with nothing but its number; the rest is filled in by who asks.
    ///
    /// # Errors
    /// When the number is not finite: then the inputs were beyond what the formula carries.
    pub(crate) fn new(
        question: &'static str,
        value: Figure,
        formula: &'static str,
        source: &'static str,
        basis: Basis,
    ) -> Result<Self, GaugeError> {
        let all = [Some(value.value), value.low, value.high];
        if all.into_iter().flatten().any(|x| !x.is_finite()) {
            return Err(GaugeError::nonsense(
                "these numbers together are beyond what can be computed; check the units",
            ));
        }
        Ok(Self {
            question,
            headline: String::new(),
            value,
            also: Vec::new(),
            taken: Vec::new(),
            range_because: Vec::new(),
            formula,
            source,
            basis,
            leak_class: None,
            class_words: Vec::new(),
            codes: Vec::new(),
            shape: None,
            warnings: Vec::new(),
            cautions: Vec::new(),
        })
    }

    /// Adds class and codes of a hole in inches, the usual value's first, then those the range touches.
    pub(crate) fn classify(&mut self) {
        let own = row_of(self.value.value);
        self.leak_class = Some(own.class);
        let others = rows_between(self.value.low.unwrap_or(0.0), self.value.high);
        for row in std::iter::once(own).chain(others.into_iter().filter(|row| row.class != own.class)) {
            self.class_words.push(row.words);
            self.codes.extend(row.codes);
        }
    }
}

/// Least and most of a function that is monotone in every input, over all corners of their ranges.
///
/// Interval arithmetic by corners: exact for monotone functions, which the formulas here are. A corner that is not a number is an end
/// that cannot be computed and makes the result not a number, which `Answer::new` refuses.
#[must_use]
pub fn corners(ranges: &[(f64, f64)], f: impl Fn(&[f64]) -> f64) -> (f64, f64) {
    let mut least = f64::INFINITY;
    let mut most = f64::NEG_INFINITY;
    let mut at = vec![0.0; ranges.len()];
    for corner in 0..1usize << ranges.len().min(16) {
        for (i, range) in ranges.iter().enumerate() {
            at[i] = if corner >> i & 1 == 0 { range.0 } else { range.1 };
        }
        let value = f(&at);
        if value.is_nan() {
            return (f64::NAN, f64::NAN);
        }
        least = least.min(value);
        most = most.max(value);
    }
    (least, most)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_find_both_ends() {
        assert_eq!(corners(&[(1.0, 2.0), (3.0, 5.0)], |x| x[0] / x[1]), (0.2, 2.0 / 3.0));
        assert!(corners(&[(0.0, 1.0)], |x| (x[0] - 0.5).sqrt()).0.is_nan());
    }
}

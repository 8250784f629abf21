//! Which class and which codes a hole size belongs to. Data with its source; computes no sizes.

use serde::Serialize;

/// The regulation both bounds come from; section *from memory*.
pub const SOURCE: &str = "13 CCR 1968.2 (e)(4): leaks of a 0.040 in and a 0.020 in orifice must be found (from memory)";

/// Class of a hole, smallest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum LeakClass {
    /// Below what a vehicle has to find.
    BelowDetection,
    /// From 0.020 in.
    VerySmall,
    /// From 0.040 in.
    Small,
    /// From 0.090 in: no pressure or vacuum builds up.
    Large,
}

/// One class of the table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClassRow {
    /// The class.
    pub class: LeakClass,
    /// Smallest hole in it, inch.
    pub from_in: f64,
    /// Codes that a vehicle stores for it.
    pub codes: &'static [&'static str],
    /// In words.
    pub words: &'static str,
}

/// All classes. The bound of the large class is judgement: the regulation names no size for it.
pub const CLASSES: [ClassRow; 4] = [
    ClassRow {
        class: LeakClass::BelowDetection,
        from_in: 0.0,
        codes: &[],
        words: "smaller than the smallest leak a vehicle must find (0.020 in): no leak code expected from it",
    },
    ClassRow {
        class: LeakClass::VerySmall,
        from_in: 0.020,
        codes: &["P0456"],
        words: "very small leak, 0.020 in and up",
    },
    ClassRow { class: LeakClass::Small, from_in: 0.040, codes: &["P0442"], words: "small leak, 0.040 in and up" },
    ClassRow {
        class: LeakClass::Large,
        from_in: 0.090,
        codes: &["P0455", "P0457"],
        words: "large leak, about 0.090 in and up",
    },
];

/// The row of a hole, inch.
#[must_use]
pub fn row_of(hole_in: f64) -> &'static ClassRow {
    CLASSES.iter().rev().find(|row| hole_in >= row.from_in).unwrap_or(&CLASSES[0])
}

/// Every row that a range of holes touches, smallest first; an open end reaches the last.
#[must_use]
pub fn rows_between(low_in: f64, high_in: Option<f64>) -> Vec<&'static ClassRow> {
    let (first, last) = (row_of(low_in).class, high_in.map_or(LeakClass::Large, |high| row_of(high).class));
    CLASSES.iter().filter(|row| row.class >= first && row.class <= last).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_fall_into_their_classes() {
        assert_eq!(row_of(0.0).class, LeakClass::BelowDetection);
        assert_eq!(row_of(0.0199).codes, &[] as &[&str]);
        assert_eq!(row_of(0.020).codes, &["P0456"]);
        assert_eq!(row_of(0.040).codes, &["P0442"]);
        assert_eq!(row_of(0.2).codes[0], "P0455");
        assert_eq!(row_of(f64::NAN).class, LeakClass::BelowDetection);
        assert_eq!(rows_between(0.015, Some(0.045)).len(), 3);
        assert_eq!(rows_between(0.015, None).len(), 4);
    }
}

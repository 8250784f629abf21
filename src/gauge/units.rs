//! Units as people write them: looked up, converted, near misses named. The factors are in `unit_table`.

use crate::error::{GaugeError, shorten};
pub use crate::kind::Kind;
use crate::unit_table::{ROWS, Row};
use knowledge::near::{did_you_mean, near};
use serde::{Serialize, Serializer};

/// One unit of the table.
#[derive(Clone, Copy)]
pub struct Unit(&'static Row);

impl Unit {
    /// The unit written `text`, which must measure `kind`.
    ///
    /// # Errors
    /// Names the near misses, or the kind that the unit measures instead.
    pub fn find(text: &str, kind: Kind) -> Result<Self, GaugeError> {
        let plain: String = plain(text);
        if let Some(unit) = ROWS.iter().find(|row| row.kind == kind && row.is_called(&plain)) {
            return Ok(Self(unit));
        }
        if kind == Kind::Pressure && matches!(plain.to_lowercase().as_str(), "in" | "\"" | "inch" | "inches" | "mm") {
            return Err(GaugeError::unclear(text, "of what? write `inHg` or `inH2O`, `mmHg` or `mmH2O`"));
        }
        if let Some(other) = ROWS.iter().find(|row| row.is_called(&plain)) {
            return Err(GaugeError::WrongKind {
                text: shorten(text),
                found: other.kind.name(),
                wanted: kind.name(),
                example: kind.example(),
            });
        }
        let names = ROWS.iter().filter(|row| row.kind == kind).map(|row| row.symbol);
        let hint = match did_you_mean(&near(&plain, names.clone(), 3)) {
            Some(question) => format!("; {question}"),
            None => format!("; {} is written in {}", kind.name(), names.collect::<Vec<_>>().join(", ")),
        };
        Err(GaugeError::UnknownUnit { text: shorten(text), unit: shorten(text.trim()), hint })
    }

    /// The unit with exactly this symbol and kind, for units named in the program itself.
    #[must_use]
    pub fn by_symbol(symbol: &str, kind: Kind) -> Option<Self> {
        ROWS.iter().find(|row| row.kind == kind && row.symbol == symbol).map(Self)
    }

    /// Every unit of this kind, for lists and completions.
    #[must_use]
    pub fn all(kind: Kind) -> Vec<Self> {
        ROWS.iter().filter(|row| row.kind == kind).map(Self).collect()
    }

    /// As it is printed.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        self.0.symbol
    }

    /// What it measures.
    #[must_use]
    pub fn kind(self) -> Kind {
        self.0.kind
    }

    /// A value in this unit, in SI.
    #[must_use]
    pub fn to_si(self, value: f64) -> f64 {
        value * self.0.scale + self.0.offset
    }

    /// A value in SI, in this unit.
    #[must_use]
    pub fn from_si(self, si: f64) -> f64 {
        (si - self.0.offset) / self.0.scale
    }

    /// A difference in this unit, in SI: the same without the zero point of temperature scales.
    #[must_use]
    pub fn step_to_si(self, step: f64) -> f64 {
        step * self.0.scale
    }
}

impl PartialEq for Unit {
    fn eq(&self, other: &Self) -> bool {
        self.0.symbol == other.0.symbol && self.0.kind == other.0.kind
    }
}

impl std::fmt::Debug for Unit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.0.symbol)
    }
}

impl Serialize for Unit {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.0.symbol)
    }
}

fn plain(text: &str) -> String {
    let text: String = text.chars().filter(|c| !c.is_whitespace() && !matches!(c, '.' | '°' | '_')).collect();
    text.replace('₂', "2").replace("''", "\"").replace(['”', '“', '″'], "\"").replace('℃', "C").replace('℉', "F")
}

/// Units that the program itself writes.
macro_rules! named {
    ($($(#[$doc:meta])* $name:ident = $index:expr;)*) => { $($(#[$doc])* pub const $name: Unit = Unit(&ROWS[$index]);)* };
}
named! {
    /// Inch of mercury.
    INHG = 0;
    /// Inch of water.
    INH2O = 1;
    /// Kilopascal.
    KPA = 2;
    /// Pascal.
    PA = 3;
    /// Litre a minute.
    L_MIN = 10;
    /// Cubic centimetre a minute.
    CC_MIN = 11;
    /// Ohm.
    OHM = 14;
    /// Volt.
    VOLT = 17;
    /// Ampere.
    AMPERE = 19;
    /// Degree Celsius.
    CELSIUS = 22;
    /// Kelvin as a difference.
    KELVIN_STEP = 25;
    /// Second.
    SECOND = 27;
    /// Minute.
    MINUTE = 28;
    /// Inch.
    INCH_LENGTH = 30;
    /// Millimetre.
    MILLIMETRE = 31;
    /// Metre of height.
    METRE = 35;
    /// Litre.
    LITRE_VOLUME = 37;
    /// Percent.
    PERCENT = 45;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn named_units_are_the_rows_they_say() {
        let symbols: Vec<&str> = [
            INHG,
            INH2O,
            KPA,
            PA,
            L_MIN,
            CC_MIN,
            OHM,
            VOLT,
            AMPERE,
            CELSIUS,
            KELVIN_STEP,
            SECOND,
            MINUTE,
            INCH_LENGTH,
            MILLIMETRE,
            METRE,
            LITRE_VOLUME,
            PERCENT,
        ]
        .iter()
        .map(|unit| unit.symbol())
        .collect();
        assert_eq!(symbols.join(" "), "inHg inH2O kPa Pa L/min cc/min ohm V A C K s min in mm m L %");
    }

    #[test]
    fn no_name_means_two_units_of_one_kind() {
        for (i, a) in ROWS.iter().enumerate() {
            for b in &ROWS[i + 1..] {
                assert!(a.kind != b.kind || a.names.iter().all(|name| !b.is_called(name)), "{} {}", a.symbol, b.symbol);
            }
        }
    }

    #[test]
    fn capitals_matter_only_where_milli_and_mega_differ() {
        assert!(Unit::find("INHG", Kind::Pressure).is_ok());
        assert_eq!(Unit::find("\u{2126}", Kind::Resistance), Ok(OHM));
        assert!(Unit::find("mohm", Kind::Resistance).is_err());
        assert!(Unit::find("MV", Kind::Voltage).is_err());
        assert!(Unit::find("mmHg", Kind::Pressure).is_ok());
    }

    #[test]
    fn mistakes_are_named() {
        let miss = Unit::find("inHq", Kind::Pressure).map_err(|e| e.to_string());
        assert!(miss.as_ref().is_err_and(|e| e.contains("did you mean `inHg`")), "{miss:?}");
        let wrong = Unit::find("ohm", Kind::Pressure).map_err(|e| e.to_string());
        assert!(wrong.is_err_and(|e| e.contains("a resistance")));
        assert!(Unit::find("in", Kind::Pressure).is_err_and(|e| e.to_string().contains("of what")));
    }
}

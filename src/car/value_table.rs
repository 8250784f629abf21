//! The values of services 01 and 02 that are read, each with its formula, and how many bytes every value takes, so that
//! several in one answer can be told apart.
//!
//! Source: SAE J1979, from memory; those that `tests/outside/car_values.rs` lists are compared with a library.

/// How the bytes become a number: `number = raw * times + plus`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Raw {
    /// One byte.
    One(usize),
    /// Two bytes, the higher first.
    Two(usize),
    /// Two bytes, the higher first, as two's complement.
    Signed(usize),
}

/// What kind of thing a value is, for its unit and for how it is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Per cent.
    Percent,
    /// Degrees Celsius.
    Celsius,
    /// Kilopascal, absolute.
    KiloPascal,
    /// Pascal against the air outside.
    Pascal,
    /// Turns a minute.
    Turns,
    /// Kilometres an hour.
    Speed,
    /// Kilometres.
    Distance,
    /// Minutes.
    Minutes,
    /// Seconds.
    Seconds,
    /// Volt.
    Volt,
    /// Grams a second.
    GramsASecond,
    /// A ratio.
    Ratio,
    /// A number of times.
    Count,
}

impl Kind {
    /// The unit as written behind a number.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::Percent => "%",
            Self::Celsius => "°C",
            Self::KiloPascal => "kPa",
            Self::Pascal => "Pa",
            Self::Turns => "/min",
            Self::Speed => "km/h",
            Self::Distance => "km",
            Self::Minutes => "min",
            Self::Seconds => "s",
            Self::Volt => "V",
            Self::GramsASecond => "g/s",
            Self::Ratio | Self::Count => "",
        }
    }

    /// The name of the unit in JSON, where letters other than ASCII would be a nuisance.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Percent => "percent",
            Self::Celsius => "celsius",
            Self::KiloPascal => "kilopascal",
            Self::Pascal => "pascal",
            Self::Turns => "per-minute",
            Self::Speed => "km-per-hour",
            Self::Distance => "km",
            Self::Minutes => "minutes",
            Self::Seconds => "seconds",
            Self::Volt => "volt",
            Self::GramsASecond => "gram-per-second",
            Self::Ratio => "ratio",
            Self::Count => "count",
        }
    }
}

/// A value that is read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quantity {
    /// Number of the value in services 01 and 02.
    pub number: u8,
    /// Word for it in the base and in JSON.
    pub id: &'static str,
    /// In words.
    pub name: &'static str,
    /// Its unit.
    pub kind: Kind,
    /// Which bytes.
    pub raw: Raw,
    /// Multiplied by this.
    pub times: f64,
    /// Then added.
    pub plus: f64,
}

const fn q(number: u8, id: &'static str, name: &'static str, kind: Kind, raw: Raw, times: f64, plus: f64) -> Quantity {
    Quantity { number, id, name, kind, raw, times, plus }
}

/// Byte as per cent of its range.
const SHARE: f64 = 100.0 / 255.0;
/// Byte around 128 as per cent to both sides.
const BOTH_SIDES: f64 = 100.0 / 128.0;

use Kind::{
    Celsius, Count, Distance, GramsASecond, KiloPascal, Minutes, Pascal, Percent, Ratio, Seconds, Speed, Turns, Volt,
};
use Raw::{One, Signed, Two};

/// All values that are read, by number.
pub static VALUES: &[Quantity] = &[
    q(0x04, "load", "calculated load", Percent, One(0), SHARE, 0.0),
    q(0x05, "coolant-temperature", "coolant temperature", Celsius, One(0), 1.0, -40.0),
    q(0x06, "short-trim-1", "short-term fuel trim, bank 1", Percent, One(0), BOTH_SIDES, -100.0),
    q(0x07, "long-trim-1", "long-term fuel trim, bank 1", Percent, One(0), BOTH_SIDES, -100.0),
    q(0x08, "short-trim-2", "short-term fuel trim, bank 2", Percent, One(0), BOTH_SIDES, -100.0),
    q(0x09, "long-trim-2", "long-term fuel trim, bank 2", Percent, One(0), BOTH_SIDES, -100.0),
    q(0x0B, "manifold-pressure", "manifold pressure", KiloPascal, One(0), 1.0, 0.0),
    q(0x0C, "engine-speed", "engine speed", Turns, Two(0), 0.25, 0.0),
    q(0x0D, "road-speed", "road speed", Speed, One(0), 1.0, 0.0),
    q(0x0F, "intake-temperature", "intake air temperature", Celsius, One(0), 1.0, -40.0),
    q(0x10, "air-flow", "air flow", GramsASecond, Two(0), 0.01, 0.0),
    q(0x11, "throttle", "throttle position", Percent, One(0), SHARE, 0.0),
    q(0x1F, "time-since-start", "time since start", Seconds, Two(0), 1.0, 0.0),
    q(0x21, "distance-with-lamp", "distance with the lamp on", Distance, Two(0), 1.0, 0.0),
    q(0x2C, "egr-command", "commanded EGR", Percent, One(0), SHARE, 0.0),
    q(0x2D, "egr-error", "EGR error", Percent, One(0), BOTH_SIDES, -100.0),
    q(0x2E, "purge-command", "commanded purge", Percent, One(0), SHARE, 0.0),
    q(0x2F, "fuel-level", "fuel level", Percent, One(0), SHARE, 0.0),
    q(0x30, "warm-ups-since-clearing", "warm-ups since codes were cleared", Count, One(0), 1.0, 0.0),
    q(0x31, "distance-since-clearing", "distance since codes were cleared", Distance, Two(0), 1.0, 0.0),
    q(0x32, "vapour-pressure", "vapour pressure", Pascal, Signed(0), 0.25, 0.0),
    q(0x33, "barometer", "barometric pressure", KiloPascal, One(0), 1.0, 0.0),
    q(0x3C, "catalyst-temperature-1-1", "catalyst temperature, bank 1 sensor 1", Celsius, Two(0), 0.1, -40.0),
    q(0x3D, "catalyst-temperature-2-1", "catalyst temperature, bank 2 sensor 1", Celsius, Two(0), 0.1, -40.0),
    q(0x3E, "catalyst-temperature-1-2", "catalyst temperature, bank 1 sensor 2", Celsius, Two(0), 0.1, -40.0),
    q(0x3F, "catalyst-temperature-2-2", "catalyst temperature, bank 2 sensor 2", Celsius, Two(0), 0.1, -40.0),
    q(0x42, "module-voltage", "control module voltage", Volt, Two(0), 0.001, 0.0),
    q(0x43, "absolute-load", "absolute load", Percent, Two(0), SHARE, 0.0),
    q(0x44, "mixture-command", "commanded mixture, lambda", Ratio, Two(0), 2.0 / 65_536.0, 0.0),
    q(0x46, "ambient-temperature", "ambient temperature", Celsius, One(0), 1.0, -40.0),
    q(0x4D, "time-with-lamp", "running time with the lamp on", Minutes, Two(0), 1.0, 0.0),
    q(0x4E, "time-since-clearing", "time since codes were cleared", Minutes, Two(0), 1.0, 0.0),
    q(0x52, "alcohol-share", "alcohol in the fuel", Percent, One(0), SHARE, 0.0),
    q(0x53, "vapour-pressure-absolute", "absolute vapour pressure", KiloPascal, Two(0), 0.005, 0.0),
    q(0x54, "vapour-pressure-wide", "vapour pressure, wide range", Pascal, Signed(0), 1.0, 0.0),
    q(0x5C, "oil-temperature", "engine oil temperature", Celsius, One(0), 1.0, -40.0),
];

/// The value with this word.
#[must_use]
pub fn quantity(id: &str) -> Option<&'static Quantity> {
    VALUES.iter().find(|v| v.id == id)
}

/// Bytes of the values 00 to 5F; later ones are read only where they stand alone.
const LENGTHS: [u8; 0x60] = [
    4, 4, 2, 2, 1, 1, 1, 1, 1, 1, 1, 1, 2, 1, 1, 1, // 00
    2, 1, 1, 1, 2, 2, 2, 2, 2, 2, 2, 2, 1, 1, 1, 2, // 10
    4, 2, 2, 2, 4, 4, 4, 4, 4, 4, 4, 4, 1, 1, 1, 1, // 20
    1, 2, 2, 1, 4, 4, 4, 4, 4, 4, 4, 4, 2, 2, 2, 2, // 30
    4, 4, 2, 2, 2, 1, 1, 1, 1, 1, 1, 1, 1, 2, 2, 4, // 40
    4, 1, 1, 2, 2, 1, 1, 1, 1, 2, 1, 1, 1, 2, 2, 1, // 50
];

/// How many bytes the value takes in an answer; `None` when that is not known here.
#[must_use]
pub fn length(number: u8) -> Option<usize> {
    match number {
        // Lists of what is supported.
        0x60 | 0x80 | 0xA0 | 0xC0 | 0xE0 => Some(4),
        _ => LENGTHS.get(usize::from(number)).map(|l| usize::from(*l)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_in_order_and_every_word_stands_once() {
        assert!(VALUES.windows(2).all(|w| w[0].number < w[1].number));
        for v in VALUES {
            assert_eq!(quantity(v.id), Some(v));
            let last = match v.raw {
                Raw::One(at) => at + 1,
                Raw::Two(at) | Raw::Signed(at) => at + 2,
            };
            assert_eq!(length(v.number), Some(last), "{}", v.id);
        }
    }
}

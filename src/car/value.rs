//! A value read from a control unit, live or frozen with a code, and what came of the same value over a capture.

use super::value_table::{Quantity, Raw, VALUES};

/// One value as a number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Value {
    /// What it is.
    pub quantity: &'static Quantity,
    /// In the unit of its kind.
    pub number: f64,
}

/// What one value in an answer holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reading {
    /// A number.
    Number(Value),
    /// A value that this program does not read, by its number.
    Other(u8),
}

impl Reading {
    /// Reads the bytes of a value; too few bytes are a value not read.
    #[must_use]
    pub fn of(number: u8, bytes: &[u8]) -> Self {
        let value = VALUES.binary_search_by(|v| v.number.cmp(&number)).ok().and_then(|at| {
            let quantity = &VALUES[at];
            quantity.number(bytes).map(|number| Value { quantity, number })
        });
        value.map_or(Self::Other(number), Self::Number)
    }
}

impl Quantity {
    /// The number that the bytes stand for.
    #[must_use]
    pub fn number(&self, bytes: &[u8]) -> Option<f64> {
        let two = |at: usize| Some([*bytes.get(at)?, *bytes.get(at + 1)?]);
        let raw = match self.raw {
            Raw::One(at) => f64::from(*bytes.get(at)?),
            Raw::Two(at) => f64::from(u16::from_be_bytes(two(at)?)),
            Raw::Signed(at) => f64::from(i16::from_be_bytes(two(at)?)),
        };
        Some(raw * self.times + self.plus)
    }
}

/// The same value as often as it came.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Live {
    /// The latest.
    pub value: Value,
    /// The lowest.
    pub low: f64,
    /// The highest.
    pub high: f64,
    /// How often.
    pub times: u32,
}

impl Live {
    /// The first time.
    #[must_use]
    pub fn new(value: Value) -> Self {
        Self { value, low: value.number, high: value.number, times: 1 }
    }

    /// Once more.
    pub fn again(&mut self, value: Value) {
        self.value = value;
        self.low = self.low.min(value.number);
        self.high = self.high.max(value.number);
        self.times = self.times.saturating_add(1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(n: u8, bytes: &[u8]) -> f64 {
        match Reading::of(n, bytes) {
            Reading::Number(v) => v.number,
            Reading::Other(_) => panic!("{n:02X} is not read"),
        }
    }

    #[test]
    fn values_at_their_ends() {
        assert!((number(0x2F, &[0xFF]) - 100.0).abs() < 1e-9);
        assert!((number(0x46, &[0x00]) + 40.0).abs() < 1e-9);
        assert!((number(0x06, &[0x80])).abs() < 1e-9);
        assert!((number(0x32, &[0xFF, 0xFC]) + 1.0).abs() < 1e-9);
        assert!((number(0x53, &[0x4E, 0x20]) - 100.0).abs() < 1e-9);
        assert!((number(0x3C, &[0x11, 0x94]) - 410.0).abs() < 1e-9);
        assert_eq!(Reading::of(0x2F, &[]), Reading::Other(0x2F));
        assert_eq!(Reading::of(0x03, &[2, 0]), Reading::Other(3));
    }
}

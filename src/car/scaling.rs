//! Units and scaling of monitor test results: one byte beside each result says how its numbers are meant.
//!
//! Source: SAE J1979 appendix, from memory; those that the library in `tests/outside/car_values.rs` has are compared.

/// How a result's two bytes become a number: `number = raw * times + plus`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scaling {
    /// The byte that stands for it.
    pub id: u8,
    /// Factor.
    pub times: f64,
    /// Added.
    pub plus: f64,
    /// Unit.
    pub unit: &'static str,
}

impl Scaling {
    /// From 80 on the two bytes are two's complement.
    #[must_use]
    pub fn number(&self, bytes: [u8; 2]) -> f64 {
        let raw =
            if self.id >= 0x80 { f64::from(i16::from_be_bytes(bytes)) } else { f64::from(u16::from_be_bytes(bytes)) };
        raw * self.times + self.plus
    }
}

const fn s(id: u8, times: f64, unit: &'static str) -> Scaling {
    Scaling { id, times, plus: 0.0, unit }
}

/// A part in 32,768.
const FINE: f64 = 0.000_030_5;

/// All that are read, by id.
static TABLE: &[Scaling] = &[
    s(0x01, 1.0, ""),
    s(0x02, 0.1, ""),
    s(0x03, 0.01, ""),
    s(0x04, 0.001, ""),
    s(0x05, FINE, ""),
    s(0x06, 0.000_305, ""),
    s(0x07, 0.25, "/min"),
    s(0x08, 0.01, "km/h"),
    s(0x09, 1.0, "km/h"),
    s(0x0A, 0.122, "mV"),
    s(0x0B, 0.001, "V"),
    s(0x0C, 0.01, "V"),
    s(0x0D, 0.003_906_25, "mA"),
    s(0x0E, 0.001, "A"),
    s(0x0F, 0.01, "A"),
    s(0x10, 1.0, "ms"),
    s(0x11, 100.0, "ms"),
    s(0x12, 1.0, "s"),
    s(0x13, 0.001, "ohm"),
    s(0x14, 1.0, "ohm"),
    s(0x15, 1000.0, "ohm"),
    Scaling { id: 0x16, times: 0.1, plus: -40.0, unit: "°C" },
    s(0x17, 0.01, "kPa"),
    s(0x18, 0.0117, "kPa"),
    s(0x19, 0.079, "kPa"),
    s(0x1A, 1.0, "kPa"),
    s(0x1B, 10.0, "kPa"),
    s(0x1C, 0.01, "°"),
    s(0x1D, 0.5, "°"),
    s(0x1E, FINE, "lambda"),
    s(0x1F, 0.05, "air to fuel"),
    s(0x20, 0.003_906_25, ""),
    s(0x21, 0.001, "Hz"),
    s(0x22, 1.0, "Hz"),
    s(0x23, 1000.0, "Hz"),
    s(0x24, 1.0, "counts"),
    s(0x25, 1.0, "km"),
    s(0x26, 0.1, "mV/ms"),
    s(0x27, 0.01, "g/s"),
    s(0x28, 1.0, "g/s"),
    s(0x29, 0.25, "Pa/s"),
    s(0x2A, 0.001, "kg/h"),
    s(0x2B, 1.0, "switches"),
    s(0x2C, 0.01, "g/cylinder"),
    s(0x2D, 0.01, "mg/stroke"),
    s(0x2F, 0.01, "%"),
    s(0x30, 0.001_526, "%"),
    s(0x31, 0.001, "L"),
    s(0x32, FINE, "in"),
    s(0x33, 0.000_244_14, "lambda"),
    s(0x34, 1.0, "min"),
    s(0x35, 10.0, "ms"),
    s(0x36, 0.01, "g"),
    s(0x37, 0.1, "g"),
    s(0x38, 1.0, "g"),
    Scaling { id: 0x39, times: 0.01, plus: -327.68, unit: "%" },
    s(0x3A, 0.001, "g"),
    s(0x3B, 0.0001, "g"),
    s(0x3C, 0.1, "µs"),
    s(0x3D, 0.01, "mA"),
    s(0x3E, 0.000_061_035_16, "mm²"),
    s(0x3F, 0.01, "L"),
    s(0x40, 1.0, "ppm"),
    s(0x41, 0.01, "µA"),
    s(0x81, 1.0, ""),
    s(0x82, 0.1, ""),
    s(0x83, 0.01, ""),
    s(0x84, 0.001, ""),
    s(0x85, FINE, ""),
    s(0x86, 0.000_305, ""),
    s(0x87, 1.0, "ppm"),
    s(0x8A, 0.122, "mV"),
    s(0x8B, 0.001, "V"),
    s(0x8C, 0.01, "V"),
    s(0x8D, 0.003_906_25, "mA"),
    s(0x8E, 0.001, "A"),
    s(0x90, 1.0, "ms"),
    s(0x96, 0.1, "°C"),
    s(0x99, 0.1, "kPa"),
    s(0x9C, 0.01, "°"),
    s(0x9D, 0.5, "°"),
    s(0xA8, 1.0, "g/s"),
    s(0xA9, 0.25, "Pa/s"),
    s(0xAD, 0.01, "mg/stroke"),
    s(0xAE, 0.1, "mg/stroke"),
    s(0xAF, 0.01, "%"),
    s(0xB0, 0.003_052, "%"),
    s(0xB1, 2.0, "mV/s"),
    s(0xFC, 0.01, "kPa"),
    s(0xFD, 0.001, "kPa"),
    s(0xFE, 0.25, "Pa"),
];

/// The scaling under this id; `None` for one that is not known here.
#[must_use]
pub fn scaling(id: u8) -> Option<&'static Scaling> {
    TABLE.binary_search_by(|s| s.id.cmp(&id)).ok().map(|at| &TABLE[at])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_in_order_and_the_sign_follows_the_id() {
        assert!(TABLE.windows(2).all(|w| w[0].id < w[1].id));
        let read = |id: u8, bytes| scaling(id).unwrap().number(bytes);
        assert!((read(0xFD, [0xFF, 0x38]) + 0.2).abs() < 1e-12);
        assert!((read(0x17, [0xFF, 0x38]) - 653.36).abs() < 1e-9);
        assert!((read(0x16, [0x01, 0x90])).abs() < 1e-9);
        assert_eq!(scaling(0x00), None);
    }
}

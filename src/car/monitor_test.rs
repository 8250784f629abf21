//! One result of a monitor test (service 06): a number between its limits, or outside them.

use super::scaling::{Scaling, scaling};

/// A result with its limits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MonitorTest {
    /// Which monitor of the standard's list, or the maker's own.
    pub monitor: u8,
    /// Which of its tests: the standard's list below 80, the maker's own from there on.
    pub test: u8,
    /// Byte for units and scaling.
    pub scaling: u8,
    /// Result, lower and upper limit as sent.
    pub raw: [[u8; 2]; 3],
}

/// Where a result lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Between its limits.
    Passed,
    /// Outside them.
    Failed,
    /// All three numbers are nought: the test has not run since codes were cleared.
    NotRun,
}

/// A limit of nought below or of the highest number above limits nothing.
const NO_LIMIT_ABOVE: [u8; 2] = [0xFF, 0xFF];
const NO_LIMIT_ABOVE_SIGNED: [u8; 2] = [0x7F, 0xFF];
const NO_LIMIT_BELOW_SIGNED: [u8; 2] = [0x80, 0x00];

impl MonitorTest {
    /// Reads the nine bytes of a result: monitor, test, scaling, result, lower limit, upper limit.
    #[must_use]
    pub fn of(bytes: [u8; 9]) -> Self {
        let [monitor, test, scaling, v1, v2, l1, l2, u1, u2] = bytes;
        Self { monitor, test, scaling, raw: [[v1, v2], [l1, l2], [u1, u2]] }
    }

    /// How its numbers are meant.
    #[must_use]
    pub fn scale(&self) -> Option<&'static Scaling> {
        scaling(self.scaling)
    }

    fn order(&self, bytes: [u8; 2]) -> i32 {
        if self.scaling >= 0x80 { i32::from(i16::from_be_bytes(bytes)) } else { i32::from(u16::from_be_bytes(bytes)) }
    }

    /// Where the result lies. Needs no scaling: limits are meant as the result is.
    #[must_use]
    pub fn outcome(&self) -> Outcome {
        let [value, low, high] = self.raw;
        if self.raw == [[0, 0]; 3] {
            Outcome::NotRun
        } else if (self.order(low)..=self.order(high)).contains(&self.order(value)) {
            Outcome::Passed
        } else {
            Outcome::Failed
        }
    }

    /// The result in its unit.
    #[must_use]
    pub fn value(&self) -> Option<f64> {
        self.scale().map(|s| s.number(self.raw[0]))
    }

    /// The lower limit in its unit, where there is one.
    #[must_use]
    pub fn low(&self) -> Option<f64> {
        let limits = if self.scaling >= 0x80 { self.raw[1] != NO_LIMIT_BELOW_SIGNED } else { self.raw[1] != [0, 0] };
        limits.then(|| self.scale().map(|s| s.number(self.raw[1]))).flatten()
    }

    /// The upper limit in its unit, where there is one.
    #[must_use]
    pub fn high(&self) -> Option<f64> {
        let none = if self.scaling >= 0x80 { NO_LIMIT_ABOVE_SIGNED } else { NO_LIMIT_ABOVE };
        (self.raw[2] != none).then(|| self.scale().map(|s| s.number(self.raw[2]))).flatten()
    }

    /// How far the result lies outside its nearer limit, as a share of that limit's size (of the distance between the
    /// limits where there are two): below 0 inside, above 0 outside. Of the numbers as sent, so that an unknown
    /// scaling does not matter; `None` when the test has not run or nothing limits it.
    #[must_use]
    pub fn beyond(&self) -> Option<f64> {
        if self.outcome() == Outcome::NotRun {
            return None;
        }
        let [value, low, high] = self.raw.map(|b| f64::from(self.order(b)));
        let signed = self.scaling >= 0x80;
        let limited_below = if signed { self.raw[1] != NO_LIMIT_BELOW_SIGNED } else { self.raw[1] != [0, 0] };
        let limited_above = self.raw[2] != if signed { NO_LIMIT_ABOVE_SIGNED } else { NO_LIMIT_ABOVE };
        let share = |by: f64, size: f64| by / size.abs().max(1.0);
        match (limited_below, limited_above) {
            (false, false) => None,
            (true, false) => Some(share(low - value, low)),
            (false, true) => Some(share(value - high, high)),
            (true, true) => Some(share((low - value).max(value - high), high - low)),
        }
    }

    /// What is tested, in words, where the standard names it.
    #[must_use]
    pub fn name(&self) -> Option<String> {
        component(self.monitor)
    }

    /// Whether the standard leaves the number to the maker.
    #[must_use]
    pub fn makers_own(&self) -> bool {
        self.test >= 0x80 || self.name().is_none()
    }
}

/// What a monitor number stands for (SAE J1979, from memory).
#[must_use]
pub fn component(monitor: u8) -> Option<String> {
    let of = |first: u8, what: &str| Some(format!("{what}, bank {}", monitor - first + 1));
    let sensor = |first: u8, what: &str| {
        let at = monitor - first;
        Some(format!("{what}, bank {} sensor {}", at / 4 + 1, at % 4 + 1))
    };
    match monitor {
        0x01..=0x10 => sensor(0x01, "oxygen sensor"),
        0x21..=0x24 => of(0x21, "catalyst"),
        0x31..=0x34 => of(0x31, "EGR"),
        0x35..=0x38 => of(0x35, "valve timing"),
        0x39 => Some("EVAP, cap off (0.150 in)".to_owned()),
        0x3A => Some("EVAP, 0.090 in".to_owned()),
        0x3B => Some("EVAP, 0.040 in".to_owned()),
        0x3C => Some("EVAP, 0.020 in".to_owned()),
        0x3D => Some("purge flow".to_owned()),
        0x41..=0x50 => sensor(0x41, "oxygen sensor heater"),
        0x61..=0x64 => of(0x61, "heated catalyst"),
        0x71..=0x74 => Some(format!("secondary air {}", monitor - 0x70)),
        0x81..=0x84 => of(0x81, "fuel system"),
        0x85 | 0x86 => of(0x85, "boost pressure"),
        0x90 | 0x91 => of(0x90, "NOx store"),
        0x98 | 0x99 => of(0x98, "NOx catalyst"),
        0xA1 => Some("misfire, all cylinders".to_owned()),
        0xA2..=0xAD => Some(format!("misfire, cylinder {}", monitor - 0xA1)),
        0xB0 | 0xB1 => of(0xB0, "particulate filter"),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_result_lies_inside_or_outside_and_says_how_far() {
        // 0.040 in: 0.35 of at most 0.50 kPa.
        let inside = MonitorTest::of([0x3B, 0x81, 0xFD, 0x01, 0x5E, 0x80, 0x00, 0x01, 0xF4]);
        assert_eq!(inside.outcome(), Outcome::Passed);
        assert!((inside.value().unwrap() - 0.35).abs() < 1e-12);
        assert_eq!(inside.low(), None);
        assert!((inside.high().unwrap() - 0.5).abs() < 1e-12);
        assert!((inside.beyond().unwrap() + 0.3).abs() < 1e-12);
        let outside = MonitorTest::of([0x3B, 0x81, 0xFD, 0x05, 0xDC, 0x80, 0x00, 0x01, 0xF4]);
        assert_eq!(outside.outcome(), Outcome::Failed);
        assert!((outside.beyond().unwrap() - 2.0).abs() < 1e-12);
    }

    #[test]
    fn three_noughts_are_no_result() {
        let none = MonitorTest::of([0x3C, 0x81, 0x17, 0, 0, 0, 0, 0, 0]);
        assert_eq!(none.outcome(), Outcome::NotRun);
        assert_eq!(none.beyond(), None);
    }

    #[test]
    fn every_number_has_a_name_or_none_without_panic() {
        assert_eq!((0..=255).filter_map(component).count(), 16 + 4 + 4 + 4 + 5 + 16 + 4 + 4 + 4 + 2 + 2 + 2 + 13 + 2);
        assert_eq!(component(0x06).as_deref(), Some("oxygen sensor, bank 2 sensor 2"));
        assert_eq!(component(0x22).as_deref(), Some("catalyst, bank 2"));
    }
}

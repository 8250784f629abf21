//! What can be measured on this job, in words, with an example and the bounds of what is believed. Knows no units.

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[expect(missing_docs, reason = "each name is its own description; `Kind::name` has the words")]
pub enum Kind {
    Pressure,
    Flow,
    Resistance,
    Voltage,
    Current,
    Power,
    Temperature,
    Warming,
    Time,
    Length,
    Height,
    Volume,
    Mass,
    Share,
}

impl Kind {
    /// In words, with article, for messages.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.facts().0
    }

    /// A correct way to write a quantity of this kind.
    #[must_use]
    pub fn example(self) -> &'static str {
        self.facts().1
    }

    /// Lowest and highest value in SI that is believed on a vehicle; outside it is a slip of the pen.
    #[must_use]
    pub fn bounds(self) -> (f64, f64) {
        (self.facts().2, self.facts().3)
    }

    fn facts(self) -> (&'static str, &'static str, f64, f64) {
        match self {
            Self::Pressure => ("a pressure", "14 inH2O", -1.1e5, 1e7),
            Self::Flow => ("a flow", "0.6 L/min", 0.0, 1.0),
            Self::Resistance => ("a resistance", "26 ohm", 0.0, 1e9),
            Self::Voltage => ("a voltage", "12.6 V", -1e5, 1e5),
            Self::Current => ("a current", "0.5 A", -1e4, 1e4),
            Self::Power => ("a power", "21 W", 0.0, 1e6),
            Self::Temperature => ("a temperature", "20 C", 173.15, 1473.15),
            Self::Warming => ("a temperature change", "2 K", -200.0, 200.0),
            Self::Time => ("a time", "4 min", 0.0, 1e6),
            Self::Length => ("a length", "0.020 in", 0.0, 10.0),
            Self::Height => ("a height above the sea", "5000 ft", -500.0, 9000.0),
            Self::Volume => ("a volume", "50 L", 0.0, 10.0),
            Self::Mass => ("a mass", "250 g", -1e4, 1e4),
            Self::Share => ("a percentage", "40 %", -10.0, 10.0),
        }
    }
}

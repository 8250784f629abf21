//! Which of its checks a control unit has, and whether they have run: service 01 value 01 (since codes were cleared) and
//! value 41 (this trip).
//!
//! Bits from memory of SAE J1979; compared with a library in `tests/outside/car_values.rs`.

/// How the engine burns its fuel; the later bits mean different checks for the two.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ignition {
    /// By spark: petrol, gas.
    Spark,
    /// By compression: diesel.
    Compression,
}

/// A group of checks with one bit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[expect(missing_docs, reason = "their words say it")]
pub enum Check {
    Misfire,
    FuelSystem,
    Components,
    Catalyst,
    HeatedCatalyst,
    Evap,
    SecondaryAir,
    ParticulateFilterPetrol,
    OxygenSensor,
    OxygenHeater,
    Egr,
    HydrocarbonCatalyst,
    NoxCatalyst,
    BoostPressure,
    ExhaustSensor,
    ParticulateFilter,
}

/// Checks by bit, from the lowest, of the third and fourth byte; empty places are not used.
const SPARK: [Option<Check>; 8] = [
    Some(Check::Catalyst),
    Some(Check::HeatedCatalyst),
    Some(Check::Evap),
    Some(Check::SecondaryAir),
    // Once the refrigerant of the air conditioning, which no car came to use.
    Some(Check::ParticulateFilterPetrol),
    Some(Check::OxygenSensor),
    Some(Check::OxygenHeater),
    Some(Check::Egr),
];
const COMPRESSION: [Option<Check>; 8] = [
    Some(Check::HydrocarbonCatalyst),
    Some(Check::NoxCatalyst),
    None,
    Some(Check::BoostPressure),
    None,
    Some(Check::ExhaustSensor),
    Some(Check::ParticulateFilter),
    Some(Check::Egr),
];
const CONTINUOUS: [Check; 3] = [Check::Misfire, Check::FuelSystem, Check::Components];

impl Check {
    /// The word for it in the base and in JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Misfire => "misfire",
            Self::FuelSystem => "fuel-system",
            Self::Components => "components",
            Self::Catalyst => "catalyst",
            Self::HeatedCatalyst => "heated-catalyst",
            Self::Evap => "evap",
            Self::SecondaryAir => "secondary-air",
            Self::ParticulateFilterPetrol => "particulate-filter-petrol",
            Self::OxygenSensor => "oxygen-sensor",
            Self::OxygenHeater => "oxygen-heater",
            Self::Egr => "egr",
            Self::HydrocarbonCatalyst => "hydrocarbon-catalyst",
            Self::NoxCatalyst => "nox-catalyst",
            Self::BoostPressure => "boost-pressure",
            Self::ExhaustSensor => "exhaust-sensor",
            Self::ParticulateFilter => "particulate-filter",
        }
    }

    /// In words for a person.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Misfire => "misfire",
            Self::FuelSystem => "fuel system",
            Self::Components => "circuits and sensors",
            Self::Catalyst => "catalyst",
            Self::HeatedCatalyst => "heated catalyst",
            Self::Evap => "EVAP",
            Self::SecondaryAir => "secondary air",
            Self::ParticulateFilterPetrol | Self::ParticulateFilter => "particulate filter",
            Self::OxygenSensor => "oxygen sensors",
            Self::OxygenHeater => "oxygen sensor heaters",
            Self::Egr => "EGR or valve timing",
            Self::HydrocarbonCatalyst => "hydrocarbon catalyst",
            Self::NoxCatalyst => "NOx catalyst",
            Self::BoostPressure => "boost pressure",
            Self::ExhaustSensor => "exhaust gas sensors",
        }
    }

    /// All, in the order in which they are shown.
    pub const ALL: [Self; 16] = [
        Self::Misfire,
        Self::FuelSystem,
        Self::Components,
        Self::Catalyst,
        Self::HeatedCatalyst,
        Self::Evap,
        Self::SecondaryAir,
        Self::ParticulateFilterPetrol,
        Self::OxygenSensor,
        Self::OxygenHeater,
        Self::Egr,
        Self::HydrocarbonCatalyst,
        Self::NoxCatalyst,
        Self::BoostPressure,
        Self::ExhaustSensor,
        Self::ParticulateFilter,
    ];
}

/// Where a check stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CheckState {
    /// The car does not have it (or, for this trip, it is switched off).
    Absent,
    /// It has run to its end, passed or failed.
    Ran,
    /// It has not.
    NotRun,
}

/// The answer to value 01 or 41.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Readiness {
    bytes: [u8; 4],
}

impl Readiness {
    /// The four bytes.
    #[must_use]
    pub fn of(bytes: [u8; 4]) -> Self {
        Self { bytes }
    }

    /// The lamp is commanded on. Says something in value 01 only.
    #[must_use]
    pub fn lamp(&self) -> bool {
        self.bytes[0] & 0x80 != 0
    }

    /// Stored codes of this unit. Says something in value 01 only.
    #[must_use]
    pub fn codes(&self) -> u8 {
        self.bytes[0] & 0x7F
    }

    /// How the engine burns its fuel.
    #[must_use]
    pub fn ignition(&self) -> Ignition {
        if self.bytes[1] & 0x08 == 0 { Ignition::Spark } else { Ignition::Compression }
    }

    /// Where a check stands.
    #[must_use]
    pub fn state(&self, check: Check) -> CheckState {
        let [_, continuous, has, open] = self.bytes;
        let bit = |byte: u8, at: usize| byte >> at & 1 == 1;
        let of = |has: bool, open: bool| match (has, open) {
            (false, _) => CheckState::Absent,
            (true, true) => CheckState::NotRun,
            (true, false) => CheckState::Ran,
        };
        if let Some(at) = CONTINUOUS.iter().position(|c| *c == check) {
            return of(bit(continuous, at), bit(continuous, at + 4));
        }
        let table = match self.ignition() {
            Ignition::Spark => SPARK,
            Ignition::Compression => COMPRESSION,
        };
        match table.iter().position(|c| *c == Some(check)) {
            Some(at) => of(bit(has, at), bit(open, at)),
            None => CheckState::Absent,
        }
    }

    /// All checks that the car has, with their states.
    pub fn checks(&self) -> impl Iterator<Item = (Check, CheckState)> + '_ {
        Check::ALL.into_iter().map(|c| (c, self.state(c))).filter(|(_, s)| *s != CheckState::Absent)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bits_of_a_petrol_car_that_was_just_cleared() {
        let r = Readiness::of([0x00, 0x07, 0xE5, 0xE5]);
        assert!(!r.lamp());
        assert_eq!(r.codes(), 0);
        assert_eq!(r.ignition(), Ignition::Spark);
        assert_eq!(r.state(Check::Evap), CheckState::NotRun);
        assert_eq!(r.state(Check::Catalyst), CheckState::NotRun);
        assert_eq!(r.state(Check::HeatedCatalyst), CheckState::Absent);
        assert_eq!(r.state(Check::Components), CheckState::Ran);
        assert_eq!(r.state(Check::ParticulateFilter), CheckState::Absent);
        assert_eq!(r.checks().count(), 8);
    }

    #[test]
    fn a_diesel_has_other_checks_under_the_same_bits() {
        let r = Readiness::of([0x82, 0x0F, 0xEB, 0x80]);
        assert!(r.lamp());
        assert_eq!(r.codes(), 2);
        assert_eq!(r.ignition(), Ignition::Compression);
        assert_eq!(r.state(Check::Evap), CheckState::Absent);
        assert_eq!(r.state(Check::BoostPressure), CheckState::Ran);
        assert_eq!(r.state(Check::Egr), CheckState::NotRun);
    }
}

//! Who sends and who answers: the addresses under which diagnostic messages travel (ISO 15765-4), and a whole message.

use std::fmt;

/// A control unit, by the address from which it answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unit {
    /// 11 bits: 7E8 to 7EF.
    Short(u8),
    /// 29 bits: 18DAF1 and the unit's own address.
    Long(u8),
    /// A capture without addresses.
    Unnamed,
}

/// The tester's own address in identifiers of 29 bits.
const TESTER: u32 = 0xF1;

/// Who sent a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sender {
    /// The tester, to one unit or (`None`) to all.
    Tester(Option<Unit>),
    /// A control unit.
    Unit(Unit),
}

impl Sender {
    /// Who sends under this identifier; `None` when it has nothing to do with diagnosis.
    #[must_use]
    pub fn of(id: u32, extended: bool) -> Option<Self> {
        let low = |id: u32| u8::try_from(id & 0xFF).unwrap_or_default();
        match (extended, id) {
            (false, 0x7DF) | (true, 0x18DB_33F1) => Some(Self::Tester(None)),
            (false, 0x7E0..=0x7E7) => Some(Self::Tester(Some(Unit::Short(low(id + 8))))),
            (false, 0x7E8..=0x7EF) => Some(Self::Unit(Unit::Short(low(id)))),
            (true, id) if id >> 16 == 0x18DA && (id >> 8) & 0xFF == TESTER => Some(Self::Unit(Unit::Long(low(id)))),
            (true, id) if id >> 16 == 0x18DA && id & 0xFF == TESTER => {
                Some(Self::Tester(Some(Unit::Long(low(id >> 8)))))
            }
            _ => None,
        }
    }
}

impl Unit {
    /// The identifier under which this unit is asked, and whether it has 29 bits.
    #[must_use]
    pub fn asked_at(self) -> Option<(u32, bool)> {
        match self {
            Self::Short(low) => Some((0x700 + u32::from(low) - 8, false)),
            Self::Long(own) => Some((0x18DA_0000 | u32::from(own) << 8 | TESTER, true)),
            Self::Unnamed => None,
        }
    }

    /// What answers from there by custom: the standard recommends the first address for the engine and the second for
    /// the transmission (from memory); no car must keep to it.
    #[must_use]
    pub fn usually(self) -> Option<&'static str> {
        match self {
            Self::Short(0xE8) | Self::Long(0x10) => Some("usually the engine"),
            Self::Short(0xE9) | Self::Long(0x18) => Some("usually the transmission"),
            _ => None,
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Short(low) => write!(f, "7{low:02X}"),
            Self::Long(own) => write!(f, "18DAF1{own:02X}"),
            Self::Unnamed => f.write_str("unnamed"),
        }
    }
}

/// A whole message, segments put together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Message {
    /// Who sent it; the tester's go to one unit or to all.
    pub sender: Sender,
    /// Service byte first.
    pub bytes: Vec<u8>,
    /// Line of the capture on which it was complete.
    pub line: usize,
    /// Whether it came over CAN, where a list of codes says its own length.
    pub over_can: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_name_the_units() {
        assert_eq!(Sender::of(0x7E8, false), Some(Sender::Unit(Unit::Short(0xE8))));
        assert_eq!(Sender::of(0x7E0, false), Some(Sender::Tester(Some(Unit::Short(0xE8)))));
        assert_eq!(Sender::of(0x18DA_F110, true), Some(Sender::Unit(Unit::Long(0x10))));
        assert_eq!(Sender::of(0x18DA_10F1, true), Some(Sender::Tester(Some(Unit::Long(0x10)))));
        assert_eq!(Sender::of(0x7E8, true), None);
        assert_eq!(Sender::of(0x123, false), None);
        for id in (0x7E8..=0x7EFu32).map(|id| (id, false)).chain([(0x18DA_F1A5, true)]) {
            let Some(Sender::Unit(unit)) = Sender::of(id.0, id.1) else { panic!("{id:?}") };
            assert_eq!(u32::from_str_radix(&unit.to_string(), 16).unwrap(), id.0);
            let (asked, long) = unit.asked_at().unwrap();
            assert_eq!(Sender::of(asked, long), Some(Sender::Tester(Some(unit))));
        }
    }
}

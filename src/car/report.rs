//! What a capture held, control unit by control unit.

use super::code::CodeText;
use super::message::Unit;
use super::monitor_test::MonitorTest;
use super::readiness::Readiness;
use super::segments::Lost;
use super::value::{Live, Value};
use std::collections::BTreeMap;

/// Everything that a capture told.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Report {
    /// Control units that answered, by address.
    pub units: BTreeMap<Unit, UnitReport>,
    /// How its lines were used.
    pub lines: Lines,
    /// What should be known about the capture, in the order of its lines; the first of each kind and unit.
    pub notes: Vec<(usize, Note)>,
    /// Notes that are not listed because there were too many.
    pub more_notes: usize,
    /// The line on which codes were cleared; what came after it is not in the report.
    pub cleared: Option<usize>,
}

/// How the lines of a capture were used.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Lines {
    /// All.
    pub all: usize,
    /// Frames, or bytes of messages, of diagnosis.
    pub diagnostic: usize,
    /// Frames of other traffic, or of another bus than the one on which diagnosis was seen first.
    pub other: usize,
    /// Lines that could not be read.
    pub unreadable: usize,
}

/// One control unit's answers. A list that was not asked for, or did not come whole, is `None` and not empty.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct UnitReport {
    /// Stored codes (03).
    pub stored: Option<Vec<CodeText>>,
    /// Pending codes (07).
    pub pending: Option<Vec<CodeText>>,
    /// Permanent codes (0A).
    pub permanent: Option<Vec<CodeText>>,
    /// Since codes were cleared (01, value 01).
    pub since_clearing: Option<Readiness>,
    /// This trip (01, value 41).
    pub this_trip: Option<Readiness>,
    /// Frames frozen with a code (02), by their number.
    pub frozen: BTreeMap<u8, Frozen>,
    /// Live values (01), by their number.
    pub values: BTreeMap<u8, Live>,
    /// Monitor test results (06), by monitor and test; the latest of each.
    pub tests: BTreeMap<(u8, u8), MonitorTest>,
    /// In-use counters (09).
    pub counters: Vec<Counter>,
    /// Calibration ids (09).
    pub calibrations: Vec<String>,
    /// Check numbers of the calibrations (09).
    pub check_numbers: Vec<u32>,
    /// Its name (09).
    pub name: Option<String>,
    /// The vehicle's identification number, if it was to be read.
    pub vehicle_number: Option<Numbered>,
    /// Values in its answers that are not read here, by service and number.
    pub others: BTreeMap<(u8, u8), ()>,
}

/// A vehicle identification number. It shows itself to nobody by accident: neither in `Debug` nor in a screen.
#[derive(Clone, PartialEq, Eq)]
pub struct Numbered(pub(super) String);

impl Numbered {
    /// The number itself, to be hashed under a key and forgotten.
    #[must_use]
    pub fn secret(&self) -> &str {
        &self.0
    }
}

impl std::fmt::Debug for Numbered {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Numbered(not shown)")
    }
}

/// What was so when a code was set.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Frozen {
    /// The code that it belongs to, where that was read.
    pub code: Option<CodeText>,
    /// Values, by their number.
    pub values: BTreeMap<u8, Value>,
}

/// How often a monitor ran, against how often it could have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Counter {
    /// Which monitor, in words.
    pub name: &'static str,
    /// Times it ran to its end.
    pub ran: u16,
    /// Times the conditions were met.
    pub could: u16,
}

/// Something to know about a capture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Note {
    /// A message did not come whole.
    Lost(Unit, Lost),
    /// The unit refused a service, with its reason.
    Refused(Unit, u8, u8),
    /// The unit asked for patience and did not answer after it.
    StillPending(Unit, u8),
    /// Asked, and no unit answered.
    Unanswered(u8),
    /// An answer whose length does not fit what it says.
    Wrong(Unit, u8),
    /// The unit says that it has so many codes, and lists so many.
    CodesDiffer(Unit, u8, usize),
    /// An identification number was in the capture and was not read.
    NumberNotRead(Unit),
    /// Diagnosis on a second bus was left out.
    OtherBus(String),
    /// More control units than there can be.
    TooManyUnits,
    /// An answer without a length in front came with an odd rest.
    Unreadable(String),
}

impl Report {
    /// Whether any unit said anything.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.units.is_empty()
    }

    /// Codes of all units out of one of their lists, each once.
    pub fn codes(&self, list: impl Fn(&UnitReport) -> Option<&Vec<CodeText>>) -> Vec<CodeText> {
        let mut out: Vec<CodeText> = Vec::new();
        for code in self.units.values().filter_map(list).flatten() {
            if !out.contains(code) {
                out.push(*code);
            }
        }
        out
    }
}

impl UnitReport {
    /// A live value by its word.
    #[must_use]
    pub fn live(&self, id: &str) -> Option<&Live> {
        self.values.values().find(|l| l.value.quantity.id == id)
    }
}

impl Frozen {
    /// A frozen value by its word.
    #[must_use]
    pub fn value(&self, id: &str) -> Option<f64> {
        self.values.values().find(|v| v.quantity.id == id).map(|v| v.number)
    }
}

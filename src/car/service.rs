//! One answer of a control unit, taken into its report. An answer whose length does not fit what it says is refused as
//! a whole, so that no code comes out of half a message.

use super::code::CodeText;
use super::monitor_test::MonitorTest;
use super::readiness::Readiness;
use super::report::{Counter, Numbered, UnitReport};
use super::value::{Live, Reading};
use super::value_table::length;

/// Added to the service in an answer.
pub const ANSWER: u8 = 0x40;
/// First byte of a refusal.
pub const REFUSAL: u8 = 0x7F;
/// Reason in a refusal: the answer will come later.
pub const PENDING: u8 = 0x78;

/// What an answer was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Took {
    /// Taken in.
    All,
    /// Its length does not fit what it says.
    Wrong,
    /// Codes were cleared.
    Cleared,
    /// An identification number, not read.
    NumberNotRead,
    /// Of a service that is not read here.
    Other,
}

/// Takes the answer (service byte first) into the report. `over_can`: lists of codes say their own length.
pub fn take(bytes: &[u8], over_can: bool, with_number: bool, into: &mut UnitReport) -> Took {
    let Some((&service, rest)) = bytes.split_first() else { return Took::Wrong };
    let right = match service.wrapping_sub(ANSWER) {
        0x01 => live(rest, into),
        0x02 => frozen(rest, into),
        0x03 => codes(rest, over_can, &mut into.stored),
        0x07 => codes(rest, over_can, &mut into.pending),
        0x0A => codes(rest, over_can, &mut into.permanent),
        0x04 => return Took::Cleared,
        0x06 => tests(rest, into),
        0x09 => return about(rest, with_number, into),
        _ => return Took::Other,
    };
    if right { Took::All } else { Took::Wrong }
}

/// Value by value: number, bytes. A value of unknown length ends what can be told apart.
fn live(mut rest: &[u8], into: &mut UnitReport) -> bool {
    if rest.is_empty() {
        return false;
    }
    let mut found = Vec::new();
    while let Some((&number, behind)) = rest.split_first() {
        let Some(len) = length(number) else {
            found.push((number, behind));
            break;
        };
        let Some(bytes) = behind.get(..len) else { return false };
        found.push((number, bytes));
        rest = &behind[len..];
    }
    for (number, bytes) in found {
        match (number, bytes) {
            (0x01, &[a, b, c, d]) => into.since_clearing = Some(Readiness::of([a, b, c, d])),
            (0x41, &[a, b, c, d]) => into.this_trip = Some(Readiness::of([a, b, c, d])),
            _ => match Reading::of(number, bytes) {
                Reading::Number(v) => {
                    into.values.entry(number).and_modify(|l| l.again(v)).or_insert_with(|| Live::new(v));
                }
                Reading::Other(number) => other(0x01, number, into),
            },
        }
    }
    true
}

/// Lists of what is supported are no value.
fn other(service: u8, number: u8, into: &mut UnitReport) {
    if !number.is_multiple_of(0x20) {
        into.others.insert((service, number), ());
    }
}

/// Value by value: number, frame, bytes.
fn frozen(mut rest: &[u8], into: &mut UnitReport) -> bool {
    if rest.len() < 2 {
        return false;
    }
    let mut found = Vec::new();
    while let [number, frame, behind @ ..] = rest {
        let Some(len) = length(*number) else {
            found.push((*number, *frame, behind));
            rest = &[];
            break;
        };
        let Some(bytes) = behind.get(..len) else { return false };
        found.push((*number, *frame, bytes));
        rest = &behind[len..];
    }
    if !rest.is_empty() {
        return false;
    }
    for (number, frame, bytes) in found {
        match (number, bytes) {
            (0x02, &[high, low]) => {
                let code = CodeText::of([high, low]);
                // Without a code the frame is empty.
                if code.is_code() {
                    into.frozen.entry(frame).or_default().code = Some(code);
                }
            }
            _ => match Reading::of(number, bytes) {
                Reading::Number(v) => {
                    into.frozen.entry(frame).or_default().values.insert(number, v);
                }
                Reading::Other(number) => other(0x02, number, into),
            },
        }
    }
    true
}

/// A list of codes. Over CAN a number stands in front of it; elsewhere a message has three places, empty ones as two
/// noughts, and further messages add to the list, which a capture of bytes cannot part from a second reading: there
/// codes are added.
fn codes(rest: &[u8], over_can: bool, list: &mut Option<Vec<CodeText>>) -> bool {
    let counted = rest.split_first().filter(|(n, codes)| usize::from(**n) * 2 == codes.len());
    let (bytes, replace) = match counted {
        Some((_, bytes)) => (bytes, true),
        None if !over_can && rest.len() == 6 => (rest, false),
        None => return false,
    };
    let found = bytes.chunks_exact(2).map(|pair| CodeText::of([pair[0], pair[1]])).filter(|c| c.is_code());
    if replace {
        *list = None;
    }
    let list = list.get_or_insert_default();
    for code in found {
        if !list.contains(&code) {
            list.push(code);
        }
    }
    true
}

/// Nine bytes a result; a list of what is supported is a monitor number and four bytes.
fn tests(rest: &[u8], into: &mut UnitReport) -> bool {
    match rest {
        [] => false,
        [monitor, _, _, _, _] if monitor % 0x20 == 0 => true,
        _ => {
            let results = rest.chunks_exact(9);
            if !results.remainder().is_empty() {
                return false;
            }
            for result in results {
                if let Ok(bytes) = <[u8; 9]>::try_from(result) {
                    let test = MonitorTest::of(bytes);
                    into.tests.insert((test.monitor, test.test), test);
                }
            }
            true
        }
    }
}

/// What the counters of a spark engine count, in the order in which they are sent (from memory).
const SPARK: [&str; 8] = [
    "catalyst, bank 1",
    "catalyst, bank 2",
    "oxygen sensor, bank 1",
    "oxygen sensor, bank 2",
    "EGR or valve timing",
    "secondary air",
    "EVAP",
    "second oxygen sensor, bank 1",
];
/// The last of a spark engine that sends twenty numbers.
const SPARK_LATER: [&str; 1] = ["second oxygen sensor, bank 2"];
/// Those of a compression engine.
const COMPRESSION: [&str; 7] = [
    "hydrocarbon catalyst",
    "NOx catalyst",
    "NOx store",
    "particulate filter",
    "exhaust gas sensor",
    "EGR or valve timing",
    "boost pressure",
];

/// Service 09: what the unit says about itself.
fn about(rest: &[u8], with_number: bool, into: &mut UnitReport) -> Took {
    let [kind, items, data @ ..] = rest else { return Took::Wrong };
    let fits = |size: usize| usize::from(*items) * size == data.len();
    match kind {
        // A list of what is supported.
        kind if kind % 0x20 == 0 => Took::All,
        0x02 if fits(17) => {
            if !with_number {
                return Took::NumberNotRead;
            }
            match text(data) {
                Some(number) if number.len() == 17 => {
                    into.vehicle_number = Some(Numbered(number));
                    Took::All
                }
                _ => Took::Wrong,
            }
        }
        0x04 if fits(16) => {
            into.calibrations = data.chunks_exact(16).filter_map(text).collect();
            Took::All
        }
        0x06 if fits(4) => {
            let number = |b: &[u8]| b.iter().fold(0, |n, b| n << 8 | u32::from(*b));
            into.check_numbers = data.chunks_exact(4).map(number).collect();
            Took::All
        }
        0x08 | 0x0B if fits(2) => counters(*kind, data, into),
        0x0A if fits(20) => {
            into.name = text(data);
            Took::All
        }
        0x02 | 0x04 | 0x06 | 0x08 | 0x0A | 0x0B => Took::Wrong,
        kind => {
            into.others.insert((0x09, *kind), ());
            Took::All
        }
    }
}

/// Two general numbers (times the conditions were met, ignition cycles), then pairs.
fn counters(kind: u8, data: &[u8], into: &mut UnitReport) -> Took {
    let numbers: Vec<u16> = data.chunks_exact(2).map(|p| u16::from_be_bytes([p[0], p[1]])).collect();
    let names: Vec<&'static str> = match (kind, numbers.len()) {
        // Sixteen numbers end with the counter of EVAP; twenty have the second oxygen sensors behind it.
        (0x08, 16) => SPARK[..7].to_vec(),
        (0x08, 18) => SPARK.to_vec(),
        (0x08, 20) => SPARK.iter().chain(&SPARK_LATER).copied().collect(),
        (0x0B, 16) => COMPRESSION.to_vec(),
        _ => return Took::Wrong,
    };
    let pairs = numbers[2..].chunks_exact(2).zip(names);
    into.counters = pairs.map(|(n, name)| Counter { name, ran: n[0], could: n[1] }).collect();
    Took::All
}

/// Letters and digits; fill bytes at either end are left out, and anything that is no printable letter makes it no text.
fn text(bytes: &[u8]) -> Option<String> {
    let is_fill = |b: &u8| *b == 0 || *b == b' ';
    let start = bytes.iter().position(|b| !is_fill(b))?;
    let end = bytes.iter().rposition(|b| !is_fill(b))?;
    let inside = &bytes[start..=end];
    let plain = inside.iter().all(|b| (0x20..0x7F).contains(b) || *b == 0);
    plain.then(|| inside.iter().map(|b| if *b == 0 { ' ' } else { char::from(*b) }).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taken(bytes: &[u8], over_can: bool) -> (Took, UnitReport) {
        let mut unit = UnitReport::default();
        (take(bytes, over_can, false, &mut unit), unit)
    }

    fn stored(bytes: &[u8], over_can: bool) -> Option<Vec<String>> {
        taken(bytes, over_can).1.stored.map(|l| l.iter().map(ToString::to_string).collect())
    }

    #[test]
    fn a_list_of_codes_must_be_as_long_as_it_says() {
        assert_eq!(stored(&[0x43, 1, 0x04, 0x55], true), Some(vec!["P0455".to_owned()]));
        assert_eq!(stored(&[0x43, 0], true), Some(vec![]));
        assert_eq!(stored(&[0x43, 2, 0x04, 0x55], true), None);
        assert_eq!(stored(&[0x43, 0x04, 0x55, 0, 0, 0, 0], true), None);
        assert_eq!(stored(&[0x43, 0x04, 0x55, 0, 0, 0, 0], false), Some(vec!["P0455".to_owned()]));
        assert_eq!(stored(&[0x43, 0x04], false), None);
    }

    #[test]
    fn several_values_in_one_answer_are_told_apart() {
        let (took, unit) = taken(&[0x41, 0x2F, 0x80, 0x01, 0x81, 0x07, 0xE5, 0x04, 0x46, 0x3C], true);
        assert_eq!(took, Took::All);
        assert!(unit.since_clearing.unwrap().lamp());
        assert!((unit.live("ambient-temperature").unwrap().value.number - 20.0).abs() < 1e-9);
        assert_eq!(unit.values.len(), 2);
        assert_eq!(taken(&[0x41, 0x01, 0x81], true).0, Took::Wrong);
        let (took, unit) = taken(&[0x41, 0x7F, 1, 2, 3], true);
        assert_eq!((took, unit.others.contains_key(&(1, 0x7F))), (Took::All, true));
    }

    #[test]
    fn a_frozen_frame_belongs_to_its_code() {
        let (took, unit) = taken(&[0x42, 0x02, 0x00, 0x04, 0x55, 0x2F, 0x00, 0xE6], true);
        assert_eq!(took, Took::All);
        let frame = &unit.frozen[&0];
        assert_eq!(frame.code.unwrap().to_string(), "P0455");
        assert!((frame.value("fuel-level").unwrap() - 90.2).abs() < 0.01);
        assert_eq!(taken(&[0x42, 0x02, 0x00, 0x04], true).0, Took::Wrong);
    }

    #[test]
    fn an_identification_number_is_not_read_unless_asked_for() {
        let bytes: Vec<u8> = [0x49, 0x02, 0x01].into_iter().chain(*b"ABCDEFGHJKLMNPRST").collect();
        assert_eq!(taken(&bytes, true).0, Took::NumberNotRead);
        let mut unit = UnitReport::default();
        assert_eq!(take(&bytes, true, true, &mut unit), Took::All);
        assert_eq!(format!("{:?}", unit.vehicle_number), "Some(Numbered(not shown))");
    }

    #[test]
    fn counters_and_calibrations() {
        let mut bytes = vec![0x49, 0x08, 16];
        bytes.extend((0u16..16).flat_map(u16::to_be_bytes));
        let (took, unit) = taken(&bytes, true);
        assert_eq!(took, Took::All);
        assert_eq!(unit.counters.last(), Some(&Counter { name: "EVAP", ran: 14, could: 15 }));
        let calibration: Vec<u8> = [0x49, 0x04, 0x01].into_iter().chain(*b"EXAMPLE-01\0\0\0\0\0\0").collect();
        assert_eq!(taken(&calibration, true).1.calibrations, ["EXAMPLE-01"]);
    }
}

//! Laws of reading captures: damaged lines bring no panic and no code that was not sent, memory stays bounded, and what
//! is written is read again.

use faultodds::car::simulated::{SimulatedCar, segmented};
use faultodds::car::{CodeText, Frame, Questions, Reader, Unit, Wanted, ask, parse_line, read};
use std::collections::BTreeSet;

/// splitmix64: the same lines in every run.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: usize) -> usize {
        usize::try_from(self.next() % n as u64).unwrap()
    }

    fn byte(&mut self) -> u8 {
        u8::try_from(self.next() & 0xFF).unwrap()
    }
}

fn codes(report: &faultodds::car::Report) -> BTreeSet<CodeText> {
    let lists = [
        report.codes(|u| u.stored.as_ref()),
        report.codes(|u| u.pending.as_ref()),
        report.codes(|u| u.permanent.as_ref()),
    ];
    let frozen = report.units.values().flat_map(|u| u.frozen.values()).filter_map(|f| f.code);
    lists.into_iter().flatten().chain(frozen).collect()
}

/// A car with three codes in two units, and its log.
fn car() -> (BTreeSet<CodeText>, Vec<String>) {
    let sent: Vec<CodeText> = ["P0455", "P0442", "P0441", "U0100"].iter().map(|c| c.parse().unwrap()).collect();
    let mut car = SimulatedCar::default();
    let engine = car.unit(Unit::Short(0xE8));
    engine.codes(3, &sent[..3]).codes(7, &sent[..1]).codes(0x0A, &sent[..2]);
    engine.live(0x01, &[0x83, 0x07, 0xE5, 0x04]).frozen(0x02, &sent[0].0.to_be_bytes()).frozen(0x2F, &[0x80]);
    engine.tests(0x3B, &[(0x81, 0xFD, [700, 0x8000, 500]), (0x82, 0xFD, [200, 0x8000, 500])]);
    car.unit(Unit::Short(0xE9)).codes(3, &sent[3..]);
    ask(&mut car, Questions { vehicle_number: false, long_addresses: false }).unwrap();
    (sent.into_iter().collect(), car.log().lines().map(str::to_owned).collect())
}

/// A line broken so that it is no frame any more: its grammar, not a digit for another.
fn broken(line: &str, dice: &mut Dice) -> String {
    let at = dice.below(line.len());
    match dice.below(6) {
        0 => line[..at].to_owned(),
        1 => format!("{}~{}", &line[..at], &line[at..]),
        2 => line.replace('#', " "),
        3 => format!("{line}0"),
        4 => line.replace("can0", ""),
        _ => (0..dice.below(60)).map(|_| char::from(32 + dice.byte() % 95)).collect(),
    }
}

fn million(lines: usize) {
    let (sent, log) = car();
    let mut dice = Dice(1979);
    let mut reader = Reader::new(Wanted::default());
    for at in 0..lines {
        let line = &log[at % log.len()];
        // Cutting a line can leave a shorter frame that is whole as a line; a broken message must come of it, not a code.
        let bad = broken(line, &mut dice);
        reader.line(&bad);
    }
    let report = reader.end();
    assert!(codes(&report).is_subset(&sent), "{:?}", codes(&report).difference(&sent).collect::<Vec<_>>());
    assert!(report.notes.len() <= 60 && report.units.len() <= 2, "{}", report.notes.len());
    assert!(report.lines.unreadable * 2 > lines);
    assert_eq!(report.lines.all, lines);
}

#[test]
fn malformed_lines_bring_no_panic_and_no_wrong_code() {
    million(20_000);
}

#[test]
#[ignore = "a million lines take seconds in a debug build; cargo test --release --test car_laws -- --ignored"]
fn a_million_malformed_lines_bring_no_panic_and_no_wrong_code() {
    million(1_000_000);
}

#[test]
fn any_bytes_at_all_are_read_without_panic_in_bounded_memory() {
    let mut dice = Dice(15031);
    let mut reader = Reader::new(Wanted { vehicle_number: true });
    for _ in 0..30_000 {
        let id = match dice.below(4) {
            0 => 0x7E8 + u32::from(dice.byte() % 8),
            1 => 0x18DA_F100 | u32::from(dice.byte()),
            2 => 0x7E0 + u32::from(dice.byte() % 8),
            _ => u32::from(dice.byte()),
        };
        let mut bytes: Vec<u8> = (0..dice.below(9)).map(|_| dice.byte()).collect();
        // Mostly frames that are nearly right.
        if let Some(first) = bytes.first_mut() {
            *first = [*first, 0x10, 0x21, 0x22, 0x07, 0x30][dice.below(6)];
        }
        if let Some(service) = bytes.get_mut(1) {
            *service = [*service, 0x41, 0x43, 0x46, 0x49, 0x7F][dice.below(6)];
        }
        reader.frame("can0", &Frame::new(id, &bytes));
    }
    let report = reader.end();
    assert!(report.notes.len() <= 60);
    assert!(report.units.len() <= 24);
}

#[test]
fn any_text_is_a_line_or_is_refused_without_panic() {
    let mut dice = Dice(11898);
    let letters: Vec<char> = "0123456789ABCDEFabcdef#[]().: \tcanRTX-é’\u{202e}\0".chars().collect();
    for _ in 0..50_000 {
        let line: String = (0..dice.below(40)).map(|_| letters[dice.below(letters.len())]).collect();
        let _ = parse_line(&line);
    }
    assert!(parse_line(&"4".repeat(1 << 20)).is_err());
}

#[test]
fn lost_frames_of_a_log_bring_fewer_codes_and_never_others() {
    let (sent, log) = car();
    let whole = codes(&read(log.iter().map(String::as_str), Wanted::default()));
    assert_eq!(whole, sent);
    let mut dice = Dice(15765);
    let mut fewer = 0;
    for _ in 0..400 {
        let kept: Vec<&str> = log.iter().map(String::as_str).filter(|_| dice.below(5) > 0).collect();
        let found = codes(&read(kept, Wanted::default()));
        assert!(found.is_subset(&sent), "{found:?}");
        fewer += usize::from(found.len() < sent.len());
    }
    assert!(fewer > 20, "losses were lost: {fewer}");
}

#[test]
fn a_log_read_twice_over_says_the_same_as_once() {
    let (_, log) = car();
    let once = read(log.iter().map(String::as_str), Wanted::default());
    let doubled = log.iter().filter(|l| !l.contains("#30")).flat_map(|l| [l.as_str(), l.as_str()]);
    let twice = read(doubled, Wanted::default());
    assert_eq!(codes(&once), codes(&twice));
    assert_eq!(once.units[&Unit::Short(0xE8)].tests, twice.units[&Unit::Short(0xE8)].tests);
}

#[test]
fn messages_of_every_length_come_back_from_their_frames() {
    for length in 1..=4095usize {
        let message: Vec<u8> = (0..length).map(|i| u8::try_from(i % 251).unwrap()).collect();
        let mut segments = faultodds::car::Segments::default();
        let mut out = Vec::new();
        for frame in segmented(0x7E8, false, &message) {
            if let (faultodds::car::Came::Message(bytes), lost) = segments.take(&frame) {
                assert_eq!(lost, None);
                out.push(bytes);
            }
        }
        assert_eq!(out, [message]);
    }
}

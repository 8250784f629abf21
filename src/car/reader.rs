//! A capture from its first line to its report: frames to messages, answers to the unit that gave them, and what was
//! lost on the way. Memory is bounded whatever the lines hold: units, notes and messages have limits.

use super::frame::Frame;
use super::line::{Form, Line, parse_line};
use super::message::{Message, Sender, Unit};
use super::report::{Note, Report, UnitReport};
use super::segments::{Came, Lost, Segments};
use super::service::{ANSWER, PENDING, REFUSAL, Took, take};
use std::collections::{BTreeMap, BTreeSet};

/// Notes kept; more are counted.
const NOTES: usize = 40;
/// Control units kept: 8 with short addresses, and no car answers with more than a few of the 256 long ones.
const UNITS: usize = 24;

/// What is wanted of a capture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Read the vehicle's identification number too.
    pub vehicle_number: bool,
}

/// Reads lines one by one.
#[derive(Clone, Debug, Default)]
pub struct Reader {
    wanted: Wanted,
    report: Report,
    form: Option<Form>,
    bus: Option<String>,
    segments: BTreeMap<Unit, Segments>,
    /// Services asked of all or of one unit and not answered yet.
    asked: BTreeSet<u8>,
    answered: BTreeSet<u8>,
    /// Units that asked for patience, with the service.
    waiting: BTreeSet<(Unit, u8)>,
}

/// Reads a whole capture.
#[must_use]
pub fn read<'a>(lines: impl IntoIterator<Item = &'a str>, wanted: Wanted) -> Report {
    let mut reader = Reader::new(wanted);
    for line in lines {
        reader.line(line);
    }
    reader.end()
}

impl Reader {
    /// Nothing read yet.
    #[must_use]
    pub fn new(wanted: Wanted) -> Self {
        Self { wanted, ..Self::default() }
    }

    /// One line more.
    pub fn line(&mut self, line: &str) {
        self.report.lines.all += 1;
        match parse_line(line) {
            Ok(Line::Empty) => {}
            Ok(Line::NoData) => self.report.lines.other += 1,
            Ok(Line::Frame(bus, frame)) if self.is(Form::Frames) => self.frame(bus, &frame),
            Ok(Line::Bytes(sender, bytes)) if self.is(Form::Bytes) => self.bytes(sender, bytes),
            // The other form in the same capture is more likely a slip than a message.
            Ok(Line::Frame(..) | Line::Bytes(..)) => {
                self.unreadable("a line of another form than the first".to_owned())
            }
            Err(fault) => self.unreadable(fault.to_string()),
        }
    }

    /// The capture's form, settled by its first line that has one.
    fn is(&mut self, form: Form) -> bool {
        *self.form.get_or_insert(form) == form
    }

    fn unreadable(&mut self, why: String) {
        self.report.lines.unreadable += 1;
        self.note(Note::Unreadable(why));
    }

    fn note(&mut self, note: Note) {
        let report = &mut self.report;
        if report.notes.iter().any(|(_, n)| *n == note) {
            return;
        }
        if report.notes.len() < NOTES {
            report.notes.push((report.lines.all, note));
        } else {
            report.more_notes += 1;
        }
    }

    /// One frame seen on a bus, when frames come from elsewhere than lines.
    pub fn frame(&mut self, bus: &str, frame: &Frame) {
        let Some(sender) = Sender::of(frame.id, frame.extended) else {
            self.report.lines.other += 1;
            return;
        };
        if *self.bus.get_or_insert_with(|| bus.to_owned()) != bus {
            self.report.lines.other += 1;
            let shown: String = bus.chars().take(20).collect();
            self.note(Note::OtherBus(shown));
            return;
        }
        self.report.lines.diagnostic += 1;
        match sender {
            Sender::Tester(to) => match frame.bytes() {
                // Requests for reading are one frame.
                [control @ 1..=7, service, ..] if usize::from(*control) < frame.bytes().len() => {
                    self.request(*service);
                    self.of_units(to, Segments::asked);
                }
                [0x30, block, ..] => {
                    let block = *block;
                    self.of_units(to, |s| s.goes_on(block));
                }
                _ => {}
            },
            Sender::Unit(unit) => {
                if !self.has_room(unit) {
                    return;
                }
                let (came, lost) = self.segments.entry(unit).or_default().take(frame);
                if let Some(lost) = lost {
                    self.note(Note::Lost(unit, lost));
                }
                if let Came::Message(bytes) = came {
                    self.message(&Message { sender, bytes, line: self.report.lines.all, over_can: true });
                }
            }
        }
    }

    /// Does something to the messages under way of one unit or of all, and notes what is lost by it.
    fn of_units(&mut self, to: Option<Unit>, act: impl Fn(&mut Segments) -> Option<Lost>) {
        let to_these = self.segments.iter_mut().filter(|(unit, _)| to.is_none_or(|to| to == **unit));
        let lost: Vec<(Unit, Lost)> = to_these.filter_map(|(unit, s)| Some((*unit, act(s)?))).collect();
        for (unit, lost) in lost {
            self.note(Note::Lost(unit, lost));
        }
    }

    fn has_room(&mut self, unit: Unit) -> bool {
        let room = self.segments.contains_key(&unit) || self.segments.len() < UNITS;
        if !room {
            self.note(Note::TooManyUnits);
        }
        room
    }

    fn bytes(&mut self, sender: Option<u32>, bytes: Vec<u8>) {
        self.report.lines.diagnostic += 1;
        let sender = match sender {
            None => Sender::Unit(Unit::Unnamed),
            Some(id) => match Sender::of(id, id > 0x7FF) {
                Some(sender) => sender,
                None => {
                    self.report.lines.diagnostic -= 1;
                    self.report.lines.other += 1;
                    return;
                }
            },
        };
        let first = bytes.first().copied().unwrap_or_default();
        match sender {
            Sender::Tester(_) => self.request(first),
            Sender::Unit(_) if first < ANSWER => self.request(first),
            Sender::Unit(unit) => {
                if self.has_room(unit) {
                    self.segments.entry(unit).or_default();
                    self.message(&Message { sender, bytes, line: self.report.lines.all, over_can: false });
                }
            }
        }
    }

    fn request(&mut self, service: u8) {
        self.asked.insert(service);
    }

    /// A whole message of a unit.
    pub fn message(&mut self, message: &Message) {
        let Sender::Unit(unit) = message.sender else { return };
        if self.report.cleared.is_some() {
            return;
        }
        if let [REFUSAL, service, reason] = message.bytes[..] {
            self.answered.insert(service);
            if reason == PENDING {
                self.waiting.insert((unit, service));
            } else {
                self.waiting.remove(&(unit, service));
                self.note(Note::Refused(unit, service, reason));
            }
            return;
        }
        let service = message.bytes.first().copied().unwrap_or_default().wrapping_sub(ANSWER);
        self.answered.insert(service);
        self.waiting.remove(&(unit, service));
        let into = self.report.units.entry(unit).or_default();
        match take(&message.bytes, message.over_can, self.wanted.vehicle_number, into) {
            Took::All | Took::Other => {}
            Took::Wrong => self.note(Note::Wrong(unit, service)),
            Took::NumberNotRead => self.note(Note::NumberNotRead(unit)),
            Took::Cleared => {
                // What was known before is what says something; an answer to clearing at the very beginning says only
                // that what follows is of a car just cleared.
                if self.report.units.values().any(UnitReport::says_something) {
                    self.report.cleared = Some(message.line);
                }
            }
        }
        self.report.units.retain(|_, u| *u != UnitReport::default());
    }

    /// The report.
    #[must_use]
    pub fn end(mut self) -> Report {
        let open: Vec<(Unit, Lost)> = self.segments.iter_mut().filter_map(|(u, s)| Some((*u, s.end()?))).collect();
        for (unit, lost) in open {
            self.note(Note::Lost(unit, lost));
        }
        for (unit, service) in std::mem::take(&mut self.waiting) {
            self.note(Note::StillPending(unit, service));
        }
        if self.report.cleared.is_none() {
            let unanswered: Vec<u8> = self.asked.difference(&self.answered).copied().collect();
            for service in unanswered {
                self.note(Note::Unanswered(service));
            }
        }
        let differ: Vec<(Unit, u8, usize)> = self
            .report
            .units
            .iter()
            .filter_map(|(unit, u)| {
                let (said, listed) = (u.since_clearing?.codes(), u.stored.as_ref()?.len());
                (usize::from(said) != listed).then_some((*unit, said, listed))
            })
            .collect();
        for (unit, said, listed) in differ {
            self.note(Note::CodesDiffer(unit, said, listed));
        }
        self.report
    }
}

impl UnitReport {
    /// Whether codes or readiness were read.
    fn says_something(&self) -> bool {
        self.stored.is_some() || self.pending.is_some() || self.since_clearing.is_some() || !self.frozen.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report(text: &str) -> Report {
        read(text.lines(), Wanted::default())
    }

    fn stored(report: &Report) -> Vec<String> {
        report.codes(|u| u.stored.as_ref()).iter().map(ToString::to_string).collect()
    }

    #[test]
    fn units_are_kept_apart() {
        let r = report(
            "can0 7DF#0103\ncan0 7E8#0443010455\ncan0 7E9#024300\n can0 7E8#06410181 07E500\ncan0 7E8#0641018107E500\n",
        );
        assert_eq!(r.units.len(), 2);
        assert_eq!(stored(&r), ["P0455"]);
        assert_eq!(r.units[&Unit::Short(0xE9)].stored, Some(vec![]));
        assert_eq!(r.lines.unreadable, 1);
        assert!(!r.notes.iter().any(|(_, n)| matches!(n, Note::CodesDiffer(..))));
    }

    #[test]
    fn a_lost_list_is_unknown_and_not_empty() {
        let r = report("can0 7E8#100A430404550442\ncan0 7E8#2204410456000000\n");
        assert!(r.units.is_empty());
        assert!(matches!(r.notes[..], [(2, Note::Lost(_, Lost::Order { want: 1, got: 2 }))]));
    }

    #[test]
    fn refusals_and_patience_are_told_apart() {
        let r = report(
            "can0 7E0#0103\ncan0 7E8#037F0378\ncan0 7E8#0443010442\ncan0 7E0#010A\ncan0 7E8#037F0A11\ncan0 7E0#0107\n",
        );
        assert_eq!(stored(&r), ["P0442"]);
        let notes: Vec<&Note> = r.notes.iter().map(|(_, n)| n).collect();
        assert_eq!(notes, [&Note::Refused(Unit::Short(0xE8), 0x0A, 0x11), &Note::Unanswered(7)]);
    }

    #[test]
    fn what_comes_after_clearing_is_left_out() {
        let r = report("can0 7E8#0443010442\ncan0 7E0#0104\ncan0 7E8#0144\ncan0 7E8#024300\n");
        assert_eq!(stored(&r), ["P0442"]);
        assert_eq!(r.cleared, Some(3));
        let r = report("can0 7E8#0144\ncan0 7E8#024300\n");
        assert_eq!((stored(&r), r.cleared), (vec![], None));
    }

    #[test]
    fn the_first_line_settles_the_form() {
        let r = report("03\n43 01 04 55\ncan0 7E8#0443010442\n7E9: 43 00\n");
        assert_eq!(stored(&r), ["P0455"]);
        assert_eq!(r.units.len(), 2);
        assert_eq!(r.lines.unreadable, 1);
    }
}

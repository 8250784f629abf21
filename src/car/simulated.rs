//! A car in the process: control units that answer requests over a bus, for tests, invented captures and simulated
//! cars. It answers as the standards say and knows nothing of faults.

use super::ask::{Bus, BusError};
use super::code::CodeText;
use super::frame::Frame;
use super::message::{Sender, Unit};
use std::collections::{BTreeMap, VecDeque};
use std::fmt::Write as _;

/// One control unit: what it answers to each request, both with their service byte first.
#[derive(Clone, Debug, Default)]
pub struct SimulatedUnit {
    answers: BTreeMap<Vec<u8>, Vec<u8>>,
    /// Refuses what it has no answer to, when asked by itself; a unit asked together with others stays silent then.
    pub refuses: BTreeMap<u8, u8>,
    /// Services before whose answer it asks for patience.
    pub slow: Vec<u8>,
}

/// Control units on a bus.
#[derive(Clone, Debug, Default)]
pub struct SimulatedCar {
    /// By address.
    pub units: BTreeMap<Unit, SimulatedUnit>,
    waiting: VecDeque<Frame>,
    /// The rest of an answer that waits for flow control, by unit.
    held: BTreeMap<Unit, Vec<Frame>>,
    /// Every frame seen on the bus, in order.
    pub seen: Vec<Frame>,
    /// Nobody answers.
    pub dead: bool,
}

impl SimulatedUnit {
    /// Answers `request` with these bytes behind it: service and number are put in front.
    pub fn answer(&mut self, request: &[u8], data: &[u8]) -> &mut Self {
        let mut bytes = request.to_vec();
        bytes[0] += 0x40;
        bytes.extend_from_slice(data);
        self.answers.insert(request.to_vec(), bytes);
        self
    }

    /// A list of codes under 03, 07 or 0A.
    pub fn codes(&mut self, service: u8, codes: &[CodeText]) -> &mut Self {
        let mut data = vec![u8::try_from(codes.len()).unwrap_or(u8::MAX)];
        data.extend(codes.iter().take(255).flat_map(|c| c.0.to_be_bytes()));
        self.answer(&[service], &data)
    }

    /// A live value.
    pub fn live(&mut self, number: u8, bytes: &[u8]) -> &mut Self {
        self.answer(&[0x01, number], bytes)
    }

    /// A value of the frozen frame 0.
    pub fn frozen(&mut self, number: u8, bytes: &[u8]) -> &mut Self {
        self.answer(&[0x02, number, 0x00], bytes)
    }

    /// Results of one monitor: test, scaling, value, lower and upper limit each.
    pub fn tests(&mut self, monitor: u8, results: &[(u8, u8, [u16; 3])]) -> &mut Self {
        let mut bytes = vec![0x46];
        for (test, scaling, numbers) in results {
            bytes.extend([monitor, *test, *scaling]);
            bytes.extend(numbers.iter().flat_map(|n| n.to_be_bytes()));
        }
        self.answers.insert(vec![0x06, monitor], bytes);
        self
    }
}

/// A message in frames of eight bytes.
#[must_use]
pub fn segmented(id: u32, extended: bool, message: &[u8]) -> Vec<Frame> {
    let frame = |bytes: [u8; 8]| Frame { extended, ..Frame::new(id, &bytes) };
    let low = |n: usize| u8::try_from(n & 0xFF).unwrap_or_default();
    let mut bytes = [0; 8];
    if message.len() < 8 {
        bytes[0] = low(message.len());
        bytes[1..=message.len()].copy_from_slice(message);
        return vec![frame(bytes)];
    }
    bytes[0] = 0x10 | low(message.len() >> 8);
    bytes[1] = low(message.len());
    let (first, rest) = message.split_at(6);
    bytes[2..].copy_from_slice(first);
    let mut out = vec![frame(bytes)];
    for (at, piece) in rest.chunks(7).enumerate() {
        let mut bytes = [0; 8];
        bytes[0] = 0x20 | low((at + 1) % 16);
        bytes[1..=piece.len()].copy_from_slice(piece);
        out.push(frame(bytes));
    }
    out
}

impl SimulatedCar {
    /// The unit with this address.
    pub fn unit(&mut self, unit: Unit) -> &mut SimulatedUnit {
        self.units.entry(unit).or_default()
    }

    fn asked(&mut self, to: Option<Unit>, request: &[u8]) {
        let mut come: Vec<Frame> = Vec::new();
        for (unit, own) in self.units.iter().filter(|(u, _)| to.is_none_or(|to| to == **u)) {
            let (id, extended) = match unit {
                Unit::Short(low) => (0x700 | u32::from(*low), false),
                Unit::Long(low) => (0x18DA_F100 | u32::from(*low), true),
                Unit::Unnamed => continue,
            };
            let service = request.first().copied().unwrap_or_default();
            if let Some(reason) = own.refuses.get(&service) {
                come.extend(segmented(id, extended, &[0x7F, service, *reason]));
                continue;
            }
            let Some(answer) = own.answers.get(request) else { continue };
            if own.slow.contains(&service) {
                come.extend(segmented(id, extended, &[0x7F, service, 0x78]));
            }
            let mut frames = segmented(id, extended, answer);
            let rest = frames.split_off(1);
            come.extend(frames);
            if !rest.is_empty() {
                self.held.insert(*unit, rest);
            }
        }
        self.waiting.extend(come);
    }

    /// What was seen on the bus, as the open CAN utilities log it, a hundredth of a second between two frames.
    #[must_use]
    pub fn log(&self) -> String {
        let mut out = String::new();
        for (at, frame) in self.seen.iter().enumerate() {
            let hundredths = at % 100;
            let _ = write!(out, "({}.{hundredths:02}0000) can0 ", 1_700_000_000 + at / 100);
            let _ = if frame.extended { write!(out, "{:08X}#", frame.id) } else { write!(out, "{:03X}#", frame.id) };
            for byte in frame.bytes() {
                let _ = write!(out, "{byte:02X}");
            }
            out.push('\n');
        }
        out
    }
}

impl Bus for SimulatedCar {
    fn send(&mut self, frame: &Frame) -> Result<(), BusError> {
        self.seen.push(*frame);
        if self.dead {
            return Ok(());
        }
        let Some(Sender::Tester(to)) = Sender::of(frame.id, frame.extended) else { return Ok(()) };
        match frame.bytes() {
            [flow, ..] if flow >> 4 == 3 => {
                if let Some(rest) = to.and_then(|unit| self.held.remove(&unit)) {
                    self.waiting.extend(rest);
                }
            }
            [length, rest @ ..] => {
                let request: Vec<u8> = rest.iter().take(usize::from(*length)).copied().collect();
                self.asked(to, &request);
            }
            [] => {}
        }
        Ok(())
    }

    fn receive(&mut self, _within_ms: u64) -> Result<Option<Frame>, BusError> {
        let frame = self.waiting.pop_front();
        self.seen.extend(frame);
        Ok(frame)
    }

    fn wait(&mut self, _ms: u64) {}
}

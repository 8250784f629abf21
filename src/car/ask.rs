//! Asking a car over its bus, with reading services only: what is asked, in which order, at which pace. The same code
//! runs on a real bus and on one in a test.

use super::frame::Frame;
use super::message::{Sender, Unit};
use super::reader::{Reader, Wanted};
use super::report::Report;

/// A bus that frames can be sent to and received from.
pub trait Bus {
    /// Sends a frame.
    ///
    /// # Errors
    /// The bus does not take it.
    fn send(&mut self, frame: &Frame) -> Result<(), BusError>;
    /// The next frame, or nothing when none comes within so many milliseconds.
    ///
    /// # Errors
    /// The bus cannot be read.
    fn receive(&mut self, within_ms: u64) -> Result<Option<Frame>, BusError>;
    /// Lets so many milliseconds pass.
    fn wait(&mut self, ms: u64);
}

/// Why a bus cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct BusError(pub String);

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Questions {
    /// The vehicle's identification number too.
    pub vehicle_number: bool,
    /// Addresses of 29 bits instead of 11.
    pub long_addresses: bool,
}

/// What came of asking.
#[derive(Clone, Debug, PartialEq)]
pub struct Answered {
    /// The answers.
    pub report: Report,
    /// Frames sent.
    pub sent: usize,
    /// Whether any unit answered at all.
    pub any: bool,
}

/// Time between two requests: far more than a unit needs, so that the bus of a running car is not loaded.
const PACE_MS: u64 = 60;
/// Time for an answer to begin, and for each further frame. The standard gives a unit 50 ms, and up to 5 s after it
/// has asked for patience (from memory).
const WAIT_MS: u64 = 120;
const PATIENCE_MS: u64 = 5100;
/// Frames looked at in answer to one question, so that a babbling bus does not hold it for ever.
const FRAMES: usize = 2000;
/// Times a unit may ask for patience in answer to one question.
const PATIENT: usize = 10;

/// Values that are asked live, beside readiness.
const LIVE: [u8; 29] = [
    0x04, 0x05, 0x06, 0x07, 0x08, 0x09, 0x0B, 0x0C, 0x0D, 0x0F, 0x1F, 0x21, 0x2C, 0x2D, 0x2E, 0x2F, 0x30, 0x31, 0x32,
    0x33, 0x3C, 0x3D, 0x3E, 0x3F, 0x42, 0x46, 0x4E, 0x53, 0x54,
];
/// Values asked of the frozen frame, beside its code.
const FROZEN: [u8; 15] = [0x04, 0x05, 0x06, 0x07, 0x08, 0x09, 0x0C, 0x0D, 0x0F, 0x11, 0x1F, 0x2E, 0x2F, 0x33, 0x46];
/// Monitors whose results are asked: those that the base has, and lists of what is supported are not needed for it.
const TESTED: [u8; 17] =
    [0x21, 0x22, 0x31, 0x32, 0x39, 0x3A, 0x3B, 0x3C, 0x3D, 0x61, 0x62, 0x71, 0x72, 0x73, 0x74, 0x85, 0xB0];

/// Every request, service byte first; reading services and nothing else.
fn requests(questions: Questions) -> Vec<Vec<u8>> {
    let mut list: Vec<Vec<u8>> = vec![vec![0x01, 0x01], vec![0x01, 0x41], vec![0x03], vec![0x07], vec![0x0A]];
    list.extend(LIVE.iter().map(|v| vec![0x01, *v]));
    list.push(vec![0x02, 0x02, 0x00]);
    list.extend(FROZEN.iter().map(|v| vec![0x02, *v, 0x00]));
    list.extend(TESTED.iter().map(|m| vec![0x06, *m]));
    list.extend([0x04, 0x06, 0x08, 0x0B].map(|kind| vec![0x09, kind]));
    if questions.vehicle_number {
        list.push(vec![0x09, 0x02]);
    }
    list
}

/// Asks all units, one question after the other.
///
/// # Errors
/// The bus fails. A bus on which nobody answers is no error: the report is empty.
pub fn ask(bus: &mut dyn Bus, questions: Questions) -> Result<Answered, BusError> {
    let mut reader = Reader::new(Wanted { vehicle_number: questions.vehicle_number });
    let (to_all, long) = if questions.long_addresses { (0x18DB_33F1, true) } else { (0x7DF, false) };
    let mut sent = 0;
    let mut any = false;
    for (at, request) in requests(questions).iter().enumerate() {
        // Nobody answers the first two questions: nobody will.
        if at >= 2 && !any {
            break;
        }
        let mut bytes = [0; 8];
        bytes[0] = u8::try_from(request.len()).unwrap_or(1);
        bytes[1..=request.len()].copy_from_slice(request);
        let frame = Frame { extended: long, ..Frame::new(to_all, &bytes) };
        bus.send(&frame)?;
        sent += 1;
        reader.frame("", &frame);
        any |= answers(bus, &mut reader, request[0], &mut sent)?;
        bus.wait(PACE_MS);
    }
    Ok(Answered { report: reader.end(), sent, any })
}

/// Takes what comes in answer to one question, and lets long answers flow.
fn answers(bus: &mut dyn Bus, reader: &mut Reader, service: u8, sent: &mut usize) -> Result<bool, BusError> {
    let (mut any, mut wait, mut patient) = (false, WAIT_MS, 0);
    for _ in 0..FRAMES {
        let Some(frame) = bus.receive(wait)? else { break };
        let Some(Sender::Unit(unit)) = Sender::of(frame.id, frame.extended) else { continue };
        any = true;
        wait = WAIT_MS;
        match frame.bytes() {
            [first, ..] if first >> 4 == 1 => {
                if let Some(flow) = go_on(unit) {
                    bus.send(&flow)?;
                    *sent += 1;
                }
            }
            [_, 0x7F, asked, 0x78, ..] if *asked == service && patient < PATIENT => {
                patient += 1;
                wait = PATIENCE_MS;
            }
            _ => {}
        }
        reader.frame("", &frame);
    }
    Ok(any)
}

/// Flow control: go on, all at once, without a pause.
fn go_on(unit: Unit) -> Option<Frame> {
    let (id, extended) = unit.asked_at()?;
    Some(Frame { extended, ..Frame::new(id, &[0x30, 0, 0, 0, 0, 0, 0, 0]) })
}

#[cfg(test)]
mod tests;

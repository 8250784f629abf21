//! Segments put together to messages (ISO 15765-2): single frames, first and consecutive frames, flow control.
//!
//! A message comes out whole or not at all. A frame logged twice is taken once; a missing or crossed one ends the
//! message, and what came of it is said.

use super::frame::Frame;

/// Longest message, in bytes: the twelve bits of length of the first edition of the standard. No reading service
/// answers with more.
pub const LONGEST: usize = 4095;
/// After this time without a consecutive frame the rest is not waited for (N_Cr of the standard, from memory), in
/// seconds. Only where the capture says the time.
const WAIT: f64 = 1.0;

/// Why a message that was begun did not come out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lost {
    /// A frame is missing or out of its order: this number was to come, that one came.
    Order {
        /// To come.
        want: u8,
        /// Came.
        got: u8,
    },
    /// Another message began before it was whole.
    Overtaken,
    /// Too long between two frames.
    Late,
    /// The capture ended.
    Ended,
    /// A frame of a message whose beginning is not there.
    NoBeginning,
    /// Longer than any message of a reading service.
    TooLong,
    /// A frame that says of itself what cannot be.
    Broken,
}

/// What one frame brought.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Came {
    /// Nothing yet, or a frame already seen.
    Nothing,
    /// A whole message.
    Message(Vec<u8>),
    /// Flow control, which belongs to the other side's message.
    Flow,
}

/// The message under way from one sender.
#[derive(Clone, Debug, Default)]
pub struct Segments {
    under_way: Option<UnderWay>,
    /// The frame that ended the latest message, to know it again when it is there twice.
    ended_by: Option<Frame>,
}

#[derive(Clone, Debug)]
struct UnderWay {
    bytes: Vec<u8>,
    length: usize,
    next: u8,
    /// The latest frame, to know it again when it is there twice.
    latest: Frame,
    /// Frames still allowed by the latest flow control; `None` before it, and for one without a limit `Some(0)`.
    allowed: Option<u8>,
}

impl Segments {
    /// Takes a frame: what it brought, and what was lost by it.
    pub fn take(&mut self, frame: &Frame) -> (Came, Option<Lost>) {
        let data = frame.bytes();
        let Some(&control) = data.first() else { return (Came::Nothing, Some(Lost::Broken)) };
        match control >> 4 {
            0 => {
                let length = usize::from(control & 0xF);
                // A long frame says 0 here and its length in the next byte.
                let (length, start) = match data {
                    [0, long, ..] if data.len() > 8 => (usize::from(*long), 2),
                    _ => (length, 1),
                };
                match data.get(start..start + length) {
                    Some(bytes) if length > 0 => {
                        let lost = self.under_way.take().map(|_| Lost::Overtaken);
                        (Came::Message(bytes.to_vec()), lost)
                    }
                    _ => (Came::Nothing, Some(Lost::Broken)),
                }
            }
            1 => self.first(frame),
            2 => self.consecutive(frame, control & 0xF),
            3 => (Came::Flow, None),
            _ => (Came::Nothing, Some(Lost::Broken)),
        }
    }

    /// The tester asks something new: what is under way will not be ended.
    pub fn asked(&mut self) -> Option<Lost> {
        self.under_way.take().map(|_| Lost::Overtaken)
    }

    /// The tester lets the unit go on, with so many frames (0: all). It does so only when it is waited for, so that at
    /// any other moment the beginning of another message was missed, and what is under way is lost.
    pub fn goes_on(&mut self, block: u8) -> Option<Lost> {
        let way = self.under_way.as_mut()?;
        if way.allowed.is_some() {
            self.under_way = None;
            return Some(Lost::Overtaken);
        }
        way.allowed = Some(block);
        None
    }

    /// What is lost when nothing more comes.
    pub fn end(&mut self) -> Option<Lost> {
        self.under_way.take().map(|_| Lost::Ended)
    }

    fn first(&mut self, frame: &Frame) -> (Came, Option<Lost>) {
        let data = frame.bytes();
        let &[high, low, ..] = data else { return (Came::Nothing, Some(Lost::Broken)) };
        let length = usize::from(high & 0xF) << 8 | usize::from(low);
        // What fits into one frame is not sent in several, and a first frame is full.
        if data.len() < 8 || (length > 0 && length < 8) {
            return (Came::Nothing, Some(Lost::Broken));
        }
        let again = self.under_way.as_ref().is_some_and(|u| u.next == 1 && same(&u.latest, frame));
        if again {
            return (Came::Nothing, None);
        }
        let lost = self.under_way.take().map(|_| Lost::Overtaken);
        if length == 0 {
            // The length follows in four more bytes, and is more than 4095.
            return (Came::Nothing, Some(Lost::TooLong));
        }
        let mut bytes = Vec::with_capacity(length);
        bytes.extend_from_slice(&data[2..]);
        bytes.truncate(length);
        self.under_way = Some(UnderWay { bytes, length, next: 1, latest: *frame, allowed: None });
        (Came::Nothing, lost)
    }

    fn consecutive(&mut self, frame: &Frame, number: u8) -> (Came, Option<Lost>) {
        let Some(way) = &mut self.under_way else {
            let again = self.ended_by.as_ref().is_some_and(|e| same(e, frame));
            return (Came::Nothing, (!again).then_some(Lost::NoBeginning));
        };
        if let (Some(before), Some(now)) = (way.latest.seconds, frame.seconds)
            && now - before > WAIT
        {
            self.under_way = None;
            return (Came::Nothing, Some(Lost::Late));
        }
        if same(&way.latest, frame) {
            return (Came::Nothing, None);
        }
        if number != way.next {
            let want = way.next;
            self.under_way = None;
            return (Came::Nothing, Some(Lost::Order { want, got: number }));
        }
        let missing = way.length - way.bytes.len();
        let data = &frame.bytes()[1..];
        // Every frame but the last is full.
        if data.len() < missing.min(7) {
            self.under_way = None;
            return (Came::Nothing, Some(Lost::Broken));
        }
        way.bytes.extend_from_slice(&data[..missing.min(data.len())]);
        if way.bytes.len() == way.length {
            let bytes = std::mem::take(&mut way.bytes);
            self.under_way = None;
            self.ended_by = Some(*frame);
            return (Came::Message(bytes), None);
        }
        way.next = (number + 1) & 0xF;
        // The last one allowed is followed by flow control.
        way.allowed = match way.allowed {
            Some(1) => None,
            Some(n) => Some(n.saturating_sub(1)),
            None => None,
        };
        way.latest = *frame;
        (Came::Nothing, None)
    }
}

/// Whether two frames carry the same.
fn same(a: &Frame, b: &Frame) -> bool {
    a.bytes() == b.bytes()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn take(segments: &mut Segments, bytes: &[u8]) -> (Came, Option<Lost>) {
        segments.take(&Frame::new(0x7E8, bytes))
    }

    const FIRST: [u8; 8] = [0x10, 0x0A, 0x43, 0x04, 0x04, 0x55, 0x04, 0x42];
    const SECOND: [u8; 8] = [0x21, 0x04, 0x41, 0x04, 0x56, 0, 0, 0];

    #[test]
    fn a_message_in_two_frames_comes_out_whole_and_a_doubled_frame_counts_once() {
        let mut segments = Segments::default();
        for _ in 0..2 {
            assert_eq!(take(&mut segments, &FIRST), (Came::Nothing, None));
        }
        let whole = vec![0x43, 0x04, 0x04, 0x55, 0x04, 0x42, 0x04, 0x41, 0x04, 0x56];
        assert_eq!(take(&mut segments, &SECOND), (Came::Message(whole), None));
        assert_eq!(take(&mut segments, &SECOND), (Came::Nothing, None));
        assert_eq!(take(&mut segments, &[0x25, 1, 2, 3, 4, 5, 6, 7]), (Came::Nothing, Some(Lost::NoBeginning)));
    }

    #[test]
    fn two_messages_are_not_put_together_to_one() {
        let mut segments = Segments::default();
        take(&mut segments, &FIRST);
        assert_eq!(segments.goes_on(0), None);
        assert_eq!(segments.goes_on(0), Some(Lost::Overtaken));
        assert_eq!(take(&mut segments, &SECOND), (Came::Nothing, Some(Lost::NoBeginning)));
        take(&mut segments, &FIRST);
        assert_eq!(segments.asked(), Some(Lost::Overtaken));
        // Blocks of one frame: flow control after each.
        let mut long = FIRST;
        long[1] = 20;
        take(&mut segments, &long);
        for number in [0x21, 0x22] {
            assert_eq!(segments.goes_on(1), None);
            let came = take(&mut segments, &[number, 1, 2, 3, 4, 5, 6, 7]);
            assert_eq!(came.1, None, "{came:?}");
        }
    }

    #[test]
    fn what_is_not_whole_does_not_come_out() {
        let mut segments = Segments::default();
        take(&mut segments, &FIRST);
        let crossed = [0x22, 0x04, 0x41, 0x04, 0x56, 0, 0, 0];
        assert_eq!(take(&mut segments, &crossed), (Came::Nothing, Some(Lost::Order { want: 1, got: 2 })));
        take(&mut segments, &FIRST);
        assert_eq!(take(&mut segments, &[0x01, 0x44]), (Came::Message(vec![0x44]), Some(Lost::Overtaken)));
        take(&mut segments, &FIRST);
        assert_eq!(take(&mut segments, &SECOND[..4]), (Came::Nothing, Some(Lost::Broken)));
        for broken in
            [&[0x08, 1, 2, 3, 4, 5, 6, 7][..], &[0x00], &[0x05, 1], &[0x10, 0x06, 1, 2, 3, 4, 5, 6], &[0x40], &[]]
        {
            assert_eq!(take(&mut segments, broken), (Came::Nothing, Some(Lost::Broken)), "{broken:?}");
        }
        assert_eq!(segments.end(), None);
        take(&mut segments, &FIRST);
        assert_eq!(segments.end(), Some(Lost::Ended));
    }
}

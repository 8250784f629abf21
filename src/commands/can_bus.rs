//! A CAN interface of the kernel (Linux) as a bus for questions. Sends what it is given and nothing by itself; frames
//! that belong to no diagnosis are filtered out by the kernel.

use car::{Bus, BusError, Frame};
use socketcan::{
    CanFilter, CanFrame, CanSocket, EmbeddedFrame, ExtendedId, Frame as _, Socket, SocketOptions, StandardId,
};
use std::io::ErrorKind;
use std::time::{Duration, Instant};

/// An open interface.
pub(super) struct Interface {
    socket: CanSocket,
    /// Every frame sent and received, as the open CAN utilities log them, where that is wanted.
    kept: Option<Vec<(Duration, Frame)>>,
    opened: Instant,
}

/// Frames kept at most: a questioning takes some hundreds.
const KEPT: usize = 100_000;

impl Interface {
    /// Opens the interface, for the addresses of diagnosis alone.
    pub fn open(name: &str, keep: bool) -> Result<Self, BusError> {
        let failed = |e: std::io::Error| BusError(e.to_string());
        let socket = CanSocket::open(name).map_err(failed)?;
        // 7E8 to 7EF, and 18DAF1xx.
        let filters = [CanFilter::new(0x7E8, 0x7F8), CanFilter::new(0x98DA_F100, 0x9FFF_FF00)];
        socket.set_filters(&filters).map_err(failed)?;
        Ok(Self { socket, kept: keep.then(Vec::new), opened: Instant::now() })
    }

    /// What was seen, as lines of a capture.
    pub fn log(&self, name: &str) -> String {
        let mut out = String::new();
        for (at, frame) in self.kept.iter().flatten() {
            let id = if frame.extended { format!("{:08X}", frame.id) } else { format!("{:03X}", frame.id) };
            let bytes: String = frame.bytes().iter().map(|b| format!("{b:02X}")).collect();
            out.push_str(&format!("({}.{:06}) {name} {id}#{bytes}\n", at.as_secs(), at.subsec_micros()));
        }
        out
    }

    fn keep(&mut self, frame: &Frame) {
        let at = self.opened.elapsed();
        if let Some(kept) = self.kept.as_mut().filter(|k| k.len() < KEPT) {
            kept.push((at, *frame));
        }
    }
}

impl Bus for Interface {
    fn send(&mut self, frame: &Frame) -> Result<(), BusError> {
        let unusable = || BusError(format!("{:X} is no identifier", frame.id));
        let made = if frame.extended {
            ExtendedId::new(frame.id).and_then(|id| CanFrame::new(id, frame.bytes()))
        } else {
            u16::try_from(frame.id).ok().and_then(StandardId::new).and_then(|id| CanFrame::new(id, frame.bytes()))
        };
        self.socket.write_frame(&made.ok_or_else(unusable)?).map_err(|e| BusError(e.to_string()))?;
        self.keep(frame);
        Ok(())
    }

    fn receive(&mut self, within_ms: u64) -> Result<Option<Frame>, BusError> {
        match self.socket.read_frame_timeout(Duration::from_millis(within_ms)) {
            Ok(CanFrame::Data(data)) => {
                let frame = Frame { extended: data.is_extended(), ..Frame::new(data.raw_id(), data.data()) };
                self.keep(&frame);
                Ok(Some(frame))
            }
            // Reports of errors and requests for frames hold no message; the next question brings its own.
            Ok(CanFrame::Remote(_) | CanFrame::Error(_)) => Ok(None),
            Err(e) if matches!(e.kind(), ErrorKind::TimedOut | ErrorKind::WouldBlock | ErrorKind::Interrupted) => {
                Ok(None)
            }
            Err(e) => Err(BusError(e.to_string())),
        }
    }

    fn wait(&mut self, ms: u64) {
        std::thread::sleep(Duration::from_millis(ms));
    }
}

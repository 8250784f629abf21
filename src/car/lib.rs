//! What a car says of itself over its diagnostic connector: from the lines of a capture to a report for each control
//! unit. Decoding only: no file, no clock, no terminal, and no opinion on what is broken.
//!
//! The services are those of SAE J1979 (ISO 15031-5), read-only; on CAN they travel in segments (ISO 15765-2) under the
//! addresses of ISO 15765-4; codes are written as in SAE J2012 (ISO 15031-6). All from memory unless `tests/outside`
//! compares it.

mod ask;
mod code;
mod frame;
mod line;
mod message;
mod monitor_test;
mod reader;
mod readiness;
mod report;
mod scaling;
mod segments;
mod service;
pub mod simulated;
mod value;
mod value_table;

pub use ask::{Answered, Bus, BusError, Questions, ask};
pub use code::CodeText;
pub use frame::Frame;
pub use line::{Form, Line, LineFault, parse_line};
pub use message::{Message, Sender, Unit};
pub use monitor_test::{MonitorTest, Outcome, component};
pub use reader::{Reader, Wanted, read};
pub use readiness::{Check, CheckState, Ignition, Readiness};
pub use report::{Counter, Frozen, Lines, Note, Numbered, Report, UnitReport};
pub use scaling::{Scaling, scaling};
pub use segments::{Came, Lost, Segments};
pub use value::{Live, Reading, Value};
pub use value_table::{Kind, Quantity, Raw, VALUES, quantity};

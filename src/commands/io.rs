//! Where a command reads, writes and looks at the clock, so that it can be run without a terminal.

use crate::screens::Look;
use std::io::{self, Write};

/// The streams and the clock of one run.
pub struct Io {
    /// Standard output; colour codes are dropped by the stream where nobody wants them.
    pub out: Box<dyn Write>,
    /// Error output.
    pub err: Box<dyn Write>,
    /// Where screens are shown.
    pub look: Look,
    /// Whether a person sits at a terminal and can be asked.
    pub interactive: bool,
    /// Today.
    pub today: jiff::civil::Date,
}

impl Io {
    /// Writes a screen.
    ///
    /// # Errors
    /// The stream's.
    pub fn show(&mut self, screen: &str) -> io::Result<()> {
        self.out.write_all(screen.as_bytes())
    }

    /// Writes a JSON value and a line break.
    ///
    /// # Errors
    /// The stream's.
    pub fn show_json(&mut self, value: &serde_json::Value) -> io::Result<()> {
        serde_json::to_writer_pretty(&mut self.out, value)?;
        self.out.write_all(b"\n")
    }
}

impl std::fmt::Debug for Io {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Io").field("look", &self.look).field("today", &self.today).finish_non_exhaustive()
    }
}

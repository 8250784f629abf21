//! Where a command reads, writes and looks at the clock, so that it can be run without a terminal.

use jobs::plain_json::escaped;
use screens::Look;
use screens::text::hanging;
use std::io::{self, BufRead, Write};
use std::sync::{Arc, Mutex};

/// The streams and the clock of one run.
pub struct Io {
    /// Standard output; colour codes are dropped by the stream where nobody wants them.
    pub out: Box<dyn Write>,
    /// Standard input.
    pub input: Box<dyn BufRead>,
    /// Error output.
    pub err: Box<dyn Write>,
    /// Where screens are shown.
    pub look: Look,
    /// Whether a person sits at a terminal and can be asked.
    pub interactive: bool,
    /// The overlay that is laid over the base, if any.
    pub overlay: Option<std::path::PathBuf>,
    /// Whether the base is a folder of the user's, and not the shipped one.
    pub own_base: bool,
    /// Today.
    pub today: jiff::civil::Date,
    /// The time at which the command began, in the time zone of the place.
    pub now: jiff::ZonedDateTime,
}

impl Io {
    /// Writes a screen.
    ///
    /// # Errors
    /// The stream's.
    pub fn show(&mut self, screen: &str) -> io::Result<()> {
        self.out.write_all(screen.as_bytes())
    }

    /// Tells something by the way on the error stream.
    ///
    /// # Errors
    /// The stream's.
    pub fn note(&mut self, text: &str) -> io::Result<()> {
        let mut note = String::new();
        hanging(&mut note, "note: ", "      ", text, self.look.width);
        self.err.write_all(note.as_bytes())
    }

    /// Writes a JSON value and a line break.
    ///
    /// # Errors
    /// The stream's.
    pub fn show_json(&mut self, value: &serde_json::Value) -> io::Result<()> {
        let text = serde_json::to_string_pretty(value)?;
        // The stream drops control characters where there is no colour; as escapes they get through.
        self.out.write_all(escaped(&text).as_bytes())?;
        self.out.write_all(b"\n")
    }
}

/// When the person at the terminal presses Ctrl-C: says these words and ends, with the code that shells use for it.
/// Without a handler the system ends the program without a word, which loses nothing either.
pub fn on_interrupt(words: &Arc<Mutex<String>>) {
    let words = Arc::clone(words);
    // A second handler in one process is refused; the first then stays.
    let _set = ctrlc::set_handler(move || {
        if let Ok(words) = words.lock() {
            let _told = io::stderr().write_all(words.as_bytes());
        }
        std::process::exit(130);
    });
}

impl std::fmt::Debug for Io {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Io").field("look", &self.look).field("today", &self.today).finish_non_exhaustive()
    }
}

//! Shell completions and man pages, made from the command line's own description; completions ask `complete` for the base's words.

use super::{Ending, Io, Stop};
use clap::CommandFactory;
use cli::Cli;
use screens::failure::Failure;
use std::path::Path;

/// Prints the completions for a shell.
pub(super) fn completions(shell: clap_complete::Shell, io: &mut Io) -> Result<Ending, Stop> {
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "faultodds", &mut text);
    let text = super::complete::script(shell, &String::from_utf8_lossy(&text));
    io.out.write_all(text.as_bytes())?;
    Ok(Ending::Done)
}

/// Writes a man page for each command into the folder.
pub(super) fn man_pages(folder: &Path, io: &mut Io) -> Result<Ending, Stop> {
    let made = std::fs::create_dir_all(folder).and_then(|()| clap_mangen::generate_to(Cli::command(), folder));
    made.map_err(|e| Failure::new(format!("{}: {e}", folder.display())))?;
    io.show(&format!("man pages written to {}\n", folder.display()))?;
    Ok(Ending::Done)
}

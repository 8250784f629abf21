//! The program: reads the command line, runs the command, and turns its ending into an exit code.

use anstream::{AutoStream, ColorChoice};
use clap::Parser;
use faultodds::cli::{Cli, Colour, meant_instead};
use faultodds::commands::{Ending, Io, Stop, run};
use faultodds::screens::Look;
use std::io::{self, BufWriter, IsTerminal, Write};
use std::process::ExitCode;

/// Threads wait for each other in musl's own allocator.
#[cfg(target_env = "musl")]
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(told) => {
            // Help and version go to standard output and are no error; a reader that went away is none either.
            let _ = told.print();
            if let Some(meant) = meant_instead(&told) {
                let _ = writeln!(io::stderr(), "\n{meant}");
            }
            return ExitCode::from(if told.use_stderr() { 2 } else { 0 });
        }
    };
    let choice = match cli.global.color {
        Colour::Auto => ColorChoice::Auto,
        Colour::Always => ColorChoice::Always,
        Colour::Never => ColorChoice::Never,
    };
    let columns = terminal_size::terminal_size().map_or(80, |(w, _)| usize::from(w.0));
    let columns = cli.global.width.map_or(columns, usize::from);
    let now = jiff::ZonedDateTime::now();
    let mut io = Io {
        out: Box::new(BufWriter::new(AutoStream::new(io::stdout(), choice))),
        err: Box::new(AutoStream::new(io::stderr(), choice)),
        input: Box::new(io::stdin().lock()),
        look: Look::new(columns),
        interactive: io::stdin().is_terminal() && io::stdout().is_terminal(),
        overlay: None,
        own_base: false,
        today: now.date(),
        now,
    };
    let ended = run(&cli, &mut io).and_then(|ending| {
        io.out.flush()?;
        Ok(ending)
    });
    match ended {
        Ok(Ending::Done) => ExitCode::SUCCESS,
        Ok(Ending::No) => ExitCode::from(1),
        Err(Stop::Output(error)) if error.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(Stop::Output(error)) => {
            let _ = writeln!(io.err, "error: the answer cannot be written: {error}");
            ExitCode::from(2)
        }
        Err(Stop::Failed(failure)) => {
            let _ = io.out.flush();
            let _ = io.err.write_all(failure.screen(io.look.width).as_bytes());
            ExitCode::from(2)
        }
    }
}

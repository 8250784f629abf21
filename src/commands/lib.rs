//! The commands: what was typed becomes a question, an answer and a screen. One module a command; `run` is the list.

pub mod advice;
mod base;
#[cfg(all(feature = "can", target_os = "linux"))]
mod can_bus;
mod car;
mod car_live;
mod car_said;
mod complete;
mod gauge;
pub mod guide;
mod io;
mod job;
mod job_input;
mod job_store;
mod job_told;
mod kb;
mod learn_input;
mod next;
mod papers;
mod past;
mod past_report;
mod plan;
mod plan_page;
mod planned;
mod quote;
mod rank;
mod report;
mod schema;
mod score;
mod search;
mod search_past;
mod shop;
mod symptoms;
mod tune;
mod worth;

pub use base::Loaded;
pub use io::Io;

use cli::{Cli, Command};
use screens::failure::Failure;

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// Done: exit code 0.
    Done,
    /// The question has a clear negative answer: exit code 1.
    No,
}

/// Why a command stopped.
#[derive(Debug)]
pub enum Stop {
    /// It could not do what was asked: exit code 2.
    Failed(Failure),
    /// Nobody reads any more, or the output cannot be written.
    Output(std::io::Error),
}

impl From<Failure> for Stop {
    fn from(failure: Failure) -> Self {
        Self::Failed(failure)
    }
}

impl From<std::io::Error> for Stop {
    fn from(error: std::io::Error) -> Self {
        Self::Output(error)
    }
}

impl From<evidence::EvidenceError> for Stop {
    fn from(error: evidence::EvidenceError) -> Self {
        Self::Failed(error.into())
    }
}

/// Runs the command.
///
/// # Errors
/// [`Stop`] tells why there is no answer.
pub fn run(cli: &Cli, io: &mut Io) -> Result<Ending, Stop> {
    let base = cli.global.kb.as_deref();
    io.overlay.clone_from(&cli.global.overlay);
    io.own_base = base.is_some();
    match &cli.command {
        Command::Rank(args) => rank::run(args, base, io),
        Command::Job(args) => job::run(args, base, io),
        Command::Report(args) => report::run(args, base, io),
        Command::Guide(args) => guide::run(args, base, io),
        Command::Next(args) => next::run(args, base, io),
        Command::Plan(args) => plan::run(args, base, io),
        Command::Quote(args) => quote::run(args, base, io),
        Command::Worth(args) => worth::run(args, base, io),
        Command::Shop(args) => shop::run(args, base, io),
        Command::Search(args) => search::run(args, base, io),
        Command::Gauge(args) => gauge::run(args, io),
        Command::Car(args) => car::run(args, base, io),
        Command::Past(args) => past::run(args, base, io),
        Command::Tune(args) => tune::run(args, base, io),
        Command::Score(args) => score::run(args, base, io),
        Command::Kb(args) => kb::run(args, base, io),
        Command::Book { page } => papers::book(page.as_deref(), io),
        Command::Schema { shape } => schema::run(shape.as_deref(), io),
        Command::Completions { shell } => papers::completions(*shell, io),
        Command::Complete { words } => complete::run(words, base, io),
        Command::ManPages { folder } => papers::man_pages(folder, io),
    }
}

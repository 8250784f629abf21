//! `car` as typed, and the capture as evidence for other commands.

use clap::{Args, Subcommand};
use std::path::PathBuf;

/// The car's own words as evidence.
#[derive(Clone, Debug, Default, Args)]
pub struct CaptureArgs {
    /// A capture of the car's diagnostic traffic (see `car read`): its codes, which checks have run, frozen values and
    /// test results count as evidence
    #[arg(long = "car", value_name = "FILE")]
    pub capture: Option<PathBuf>,
}

/// The same where a job is opened with it.
#[derive(Clone, Debug, Default, Args)]
pub struct FirstCaptureArgs {
    /// The capture.
    #[command(flatten)]
    pub capture: CaptureArgs,
    /// Read the vehicle's identification number out of the capture, to tell whether this car was here before; of it only a
    /// hash under a key of this store is kept, and no export has it
    #[arg(long, requires = "capture")]
    pub recognise: bool,
}

/// `car`.
#[derive(Debug, Args)]
pub struct TalkArgs {
    /// What to do
    #[command(subcommand)]
    pub command: TalkCommand,
}

/// What can be done with the car's own words.
#[derive(Debug, Subcommand)]
pub enum TalkCommand {
    /// Decode a capture of diagnostic traffic: codes, readiness, frozen values, test results, unit by unit
    #[command(
        after_help = "A capture is lines of CAN frames as the open CAN utilities log or print them, or the plain \
        bytes of requests and answers in hexadecimal, one message a line. A line that begins with # is a remark.\n\n\
        Example: faultodds car read data-demo/car/small-leak.log"
    )]
    Read(ReadArgs),
}

/// `car read`.
#[derive(Debug, Args)]
pub struct ReadArgs {
    /// The capture; `-` reads standard input
    #[arg(value_name = "FILE", required_unless_present = "can")]
    pub file: Option<PathBuf>,
    /// Ask the car itself over this CAN interface (Linux, such as can0), with reading services only
    #[arg(long, value_name = "INTERFACE", conflicts_with = "file")]
    pub can: Option<String>,
    /// With --can: send without asking first
    #[arg(long, requires = "can")]
    pub yes: bool,
    /// With --can: ask under addresses of 29 bits
    #[arg(long, requires = "can")]
    pub long_addresses: bool,
    /// With --can: keep what was seen on the bus in this file, as a capture
    #[arg(long, value_name = "FILE", requires = "can")]
    pub keep: Option<PathBuf>,
    /// Counters, check numbers and what is not read here, too
    #[arg(long)]
    pub long: bool,
    /// Answer in JSON
    #[arg(long)]
    pub json: bool,
}

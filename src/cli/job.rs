//! `job` as typed. What the words mean is settled by the commands.

use super::CarArgs;
use super::shared::{StoreArgs, WhichArgs};
use clap::{Args, Subcommand, ValueEnum};
use std::path::PathBuf;

/// What something took.
#[derive(Clone, Debug, Default, Args)]
pub struct SpentArgs {
    /// Minutes it took
    #[arg(long, value_name = "MINUTES")]
    pub minutes: Option<f64>,
    /// Money spent on parts and materials, in the shop's currency
    #[arg(long, value_name = "AMOUNT")]
    pub cost: Option<f64>,
}

/// How the car is described for the record, beside what the base reasons about.
#[derive(Clone, Debug, Default, Args)]
pub struct DescriptionArgs {
    /// Make
    #[arg(long, value_name = "NAME")]
    pub make: Option<String>,
    /// Model
    #[arg(long, value_name = "NAME")]
    pub model: Option<String>,
    /// Model year
    #[arg(long, value_name = "YEAR")]
    pub year: Option<i32>,
    /// Engine, in your own words
    #[arg(long, value_name = "WORDS")]
    pub engine: Option<String>,
    /// Vehicle identification number; stored only if given, and can be left out of exports
    #[arg(long, value_name = "VIN")]
    pub vin: Option<String>,
    /// Your own reference: an order number, a bay; no names are needed
    #[arg(long, value_name = "WORDS")]
    pub reference: Option<String>,
    /// Freeze frame: fuel=62%, ambient=18C, coolant=20C, speed=0km/h, code=P0455, when=WORDS (repeatable)
    #[arg(long, value_name = "NAME=VALUE")]
    pub freeze: Vec<String>,
}

/// `job`.
#[derive(Debug, Args)]
pub struct JobArgs {
    /// Which job.
    #[command(flatten)]
    pub which: WhichArgs,
    /// Where jobs are kept.
    #[command(flatten)]
    pub store: StoreArgs,
    /// What to do
    #[command(subcommand)]
    pub command: JobCommand,
}

/// The commands on jobs.
#[derive(Debug, Subcommand)]
pub enum JobCommand {
    /// Open a job and make it the current one
    #[command(
        after_help = "Example: faultodds job open P0455 --vehicle age=9,screw-cap --freeze fuel=62% --reference \"bay 3\""
    )]
    Open(OpenArgs),
    /// Show where a job stands
    #[command(after_help = "Example: faultodds job show --sheet")]
    Show(ShowArgs),
    /// List jobs, the newest first; exit code 1 when there is none
    #[command(after_help = "Example: faultodds job list --open --code P0455")]
    List(ListArgs),
    /// Record outcomes of tests, symptoms or codes
    #[command(after_help = "Example: faultodds job record cap-look-reseat:loose=fail --minutes 3")]
    Record(RecordArgs),
    /// Take back one reading, code or symptom, or a whole event by its number
    #[command(after_help = "Example: faultodds job retract cap-look-reseat:loose --why \"wrong car\"")]
    Retract(RetractArgs),
    /// Record a repair that was made
    #[command(after_help = "Example: faultodds job repair filler-cap/reseat --minutes 4")]
    Repair(RepairArgs),
    /// Record what the car shows after a repair; with no codes and --ran, that none came back
    #[command(
        after_help = "Examples: faultodds job retest --ran\n          faultodds job retest P0455\n          faultodds job retest --result evap-service-run=pass"
    )]
    Retest(RetestArgs),
    /// Add free words to the record
    #[command(after_help = "Example: faultodds job note \"customer fills up to the brim\"")]
    Note(NoteArgs),
    /// Correct the description of the car
    #[command(after_help = "Example: faultodds job amend --year 2015 --vehicle 140000km")]
    Amend(AmendArgs),
    /// Close the job with what was at fault
    #[command(
        after_help = "Example: faultodds job close --cause filler-cap/loose --how \"loose as found, passes the self-test\""
    )]
    Close(CloseArgs),
    /// Go on with a closed job, or take it in again as a comeback
    #[command(after_help = "Example: faultodds job reopen --comeback P0455")]
    Reopen(ReopenArgs),
    /// Undo the last event; it stays in the record as undone
    #[command(after_help = "Example: faultodds job undo")]
    Undo,
    /// Make a job the current one
    #[command(after_help = "Example: faultodds job use --job 12")]
    Use {
        /// The job, as `--job` says it elsewhere
        #[arg(hide = true)]
        number: Option<i64>,
    },
    /// Move a reading, code or symptom that was recorded on the wrong job to another
    #[command(after_help = "Example: faultodds job move cap-look-reseat:loose --to 12")]
    Move {
        /// The reading, code or symptom as it was recorded
        what: String,
        /// The job that it belongs to
        #[arg(long, value_name = "NUMBER")]
        to: i64,
    },
    /// Say what the work has to reckon with: tools at hand, limit, shop file; kept with the job
    #[command(after_help = "Example: faultodds job set --without smoke-machine --limit 200")]
    Set(SetArgs),
    /// Record that a proposed step was not done, and why
    #[command(after_help = "Example: faultodds job skip smoke-whole --why \"machine lent out\"")]
    Skip {
        /// The test, or the repair as PART/REPAIR
        step: String,
        /// Why
        #[arg(long, value_name = "WORDS")]
        why: Option<String>,
    },
    /// Check that the store is whole; exit code 1 when it is not
    #[command(after_help = "Example: faultodds job check")]
    Check {
        /// Compute the list lines again from the events first
        #[arg(long)]
        rebuild: bool,
    },
    /// Copy the store to a new file, also while others work with it
    #[command(after_help = "Example: faultodds job backup jobs-friday.db")]
    Backup {
        /// The new file
        file: PathBuf,
    },
    /// Write jobs as JSON lines; exit code 1 when some are not what was stored, which are left out and named
    #[command(after_help = "Example: faultodds job export --no-vin > jobs.jsonl")]
    Export {
        /// Only these jobs
        #[arg(value_name = "NUMBER")]
        numbers: Vec<i64>,
        /// Leave vehicle identification numbers out, also where a note repeats one
        #[arg(long)]
        no_vin: bool,
    },
    /// Read jobs from JSON lines; all of them or none
    #[command(after_help = "Example: faultodds job import jobs.jsonl")]
    Import {
        /// The file; without it, standard input
        file: Option<PathBuf>,
    },
}

/// `job open`.
#[derive(Debug, Args)]
pub struct OpenArgs {
    /// The codes on the car
    #[arg(value_name = "CODE")]
    pub codes: Vec<String>,
    /// What it says of itself.
    #[command(flatten)]
    pub capture: super::car::FirstCaptureArgs,
    /// The car.
    #[command(flatten)]
    pub car: CarArgs,
    /// Its description.
    #[command(flatten)]
    pub description: DescriptionArgs,
    /// What others tried, in words
    #[arg(long, value_name = "WORDS")]
    pub tried: Option<String>,
}

/// `job show`.
#[derive(Debug, Args)]
pub struct ShowArgs {
    /// The job; without it, the current one
    #[arg(hide = true)]
    pub number: Option<i64>,
    /// A page for the customer, in plain words
    #[arg(long, conflicts_with_all = ["json", "proof"])]
    pub sheet: bool,
    /// A page for the workshop: every step, every figure, the cautions in full
    #[arg(long, conflicts_with_all = ["json", "proof", "sheet"])]
    pub workshop: bool,
    /// How the repair can be proved: conditions of the checks, re-tests and what each would prove
    #[arg(long, conflicts_with = "json")]
    pub proof: bool,
    /// Show this many suspects
    #[arg(long, value_name = "N", default_value_t = 8)]
    pub top: usize,
    /// Answer in JSON
    #[arg(long)]
    pub json: bool,
}

/// `job list`.
#[derive(Debug, Args)]
pub struct ListArgs {
    /// Only open jobs
    #[arg(long, conflicts_with = "closed")]
    pub open: bool,
    /// Only closed jobs
    #[arg(long)]
    pub closed: bool,
    /// Only jobs that ended so
    #[arg(long, value_name = "VERDICT")]
    pub verdict: Option<VerdictWord>,
    /// Only jobs with this code
    #[arg(long, value_name = "CODE")]
    pub code: Option<String>,
    /// Only jobs with this suspect as a cause
    #[arg(long, value_name = "SUSPECT")]
    pub cause: Option<String>,
    /// Only jobs with this repair
    #[arg(long, value_name = "REPAIR")]
    pub repair: Option<String>,
    /// Only jobs opened on that day or later
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub since: Option<jiff::civil::Date>,
    /// Only jobs opened on that day or earlier
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub until: Option<jiff::civil::Date>,
    /// Only jobs with these words in the reference or the car
    #[arg(long, value_name = "WORDS")]
    pub words: Option<String>,
    /// List at most so many
    #[arg(long, value_name = "N", default_value_t = 50)]
    pub most: usize,
    /// Answer in JSON
    #[arg(long)]
    pub json: bool,
}

/// `job record`.
#[derive(Debug, Args)]
pub struct RecordArgs {
    /// TEST=pass, TEST=fail, TEST=unclear, TEST:READING=LEVEL, or a number with its unit; several at once
    #[arg(value_name = "TEST=OUTCOME")]
    pub results: Vec<String>,
    /// A symptom noticed (repeatable)
    #[arg(long, value_name = "SYMPTOM")]
    pub symptom: Vec<String>,
    /// A symptom looked for and absent (repeatable)
    #[arg(long, value_name = "SYMPTOM")]
    pub no_symptom: Vec<String>,
    /// A code read (repeatable)
    #[arg(long, value_name = "CODE")]
    pub code: Vec<String>,
    /// A suspect found with your own eyes, as PART/MODE or in words, with =probably where it was not seen clearly (repeatable)
    #[arg(long, value_name = "SUSPECT")]
    pub found: Vec<String>,
    /// A suspect looked for and not there, as PART/MODE, or PART for all its faults (repeatable)
    #[arg(long, value_name = "SUSPECT")]
    pub sound: Vec<String>,
    /// What it says of itself.
    #[command(flatten)]
    pub capture: super::car::CaptureArgs,
    /// Words that hang on the outcome given
    #[arg(long, value_name = "WORDS")]
    pub note: Option<String>,
    /// What it took.
    #[command(flatten)]
    pub spent: SpentArgs,
}

/// `job retract`.
#[derive(Debug, Args)]
pub struct RetractArgs {
    /// A reading, code or symptom as it was recorded, or the number of an event
    pub what: String,
    /// Why
    #[arg(long, value_name = "WORDS")]
    pub why: Option<String>,
}

/// `job repair`.
#[derive(Debug, Args)]
pub struct RepairArgs {
    /// The repair, as PART/REPAIR
    pub repair: String,
    /// Part number, maker, remarks
    #[arg(long, value_name = "WORDS")]
    pub note: Option<String>,
    /// What it took.
    #[command(flatten)]
    pub spent: SpentArgs,
}

/// `job retest`.
#[derive(Debug, Args)]
pub struct RetestArgs {
    /// Codes that came back after they were cleared
    #[arg(value_name = "CODE")]
    pub codes: Vec<String>,
    /// The codes were not cleared since the repair: they are the old ones and say nothing
    #[arg(long, conflicts_with_all = ["ran", "passed"])]
    pub not_cleared: bool,
    /// All checks of the engine computer have run to their end since the codes were cleared, so that absent codes count
    #[arg(long)]
    pub ran: bool,
    /// A check that has run and stored nothing, as MONITOR, or MONITOR=2/2 for two of two times (repeatable)
    #[arg(long, value_name = "MONITOR")]
    pub passed: Vec<String>,
    /// A check that has not run, so that the absence of its codes says nothing (repeatable)
    #[arg(long, value_name = "MONITOR")]
    pub not_run: Vec<String>,
    /// What it says of itself.
    #[command(flatten)]
    pub capture: super::car::CaptureArgs,
    /// Outcome of a re-test: TEST=pass and so on (repeatable)
    #[arg(long, value_name = "TEST=OUTCOME")]
    pub result: Vec<String>,
    /// What it took.
    #[command(flatten)]
    pub spent: SpentArgs,
}

/// `job set`.
#[derive(Debug, Args)]
pub struct SetArgs {
    /// All tools at hand, by id, separated by commas; in place of what was said before
    #[arg(long, value_name = "TOOLS", value_delimiter = ',')]
    pub tools: Option<Vec<String>>,
    /// A tool that is at hand after all (repeatable)
    #[arg(long, value_name = "TOOL")]
    pub with: Vec<String>,
    /// A tool that is not at hand after all (repeatable)
    #[arg(long, value_name = "TOOL")]
    pub without: Vec<String>,
    /// What the customer will pay at most; 0 for no limit
    #[arg(long, value_name = "AMOUNT")]
    pub limit: Option<f64>,
    /// The shop file for this job; an empty word for the usual one
    #[arg(long, value_name = "FILE")]
    pub shop: Option<String>,
}

/// `job note`.
#[derive(Debug, Args)]
pub struct NoteArgs {
    /// The words; `-` reads them from standard input
    pub text: String,
    /// The reading that they hang on, as TEST:READING
    #[arg(long, value_name = "READING")]
    pub on: Option<String>,
    /// What it took.
    #[command(flatten)]
    pub spent: SpentArgs,
}

/// `job amend`.
#[derive(Debug, Args)]
pub struct AmendArgs {
    /// What is known of the vehicle, replacing what was said about the same thing
    #[arg(long, value_name = "WORDS")]
    pub vehicle: Vec<String>,
    /// Its description.
    #[command(flatten)]
    pub description: DescriptionArgs,
}

/// How a job ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum VerdictWord {
    /// The cause was confirmed.
    Confirmed,
    /// The car seems well; the cause was not confirmed.
    Unsure,
    /// Somebody else goes on.
    HandedOn,
    /// No cause was found.
    NotFound,
}

/// `job close`.
#[derive(Debug, Args)]
pub struct CloseArgs {
    /// A suspect that was at fault, as PART/MODE (repeatable)
    #[arg(long, value_name = "SUSPECT")]
    pub cause: Vec<String>,
    /// How the job ends; `confirmed` when a cause is given
    #[arg(long = "as", value_name = "VERDICT")]
    pub verdict: Option<VerdictWord>,
    /// How the cause was confirmed, or why it was not
    #[arg(long, value_name = "WORDS")]
    pub how: Option<String>,
    /// What it took.
    #[command(flatten)]
    pub spent: SpentArgs,
}

/// `job reopen`.
#[derive(Debug, Args)]
pub struct ReopenArgs {
    /// Codes on the car now
    #[arg(value_name = "CODE")]
    pub codes: Vec<String>,
    /// The car left and came back: its repairs count as made before this visit
    #[arg(long)]
    pub comeback: bool,
    /// A symptom noticed now (repeatable)
    #[arg(long, value_name = "SYMPTOM")]
    pub symptom: Vec<String>,
    /// Why
    #[arg(long, value_name = "WORDS")]
    pub why: Option<String>,
}

//! The command line as typed. What the words mean is settled by the commands.

pub mod book;
pub mod car;
pub mod gauge;
pub mod guide;
pub mod job;
pub mod learn;
pub mod pages;
pub mod plan;
pub mod shared;

use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Heading of the options that every command has.
pub const GENERAL: &str = "General options";

/// From emission-control fault codes to the likely fault, the next test and the proof of repair, offline.
#[derive(Debug, Parser)]
#[command(name = "faultodds", version, max_term_width = 100, subcommand_required = true, arg_required_else_help = true)]
#[command(after_help = "Example: faultodds rank P0455 --vehicle age=9,salt\n\n\
The vehicle maker's procedure, local rules and licensed practice come before anything this program says.\n\
Exit codes: 0 done; 1 the answer is no; 2 it could not be done.")]
pub struct Cli {
    /// Options of every command.
    #[command(flatten)]
    pub global: Global,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What was probably meant where a code stands in the place of a command: `faultodds P0455`.
#[must_use]
pub fn meant_instead(error: &clap::Error) -> Option<String> {
    use clap::error::{ContextKind, ContextValue, ErrorKind};
    if error.kind() != ErrorKind::InvalidSubcommand {
        return None;
    }
    let Some(ContextValue::String(word)) = error.get(ContextKind::InvalidSubcommand) else { return None };
    let code = word.trim().to_uppercase();
    let digits = code.strip_prefix(['P', 'B', 'C', 'U']).unwrap_or(&code);
    let is_code = digits.len() == 4 && digits.chars().all(|c| c.is_ascii_hexdigit());
    is_code.then(|| format!("a code goes behind a command: faultodds rank {code}"))
}

/// Options of every command.
#[derive(Clone, Debug, Args)]
pub struct Global {
    /// Use the knowledge base in this folder instead of the shipped one (or FAULTODDS_KB)
    #[arg(long, value_name = "DIR", global = true, env = "FAULTODDS_KB", hide_env = true, help_heading = GENERAL)]
    pub kb: Option<PathBuf>,
    /// Lay the numbers of this overlay, made by `tune`, over the base (or FAULTODDS_OVERLAY)
    #[arg(long, value_name = "FILE", global = true, env = "FAULTODDS_OVERLAY", hide_env = true, help_heading = GENERAL)]
    pub overlay: Option<PathBuf>,
    /// Colour: as the terminal and NO_COLOR say, always, or never
    #[arg(long, value_name = "WHEN", global = true, default_value = "auto", value_enum, help_heading = GENERAL)]
    pub color: Colour,
    /// Set screens to this many columns instead of the terminal's
    #[arg(long, value_name = "COLUMNS", global = true, hide = true)]
    pub width: Option<u16>,
}

/// When to use colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Colour {
    /// As the terminal and NO_COLOR say.
    Auto,
    /// Always.
    Always,
    /// Never.
    Never,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Suspects in order of probability for the codes on the car, and what to check first
    #[command(after_help = "Example: faultodds rank P0455 P0441 --vehicle age=12,140000km,salt \\\n             \
        --symptom hard-start-after-refuel --result cap-look-reseat=pass --why")]
    Rank(RankArgs),
    /// A car's record from first code to proof of repair: open, record, repair, retest, close, list, back up
    #[command(after_help = "Example: faultodds job open P0455 --vehicle age=9,screw-cap --reference \"bay 3\"")]
    Job(job::JobArgs),
    /// The job as a conversation: one step at a time, every answer stored before the next question
    #[command(after_help = "Example: faultodds guide P0455")]
    Guide(guide::GuideArgs),
    /// A job as a page for the customer, to open in a browser and print on one sheet; --workshop adds the whole record
    #[command(after_help = "Example: faultodds report --job 12 > report.html")]
    Report(pages::ReportArgs),
    /// What to do next: tests, repairs and handing on, best first by what the whole job is then expected to cost
    #[command(after_help = "Example: faultodds next P0455 --vehicle age=9,screw-cap --without smoke-machine")]
    Next(plan::NextArgs),
    /// The whole plan: the next step for every outcome, to the end of the job
    #[command(after_help = "Example: faultodds plan P0455 --form svg > plan.svg")]
    Plan(plan::PlanArgs),
    /// What diagnosis and repair will cost: mean, median, nine in ten, and the likely repairs
    #[command(after_help = "Example: faultodds quote P0455 --within 60 --within 120")]
    Quote(plan::QuoteArgs),
    /// The shop's own rates, tools and prices: show, start or check its file
    #[command(after_help = "Example: faultodds shop show")]
    Shop(plan::ShopFileArgs),
    /// What a tool would save a job, and after how many jobs it has paid for itself
    #[command(after_help = "Example: faultodds worth smoke-machine --codes P0442=5,P0455=3,P0456=2")]
    Worth(plan::WorthArgs),
    /// Symptoms, suspects, tests, cautions, repairs and more in the words people use; exit code 1 when nothing is found
    #[command(after_help = "Example: faultodds search smells of petrol after filling up --in symptoms")]
    Search(SearchArgs),
    /// What a number on a gauge means: hole, hold, vacuum, coil, lamp, sensor, convert
    #[command(after_help = "Example: faultodds gauge hole --decay \"14 -> 8 inH2O in 2 min\" --pressure --tank 60L \
        --fuel 40%")]
    Gauge(gauge::GaugeArgs),
    /// The car's own words: a capture of its diagnostic traffic, or the car itself, unit by unit
    #[command(after_help = "Example: faultodds car read data-demo/car/small-leak.log")]
    Car(car::TalkArgs),
    /// Closed jobs of the past, out of the shop's spreadsheet: map, import, held, decide, counts
    #[command(after_help = "Example: faultodds past import past.csv --mapping past-mapping.yaml")]
    Past(learn::PastArgs),
    /// Learn from closed jobs: an overlay of numbers, each with old, new, interval and jobs; the base is not changed
    #[command(after_help = "Example: faultodds tune --dry-run")]
    Tune(learn::TuneArgs),
    /// Measure on jobs not yet seen whether learning helped; exit code 1 when that is not shown
    #[command(after_help = "Example: faultodds score --svg reliability.svg")]
    Score(learn::ScoreArgs),
    /// The knowledge base: check, show, list, export, schema, diff
    #[command(after_help = "Example: faultodds kb show purge-valve-hold")]
    Kb(KbArgs),
    /// Print a page of the book; without a name, which there are
    #[command(after_help = "Example: faultodds book technician")]
    Book {
        /// Which page: technician, owner or knowledge-writer
        #[arg(value_name = "PAGE")]
        page: Option<String>,
    },
    /// Print the JSON Schema of an answer or file of this program; without a name, which there are
    #[command(after_help = "Example: faultodds schema next > next.schema.json")]
    Schema {
        /// Which shape: the word behind `faultodds.` in its `schema` field
        #[arg(value_name = "SHAPE")]
        shape: Option<String>,
    },
    /// Print completions for a shell
    #[command(
        after_help = "Example: faultodds completions bash > ~/.local/share/bash-completion/completions/faultodds"
    )]
    Completions {
        /// Which shell
        shell: clap_complete::Shell,
    },
    /// What the last of the words may become: asked by the completions of the shells
    #[command(hide = true)]
    Complete {
        /// The words of the line after the program's name, the last one as far as it is typed
        #[arg(last = true)]
        words: Vec<String>,
    },
    /// Write the man pages into a folder
    #[command(after_help = "Example: faultodds man-pages ./man")]
    ManPages {
        /// The folder
        folder: PathBuf,
    },
}

/// What is known of the car: shared by the commands that reason about one.
#[derive(Clone, Debug, Default, Args)]
pub struct CarArgs {
    /// A symptom noticed on the car (repeatable)
    #[arg(long, value_name = "SYMPTOM")]
    pub symptom: Vec<String>,
    /// A symptom that was looked for and is not there (repeatable)
    #[arg(long, value_name = "SYMPTOM")]
    pub no_symptom: Vec<String>,
    /// The outcome of a test: TEST=pass, TEST=fail, TEST=unclear, TEST:READING=LEVEL, or a number with its unit, such
    /// as purge-valve-hold="20 -> 19.3 inHg in 4 min" (repeatable; repeated numbers of one reading count as their mean)
    #[arg(long, value_name = "TEST=OUTCOME")]
    pub result: Vec<String>,
    /// A suspect found with one's own eyes, as PART/MODE or in words, with =probably where it was not seen clearly (repeatable)
    #[arg(long, value_name = "SUSPECT")]
    pub found: Vec<String>,
    /// A suspect looked at and sound, as PART/MODE, or PART for all that can be seen of it (repeatable)
    #[arg(long, value_name = "SUSPECT")]
    pub sound: Vec<String>,
    /// What is known of the vehicle: age=9, year=2017, 140000km, a climate, equipment, circumstances
    #[arg(long, value_name = "WORDS")]
    pub vehicle: Vec<String>,
    /// A repair made before this visit that did not cure it, as PART/REPAIR (repeatable)
    #[arg(long, value_name = "REPAIR")]
    pub already: Vec<String>,
    /// The list of codes is not complete: let absent codes say nothing
    #[arg(long)]
    pub codes_incomplete: bool,
}

/// Which cars of the shop it is like: what `tune` learned of these counts when its overlay is laid over the base.
#[derive(Clone, Debug, Default, Args)]
pub struct GroupArgs {
    /// Make, as the shop's jobs call it
    #[arg(long, value_name = "NAME")]
    pub make: Option<String>,
    /// Model, with --make
    #[arg(long, value_name = "NAME", requires = "make")]
    pub model: Option<String>,
    /// Engine, as the shop's jobs call it
    #[arg(long, value_name = "WORDS")]
    pub engine: Option<String>,
}

/// How suspects are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum RankForm {
    /// For the terminal.
    Text,
    /// Bars with their intervals, as a drawing.
    Svg,
}

/// `rank`.
#[derive(Debug, Args)]
pub struct RankArgs {
    /// The codes on the car
    #[arg(value_name = "CODE")]
    pub codes: Vec<String>,
    /// What it says of itself.
    #[command(flatten)]
    pub capture: car::CaptureArgs,
    /// The car.
    #[command(flatten)]
    pub car: CarArgs,
    /// Its make, model and engine.
    #[command(flatten)]
    pub group: GroupArgs,
    /// Tools at hand, by id, separated by commas; without this, any tool is proposed
    #[arg(long, value_name = "TOOLS", value_delimiter = ',')]
    pub tools: Option<Vec<String>>,
    /// Show what each finding did to the leading suspects
    #[arg(long)]
    pub why: bool,
    /// Show everything: every suspect with its interval, numbers and what they weigh, more checks, what it rests on
    #[arg(long)]
    pub long: bool,
    /// Show this many suspects
    #[arg(long, value_name = "N")]
    pub top: Option<usize>,
    /// How to write it
    #[arg(long, value_name = "FORM", value_enum, default_value = "text")]
    pub form: RankForm,
    /// Answer in JSON
    #[arg(long, conflicts_with = "form")]
    pub json: bool,
    /// Answer for a job instead of codes on the line
    #[command(flatten)]
    pub which: shared::WhichArgs,
    /// Where jobs are kept.
    #[command(flatten)]
    pub store: shared::StoreArgs,
}

/// `search`.
#[derive(Debug, Args)]
pub struct SearchArgs {
    /// What to look for; words in double quotes must stand together, as in '"filler cap" rust'
    #[arg(value_name = "WORDS", required = true)]
    pub words: Vec<String>,
    /// Search only in these: symptoms, suspects, parts, codes, tests, cautions, repairs, circumstances, gauges (repeatable, or
    /// separated by commas); or in `past`, the notes and causes of the shop's own jobs and of past ones
    #[arg(long = "in", value_name = "KINDS", value_delimiter = ',')]
    pub kinds: Vec<String>,
    /// Show this many hits
    #[arg(long, value_name = "N", default_value_t = 10)]
    pub top: usize,
    /// Answer in JSON
    #[arg(long)]
    pub json: bool,
    /// Where jobs are kept.
    #[command(flatten)]
    pub store: shared::StoreArgs,
    /// Where past jobs are kept.
    #[command(flatten)]
    pub past: shared::PastStoreArgs,
}

/// `kb`.
#[derive(Debug, Args)]
pub struct KbArgs {
    /// What to do with the base
    #[command(subcommand)]
    pub command: KbCommand,
}

/// `kb show`.
#[derive(Debug, Args)]
pub struct ShowArgs {
    /// Its id
    pub id: String,
    /// Show it as it is on a car of which this is known
    #[arg(long, value_name = "WORDS")]
    pub vehicle: Vec<String>,
    /// Show it on the car of this job, and what is likely there now
    #[arg(long, short, value_name = "NUMBER")]
    pub job: Option<i64>,
    /// Where jobs are kept.
    #[command(flatten)]
    pub store: shared::StoreArgs,
    /// Answer in JSON: the entry as it is in the base
    #[arg(long, conflicts_with_all = ["vehicle", "job"])]
    pub json: bool,
}

/// The commands on the base.
#[derive(Debug, Subcommand)]
pub enum KbCommand {
    /// Check every entry and run every worked case; exit code 1 when something is wrong
    #[command(after_help = "Example: faultodds kb check --kb ./kb")]
    Check {
        /// Say nothing when all is well
        #[arg(long)]
        quiet: bool,
        /// Answer in JSON
        #[arg(long)]
        json: bool,
    },
    /// Show a code, part, suspect, test, symptom, monitor, tool, setup, caution, source or factor
    #[command(
        after_help = "Examples:\n  faultodds kb show P0442\n  faultodds kb show cap-leak-test --vehicle sealed-tank\n  faultodds kb show filler-cap/loose --job 3"
    )]
    Show(ShowArgs),
    /// List the entries of a kind
    #[command(after_help = "Example: faultodds kb list tests")]
    List {
        /// Which kind; without it, how many there are of each
        kind: Option<String>,
        /// Answer in JSON
        #[arg(long)]
        json: bool,
    },
    /// Print the network that inference uses, after the vehicle's factors
    #[command(after_help = "Example: faultodds kb export --json --vehicle age=9,salt")]
    Export {
        /// Answer in JSON (the only form there is)
        #[arg(long)]
        json: bool,
        /// What is known of the vehicle
        #[arg(long, value_name = "WORDS")]
        vehicle: Vec<String>,
        /// A repair made before this visit that did not cure it (repeatable)
        #[arg(long, value_name = "REPAIR")]
        already: Vec<String>,
    },
    /// Print the JSON Schema of a kind of entry, for an editor
    #[command(after_help = "Example: faultodds kb schema tests > tests.schema.json")]
    Schema {
        /// Which kind; without it, one schema for every kind
        kind: Option<String>,
    },
    /// Show how two bases differ; exit code 1 when they do
    #[command(after_help = "Example: faultodds kb diff ./kb ./kb-new")]
    Diff {
        /// The older base: a folder, `shipped`, or the file of an overlay, which is laid over the shipped base
        old: String,
        /// The newer base, likewise; --overlay is laid over this one
        new: String,
        /// Answer in JSON
        #[arg(long)]
        json: bool,
    },
}

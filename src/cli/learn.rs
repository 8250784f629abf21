//! `past`, `tune` and `score` as typed. What the words mean is settled by the commands.

use super::shared::{PastStoreArgs, ShopArgs, StoreArgs};
use clap::{Args, Subcommand};
use std::path::PathBuf;

/// `past`.
#[derive(Debug, Args)]
pub struct PastArgs {
    /// Where past jobs are.
    #[command(flatten)]
    pub store: PastStoreArgs,
    /// What to do
    #[command(subcommand)]
    pub command: PastCommand,
}

/// The commands on past jobs.
#[derive(Debug, Subcommand)]
pub enum PastCommand {
    /// Draft the mapping of a spreadsheet: which column is what
    #[command(after_help = "Example: faultodds past map past.csv > past-mapping.yaml")]
    Map {
        /// The spreadsheet: delimited text, .xlsx or .ods
        file: PathBuf,
    },
    /// Bring the closed jobs of a spreadsheet in; what came in before is not brought in again
    #[command(after_help = "Example: faultodds past import past.csv --mapping past-mapping.yaml --dry-run")]
    Import(ImportArgs),
    /// Print the causes that the shop's words alone do not settle, as a file to edit
    #[command(after_help = "Example: faultodds past held > held.yaml")]
    Held,
    /// List every wording of a cause, what it was read as, how often, and how certain that is
    #[command(after_help = "Example: faultodds past words --top 20")]
    Words {
        /// Show this many, the commonest first; 0 for all
        #[arg(long, value_name = "N", default_value_t = 40)]
        top: usize,
        /// Print all of them as a file to edit, decisions included, for `past decide`
        #[arg(long)]
        edit: bool,
        /// Answer in JSON
        #[arg(long)]
        json: bool,
    },
    /// Take over what was decided about causes: in the file of `past held` or `past words --edit`, or said here
    #[command(
        after_help = "Examples: faultodds past decide held.yaml\n          faultodds past decide --words \"new gas cap\" --cause filler-cap/seal-worn"
    )]
    Decide {
        /// The edited file
        #[arg(required_unless_present = "words")]
        file: Option<PathBuf>,
        /// A wording, as the shop wrote it
        #[arg(long, value_name = "TEXT", requires = "cause", conflicts_with = "file")]
        words: Option<String>,
        /// What it means: an id, several joined by ` + ` or ` or `, unsure, no-fault, not-listed, leave-out; `?` takes your
        /// decision back
        #[arg(long, value_name = "ID", requires = "words")]
        cause: Option<String>,
    },
    /// Print the counts that learning needs, and no job: what shops can merge
    ///
    /// No cell speaks of fewer than `--least` jobs: what is rarer is lumped. That costs some of what could be learned of rare
    /// faults, rare codes and rare results of tests; with `--least 1` nothing is lost and nothing is hidden.
    #[command(after_help = "Example: faultodds past counts --as north-street > our-counts.json")]
    Counts {
        /// Fewest jobs that a cell may speak of
        #[arg(long, value_name = "JOBS", default_value_t = learning::lumped::LEAST)]
        least: f64,
        /// The name that this shop goes under among others, so that its difference can be learned
        #[arg(long = "as", value_name = "NAME")]
        shop: Option<String>,
        /// The jobs recorded with `job` count too; where they are.
        #[command(flatten)]
        jobs: StoreArgs,
        /// Count only past jobs, not those recorded with `job`
        #[arg(long)]
        past_only: bool,
        /// Print the SQL that counts the same in the tables of `past export`, instead of the counts
        #[arg(long)]
        sql: bool,
    },
    /// Write the past jobs as two tables for SQL engines: CSV by shop and year, without customer, plate, day or words
    #[command(after_help = "Example: faultodds past export tables --as north-street")]
    Export {
        /// A folder that is new or empty
        folder: PathBuf,
        /// The name that this shop goes under among others
        #[arg(long = "as", value_name = "NAME", default_value = "this-shop")]
        shop: String,
    },
    /// Take the jobs of one import out again; their numbers are listed by `past show`
    #[command(after_help = "Example: faultodds past forget 1 --yes")]
    Forget {
        /// Number of the import
        import: i64,
        /// Do it
        #[arg(long)]
        yes: bool,
    },
    /// How many past jobs there are, by what is known of their cause, and what was brought in
    #[command(after_help = "Example: faultodds past show")]
    Show {
        /// Answer in JSON
        #[arg(long)]
        json: bool,
    },
    /// Check that the store of past jobs is whole; exit code 1 when it is not
    #[command(after_help = "Example: faultodds past check")]
    Check,
    /// The shop's page: was the first suspect right, what is dear, where the hours went, what a tool would have saved
    #[command(after_help = "Example: faultodds past report > shop.html")]
    Report(super::pages::PastReportArgs),
    /// Take all past jobs and decisions out again
    #[command(after_help = "Example: faultodds past clear --yes")]
    Clear {
        /// Do it
        #[arg(long)]
        yes: bool,
    },
}

/// `past import`.
#[derive(Debug, Args)]
pub struct ImportArgs {
    /// The spreadsheet: delimited text, .xlsx or .ods
    pub file: PathBuf,
    /// Which column is what; drafted by `past map`
    #[arg(long, short, value_name = "FILE")]
    pub mapping: Option<PathBuf>,
    /// Say what would happen and keep nothing
    #[arg(long)]
    pub dry_run: bool,
    /// Write every refused row with its reason into this file
    #[arg(long, value_name = "FILE")]
    pub refused: Option<PathBuf>,
    /// Answer in JSON
    #[arg(long)]
    pub json: bool,
}

/// `tune`.
#[derive(Debug, Args)]
pub struct TuneArgs {
    /// Where past jobs are.
    #[command(flatten)]
    pub store: PastStoreArgs,
    /// Where jobs recorded with `job` are.
    #[command(flatten)]
    pub jobs: StoreArgs,
    /// Learn from these files of counts instead of the jobs here (repeatable)
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub counts: Vec<PathBuf>,
    /// Learn only from past jobs, not from those recorded with `job`
    #[arg(long)]
    pub past_only: bool,
    /// Write the overlay here instead of to the data folder
    #[arg(long, short, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// The name that this shop goes under in the files of counts, so that what sets it apart from the others is kept
    #[arg(long = "as", value_name = "NAME")]
    pub shop: Option<String>,
    /// Show what would change and write nothing
    #[arg(long)]
    pub dry_run: bool,
    /// Name the jobs behind each change, up to this many
    #[arg(long, value_name = "JOBS", num_args = 0..=1, default_value_t = 0, default_missing_value = "12")]
    pub why: usize,
    /// Show this many changes of each kind
    #[arg(long, value_name = "N", default_value_t = 8)]
    pub top: usize,
    /// Answer in JSON
    #[arg(long)]
    pub json: bool,
}

/// `score`.
#[derive(Debug, Args)]
pub struct ScoreArgs {
    /// Where past jobs are.
    #[command(flatten)]
    pub store: PastStoreArgs,
    /// Where jobs recorded with `job` are.
    #[command(flatten)]
    pub jobs: StoreArgs,
    /// Score only past jobs, not those recorded with `job`
    #[arg(long)]
    pub past_only: bool,
    /// Share of the jobs, the earliest, that is only learned from
    #[arg(long, value_name = "SHARE", default_value_t = 0.5)]
    pub first: f64,
    /// Learn anew this often over the scored jobs; each time from all jobs before
    #[arg(long, value_name = "TIMES", default_value_t = 20)]
    pub refits: usize,
    /// Make plans on this many of the scored jobs, taken by lot, to compare what they would have cost; 0 for none
    #[arg(long, value_name = "JOBS", default_value_t = 40)]
    pub plans: usize,
    /// What is paid.
    #[command(flatten)]
    pub shop: ShopArgs,
    /// Write the reliability plot here, as SVG
    #[arg(long, value_name = "FILE")]
    pub svg: Option<PathBuf>,
    /// Answer in JSON
    #[arg(long)]
    pub json: bool,
}

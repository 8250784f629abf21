//! `next`, `plan`, `quote` and `worth` as typed. What the words mean is settled by the commands.

use super::shared::{PastStoreArgs, ShopArgs, StoreArgs, WhichArgs};
use super::{CarArgs, GroupArgs};
use clap::{Args, Subcommand, ValueEnum};
use std::path::PathBuf;

/// The car that is meant: said on the line, or the current job.
#[derive(Clone, Debug, Default, Args)]
pub struct SubjectArgs {
    /// The codes on the car; without codes and symptoms, the current job is meant
    #[arg(value_name = "CODE")]
    pub codes: Vec<String>,
    /// The car.
    #[command(flatten)]
    pub car: CarArgs,
    /// What it says of itself.
    #[command(flatten)]
    pub capture: super::car::CaptureArgs,
    /// Its make, model and engine.
    #[command(flatten)]
    pub group: GroupArgs,
    /// The job.
    #[command(flatten)]
    pub which: WhichArgs,
    /// The store.
    #[command(flatten)]
    pub store: StoreArgs,
}

/// `next`.
#[derive(Debug, Args)]
pub struct NextArgs {
    /// Whose next step.
    #[command(flatten)]
    pub subject: SubjectArgs,
    /// The shop.
    #[command(flatten)]
    pub shop: ShopArgs,
    /// Show everything: more steps, why this one, how it is done, tools that would save
    #[arg(long)]
    pub long: bool,
    /// Show this many steps
    #[arg(long, value_name = "N", default_value_t = 6)]
    pub top: usize,
    /// Say of this test where it stands, or why it is not among the steps (repeatable)
    #[arg(long, value_name = "TEST", conflicts_with = "json")]
    pub about: Vec<String>,
    /// Answer in JSON
    #[arg(long)]
    pub json: bool,
}

/// How a plan is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum PlanForm {
    /// For the terminal.
    Text,
    /// Graphviz.
    Dot,
    /// Mermaid.
    Mermaid,
    /// A drawing on sheets of A4.
    Svg,
    /// A page to carry: one file to open in a browser, that goes on by what was found.
    Html,
}

/// `plan`.
#[derive(Debug, Args)]
pub struct PlanArgs {
    /// Whose plan.
    #[command(flatten)]
    pub subject: SubjectArgs,
    /// The shop.
    #[command(flatten)]
    pub shop: ShopArgs,
    /// Show this many steps in a row; 12, on a page 40
    #[arg(long, value_name = "N")]
    pub depth: Option<usize>,
    /// Leave out what happens to fewer cars than this, in per cent; 2, on a page 0.8
    #[arg(long, value_name = "PER CENT")]
    pub least: Option<f64>,
    /// How to write it
    #[arg(long, value_name = "FORM", value_enum, default_value = "text")]
    pub form: PlanForm,
    /// Answer in JSON
    #[arg(long, conflicts_with = "form")]
    pub json: bool,
}

/// `quote`.
#[derive(Debug, Args)]
pub struct QuoteArgs {
    /// Whose quote.
    #[command(flatten)]
    pub subject: SubjectArgs,
    /// The shop.
    #[command(flatten)]
    pub shop: ShopArgs,
    /// Also the chance to be done within so many minutes (repeatable)
    #[arg(long, value_name = "MINUTES")]
    pub within: Vec<f64>,
    /// Also the chance that the car is repaired for at most this much; without it, the limit of the job
    #[arg(long, value_name = "AMOUNT")]
    pub limit: Option<f64>,
    /// Check the mean on this many simulated cars; exit code 1 when they do not agree with the plan
    #[arg(long, value_name = "CARS")]
    pub check: Option<usize>,
    /// Answer in JSON
    #[arg(long)]
    pub json: bool,
}

/// `worth`.
#[derive(Debug, Args)]
pub struct WorthArgs {
    /// The tool, by id
    #[arg(value_name = "TOOL")]
    pub tool: String,
    /// The codes that come to the shop, each alone, as CODE or CODE=JOBS; without it, every code of the base alike
    #[arg(long, value_name = "CODES", value_delimiter = ',')]
    pub codes: Vec<String>,
    /// The codes of the shop's own closed jobs: those brought in with `past` and those recorded with `job`
    #[arg(long, conflicts_with = "codes")]
    pub own_jobs: bool,
    /// Where past jobs are.
    #[command(flatten)]
    pub past: PastStoreArgs,
    /// Where jobs recorded with `job` are.
    #[command(flatten)]
    pub jobs: StoreArgs,
    /// What is known of the vehicles
    #[arg(long, value_name = "WORDS")]
    pub vehicle: Vec<String>,
    /// What the tool costs, instead of the price in the base
    #[arg(long, value_name = "AMOUNT", allow_negative_numbers = true)]
    pub price: Option<f64>,
    /// The shop.
    #[command(flatten)]
    pub shop: ShopArgs,
    /// Answer in JSON
    #[arg(long)]
    pub json: bool,
}

/// `shop`.
#[derive(Debug, Args)]
pub struct ShopFileArgs {
    /// The shop file, instead of the one in the configuration folder (or FAULTODDS_SHOP)
    #[arg(long, value_name = "FILE", env = "FAULTODDS_SHOP", hide_env = true, global = true)]
    pub shop: Option<PathBuf>,
    /// What to do
    #[command(subcommand)]
    pub command: ShopCommand,
}

/// The commands on the shop file.
#[derive(Clone, Copy, Debug, Subcommand)]
pub enum ShopCommand {
    /// Show what counts: rates, tools, prices, and from which file
    #[command(after_help = "Example: faultodds shop show")]
    Show,
    /// Begin a file with example values, to put in your own
    #[command(after_help = "Example: faultodds shop start")]
    Start,
    /// Check the file; the first thing that is wrong is told with its place
    #[command(after_help = "Example: faultodds shop check --shop my-shop.yaml")]
    Check,
}

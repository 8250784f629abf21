//! `report` and `past report` as typed: pages to look at and hand over.

use super::shared::{ShopArgs, StoreArgs, WhichArgs};
use clap::Args;

/// `report`.
#[derive(Debug, Args)]
pub struct ReportArgs {
    /// The job, as `--job` says it elsewhere
    #[arg(hide = true)]
    pub number: Option<i64>,
    /// Which job.
    #[command(flatten)]
    pub which: WhichArgs,
    /// Add the workshop's record: every step, every figure, the cautions in full
    #[arg(long)]
    pub workshop: bool,
    /// The shop, for its rate.
    #[command(flatten)]
    pub shop: ShopArgs,
    /// Where jobs are kept.
    #[command(flatten)]
    pub store: StoreArgs,
}

/// `past report`.
#[derive(Debug, Args)]
pub struct PastReportArgs {
    /// Also what this tool would have saved (repeatable); without it, those that the shop lacks, else the dearest two
    #[arg(long, value_name = "TOOL")]
    pub tool: Vec<String>,
    /// Only past jobs, not those recorded with `job`
    #[arg(long)]
    pub past_only: bool,
    /// The figures in JSON instead of the page
    #[arg(long)]
    pub json: bool,
    /// The shop, for its rate and tools.
    #[command(flatten)]
    pub shop: ShopArgs,
    /// Where jobs recorded with `job` are.
    #[command(flatten)]
    pub jobs: StoreArgs,
}

//! What several commands take alike: where jobs are kept, which job is meant, what is true of the shop.

use clap::Args;
use std::path::PathBuf;

/// Where jobs are kept.
#[derive(Clone, Debug, Default, Args)]
pub struct StoreArgs {
    /// Keep jobs in this file instead of the one in the data folder (or FAULTODDS_DB)
    #[arg(long, value_name = "FILE", env = "FAULTODDS_DB", hide_env = true, global = true, help_heading = super::GENERAL)]
    pub db: Option<PathBuf>,
}

/// Which job is meant.
#[derive(Clone, Debug, Default, Args)]
pub struct WhichArgs {
    /// The job; without it, the current one (or FAULTODDS_JOB)
    #[arg(long, short, value_name = "NUMBER", env = "FAULTODDS_JOB", hide_env = true, global = true)]
    pub job: Option<i64>,
}

impl WhichArgs {
    /// The job that the command line names, not the one that the environment holds for whoever names none.
    #[must_use]
    pub fn typed(&self) -> Option<i64> {
        let held = std::env::var("FAULTODDS_JOB").ok().and_then(|held| held.trim().parse::<i64>().ok());
        self.job.filter(|job| held != Some(*job))
    }
}

/// Where past jobs are kept.
#[derive(Clone, Debug, Default, Args)]
pub struct PastStoreArgs {
    /// Keep past jobs in this file instead of the one in the data folder
    #[arg(long = "past", value_name = "FILE", env = "FAULTODDS_PAST", global = true)]
    pub past: Option<PathBuf>,
}

/// What is true of the shop.
#[derive(Clone, Debug, Default, Args)]
pub struct ShopArgs {
    /// The shop file: rates, prices, tools, times; without it, the one in the configuration folder, or standard values
    #[arg(long, value_name = "FILE", env = "FAULTODDS_SHOP")]
    pub shop: Option<PathBuf>,
    /// Tools at hand, by id, separated by commas, instead of the shop file's
    #[arg(long, value_name = "TOOLS", value_delimiter = ',')]
    pub tools: Option<Vec<String>>,
    /// A tool that is not at hand (repeatable, or separated by commas)
    #[arg(long, value_name = "TOOL", value_delimiter = ',')]
    pub without: Vec<String>,
    /// Labour rate for an hour
    #[arg(long, value_name = "AMOUNT", allow_negative_numbers = true)]
    pub rate: Option<f64>,
    /// What it costs to hand the vehicle on with the cause unknown
    #[arg(long, value_name = "AMOUNT", allow_negative_numbers = true)]
    pub hand_on: Option<f64>,
    /// Keep minutes small instead of money
    #[arg(long)]
    pub minutes_only: bool,
}

//! `guide` as typed.

use super::car::FirstCaptureArgs;
use super::shared::{ShopArgs, StoreArgs, WhichArgs};
use super::{CarArgs, GroupArgs};
use clap::Args;

/// `guide`.
#[derive(Debug, Args)]
pub struct GuideArgs {
    /// Codes on the car: opens a new job; without them, the current job goes on
    #[arg(value_name = "CODE")]
    pub codes: Vec<String>,
    /// What it says of itself.
    #[command(flatten)]
    pub capture: FirstCaptureArgs,
    /// The car, for a new job.
    #[command(flatten)]
    pub car: CarArgs,
    /// Its make, model and engine, for a new job.
    #[command(flatten)]
    pub group: GroupArgs,
    /// The shop.
    #[command(flatten)]
    pub shop: ShopArgs,
    /// Where jobs are kept.
    #[command(flatten)]
    pub store: StoreArgs,
    /// Which job.
    #[command(flatten)]
    pub which: WhichArgs,
}

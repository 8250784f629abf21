//! What is asked of the planner: a car with its evidence, a shop, and how far to look.

use super::Shop;
use inference::Evidence;
use knowledge::base::Base;
use network::Network;

/// What is asked.
#[derive(Clone, Copy, Debug)]
pub struct Question<'a> {
    /// The base.
    pub base: &'a Base,
    /// Its network for the vehicle.
    pub network: &'a Network,
    /// What was observed and done.
    pub evidence: &'a Evidence,
    /// The shop.
    pub shop: &'a Shop,
    /// Tests that were done but told nothing: not offered again before a repair, their setups paid for.
    pub silent: &'a [String],
    /// Worlds below this probability are left out.
    pub min_mass: f64,
    /// At most so many worlds.
    pub max_worlds: usize,
    /// Worlds below this probability do not take part in looking ahead, only in exact expectations.
    pub lean_mass: f64,
}

impl<'a> Question<'a> {
    /// For one answer within milliseconds: worlds down to one in ten thousand.
    #[must_use]
    pub fn quick(base: &'a Base, network: &'a Network, evidence: &'a Evidence, shop: &'a Shop) -> Self {
        Self { base, network, evidence, shop, silent: &[], min_mass: 1e-4, max_worlds: 1_000, lean_mass: 2e-4 }
    }

    /// For a plan whose expectation is to be right: worlds down to one in a million.
    #[must_use]
    pub fn thorough(base: &'a Base, network: &'a Network, evidence: &'a Evidence, shop: &'a Shop) -> Self {
        Self { min_mass: 1e-6, max_worlds: 9_000, ..Self::quick(base, network, evidence, shop) }
    }
}

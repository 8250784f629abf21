//! Leaks as holes: how large a suspect's opening is and where it sits, and which openings a finding senses.

use super::links::Basis;
use super::{Section, When};
use crate::number::{Probability, Weight};
use serde::{Deserialize, Serialize};

/// The hole that a leaking suspect makes, as a round sharp-edged one of the same flow.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Opening {
    /// Median of the diameter over cars, in mm.
    pub median_mm: f64,
    /// Multiplicative standard deviation over cars (log-normal), above 1.
    pub spread: f64,
    /// The section of the system that it opens.
    pub at: Section,
}

/// Which openings a finding senses. What the formulas make of it is in `network::openings`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Senses {
    /// The sections that are inside what is looked at: what a plug, a clamp or a removed part excludes is not named.
    pub sections: Vec<Section>,
    /// The diameter in mm from which each abnormal level is reached, rising. Levels beyond have no limit of their own:
    /// what a code there gives as `p` is the share of what passes the last limit.
    pub limits_mm: Vec<f64>,
    /// How the limits scatter, between vehicles, machines and eyes (multiplicative standard deviation).
    pub spread: f64,
    /// P(an opening far beyond the first limit is noticed at all).
    pub reach: Probability,
}

/// Another suspect that this one brings about.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Brings {
    /// `part/mode`.
    pub suspect: String,
    /// P(brought about | the cause has been there).
    pub p: Probability,
    /// When a renewed victim falls again.
    pub when: When,
    /// How many jobs `p` is worth.
    pub weight: Weight,
    /// Where it comes from.
    pub basis: Basis,
}

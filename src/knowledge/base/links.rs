//! How strongly one suspect shows in one effect, and where such a number comes from.

use crate::number::{Probability, Weight};
use serde::{Deserialize, Serialize};

/// Where a number comes from: plain judgement, or a source of the base.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Basis {
    /// Judgement of people who know the trade.
    Judgement,
    /// The id of a source.
    Source(String),
}

/// P(effect | that suspect alone), one number per abnormal level.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SuspectLink {
    /// `part/mode`.
    pub suspect: String,
    /// One probability per abnormal level; adds up to at most 1.
    pub p: Vec<Probability>,
    /// Why it is seen otherwise than the suspects that leave the car in the same state.
    pub apart: Option<String>,
    /// How many jobs that is worth.
    pub weight: Weight,
    /// Where it comes from.
    pub basis: Basis,
}

/// P(symptom noticed | the suspect that holds this link).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SymptomLink {
    /// Symptom id.
    pub symptom: String,
    /// The probability.
    pub p: Probability,
    /// How many jobs that is worth.
    pub weight: Weight,
    /// Where it comes from.
    pub basis: Basis,
}

//! What a vehicle has and what is known of it, and what multiplies priors accordingly.

use super::{Basis, FactorInput};
use crate::number::{Probability, Times};
use serde::{Deserialize, Serialize};

/// One of the things a vehicle may have.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct EquipmentOption {
    /// Id, unique over all equipment.
    pub id: String,
    /// What it is called.
    pub name: String,
    /// Other names people use.
    pub also: Vec<String>,
    /// Share of vehicles when unknown.
    pub share: Probability,
}

/// A choice of equipment.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Equipment {
    /// Id.
    pub id: String,
    /// What is chosen.
    pub name: String,
    /// How to ask.
    pub question: String,
    /// The alternatives.
    pub options: Vec<EquipmentOption>,
}

/// One band of a factor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Band {
    /// Which values it covers.
    pub covers: Covers,
    /// Relative multiplier, as written.
    pub times: Times,
    /// Share of vehicles in it.
    pub share: Probability,
}

/// Which values a band covers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Covers {
    /// Numbers from (inclusive) to (exclusive; none for the last band).
    Range(f64, Option<f64>),
    /// A climate or circumstance.
    Word(String),
}

/// What multiplies priors.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Factor {
    /// Id.
    pub id: String,
    /// What it is.
    pub name: String,
    /// Other ways to say it.
    pub also: Vec<String>,
    /// What it reads.
    pub input: FactorInput,
    /// The fact that it is, where a symptom can be the same.
    pub fact: Option<String>,
    /// Where the numbers come from.
    pub basis: Basis,
    /// The bands.
    pub bands: Vec<Band>,
}

/// What is known of the vehicle; all of it optional.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Vehicle {
    /// Age in years.
    pub age: Option<f64>,
    /// Mileage in km.
    pub mileage_km: Option<f64>,
    /// Climate words; a desert is hot and dusty, a coast can be hot and salt.
    pub climates: Vec<String>,
    /// Equipment option ids it has.
    pub equipment: Vec<String>,
    /// Circumstances that hold.
    pub circumstances: Vec<String>,
}

//! The knowledge base as checked types: nothing after this module checks an id or a limit again.

mod case;
mod code;
mod links;
mod lookup;
mod opening;
mod part;
mod shared;
mod test;
mod vehicle;
mod words;

pub use case::{Case, CaseEpoch, Claim, Expect, Subject};
pub use code::{Code, Condition, Monitor, NotListed, TestResult};
pub use links::{Basis, SuspectLink, SymptomLink};
pub use opening::{Brings, Opening, Senses};
pub use part::{Part, Repair, Seen, Suspect};
pub use shared::{Caution, Setup, Source, Symptom, Tool};
pub use test::{CarAnswer, CarWindow, Distribution, Measure, Reading, Test};
pub use vehicle::{Band, Covers, Equipment, EquipmentOption, Factor, Vehicle};
pub use words::{
    Adjust, CarRule, CodeKind, DistributionShape, FactorInput, Hazard, Open, Quantity, ReadyGroup, Runs, Section,
    SourceKind, TitleBasis, When,
};

use serde::{Deserialize, Serialize};

/// The whole base, every list sorted by id.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Base {
    /// Codes.
    pub codes: Vec<Code>,
    /// Monitors.
    pub monitors: Vec<Monitor>,
    /// Parts with their suspects and repairs.
    pub parts: Vec<Part>,
    /// Tests.
    pub tests: Vec<Test>,
    /// Symptoms.
    pub symptoms: Vec<Symptom>,
    /// Setups.
    pub setups: Vec<Setup>,
    /// Tools.
    pub tools: Vec<Tool>,
    /// Cautions.
    pub cautions: Vec<Caution>,
    /// Sources.
    pub sources: Vec<Source>,
    /// Equipment.
    pub equipment: Vec<Equipment>,
    /// Factors.
    pub factors: Vec<Factor>,
    /// Groups of words that mean the same.
    pub synonyms: Vec<Vec<String>>,
    /// Worked cases.
    pub cases: Vec<Case>,
}

/// What the ids of "cause not listed here" start with.
pub const NOT_LISTED_PREFIX: &str = "not-listed/";

//! Worked cases: evidence in, what must come out.

use super::Vehicle;
use serde::{Deserialize, Serialize};

/// What a worked case expects.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Expect {
    /// Suspect or part meant.
    pub subject: Subject,
    /// What must hold of it.
    pub claim: Claim,
    /// Line in the case's file, for the report.
    pub line: u32,
    /// Column in that line.
    pub column: u32,
}

/// Who an expectation speaks of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Subject {
    /// A suspect.
    Suspect(String),
    /// A part: any of its suspects.
    Part(String),
    /// The first step of the plan.
    FirstStep(String),
}

/// What must hold.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Claim {
    /// Ranks among the first so many.
    Within(u32),
    /// Ranks above that suspect.
    Above(String),
    /// Probability at least.
    AtLeast(f64),
    /// Probability at most.
    AtMost(f64),
    /// The subject is the first step.
    IsFirst,
}

/// One epoch of a worked case.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CaseEpoch {
    /// Codes present.
    pub codes: Vec<String>,
    /// Symptoms noticed.
    pub symptoms: Vec<String>,
    /// Symptoms looked for and absent.
    pub no_symptoms: Vec<String>,
    /// Reading id and outcome.
    pub results: Vec<(String, String)>,
    /// Suspects found with one's own eyes.
    pub found: Vec<String>,
    /// Suspects looked at and sound.
    pub sound: Vec<String>,
    /// The repair that ends it; none for the present.
    pub repair: Option<String>,
}

/// A worked case.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Case {
    /// Id.
    pub id: String,
    /// File it stands in, for the report.
    pub path: String,
    /// What it shows.
    pub title: String,
    /// The experience it stands on.
    pub why: String,
    /// The vehicle.
    pub vehicle: Vehicle,
    /// Repairs before the visit.
    pub already: Vec<String>,
    /// Epochs, the present last.
    pub epochs: Vec<CaseEpoch>,
    /// Tools at hand; none means all.
    pub tools: Option<Vec<String>>,
    /// What must come out.
    pub expect: Vec<Expect>,
}

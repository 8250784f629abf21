//! Stored codes and the checks of the engine computer that end in them.

use super::{Basis, CodeKind, ReadyGroup, Runs, Senses, SuspectLink, SymptomLink, TitleBasis};
use crate::number::{Probability, Weight};
use serde::{Deserialize, Serialize};

/// A stored trouble code.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Code {
    /// `P0455`.
    pub id: String,
    /// Folder it stands in.
    pub family: String,
    /// Public title.
    pub title: String,
    /// Where the title comes from.
    pub title_basis: TitleBasis,
    /// Other wordings.
    pub also: Vec<String>,
    /// What the computer saw.
    pub saw: String,
    /// Sort of fault.
    pub kind: CodeKind,
    /// Monitor id.
    pub monitor: String,
    /// P(stored | no listed suspect).
    pub leak: Probability,
    /// Where the numbers come from.
    pub basis: Basis,
    /// What they are worth.
    pub weight: Weight,
    /// Suspects that set it.
    pub sets: Vec<SuspectLink>,
    /// What a technician should know.
    pub note: Option<String>,
}

/// A condition under which a monitor runs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Condition {
    /// The quantity.
    pub what: String,
    /// The window.
    pub needs: String,
    /// Where that comes from.
    pub basis: Basis,
}

/// The "cause not listed here" of one monitor; its suspect id is `not-listed/MONITOR`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NotListed {
    /// Prevalence.
    pub prior: Probability,
    /// P(monitor ends in the code | cause not listed).
    pub sets: Vec<(String, Probability)>,
    /// Symptoms that go with it.
    pub symptoms: Vec<SymptomLink>,
}

/// A test result that a car reports, by the standard's number of the monitor.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TestResult {
    /// The standard's number.
    pub test: u8,
    /// The code that a failed result ends in.
    pub code: String,
}

/// One check the engine computer makes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Monitor {
    /// Id.
    pub id: String,
    /// Folder it stands in.
    pub family: String,
    /// What it is called.
    pub name: String,
    /// What it does.
    pub watches: String,
    /// When.
    pub runs: Runs,
    /// Failed trips before the code is stored.
    pub trips: u32,
    /// Where its numbers come from.
    pub basis: Basis,
    /// What they are worth.
    pub weight: Weight,
    /// Conditions under which it runs.
    pub conditions: Vec<Condition>,
    /// The bit of readiness that tells whether it has run.
    pub readiness: Option<ReadyGroup>,
    /// Codes it can end in, mildest first.
    pub levels: Vec<String>,
    /// Results of its own tests that the car reports (service 06), and the code that each stands for.
    pub test_results: Vec<TestResult>,
    /// The openings it senses.
    pub senses: Option<Senses>,
    /// Monitors that keep it from running once failed.
    pub suspended_by: Vec<String>,
    /// Its own cause not listed.
    pub not_listed: NotListed,
    /// Tests that prove a repair on the spot.
    pub proof: Vec<String>,
}

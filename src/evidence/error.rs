//! Why something a person said cannot be used, with near misses. A screen turns these into reports.

use gauge::GaugeError;
use knowledge::near::near;
use std::fmt;

/// What an id was meant to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A code.
    Code,
    /// A symptom.
    Symptom,
    /// A test.
    Test,
    /// A reading of a test.
    Reading,
    /// A suspect.
    Suspect,
    /// A repair.
    Repair,
    /// A test or a repair.
    Step,
    /// A tool.
    Tool,
    /// A word about the vehicle.
    Vehicle,
    /// Any entry of the base.
    Entry,
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Code => "code",
            Self::Symptom => "symptom",
            Self::Test => "test",
            Self::Reading => "reading",
            Self::Suspect => "suspect or part",
            Self::Repair => "repair",
            Self::Step => "test or repair",
            Self::Tool => "tool",
            Self::Vehicle => "word about the vehicle",
            Self::Entry => "entry",
        })
    }
}

/// The outcome is empty.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("an outcome is pass, fail, unclear, the name of a level, or a number with its unit")]
pub struct ParseOutcomeError;

/// Why something said cannot be used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum EvidenceError {
    /// The base has nothing of this id.
    #[error("the base has no {kind} `{id}`")]
    Unknown {
        /// What it was meant to be.
        kind: Kind,
        /// As given.
        id: String,
        /// Near misses.
        near: Vec<String>,
        /// What else is known about it.
        about: Option<String>,
    },
    /// The reading has no such outcome.
    #[error(
        "`{reading}` has no outcome `{outcome}`; it is pass, fail, unclear, {}one of: {}",
        number.as_ref().map_or_else(|| "or ".to_owned(), |unit| format!("a number in {unit} or the like, or ")),
        outcomes.join(", ")
    )]
    UnknownOutcome {
        /// The reading.
        reading: String,
        /// As given.
        outcome: String,
        /// What it can be.
        outcomes: Vec<String>,
        /// The unit of its number, when it is one.
        number: Option<String>,
    },
    /// The outcome is empty.
    #[error(transparent)]
    Outcome(#[from] ParseOutcomeError),
    /// A number that cannot be read, or says what cannot be.
    #[error("{reading}: {error}")]
    Number {
        /// The reading.
        reading: String,
        /// Why not, and what would be right.
        error: GaugeError,
    },
    /// Something that cannot be used as it stands.
    #[error("`{what}`: {why}")]
    Unusable {
        /// As given.
        what: String,
        /// Why not, and what would be right.
        why: String,
    },
    /// A test with several readings, of which one must be named.
    #[error("`{test}` has several readings; say which one: {}", readings.join(", "))]
    WhichReading {
        /// The test.
        test: String,
        /// Its readings.
        readings: Vec<String>,
    },
    /// Two statements that cannot both hold.
    #[error("{what} is given both as `{one}` and as `{other}`")]
    Contradiction {
        /// Of what.
        what: String,
        /// One statement.
        one: String,
        /// The other.
        other: String,
    },
}

impl EvidenceError {
    /// An unknown id, with its near misses among the known ones.
    pub fn unknown<'a>(kind: Kind, id: &str, known: impl IntoIterator<Item = &'a str>) -> Self {
        let near = near(id, known, 3).into_iter().map(str::to_owned).collect();
        Self::Unknown { kind, id: id.to_owned(), near, about: None }
    }
}

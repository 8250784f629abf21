//! The ways in which inference can refuse. Knows indices only; the caller turns them into names and reports.

use thiserror::Error;

/// Why no answer was computed.
#[derive(Clone, Debug, Error, PartialEq)]
#[non_exhaustive]
pub enum InferenceError {
    /// No combination of suspects can produce the evidence.
    #[error("the evidence is impossible: findings {findings:?} cannot be as observed together")]
    Impossible {
        /// Findings of a conflicting set of observations from which none can be left out.
        findings: Vec<usize>,
    },
    /// The tables would not fit into the allowed memory.
    #[error("exact inference needs {cells} table cells, more than the {limit} allowed; {} findings are entangled", findings.len())]
    TooWide {
        /// Cells of all tables that would have to be held at once.
        cells: usize,
        /// Cells allowed.
        limit: usize,
        /// Findings that are open together at the widest table.
        findings: Vec<usize>,
    },
    /// The likelihood has the wrong length, a negative or non-finite number, or only zeros.
    #[error("observation {observation} has a bad likelihood: {reason}")]
    BadLikelihood {
        /// Index into the observations of the evidence.
        observation: usize,
        /// What is wrong with it.
        reason: &'static str,
    },
    /// An observation names a finding that does not exist.
    #[error("observation {observation} names finding {finding}, which does not exist")]
    UnknownFinding {
        /// Index into the observations of the evidence.
        observation: usize,
        /// The index that does not exist.
        finding: usize,
    },
    /// A repair, or the caller, names a suspect that does not exist.
    #[error("suspect {suspect} does not exist")]
    UnknownSuspect {
        /// The index that does not exist.
        suspect: usize,
    },
    /// An observation lies in an epoch that has not begun.
    #[error("observation {observation} lies in epoch {epoch}, but the last epoch is {last}")]
    BadEpoch {
        /// Index into the observations of the evidence.
        observation: usize,
        /// Its epoch.
        epoch: usize,
        /// The last epoch there is.
        last: usize,
    },
    /// More repairs than lives can be told apart.
    #[error(
        "{repairs} repairs of one car, or of one suspect that others bring about, are more than the {limit} allowed"
    )]
    TooManyRepairs {
        /// How many there are.
        repairs: usize,
        /// How many there may be.
        limit: usize,
    },
    /// Suspects that bring each other about.
    #[error("suspects {suspects:?} bring each other about in a circle")]
    Circle {
        /// Those in the circle, and what hangs between them.
        suspects: Vec<usize>,
    },
    /// A number that should be a probability or a positive weight is not.
    #[error("{what} {index} is not usable: {value}")]
    BadNumber {
        /// What the number is.
        what: &'static str,
        /// Index of its owner.
        index: usize,
        /// The number.
        value: f64,
    },
}

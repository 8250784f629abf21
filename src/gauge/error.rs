//! What can be wrong with a number somebody wrote, in words that say what to write instead. Draws nothing.

use thiserror::Error;

/// Why a written number, or a question asked with it, is refused.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum GaugeError {
    /// A number stands without its unit.
    #[error("`{text}` has no unit, and none is guessed; write for example `{example}`")]
    NoUnit {
        /// What was written.
        text: String,
        /// A correct way to write it.
        example: String,
    },
    /// A unit that is not in the table.
    #[error("`{unit}` in `{text}` is not a unit known here{hint}")]
    UnknownUnit {
        /// What was written.
        text: String,
        /// The part taken for the unit.
        unit: String,
        /// "; did you mean …?" or the units of the wanted kind.
        hint: String,
    },
    /// A unit that measures something else.
    #[error("`{text}` is {found}, but {wanted} is asked for; write for example `{example}`")]
    WrongKind {
        /// What was written.
        text: String,
        /// What its unit measures.
        found: &'static str,
        /// What should have been given.
        wanted: &'static str,
        /// A correct way to write it.
        example: &'static str,
    },
    /// The number itself cannot be read.
    #[error("`{text}` cannot be read as a number: {why}")]
    NotANumber {
        /// What was written.
        text: String,
        /// What is wrong and what to write.
        why: String,
    },
    /// The whole reading cannot be read, or could mean two things.
    #[error("`{text}` cannot be read: {why}")]
    Unclear {
        /// What was written.
        text: String,
        /// What is wrong and what to write.
        why: String,
    },
    /// A number outside what this kind of quantity can be on a vehicle.
    #[error("{what} is out of reach: {why}")]
    OutOfReach {
        /// The quantity as written or computed.
        what: String,
        /// The bound and why it is there.
        why: String,
    },
    /// Numbers that contradict each other or physics.
    #[error("{0}")]
    Nonsense(String),
    /// Something the answer depends on was not said.
    #[error("{0}")]
    Missing(String),
}

impl GaugeError {
    /// A stable name for scripts and for the page of messages.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::NoUnit { .. } => "gauge-no-unit",
            Self::UnknownUnit { .. } => "gauge-unknown-unit",
            Self::WrongKind { .. } => "gauge-wrong-kind",
            Self::NotANumber { .. } => "gauge-not-a-number",
            Self::Unclear { .. } => "gauge-unclear",
            Self::OutOfReach { .. } => "gauge-out-of-reach",
            Self::Nonsense(_) => "gauge-nonsense",
            Self::Missing(_) => "gauge-missing",
        }
    }

    /// Shorthand for [`GaugeError::Nonsense`].
    pub(crate) fn nonsense(why: impl Into<String>) -> Self {
        Self::Nonsense(why.into())
    }

    /// Shorthand for [`GaugeError::Unclear`].
    pub(crate) fn unclear(text: &str, why: impl Into<String>) -> Self {
        Self::Unclear { text: shorten(text), why: why.into() }
    }
}

/// The text as it is repeated in a message: control characters shown as `?`, at most 60 characters.
#[must_use]
pub(crate) fn shorten(text: &str) -> String {
    let clean: String = text.chars().map(|c| if c.is_control() { '?' } else { c }).collect();
    if clean.chars().count() <= 60 { clean } else { clean.chars().take(57).chain("...".chars()).collect() }
}

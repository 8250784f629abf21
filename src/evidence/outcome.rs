//! The outcome of a reading as a person gives it, and what it says about the reading's levels.

use super::error::EvidenceError;
use crate::knowledge::base::Reading;
use std::fmt;
use std::str::FromStr;

/// What came out of a reading.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// Normal.
    Pass,
    /// Abnormal, at whichever level.
    Fail,
    /// Done, but it told nothing.
    Unclear,
    /// One of the reading's levels by name.
    Level(String),
}

/// The outcome is empty.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("an outcome is pass, fail, unclear or the name of a level")]
pub struct ParseOutcomeError;

impl FromStr for Outcome {
    type Err = ParseOutcomeError;

    fn from_str(text: &str) -> Result<Self, ParseOutcomeError> {
        let text = text.trim();
        Ok(match text.to_ascii_lowercase().as_str() {
            "" => return Err(ParseOutcomeError),
            "pass" | "ok" | "good" | "normal" => Self::Pass,
            "fail" | "bad" | "abnormal" => Self::Fail,
            "unclear" => Self::Unclear,
            _ => Self::Level(text.to_owned()),
        })
    }
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Pass => "pass",
            Self::Fail => "fail",
            Self::Unclear => "unclear",
            Self::Level(name) => name,
        })
    }
}

impl Outcome {
    /// P(this outcome | level), one number per level up to a common factor; nothing when it tells nothing.
    ///
    /// # Errors
    /// A level that the reading does not have.
    pub fn likelihood(&self, reading: &Reading) -> Result<Option<Vec<f64>>, EvidenceError> {
        let levels = reading.levels.len();
        let indicator = |holds: &dyn Fn(usize) -> bool| (0..levels).map(|l| f64::from(u8::from(holds(l)))).collect();
        Ok(match self {
            Self::Unclear => None,
            Self::Pass => Some(indicator(&|l| l == 0)),
            Self::Fail => Some(indicator(&|l| l > 0)),
            Self::Level(name) => {
                let plain = |s: &str| s.to_lowercase().replace(['-', '_'], " ");
                let at = reading.levels.iter().position(|l| plain(l) == plain(name)).ok_or_else(|| {
                    EvidenceError::UnknownOutcome {
                        reading: reading.id.clone(),
                        outcome: name.clone(),
                        outcomes: reading.levels.clone(),
                    }
                })?;
                Some(indicator(&|l| l == at))
            }
        })
    }

    /// The level in the reading's own words.
    #[must_use]
    pub fn level_in_words(&self, reading: &Reading) -> String {
        match self {
            Self::Pass => reading.levels.first().cloned().unwrap_or_default(),
            Self::Fail if reading.levels.len() == 2 => reading.levels[1].clone(),
            Self::Fail | Self::Unclear | Self::Level(_) => self.to_string(),
        }
    }
}

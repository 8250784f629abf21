//! The outcome of a reading as a person gives it, and what it says about the reading's levels.

use super::error::{EvidenceError, ParseOutcomeError};
use super::measured::{Number, number};
use knowledge::base::Reading;
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
    /// Told by somebody else, such as the last shop.
    SecondHand(Box<Outcome>),
    /// One of the reading's levels by name.
    Level(String),
    /// A number as written: `20 -> 19.3 inHg in 4 min`, `34 ohm`, `> 5 L/min`, `held 5 min`.
    Measured(String),
}

impl FromStr for Outcome {
    type Err = ParseOutcomeError;

    fn from_str(text: &str) -> Result<Self, ParseOutcomeError> {
        let text = text.trim();
        if let Some(rest) = second_hand(text) {
            return Ok(Self::SecondHand(Box::new(rest.parse()?)));
        }
        Ok(match text.to_ascii_lowercase().as_str() {
            "" | "second-hand" | "told" => return Err(ParseOutcomeError),
            "pass" | "ok" | "good" | "normal" => Self::Pass,
            "fail" | "bad" | "abnormal" => Self::Fail,
            "unclear" => Self::Unclear,
            small if looks_measured(small) => Self::Measured(text.to_owned()),
            _ => Self::Level(text.to_owned()),
        })
    }
}

/// How far what others say of a test is taken: the chance that the test was made as it should be, on this car and for
/// the present fault, and told as it came out. Otherwise it says nothing. Judgement, worth nothing better than that.
const SECOND_HAND: f64 = 0.7;

/// What stands behind the words for a result that somebody else told.
fn second_hand(text: &str) -> Option<&str> {
    let rest = ["second-hand", "second hand", "told"]
        .iter()
        .find_map(|w| text.get(..w.len()).filter(|t| t.eq_ignore_ascii_case(w)).map(|_| &text[w.len()..]))?;
    rest.starts_with([' ', ':']).then(|| rest.trim_start_matches([' ', ':']).trim())
}

/// Whether a text can only be meant as something read off a gauge.
fn looks_measured(text: &str) -> bool {
    let said = ["held", "holds", "no drop", "off scale", "off the scale", "over range", "over-range"];
    text.contains(|c: char| c.is_ascii_digit() || "<>≤≥".contains(c)) || said.iter().any(|word| text.starts_with(word))
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Pass => "pass",
            Self::Fail => "fail",
            Self::Unclear => "unclear",
            Self::SecondHand(of) => return write!(f, "second-hand {of}"),
            Self::Level(text) | Self::Measured(text) => text,
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
            // With the chance that the report holds its own likelihood, otherwise the same for every level: the mean
            // over the levels, which is what a report that depends on none of them has.
            Self::SecondHand(of) => of.likelihood(reading)?.map(|l| {
                #[expect(clippy::cast_precision_loss, reason = "a handful of levels")]
                let mean = l.iter().sum::<f64>() / l.len() as f64;
                l.iter().map(|p| SECOND_HAND * p + (1.0 - SECOND_HAND) * mean).collect()
            }),
            Self::Pass => Some(indicator(&|l| l == 0)),
            Self::Fail => Some(indicator(&|l| l > 0)),
            Self::Level(_) | Self::Measured(_) if self.level(reading).is_some() => {
                let at = self.level(reading);
                Some(indicator(&|l| Some(l) == at))
            }
            Self::Level(text) | Self::Measured(text) => match self.number(reading) {
                Some(Ok(number)) => Some(number.likelihood),
                Some(Err(error)) if matches!(self, Self::Measured(_)) => return Err(error),
                _ => {
                    return Err(EvidenceError::UnknownOutcome {
                        reading: reading.id.clone(),
                        outcome: text.clone(),
                        outcomes: reading.levels.clone(),
                        number: reading.measure.as_ref().map(|m| m.unit.clone()),
                    });
                }
            },
        })
    }

    /// Whether it can be said of all readings of a test at once: normal, or that it told nothing.
    #[must_use]
    pub fn speaks_of_all(&self) -> bool {
        match self {
            Self::Pass | Self::Unclear => true,
            Self::SecondHand(of) => of.speaks_of_all(),
            Self::Fail | Self::Level(_) | Self::Measured(_) => false,
        }
    }

    /// The level of that name, whichever way its words are parted.
    fn level(&self, reading: &Reading) -> Option<usize> {
        let (Self::Level(name) | Self::Measured(name)) = self else { return None };
        let plain = |s: &str| s.to_lowercase().replace(['-', '_'], " ");
        reading.levels.iter().position(|l| plain(l) == plain(name))
    }

    /// The number that the outcome is, where the reading asks for one and the outcome is no level.
    #[must_use]
    pub fn number(&self, reading: &Reading) -> Option<Result<Number, EvidenceError>> {
        match self {
            Self::Level(text) | Self::Measured(text) if self.level(reading).is_none() => number(text, reading),
            _ => None,
        }
    }

    /// The level in the reading's own words, or the number as written.
    #[must_use]
    pub fn level_in_words(&self, reading: &Reading) -> String {
        match self {
            Self::Pass => reading.levels.first().cloned().unwrap_or_default(),
            Self::Fail if reading.levels.len() == 2 => reading.levels[1].clone(),
            Self::SecondHand(of) => format!("second-hand {}", of.level_in_words(reading)),
            Self::Fail | Self::Unclear | Self::Level(_) | Self::Measured(_) => self.to_string(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_others_told_weighs_less_than_what_was_seen_and_more_than_nothing() {
        let base = shipped::base().unwrap();
        let (_, reading) = base.reading("cap-look-reseat:loose").unwrap();
        let ratio = |text: &str| {
            let l = text.parse::<Outcome>().unwrap().likelihood(reading).unwrap().unwrap();
            l[1] / l[0]
        };
        let told = ratio("second-hand fail");
        assert!((told - 0.85 / 0.15).abs() < 1e-12, "{told}");
        assert!(ratio("fail").is_infinite() && ratio("told: pass") < 1.0);
        assert_eq!("told bad".parse::<Outcome>().unwrap().to_string(), "second-hand fail");
        assert!("second-hand ".parse::<Outcome>().is_err());
    }
}

//! What was seen on a car at one time, in the shapes that are stored: outcomes, looks, codes, symptoms, and what it took.

use evidence::Look;
use serde::{Deserialize, Serialize};

fn is_false(value: &bool) -> bool {
    !*value
}

/// Minutes and money actually spent.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Spent {
    /// Labour in minutes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub minutes: Option<f64>,
    /// Parts and materials, in the shop's currency.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cost: Option<f64>,
}

impl Spent {
    /// Whether nothing was given.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// One reading with its outcome as the user gave it. It stays text, so that a later version may read more into it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Taken {
    /// `test:reading`.
    pub reading: String,
    /// `pass`, `fail`, `unclear`, a level, or a number with its unit.
    pub outcome: String,
}

/// A check of the engine computer that has run to its end and stored nothing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Passed {
    /// Monitor id.
    pub monitor: String,
    /// How many times it passed, of how many; `2 of 2`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub times: Option<(u32, u32)>,
}

/// What the car reported of a check beside codes: a failed run that is not confirmed, a result against its limits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reported {
    /// Monitor id.
    pub monitor: String,
    /// P(what was reported | the monitor is at that level), lowest level first, up to a common factor.
    pub likelihoods: Vec<f64>,
    /// What was reported, in words.
    pub words: String,
}

/// What was seen at one time.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Found {
    /// Codes read.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub codes: Vec<String>,
    /// Whether the absence of other codes counts: the list is complete, and the checks of the engine computer have
    /// run to their end since the codes were last cleared.
    #[serde(skip_serializing_if = "is_false")]
    pub codes_complete: bool,
    /// Symptoms noticed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub symptoms: Vec<String>,
    /// Symptoms looked for and absent.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub no_symptoms: Vec<String>,
    /// Readings with outcomes.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub results: Vec<Taken>,
    /// Checks that have run to their end and stored nothing.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub passed: Vec<Passed>,
    /// Checks that have not run: that they stored nothing says nothing, whatever `codes_complete` says of the others.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub not_run: Vec<String>,
    /// What the car reported of its checks beside codes.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub reported: Vec<Reported>,
    /// Suspects seen with one's own eyes.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub looks: Vec<Looked>,
    /// What it took.
    #[serde(skip_serializing_if = "Spent::is_empty")]
    pub spent: Spent,
}

/// A suspect that was looked at.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Looked {
    /// `part/mode`.
    pub suspect: String,
    /// What the look gave.
    pub outcome: LookOutcome,
    /// Words and place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

/// What a look at a suspect gave.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LookOutcome {
    /// It is there.
    Found,
    /// It is probably there.
    Probably,
    /// It was looked at and is sound.
    Sound,
}

impl From<Look> for LookOutcome {
    fn from(look: Look) -> Self {
        match look {
            Look::Found => Self::Found,
            Look::Probably => Self::Probably,
            Look::Sound => Self::Sound,
        }
    }
}

impl LookOutcome {
    /// As evidence.
    #[must_use]
    pub fn seen(self) -> Look {
        match self {
            Self::Found => Look::Found,
            Self::Probably => Look::Probably,
            Self::Sound => Look::Sound,
        }
    }

    /// In words.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Found => "found",
            Self::Probably => "probably found",
            Self::Sound => "looked at and sound",
        }
    }
}

impl Found {
    /// Whether it says nothing about the car.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        Self { spent: Spent::default(), ..self.clone() } == Self::default()
    }

    /// That one thing of it alone.
    #[must_use]
    pub fn only(&self, what: &str) -> Self {
        let one = |list: &[String]| list.iter().filter(|w| *w == what).cloned().collect();
        Self {
            codes: one(&self.codes),
            symptoms: one(&self.symptoms),
            no_symptoms: one(&self.no_symptoms),
            results: self.results.iter().filter(|t| t.reading == what).cloned().collect(),
            passed: self.passed.iter().filter(|p| p.monitor == what).cloned().collect(),
            looks: self.looks.iter().filter(|l| l.suspect == what).cloned().collect(),
            ..Self::default()
        }
    }

    /// Whether it says that: a code, a symptom, a reading, a check that passed, or a suspect that was looked at.
    #[must_use]
    pub fn says(&self, what: &str) -> bool {
        let words = self.codes.iter().chain(&self.symptoms).chain(&self.no_symptoms);
        words
            .chain(self.results.iter().map(|t| &t.reading))
            .chain(self.passed.iter().map(|p| &p.monitor))
            .chain(self.looks.iter().map(|l| &l.suspect))
            .any(|w| w == what)
    }
}

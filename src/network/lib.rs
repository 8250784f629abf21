//! The probabilistic network: independent suspects, findings as noisy-MAX of the suspects that touch them.
//!
//! Pure data. It knows no file, no clock and no terminal; `knowledge` is turned into it by `network::build`,
//! and `inference` computes on it.

pub mod build;
pub mod openings;

use knowledge::base::{NOT_LISTED_PREFIX, Vehicle};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// What a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FindingKind {
    /// A check of the engine computer; its levels are "none" and the codes it can end in, mildest first.
    Monitor,
    /// Something reported or noticed at intake; levels "normal" (absent) and "abnormal" (present).
    Symptom,
    /// One reading of a test; two levels or more, normal first.
    Reading,
    /// A look at the very place of one suspect; levels "normal" (looked at and sound) and "abnormal" (found).
    Seen,
}

/// Whether the suspect is a "cause not listed here".
#[must_use]
pub fn is_not_listed(suspect: &str) -> bool {
    suspect.starts_with(NOT_LISTED_PREFIX)
}

/// One part failing in one way, with its prior on this vehicle.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspect {
    /// `part/mode`.
    pub id: String,
    /// Prevalence on this vehicle, in (0,1); factors and equipment already applied.
    pub prior: f64,
    /// How many observed cars the prior is worth: the prior is Beta(prior × weight, (1 − prior) × weight).
    pub weight: f64,
    /// How grave it can be, mildest first; empty where that makes no difference. Grades exclude each other.
    pub grades: Vec<Grade>,
}

/// One grade of a suspect: a size of a leak, for example.
#[derive(Clone, Debug, PartialEq)]
pub struct Grade {
    /// Its name.
    pub id: String,
    /// P(this grade | suspect present); the shares add up to 1.
    pub share: f64,
}

/// One suspect bringing about another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bring {
    /// Index of the cause.
    pub cause: usize,
    /// Index of the victim.
    pub victim: usize,
    /// P(the cause, present, has brought the victim about), apart from everything else.
    pub p: f64,
    /// How many cars `p` is worth.
    pub weight: f64,
    /// Whether a renewed victim falls only after a while, so that it passes the re-test; otherwise at the next try.
    pub later: bool,
}

/// How one suspect, present alone and with no background, spreads over the levels of a finding.
#[derive(Clone, Debug, PartialEq)]
pub struct Link {
    /// Index into [`Network::suspects`].
    pub suspect: usize,
    /// P(level | that suspect alone), one number per level, adds up to 1; the mean over its grades.
    pub levels: Vec<f64>,
    /// How many cars the numbers are worth (Dirichlet with `levels × weight` as pseudo-counts).
    pub weight: f64,
    /// The same for each grade of the suspect; empty where all grades are alike.
    pub by_grade: Vec<Vec<f64>>,
}

impl Link {
    /// A link that is the same for all grades.
    #[must_use]
    pub fn plain(suspect: usize, levels: Vec<f64>, weight: f64) -> Self {
        Self { suspect, levels, weight, by_grade: Vec::new() }
    }

    /// P(level | that suspect alone) when its grades have these shares; none given, or none that matter: the mean.
    #[must_use]
    pub fn levels_at(&self, grades: &[f64]) -> Cow<'_, [f64]> {
        if self.by_grade.is_empty() || grades.len() != self.by_grade.len() {
            return Cow::Borrowed(&self.levels);
        }
        let mut mix = vec![0.0; self.levels.len()];
        for (row, share) in self.by_grade.iter().zip(grades) {
            mix.iter_mut().zip(row).for_each(|(m, p)| *m += share * p);
        }
        Cow::Owned(mix)
    }
}

impl Suspect {
    /// A suspect without grades.
    #[must_use]
    pub fn plain(id: String, prior: f64, weight: f64) -> Self {
        Self { id, prior, weight, grades: Vec::new() }
    }
}

/// A finding: ordered levels, a background, and the suspects that touch it.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// `monitor:ID`, `symptom:ID`, `TEST:READING` or `seen:PART/MODE`.
    pub id: String,
    /// What it is.
    pub kind: FindingKind,
    /// Names of the levels, lowest first; at least two.
    pub levels: Vec<String>,
    /// P(level | no suspect present), one number per level, adds up to 1.
    pub leak: Vec<f64>,
    /// How many cars the background is worth.
    pub leak_weight: f64,
    /// Sorted by suspect, at most one a suspect.
    pub links: Vec<Link>,
}

/// The whole network for one vehicle.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Network {
    /// The vehicle it was built for, as far as it was told.
    pub vehicle: Vehicle,
    /// All suspects.
    pub suspects: Vec<Suspect>,
    /// All findings.
    pub findings: Vec<Finding>,
    /// Which suspects bring which others about; no cycle. The prior of a victim is that of its coming about by itself.
    pub brings: Vec<Bring>,
    /// Tests for which it is not known whether the vehicle has what they need.
    pub unsure: Vec<Unsure>,
}

/// A test that the vehicle is less likely than this to allow is not proposed before its equipment is known.
pub const LIKELY_TO_FIT: f64 = 0.5;

/// A test that only some vehicles allow, this one perhaps.
#[derive(Clone, Debug, PartialEq)]
pub struct Unsure {
    /// Test id.
    pub test: String,
    /// The equipment that is needed and not known of, as option ids.
    pub options: Vec<String>,
    /// Share of vehicles that have all of it.
    pub share: f64,
    /// Suspects that only such vehicles have.
    pub suspects: Vec<usize>,
}

impl Network {
    /// Index of the suspect with this id.
    pub fn suspect(&self, id: &str) -> Option<usize> {
        self.suspects.iter().position(|s| s.id == id)
    }

    /// P(the vehicle allows the test), with `now` as the posterior of the suspects: certainly if a suspect is present
    /// that only such vehicles have, else with their share.
    pub fn fit(&self, test: &str, now: &[f64]) -> f64 {
        self.unsure.iter().find(|u| u.test == test).map_or(1.0, |u| {
            let present = u.suspects.iter().map(|s| now[*s]).sum::<f64>().min(1.0);
            u.share + (1.0 - u.share) * present
        })
    }

    /// Index of the finding with this id.
    pub fn finding(&self, id: &str) -> Option<usize> {
        self.findings.iter().position(|f| f.id == id)
    }
}

//! What entries of every family refer to: symptoms, setups, tools, cautions, sources.

use super::{Basis, Hazard, SourceKind};
use crate::acts::Act;
use crate::number::{Minutes, Money, Probability, Weight};
use serde::{Deserialize, Serialize};

/// Something noticed at intake.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Symptom {
    /// Id.
    pub id: String,
    /// Folder it stands in.
    pub family: String,
    /// As a technician would note it.
    pub name: String,
    /// Other ways to say it.
    pub also: Vec<String>,
    /// The fact that it is, where a factor can be the same.
    pub fact: Option<String>,
    /// P(noticed | none of the suspects).
    pub background: Probability,
    /// What that is worth.
    pub weight: Weight,
    /// Where it comes from.
    pub basis: Basis,
}

/// A state of the vehicle that several tests share.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Setup {
    /// Id.
    pub id: String,
    /// What it is called.
    pub name: String,
    /// What to do.
    pub does: Vec<String>,
    /// What undoes it, done when the test's own steps are through.
    pub afterwards: Vec<String>,
    /// Labour, paid once.
    pub minutes: Minutes,
    /// What is opened, touched, energised, lifted or heated.
    pub acts: Vec<Act>,
    /// Equipment options without which it is not needed.
    pub requires: Vec<String>,
    /// Acts that call for it: a test or repair with one of them has this setup without naming it.
    pub called_by: Vec<Act>,
    /// Caution ids.
    pub cautions: Vec<String>,
}

/// A tool.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Tool {
    /// Id.
    pub id: String,
    /// What it is called.
    pub name: String,
    /// Other names.
    pub also: Vec<String>,
    /// What it is for.
    pub what: String,
    /// What it costs to buy.
    pub price: Money,
    /// What can hurt.
    pub hazards: Vec<Hazard>,
}

/// A caution.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Caution {
    /// Id.
    pub id: String,
    /// A few words.
    pub name: String,
    /// What people ask that it answers.
    pub also: Vec<String>,
    /// The hazards it speaks of.
    pub covers: Vec<Hazard>,
    /// Equipment options without which it is not printed.
    pub requires: Vec<String>,
    /// The caution itself.
    pub text: String,
}

/// Where numbers come from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Source {
    /// Id.
    pub id: String,
    /// The document.
    pub title: String,
    /// What sort.
    pub kind: SourceKind,
    /// Section, table, year.
    pub place: String,
    /// What it is used for.
    pub note: Option<String>,
}

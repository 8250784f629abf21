//! Parts, the ways they fail and the repairs that help.

use super::{Basis, Brings, Open, Opening, SymptomLink};
use crate::acts::Act;
use crate::number::{Minutes, Money, Probability, Weight};
use serde::{Deserialize, Serialize};

/// What a look at the very place tells, apart from any test: how a suspect is found, or held to be sound.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Seen {
    /// How open to the eye it is.
    pub open: Open,
    /// P(found by who looks for it | present).
    pub detects: Probability,
    /// P(taken to be found | absent), at most; see `network::build` for what rare suspects make of it.
    pub false_alarm: Probability,
    /// Labour for one look.
    pub minutes: Minutes,
}

/// One part failing in one way.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Suspect {
    /// `part/mode`.
    pub id: String,
    /// In words.
    pub name: String,
    /// Other ways to say it.
    pub also: Vec<String>,
    /// What is wrong.
    pub what: String,
    /// Prevalence among cars that have the part.
    pub prior: Probability,
    /// How many jobs that is worth.
    pub weight: Weight,
    /// Where it comes from.
    pub basis: Basis,
    /// What a look at it tells.
    pub seen: Seen,
    /// The hole that it makes, where it is a leak.
    pub opening: Option<Opening>,
    /// Physical states that it leaves the car in, as words that its twins have too.
    pub states: Vec<String>,
    /// What it brings about.
    pub brings: Vec<Brings>,
    /// Whether it lets vapour out.
    pub vapour_leak: bool,
    /// Whether whoever drives the car can bring it about again at any time, so that no repair settles it for good.
    pub by_driver: bool,
    /// Factor ids.
    pub factors: Vec<String>,
    /// Equipment options that must all be there.
    pub requires: Vec<String>,
    /// Symptoms it causes.
    pub symptoms: Vec<SymptomLink>,
}

/// A repair.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Repair {
    /// `part/repair`.
    pub id: String,
    /// What is done.
    pub does: String,
    /// Other ways to say it.
    pub also: Vec<String>,
    /// Labour.
    pub minutes: Minutes,
    /// Parts.
    pub parts_cost: Money,
    /// Full suspect ids.
    pub removes: Vec<String>,
    /// Chance that it does not take.
    pub fails: Probability,
    /// Setups whose time is within the labour.
    pub reaches: Vec<String>,
    /// Tests whose time is within the labour, since they find the place.
    pub locates: Vec<String>,
    /// Tests made before it wherever they cost little beside it, so that nothing is fitted in vain.
    pub after: Vec<String>,
    /// What is opened, touched, energised, lifted or heated.
    pub acts: Vec<Act>,
    /// Caution ids.
    pub cautions: Vec<String>,
}

/// A physical component.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Part {
    /// Id.
    pub id: String,
    /// Folder it stands in.
    pub family: String,
    /// What it is called.
    pub name: String,
    /// Other names.
    pub also: Vec<String>,
    /// Where it sits.
    pub place: String,
    /// What it does.
    pub does: String,
    /// The ways it fails.
    pub suspects: Vec<Suspect>,
    /// What can be done.
    pub repairs: Vec<Repair>,
}

//! Tests, their readings, and the numbers that a reading may be.

use super::{Adjust, Basis, CarRule, Quantity, Senses, SuspectLink};
use crate::acts::Act;
use crate::number::{Minutes, Money, Probability, Weight};
use serde::{Deserialize, Serialize};

/// A distribution of a measured number, in the unit of its measure.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Distribution {
    /// Normal.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation, above 0.
        sd: f64,
    },
    /// Lognormal.
    LogNormal {
        /// Median, above 0.
        median: f64,
        /// Multiplicative standard deviation, above 1.
        spread: f64,
    },
    /// Exponential.
    Exponential {
        /// Mean, above 0.
        mean: f64,
    },
    /// Uniform.
    Uniform {
        /// Lowest.
        low: f64,
        /// Highest, above `low`.
        high: f64,
    },
}

impl Quantity {
    /// Whether it is lost over a time, so that a start and a time belong to it.
    #[must_use]
    pub fn is_drop(self) -> bool {
        matches!(self, Self::PressureDrop | Self::VacuumDrop)
    }
}

/// How a reading is measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Measure {
    /// What the number is.
    pub quantity: Quantity,
    /// Its unit, as written.
    pub unit: String,
    /// What the gauge tells apart, in that unit.
    pub resolution: f64,
    /// How and over what time it is taken.
    pub taken: Option<String>,
    /// Where a drop starts, in that unit, above 0; a drop always has it, nothing else does.
    pub start: Option<f64>,
    /// Over how many seconds a drop is read, above 0; a drop always has it, nothing else does.
    pub over_s: Option<f64>,
    /// What is done to the number before it is compared.
    pub adjust: Option<Adjust>,
    /// One distribution per level, normal first.
    pub when: Vec<Distribution>,
}

/// One thing a test tells.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// `test:reading`.
    pub id: String,
    /// What is looked at.
    pub name: String,
    /// What normal looks like.
    pub normal: String,
    /// What abnormal looks like.
    pub abnormal: String,
    /// What a result that is neither means, and what is done then.
    pub between: Option<String>,
    /// Names of the levels, normal first.
    pub levels: Vec<String>,
    /// P(level | none of the suspects), one per abnormal level.
    pub false_alarm: Vec<Probability>,
    /// Suspects it reveals.
    pub detects: Vec<SuspectLink>,
    /// The repair that the steps of the test themselves make when the reading is abnormal, as `part/repair`.
    pub cures: Option<String>,
    /// The openings it senses.
    pub senses: Option<Senses>,
    /// Physical states that it senses.
    pub shows: Vec<String>,
    /// For a reading that is a number.
    pub measure: Option<Measure>,
    /// How the car's own words answer it.
    pub car: Option<CarAnswer>,
}

/// How a reading is answered by what the car says of itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CarAnswer {
    /// By which rule.
    pub rule: CarRule,
    /// Values and the windows in which they are normal, where the rule has any.
    pub windows: Vec<CarWindow>,
}

/// A window of a value.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CarWindow {
    /// The value; of several the first that the car gave.
    pub values: Vec<String>,
    /// Lowest normal number.
    pub low: f64,
    /// Highest normal number.
    pub high: f64,
}

/// A procedure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Test {
    /// Id.
    pub id: String,
    /// Folder it stands in.
    pub family: String,
    /// What it is called.
    pub name: String,
    /// Other names.
    pub also: Vec<String>,
    /// What it tells.
    pub why: String,
    /// Tool ids.
    pub tools: Vec<String>,
    /// Setup ids.
    pub setups: Vec<String>,
    /// Labour without setups.
    pub minutes: Minutes,
    /// What is used up.
    pub consumables: Money,
    /// Equipment options that must all be there.
    pub requires: Vec<String>,
    /// Whether it waits for the engine computer's own checks and reads what they find.
    pub repeats_monitors: bool,
    /// Whether the engine computer itself judges in it: passed after a repair, the computer's check counts as run.
    pub own_check: bool,
    /// What is opened, touched, energised, lifted or heated, beside what its setups do.
    pub acts: Vec<Act>,
    /// Caution ids.
    pub cautions: Vec<String>,
    /// Where the numbers come from.
    pub basis: Basis,
    /// What they are worth.
    pub weight: Weight,
    /// What to do.
    pub steps: Vec<String>,
    /// What it tells.
    pub readings: Vec<Reading>,
}

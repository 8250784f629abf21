//! What can happen on a job. These shapes are what is stored and exported: every change to them is a change on disk.

use super::car::{Car, Freeze};
use super::found::{Found, Spent};
use super::terms::{Arranged, Skipped};
use serde::{Deserialize, Serialize};

fn is_false(value: &bool) -> bool {
    !*value
}

/// One thing that happened on a job. A job is the list of these; nothing else is the record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", content = "body", rename_all = "kebab-case")]
#[expect(clippy::large_enum_variant, reason = "a job has some dozens of events; a box would only be in the way")]
pub enum Event {
    /// The car came in.
    Opened(Opened),
    /// Something was seen: outcomes of tests, codes, symptoms.
    Found(Found),
    /// An earlier event, or one thing said in it, does not hold.
    Retracted(Retracted),
    /// A repair was made.
    Repaired(Repaired),
    /// The repair was put to the test: the same as a finding, after a repair.
    Retested(Found),
    /// Free words.
    Noted(Noted),
    /// The description of the car was corrected.
    Amended(Amended),
    /// The job ended.
    Closed(Closed),
    /// The job goes on, or the car came back.
    Reopened(Reopened),
    /// Tools, limit and files of the work were said.
    Arranged(Arranged),
    /// A step was proposed and not done.
    Skipped(Skipped),
    /// The event of that number was taken back.
    Undone(Undone),
}

/// The car came in.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Opened {
    /// The car.
    pub car: Car,
    /// The shop's own reference: an order number, a bay, anything but a name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reference: Option<String>,
    /// What was seen at intake.
    pub found: Found,
    /// Repairs that others made before this visit, as ids of the base.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub already: Vec<String>,
    /// What others tried, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tried: Option<String>,
    /// Freeze frame.
    #[serde(skip_serializing_if = "Freeze::is_empty")]
    pub freeze: Freeze,
}

/// An earlier event, or one thing said in it, does not hold.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Retracted {
    /// Number of the event.
    pub event: u32,
    /// The reading, code or symptom meant; all of the event without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub what: Option<String>,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
}

/// A repair was made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Repaired {
    /// `part/repair`.
    pub repair: String,
    /// Part number, maker, remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The reading whose test made it by the way.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub with: Option<String>,
    /// What it took.
    #[serde(default, skip_serializing_if = "Spent::is_empty")]
    pub spent: Spent,
}

/// Free words.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Noted {
    /// As given, every character of it.
    pub text: String,
    /// The reading that it hangs on, as `test:reading`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub about: Option<String>,
    /// What it took, for work that belongs to no test and no repair.
    #[serde(default, skip_serializing_if = "Spent::is_empty")]
    pub spent: Spent,
}

/// The description of the car was corrected; what is not given stays as it was.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Amended {
    /// The whole car as it is now known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub car: Option<Car>,
    /// The shop's reference.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reference: Option<String>,
    /// The whole freeze frame as it is now known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub freeze: Option<Freeze>,
}

/// How a job can end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// The cause or causes were confirmed.
    Confirmed,
    /// The car seems well, but the cause was not confirmed.
    Unsure,
    /// Somebody else goes on.
    HandedOn,
    /// No cause was found.
    NotFound,
}

impl Verdict {
    /// All of them with their words.
    pub const ALL: [(Self, &'static str); 4] = [
        (Self::Confirmed, "confirmed"),
        (Self::Unsure, "unsure"),
        (Self::HandedOn, "handed-on"),
        (Self::NotFound, "not-found"),
    ];

    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        Self::ALL.iter().find(|(v, _)| *v == self).map_or("", |(_, w)| w)
    }

    /// The verdict of that word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.iter().find(|(_, w)| *w == word).map(|(v, _)| *v)
    }
}

/// The job ended.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Closed {
    /// How.
    pub verdict: Verdict,
    /// Suspects that were at fault: confirmed ones, or for `unsure` the ones believed in.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub causes: Vec<String>,
    /// How the cause was confirmed, or why it was not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub how: Option<String>,
    /// What it took, beyond what was told before.
    #[serde(default, skip_serializing_if = "Spent::is_empty")]
    pub spent: Spent,
}

/// The job goes on, or the car came back.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Reopened {
    /// Whether the car left and came back: then its repairs stand as made before this visit, and what was seen on
    /// the earlier visit is history. Otherwise the job goes on where it stood.
    #[serde(skip_serializing_if = "is_false")]
    pub comeback: bool,
    /// Why.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
    /// What was seen when it came back.
    #[serde(skip_serializing_if = "Found::is_empty")]
    pub found: Found,
}

/// The event of that number was taken back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Undone {
    /// Number of the event.
    pub event: u32,
}

/// A number that cannot be stored.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("the {what} {value} is not a plausible number")]
pub struct BadNumber {
    /// What it counts.
    pub what: &'static str,
    /// As given.
    pub value: f64,
}

impl Event {
    /// The word for its kind, as stored.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Opened(_) => "opened",
            Self::Found(_) => "found",
            Self::Retracted(_) => "retracted",
            Self::Repaired(_) => "repaired",
            Self::Retested(_) => "retested",
            Self::Noted(_) => "noted",
            Self::Amended(_) => "amended",
            Self::Closed(_) => "closed",
            Self::Reopened(_) => "reopened",
            Self::Arranged(_) => "arranged",
            Self::Skipped(_) => "skipped",
            Self::Undone(_) => "undone",
        }
    }

    /// Minutes and money told with it.
    #[must_use]
    pub fn spent(&self) -> Spent {
        match self {
            Self::Opened(o) => o.found.spent,
            Self::Found(f) | Self::Retested(f) => f.spent,
            Self::Repaired(r) => r.spent,
            Self::Noted(n) => n.spent,
            Self::Closed(c) => c.spent,
            Self::Reopened(r) => r.found.spent,
            Self::Retracted(_) | Self::Amended(_) | Self::Arranged(_) | Self::Skipped(_) | Self::Undone(_) => {
                Spent::default()
            }
        }
    }

    /// What it saw on the car, if it is of a kind that sees.
    #[must_use]
    pub fn found(&self) -> Option<&Found> {
        match self {
            Self::Opened(o) => Some(&o.found),
            Self::Found(f) | Self::Retested(f) => Some(f),
            Self::Reopened(r) => Some(&r.found),
            _ => None,
        }
    }

    fn spent_mut(&mut self) -> Option<&mut Spent> {
        match self {
            Self::Opened(o) => Some(&mut o.found.spent),
            Self::Found(f) | Self::Retested(f) => Some(&mut f.spent),
            Self::Repaired(r) => Some(&mut r.spent),
            Self::Noted(n) => Some(&mut n.spent),
            Self::Closed(c) => Some(&mut c.spent),
            Self::Reopened(r) => Some(&mut r.found.spent),
            Self::Retracted(_) | Self::Amended(_) | Self::Arranged(_) | Self::Skipped(_) | Self::Undone(_) => None,
        }
    }

    /// The event with its numbers rounded to thousandths, which survive every trip through text unchanged.
    ///
    /// # Errors
    /// A number that is not finite or beyond all plausibility.
    pub fn tidy(mut self) -> Result<Self, BadNumber> {
        if let Some(spent) = self.spent_mut() {
            tidy(&mut spent.minutes, "minutes", 0.0)?;
            tidy(&mut spent.cost, "cost", 0.0)?;
        }
        let (car, freeze) = match &mut self {
            Self::Opened(o) => (Some(&mut o.car), Some(&mut o.freeze)),
            Self::Amended(a) => (a.car.as_mut(), a.freeze.as_mut()),
            _ => (None, None),
        };
        if let Some(car) = car {
            tidy(&mut car.age, "age", 0.0)?;
            tidy(&mut car.mileage_km, "mileage", 0.0)?;
        }
        if let Some(f) = freeze {
            tidy(&mut f.fuel_percent, "fuel level", 0.0)?;
            tidy(&mut f.ambient_c, "outside temperature", -1e3)?;
            tidy(&mut f.coolant_c, "coolant temperature", -1e3)?;
            tidy(&mut f.speed_kmh, "speed", 0.0)?;
        }
        if let Self::Arranged(a) = &mut self {
            tidy(&mut a.limit, "limit", 0.0)?;
        }
        Ok(self)
    }
}

/// Larger than anything that is counted on a job.
const LARGEST: f64 = 1e9;

fn tidy(slot: &mut Option<f64>, what: &'static str, least: f64) -> Result<(), BadNumber> {
    if let Some(value) = slot {
        if !(least..=LARGEST).contains(value) {
            return Err(BadNumber { what, value: *value });
        }
        // Adding zero turns a negative zero into a plain one.
        *value = (*value * 1000.0).round() / 1000.0 + 0.0;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_word_of_a_later_version_is_refused_and_not_dropped() {
        let later = r#"{"kind":"noted","body":{"text":"x","mood":"good"}}"#;
        assert!(serde_json::from_str::<Event>(later).is_err());
        let kind = r#"{"kind":"photographed","body":{}}"#;
        assert!(serde_json::from_str::<Event>(kind).is_err());
    }

    proptest! {
        #[test]
        fn text_and_numbers_survive_the_trip_through_text(text in any::<String>(), minutes in 0.0..1e9_f64, cost in 0.0..1e5_f64) {
            let spent = Spent { minutes: Some(minutes), cost: Some(cost) };
            let event = Event::Noted(Noted { text, about: None, spent }).tidy().unwrap();
            let written = serde_json::to_string(&event).unwrap();
            prop_assert!(!written.contains('\n'));
            prop_assert_eq!(serde_json::from_str::<Event>(&written).unwrap(), event);
        }
    }

    #[test]
    fn impossible_numbers_are_refused() {
        for minutes in [f64::NAN, f64::INFINITY, -1.0, 1e12] {
            let spent = Spent { minutes: Some(minutes), cost: None };
            assert!(Event::Noted(Noted { text: String::new(), about: None, spent }).tidy().is_err());
        }
    }
}

//! What can happen on a job. These shapes are what is stored and exported: every change to them is a change on disk.

use super::car::{Car, Freeze};
use super::terms::{Arranged, Skipped};
use crate::evidence::Look;
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

//! What the conversation can ask. A question knows which answers it takes and prints them; it stores nothing.

use crate::advice::Step;
use jobs::LookOutcome;
use knowledge::Base;
use knowledge::base::Reading;

/// Something asked, and not answered yet.
#[derive(Clone, Debug, PartialEq)]
pub enum Question {
    /// What one reading of a test showed.
    Reading {
        /// Test id.
        test: String,
        /// Reading id.
        reading: String,
        /// Whether the readings of the test are asked again though they have outcomes.
        again: bool,
    },
    /// What is known of the car and the work, before the first step.
    Start {
        /// What decides most and is not known, each with how it is said.
        topics: Vec<(String, String)>,
    },
    /// Which suspect was seen.
    Which {
        /// As typed.
        said: String,
        /// What the look gave.
        outcome: LookOutcome,
        /// Suspect ids of the printed list.
        list: Vec<String>,
    },
    /// Whether a repair was made.
    Repair {
        /// `part/repair`.
        repair: String,
    },
    /// Whether the job is to be closed.
    Close,
    /// Whether it is to be handed on.
    HandOn,
    /// Which step to take instead.
    Choose {
        /// The steps of the printed list.
        list: Vec<Step>,
    },
    /// Whether what was typed means what it may mean.
    Sure(Doubt),
}

/// Something that was typed and can mean two things, so that it is asked and not guessed.
#[derive(Clone, Debug, PartialEq)]
pub enum Doubt {
    /// A bare number where the reading is itself a number: one of the list, or read off the gauge without its unit?
    ListNumber {
        /// Reading id.
        reading: String,
        /// The outcome that it stands for in the list, as stored.
        outcome: String,
        /// That outcome in capitals.
        told: String,
    },
    /// Codes read after a repair: did they come back, or were they never cleared?
    Cleared {
        /// The codes.
        codes: Vec<String>,
    },
}

impl Question {
    /// Whether it only stands before another question, to which leaving it goes back.
    #[must_use]
    pub fn aside(&self) -> bool {
        matches!(self, Self::Choose { .. } | Self::Which { .. } | Self::Sure(_))
    }

    /// The step that it is about, if it is about one.
    #[must_use]
    pub fn step(&self) -> Option<Step> {
        match self {
            Self::Reading { test, .. } => Some(Step::Test(test.clone())),
            Self::Repair { repair } => Some(Step::Repair(repair.clone())),
            Self::Close => Some(Step::Close),
            Self::HandOn => Some(Step::HandOn),
            Self::Start { .. } | Self::Which { .. } | Self::Choose { .. } | Self::Sure(_) => None,
        }
    }

    /// The prompt: the answers, shortest form, and a question mark.
    #[must_use]
    pub fn prompt(&self, base: &Base) -> String {
        match self {
            Self::Reading { reading, .. } => {
                let Some((_, reading)) = base.reading(reading) else { return "? ".to_owned() };
                let numbers = (1..=options(reading).len()).map(|n| n.to_string()).collect::<Vec<_>>().join(", ");
                let measure = reading.measure.as_ref();
                let measured = measure.map_or(String::new(), |m| format!(" or what you read, in {}", m.unit));
                format!("{numbers}{measured}? ")
            }
            Self::Repair { .. } => "done? y [MINUTES [COST]] or n: ".to_owned(),
            Self::Close => "close the job? y, unsure or n: ".to_owned(),
            Self::HandOn => "hand it on? y or n: ".to_owned(),
            Self::Start { .. } => "what is known? ".to_owned(),
            Self::Which { list, .. } => format!("which? 1 to {}, or back: ", list.len()),
            Self::Choose { list } => format!("which? 1 to {}, an id, or back: ", list.len()),
            Self::Sure(Doubt::ListNumber { told, .. }) => format!("number of the list, {told}? y or n: "),
            Self::Sure(Doubt::Cleared { .. }) => "cleared since the repair? y or n: ".to_owned(),
        }
    }

    /// What it takes, as a sentence for someone whose answer was not taken.
    #[must_use]
    pub fn takes(&self, base: &Base) -> String {
        match self {
            Self::Reading { reading, .. } => {
                let Some((_, reading)) = base.reading(reading) else { return String::new() };
                let all: Vec<String> =
                    options(reading).iter().enumerate().map(|(i, o)| format!("{} {}", i + 1, o.name)).collect();
                let measured = reading
                    .measure
                    .as_ref()
                    .map_or(String::new(), |m| format!("; or what you read with its unit, such as {}", m.unit));
                format!("{}{measured}", all.join(", "))
            }
            Self::Repair { .. } => {
                "y when the repair is made, with minutes and cost if you like; n when not".to_owned()
            }
            Self::Close => "y, unsure or n".to_owned(),
            Self::HandOn | Self::Sure(_) => "y or n".to_owned(),
            Self::Start { .. } => {
                "what the list shows, with commas between, such as: 9 years, capless, no smoke machine, limit 200; or Enter"
                    .to_owned()
            }
            Self::Which { list, .. } => format!("a number from 1 to {}, or back", list.len()),
            Self::Choose { list } => format!("a number from 1 to {}, the id of a test or repair, or back", list.len()),
        }
    }
}

/// One answer of a reading's list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// As printed and typed.
    pub name: String,
    /// As stored.
    pub outcome: String,
}

/// The answers of a reading in the order of the printed list: its levels, the lowest first, and that it told nothing.
#[must_use]
pub fn options(reading: &Reading) -> Vec<Choice> {
    let two = reading.levels.len() == 2;
    let mut out: Vec<Choice> = reading
        .levels
        .iter()
        .enumerate()
        .map(|(i, level)| {
            let outcome = match (i, two) {
                (0, _) => "pass".to_owned(),
                (_, true) => "fail".to_owned(),
                _ => level.clone(),
            };
            Choice { name: level.clone(), outcome }
        })
        .collect();
    out.push(Choice { name: "unclear".to_owned(), outcome: "unclear".to_owned() });
    out
}

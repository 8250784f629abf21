//! What one learned number is, and of whom it speaks. Knows neither how it was learned nor where it is kept.

/// What a learned number is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum What {
    /// Prevalence of a suspect.
    Prior,
    /// P(code | suspect).
    Sets,
    /// P(level of a reading | suspect).
    Detects,
    /// P(level of a reading | no suspect).
    FalseAlarm,
    /// Minutes of a repair or test.
    Minutes,
    /// Parts cost of a repair.
    Price,
}

impl What {
    /// All of them with their words.
    pub const WORDS: [(Self, &'static str); 6] = [
        (Self::Prior, "prior"),
        (Self::Sets, "sets"),
        (Self::Detects, "detects"),
        (Self::FalseAlarm, "false-alarm"),
        (Self::Minutes, "minutes"),
        (Self::Price, "price"),
    ];

    /// The word in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(w, _)| *w == self).map_or("", |(_, word)| word)
    }
}

/// One learned number.
#[derive(Clone, Debug, PartialEq)]
pub struct Number {
    /// What it is.
    pub what: What,
    /// Suspect, repair or test; empty for a false alarm.
    pub of: String,
    /// Code or reading; empty where there is none.
    pub on: String,
    /// Level of a reading; empty where there is none.
    pub level: String,
    /// As shipped.
    pub old: f64,
    /// As learned.
    pub new: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Jobs behind it; a fraction where causes were unsure.
    pub jobs: f64,
}

//! Why a command could not answer, in words: what, where, and what to do.

use super::paint::{WRONG, paint};
use super::text::{hanging, harmless};
use evidence::{EvidenceError, Kind};
use gauge::GaugeError;
use inference::InferenceError;
use knowledge::near::did_you_mean;
use network::Network;

/// A failure with what to do about it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Failure {
    /// What, in one sentence.
    pub message: String,
    /// What else is known, and what to do; one sentence each.
    pub hints: Vec<String>,
}

impl Failure {
    /// A failure that needs no hint.
    pub fn new(message: impl Into<String>) -> Self {
        Self { message: message.into(), hints: Vec::new() }
    }

    /// The same with one more hint.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }

    /// As text for the error stream.
    #[must_use]
    pub fn screen(&self, width: usize) -> String {
        let mut out = String::new();
        // The lead is painted after wrapping, so that the width counts what is seen.
        hanging(&mut out, "error: ", "       ", &harmless(&self.message), width);
        let mut out = out.replacen("error:", &paint(WRONG, "error:"), 1);
        for hint in &self.hints {
            hanging(&mut out, "       ", "       ", hint, width);
        }
        out
    }
}

impl From<EvidenceError> for Failure {
    fn from(error: EvidenceError) -> Self {
        let mut failure = Self::new(error.to_string());
        if let EvidenceError::Unknown { kind, id, near, about } = &error {
            if let Some(about) = about {
                failure = failure.hint(format!("it is {about}"));
            }
            let near: Vec<&str> = near.iter().map(String::as_str).collect();
            if let Some(hint) = did_you_mean(&near) {
                failure = failure.hint(hint);
            }
            if let Some(hint) = where_to_look(*kind, id, near.is_empty()) {
                failure = failure.hint(hint);
            }
        }
        failure
    }
}

/// Where words of that kind are found, for whoever cannot guess them.
fn where_to_look(kind: Kind, id: &str, nothing_near: bool) -> Option<String> {
    let list = |kind: &str| format!("they are listed by: faultodds kb list {kind}");
    match kind {
        Kind::Vehicle => Some(format!("{}; a make goes with --make, a model with --model", list("vehicle"))),
        Kind::Tool if nothing_near => Some(list("tools")),
        Kind::Suspect | Kind::Repair | Kind::Step | Kind::Test | Kind::Reading | Kind::Symptom | Kind::Entry
            if nothing_near =>
        {
            let words: Vec<&str> = id.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).take(6).collect();
            let short = !words.is_empty() && words.iter().map(|w| w.len()).sum::<usize>() <= 60;
            short.then(|| format!("find it in plain words with: faultodds search {}", words.join(" ")))
        }
        _ => None,
    }
}

impl From<GaugeError> for Failure {
    fn from(error: GaugeError) -> Self {
        Self::new(error.to_string())
    }
}

/// An inference error with the findings by name.
#[must_use]
pub fn inference(error: &InferenceError, network: &Network) -> Failure {
    let names = |findings: &[usize]| -> String {
        let names: Vec<&str> =
            findings.iter().filter_map(|i| network.findings.get(*i)).map(|f| f.id.as_str()).collect();
        names.join(", ")
    };
    match error {
        InferenceError::Impossible { findings } => {
            Failure::new(format!("these findings cannot all be true: {}", names(findings)))
                .hint("check them again, or leave one out")
        }
        InferenceError::TooWide { cells, limit, findings } => Failure::new(format!(
            "an exact answer would need a table of {cells} cells, more than the {limit} that fit: {} positive findings share their suspects",
            findings.len()
        ))
        .hint(format!("entangled are {}", names(findings)))
        .hint("leave out findings that speak of the same thing"),
        other => Failure::new(other.to_string()),
    }
}

//! From the words of one row to what is kept of them: a person's decision first, then what the matcher reads.

use super::cause::{CauseMatcher, Said, said};
use crate::model::Model;
use std::collections::HashMap;

/// What is kept of a row's words.
#[derive(Clone, Debug, PartialEq)]
pub struct Meaning {
    /// `found`, `several`, `unsure`, `no-fault`, `held` or `left-out`.
    pub state: &'static str,
    /// Suspect; several joined by ` + `; candidates as `id=belief id=belief`.
    pub cause: String,
    /// How much of the words was understood so, 0 to 1; none where a person decided.
    pub certainty: Option<f64>,
}

/// Most different texts whose meaning is kept in memory.
const MOST_TEXTS: usize = 50_000;

/// Reads words, remembering what was read.
pub struct Meanings<'a> {
    matcher: &'a dyn CauseMatcher,
    model: &'a Model,
    decisions: HashMap<String, String>,
    texts: HashMap<String, (Said, f64)>,
}

impl<'a> Meanings<'a> {
    /// With what a person decided about words.
    pub fn new(matcher: &'a dyn CauseMatcher, model: &'a Model, decisions: HashMap<String, String>) -> Self {
        Self { matcher, model, decisions, texts: HashMap::new() }
    }

    /// What these words mean on a job with these codes.
    pub fn of(&mut self, words: &str, codes: &str) -> Meaning {
        if let Some(cause) = self.decisions.get(words) {
            return decided(cause, codes, self.matcher, self.model);
        }
        let (read, certainty) = match self.texts.get(words) {
            Some(read) => read.clone(),
            None => {
                let read = said(words, self.matcher);
                // Shops repeat themselves; a cause is matched once. A file of nothing but novels does not fill memory.
                if self.texts.len() >= MOST_TEXTS {
                    self.texts.clear();
                }
                self.texts.insert(words.to_owned(), read.clone());
                read
            }
        };
        let (state, cause) = match read {
            Said::Found(id) => ("found", id),
            Said::Several(ids) => ("several", ids.join(" + ")),
            Said::OneOf(ids) => ("unsure", one_of(&ids)),
            Said::Unsure(list) => ("unsure", with_beliefs(&list)),
            Said::NoFault => ("no-fault", String::new()),
            Said::Held(list) => ("held", with_beliefs(&list)),
        };
        Meaning { state, cause, certainty: Some(certainty) }
    }
}

/// State and cause of a row, from a decision of a person.
pub(super) fn decided(cause: &str, codes: &str, matcher: &dyn CauseMatcher, model: &Model) -> Meaning {
    let modes = matcher.modes(cause);
    let (state, cause) = match cause {
        "unsure" => ("unsure", String::new()),
        "no-fault" => ("no-fault", String::new()),
        "leave-out" => ("left-out", String::new()),
        "not-listed" => not_listed(model, codes).map_or(("unsure", String::new()), |id| ("found", id)),
        _ if modes.len() > 1 => ("unsure", one_of(&modes)),
        _ if modes.len() == 1 => ("found", modes[0].clone()),
        _ if cause.contains(" or ") => {
            let ids: Vec<String> = cause.split(" or ").map(|id| id.trim().to_owned()).collect();
            ("unsure", one_of(&ids))
        }
        _ if cause.contains('+') => ("several", cause.split('+').map(str::trim).collect::<Vec<_>>().join(" + ")),
        _ => ("found", cause.to_owned()),
    };
    Meaning { state, cause, certainty: None }
}

/// The "cause not listed here" for a pattern of codes.
#[must_use]
pub fn not_listed(model: &Model, codes: &str) -> Option<String> {
    let codes: Vec<String> = codes.split(' ').map(str::to_owned).collect();
    model.not_listed(&codes).map(str::to_owned)
}

/// The words speak for none of them more than for another: what makes one likelier are the shares that learning has.
fn one_of(ids: &[String]) -> String {
    let belief = 1.0 / ids.len() as f64;
    with_beliefs(&ids.iter().map(|id| (id.clone(), belief)).collect::<Vec<_>>())
}

fn with_beliefs(list: &[(String, f64)]) -> String {
    list.iter().map(|(id, b)| format!("{id}={b:.2}")).collect::<Vec<_>>().join(" ")
}

//! What was seen with one's own eyes: a suspect found, or looked at and sound. Knows the words, not what they weigh.

use super::error::EvidenceError;
use super::meant::unknown_suspect;
use knowledge::base::{Base, Open};
use std::fmt;

/// What a look at the very place of a suspect showed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// It is there.
    Found,
    /// It is there, the person believes, without having seen it clearly.
    Probably,
    /// It was looked for and is not there.
    Sound,
}

/// A soft word is wrong so many times as often as a firm one (judgement): of five such words about one.
const SOFT: f64 = 10.0;

impl Look {
    /// P(what the person says | looks normal, looks abnormal), up to a common factor, where firm words are wrong about
    /// a sound place with `false_alarm`.
    #[must_use]
    pub fn likelihood(self, false_alarm: f64) -> Vec<f64> {
        match self {
            Self::Found => vec![0.0, 1.0],
            Self::Probably => vec![(SOFT * false_alarm).min(0.5), 1.0],
            Self::Sound => vec![1.0, 0.0],
        }
    }
}

impl fmt::Display for Look {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Found => "found",
            Self::Probably => "probably found",
            Self::Sound => "looked at and sound",
        })
    }
}

/// Reads what follows `--found` (`PART/MODE`, `PART/MODE=probably`) and `--sound` (`PART/MODE`, or `PART` for all of it that
/// can be seen). A part that fails in one way only stands for it.
///
/// # Errors
/// A suspect that the base does not know, a part whose mode must be said, or another word than `probably`.
pub fn looks_said(found: &[String], sound: &[String], base: &Base) -> Result<Vec<(String, Look)>, EvidenceError> {
    let mut out = Vec::new();
    for word in found {
        let (id, how) = word.split_once('=').map_or((word.as_str(), ""), |(id, how)| (id, how.trim()));
        let look = match how.to_lowercase().as_str() {
            "" | "yes" | "certain" | "certainly" | "sure" => Look::Found,
            "probably" | "probable" | "likely" | "maybe" | "perhaps" => Look::Probably,
            _ => {
                let why = "write --found PART/MODE, or PART/MODE=probably where it was not seen clearly".to_owned();
                return Err(EvidenceError::Unusable { what: word.clone(), why });
            }
        };
        match modes(id, base)?.as_slice() {
            [only] => out.push((only.clone(), look)),
            several => {
                let why = format!("say which of its faults was found: {}", several.join(", "));
                return Err(EvidenceError::Unusable { what: id.trim().to_owned(), why });
            }
        }
    }
    for id in sound {
        let all = modes(id, base)?;
        let open = |s: &String| base.suspect(s).is_some_and(|(_, s)| s.seen.open != Open::Inside);
        let visible: Vec<String> = all.iter().filter(|s| open(s)).cloned().collect();
        // Of a part named as a whole, what only a bench would show is not meant.
        out.extend(
            if visible.is_empty() || id.contains('/') { all } else { visible }.into_iter().map(|s| (s, Look::Sound)),
        );
    }
    Ok(out)
}

/// The suspect of that id, or all suspects of the part of that id.
fn modes(said: &str, base: &Base) -> Result<Vec<String>, EvidenceError> {
    let id = said.trim().to_lowercase();
    if base.suspect(&id).is_some() {
        return Ok(vec![id]);
    }
    match base.part(&id) {
        Some(part) if !part.suspects.is_empty() => Ok(part.suspects.iter().map(|s| s.id.clone()).collect()),
        _ => Err(unknown_suspect(&id, base)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(found: &str, sound: &str) -> Result<Vec<(String, Look)>, EvidenceError> {
        let list = |s: &str| s.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
        looks_said(&list(found), &list(sound), &shipped::base().unwrap())
    }

    #[test]
    fn suspects_are_read_with_how_sure_the_person_is() {
        let looks = said("purge-hose/cracked Fan-Motor/worn=probably", "filler-cap/loose").unwrap();
        assert_eq!(looks[0], ("purge-hose/cracked".to_owned(), Look::Found));
        assert_eq!(looks[1], ("fan-motor/worn".to_owned(), Look::Probably));
        assert_eq!(looks[2], ("filler-cap/loose".to_owned(), Look::Sound));
    }

    #[test]
    fn a_part_alone_is_enough_for_sound_and_not_for_found() {
        assert!(said("", "purge-hose").unwrap().iter().all(|l| l.1 == Look::Sound && l.0.starts_with("purge-hose/")));
        assert!(said("purge-hose", "").unwrap_err().to_string().contains("purge-hose/cracked"));
        assert!(matches!(said("purge-hsoe/cracked", ""), Err(EvidenceError::Unknown { .. })));
        assert!(said("purge-hose/cracked=red", "").is_err());
    }
}

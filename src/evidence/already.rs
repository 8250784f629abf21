//! A part that was renewed before the visit, and with what: a new part can be bad, a used one has worn, and years have passed.
//!
//! A repair made before the visit leaves each suspect that it removes with the chance `fails` of its prior. A part that is
//! not simply new leaves more of it (judgement): second-hand half, since it has worn for years on another car; a cheap copy a
//! third, since more of them are bad from the start; one renewed some years ago as much as a car of that age has of ten years.

use super::error::EvidenceError;

/// What is left of a prior when the part was exchanged for a used one.
const SECOND_HAND: f64 = 0.5;
/// The same for a cheap copy.
const CHEAP: f64 = 0.35;
/// Years after which a part is as likely to have failed as one that was never renewed.
const YEARS_TO_AGE: f64 = 10.0;

/// The repair, and what it leaves of the priors of what it removes, beside what it leaves when done well and lately.
pub(super) fn renewed(said: &str) -> (&str, f64) {
    let Some((repair, how)) = said.split_once('=') else { return (said, 0.0) };
    (repair.trim(), left(how).unwrap_or(0.0))
}

/// Checks what is said about a part that was renewed: `PART/REPAIR=second-hand`, `=cheap`, `=last year`, `=3 years ago`.
///
/// # Errors
/// Another word.
pub fn renewed_said(said: &str) -> Result<(&str, Option<String>), EvidenceError> {
    let Some((repair, how)) = said.split_once('=') else { return Ok((said.trim(), None)) };
    let how = how.trim().to_lowercase();
    if left(&how).is_some() {
        return Ok((repair.trim(), Some(how)));
    }
    let why = "after the repair stands new, second-hand, cheap, last year, or such as 3 years ago".to_owned();
    Err(EvidenceError::Unusable { what: said.to_owned(), why })
}

fn left(how: &str) -> Option<f64> {
    let how = how.trim().to_lowercase().replace(['-', '_'], " ");
    Some(match how.as_str() {
        "new" | "original" | "lately" | "this year" => 0.0,
        "second hand" | "used" | "from a breaker" => SECOND_HAND,
        "cheap" | "copy" | "unknown make" | "doubtful" => CHEAP,
        "last year" | "a year ago" => 1.0 / YEARS_TO_AGE,
        other => {
            let number = other.trim_end_matches("ago").trim().trim_end_matches("years").trim_end_matches("year").trim();
            let years = number.parse::<f64>().ok().filter(|y| other.contains("year") && (0.0..=50.0).contains(y))?;
            (years / YEARS_TO_AGE).min(1.0)
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_part_was_renewed_with_leaves_more_of_its_prior() {
        assert_eq!(renewed("purge-valve/replace"), ("purge-valve/replace", 0.0));
        assert_eq!(renewed("purge-valve/replace=second-hand"), ("purge-valve/replace", 0.5));
        assert_eq!(renewed("purge-valve/replace=last year"), ("purge-valve/replace", 0.1));
        assert_eq!(renewed_said("purge-valve/replace=3 years ago").unwrap().1.as_deref(), Some("3 years ago"));
        assert!(renewed_said("purge-valve/replace=blue").is_err());
    }
}

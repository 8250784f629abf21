//! The screen of `rank`: a first screen that fits a terminal, and all of it on request.

mod before;
mod first;
mod long;
mod readings;

use super::Look;
use super::job::headline;
use super::text::percent;
use evidence::{Stranger, Told};
use jobs::Job;
use knowledge::base::Base;
use network::Network;
use ranking::{Check, Ranking};

/// What the screen shows.
#[derive(Debug)]
pub struct RankScreen<'a> {
    /// The base.
    pub base: &'a Base,
    /// The network of the vehicle.
    pub network: &'a Network,
    /// What was said.
    pub told: &'a Told,
    /// The job that it is about, if it is about one.
    pub job: Option<&'a Job>,
    /// Codes in the order given.
    pub codes: &'a [String],
    /// Codes that the base does not know.
    pub strangers: &'a [Stranger],
    /// The answer.
    pub ranking: &'a Ranking,
    /// Checks, best first.
    pub checks: &'a [Check],
    /// Suspects to show, when it was said.
    pub top: Option<usize>,
    /// Whether everything is shown and not only what fits one screen.
    pub long: bool,
    /// Whether to show what each finding did.
    pub why: bool,
}

impl RankScreen<'_> {
    /// What probably brought this suspect about: `because of: purge valve, coil shorted 81 %`.
    fn because(&self, suspect: usize) -> Option<String> {
        let (_, causes) = self.ranking.because.iter().find(|b| b.0 == suspect)?;
        let name = |s: usize| self.base.suspect_name(&self.network.suspects[s].id);
        let named: Vec<String> = causes.iter().take(2).map(|(s, p)| format!("{} {}", name(*s), percent(*p))).collect();
        Some(format!("because of: {}", named.join("; ")))
    }

    /// How large the leak probably is.
    fn leak_size(&self) -> Option<String> {
        self.ranking.leak_mm.map(size_words)
    }

    /// The first screen, or all of it.
    #[must_use]
    pub fn text(&self, look: Look) -> String {
        let mut out = String::new();
        if let Some(job) = self.job {
            headline(&mut out, job, look);
        }
        out.push_str(&if self.long { self.all(look) } else { self.first(look) });
        out
    }
}

/// How large a leak is, in words; in mm.
pub(super) fn size_words((low, high): (f64, f64)) -> String {
    if low >= 4.0 {
        "Size of the leak: over 4 mm, as of a hose that is off.".to_owned()
    } else {
        format!("Size of the leak: about {low:.1} to {high:.1} mm.")
    }
}

/// A change of log odds as a factor: `×3.2`, `÷2.0`, `·` for next to nothing.
fn factor(ln: f64) -> String {
    let times = ln.abs().exp();
    if times < 1.05 {
        "·".to_owned()
    } else if !times.is_finite() || times >= 9999.5 {
        format!("{}>9999", if ln > 0.0 { "×" } else { "÷" })
    } else {
        let digits = usize::from(times < 10.0);
        format!("{}{times:.digits$}", if ln > 0.0 { "×" } else { "÷" })
    }
}

#[cfg(test)]
mod tests {
    use super::super::text::columns;
    use super::*;

    #[test]
    fn factors_read_as_multiples() {
        assert_eq!(factor(2.0_f64.ln()), "×2.0");
        assert_eq!(factor(-(30.0_f64.ln())), "÷30");
        assert_eq!(factor(0.01), "·");
        assert_eq!(columns(&factor(f64::INFINITY)), 6);
    }
}

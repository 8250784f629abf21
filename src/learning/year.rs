//! What a shop's closed jobs took: hours and money by the part that was at fault, with intervals. Pure; learns nothing.

use super::job::{Cause, ClosedJob};
use super::scores::{Mean, bootstrap};
use std::collections::BTreeMap;

/// Draws and seed of the bootstrap, and the level of its intervals.
const DRAWS: usize = 2_000;
const SEED: u64 = 11;
const LEVEL: f64 = 0.90;
/// Fewer jobs with a figure than this give no interval: a bootstrap of two jobs knows two numbers.
pub const FEWEST: usize = 5;

/// Hours and money of the jobs of one part.
#[derive(Clone, Debug, PartialEq)]
pub struct Took {
    /// The part.
    pub part: String,
    /// Jobs of which it was the one confirmed cause.
    pub jobs: usize,
    /// Jobs of these with minutes noted.
    pub timed: usize,
    /// Their minutes together.
    pub minutes: f64,
    /// Minutes of one of them on average; nothing when there are too few.
    pub minutes_each: Option<Mean>,
    /// Labour and parts of one of them on average; nothing when there are too few.
    pub money_each: Option<Mean>,
}

/// A shop's jobs.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Year {
    /// Closed jobs, and those of them with one confirmed cause.
    pub jobs: usize,
    /// See above.
    pub confirmed: usize,
    /// First and last day.
    pub days: Option<(jiff::civil::Date, jiff::civil::Date)>,
    /// By part, most minutes first, then by name.
    pub parts: Vec<Took>,
    /// Minutes of a job on average, over all on which they were noted; nothing when there are too few.
    pub minutes_each: Option<Mean>,
    /// Minutes of all jobs together.
    pub minutes: f64,
}

/// Minutes of a job: all of them, or what is known of its repair and tests.
fn minutes(job: &ClosedJob) -> Option<f64> {
    let of_tests: f64 = job.test_minutes.iter().map(|t| t.1).sum();
    job.minutes.or_else(|| job.repair_minutes.map(|m| m + of_tests))
}

/// The mean with its interval, where there are enough.
fn mean(values: &[f64]) -> Option<Mean> {
    (values.len() >= FEWEST).then(|| bootstrap(values, DRAWS, SEED, LEVEL))
}

impl Year {
    /// Adds the jobs up; an hour of labour costs `rate`.
    #[must_use]
    pub fn of(jobs: &[ClosedJob], rate: f64) -> Self {
        let mut by_part: BTreeMap<&str, Vec<&ClosedJob>> = BTreeMap::new();
        for job in jobs {
            if let Cause::Found(suspect) = &job.cause {
                let part = suspect.split('/').next().unwrap_or(suspect);
                // "Cause not listed" is no part.
                if part != "not-listed" {
                    by_part.entry(part).or_default().push(job);
                }
            }
        }
        let mut parts: Vec<Took> = by_part
            .iter()
            .map(|(part, list)| {
                let timed: Vec<f64> = list.iter().filter_map(|j| minutes(j)).collect();
                let money = list.iter().filter_map(|j| Some(minutes(j)? * rate / 60.0 + j.parts_cost?));
                Took {
                    part: (*part).to_owned(),
                    jobs: list.len(),
                    timed: timed.len(),
                    minutes: timed.iter().sum(),
                    minutes_each: mean(&timed),
                    money_each: mean(&money.collect::<Vec<_>>()),
                }
            })
            .collect();
        parts.sort_by(|a, b| b.minutes.total_cmp(&a.minutes).then_with(|| a.part.cmp(&b.part)));
        let all: Vec<f64> = jobs.iter().filter_map(minutes).collect();
        Self {
            jobs: jobs.len(),
            confirmed: jobs.iter().filter(|j| matches!(j.cause, Cause::Found(_))).count(),
            days: jobs.iter().map(|j| j.date).min().zip(jobs.iter().map(|j| j.date).max()),
            parts,
            minutes_each: mean(&all),
            minutes: all.iter().sum(),
        }
    }

    /// The dearest parts first, of those with a figure.
    #[must_use]
    pub fn dearest(&self) -> Vec<&Took> {
        let mut out: Vec<&Took> = self.parts.iter().filter(|p| p.money_each.is_some()).collect();
        let of = |p: &Took| p.money_each.map_or(0.0, |m| m.mean);
        out.sort_by(|a, b| of(b).total_cmp(&of(a)).then_with(|| a.part.cmp(&b.part)));
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn job(cause: &str, minutes: f64, parts: f64) -> ClosedJob {
        let mut job = ClosedJob::on(jiff::civil::date(2024, 3, 1));
        job.cause = Cause::Found(cause.into());
        (job.minutes, job.parts_cost) = (Some(minutes), Some(parts));
        job
    }

    /// By hand: six jobs of 30 min and 20 for parts at 60 an hour cost 50 each.
    #[test]
    fn hours_and_money_add_up() {
        let mut jobs: Vec<ClosedJob> = (0..6).map(|_| job("canister/blocked", 30.0, 20.0)).collect();
        jobs.extend((0..4).map(|_| job("filler-cap/loose", 10.0, 0.0)));
        jobs.push(ClosedJob { cause: Cause::NoFault, minutes: Some(5.0), ..ClosedJob::on(jobs[0].date) });
        let year = Year::of(&jobs, 60.0);
        assert_eq!((year.jobs, year.confirmed, year.minutes), (11, 10, 225.0));
        let first = &year.parts[0];
        assert_eq!((first.part.as_str(), first.jobs, first.minutes), ("canister", 6, 180.0));
        let money = first.money_each.unwrap();
        assert!((money.mean - 50.0).abs() < 1e-9 && (money.high - money.low).abs() < 1e-9);
        assert_eq!(year.parts[1].money_each, None, "four jobs are too few for an interval");
        assert_eq!(year.dearest().len(), 1);
    }

    #[test]
    fn a_shop_without_jobs_has_no_figures() {
        let year = Year::of(&[], 60.0);
        assert_eq!((year.jobs, year.days, year.minutes_each), (0, None, None));
    }
}

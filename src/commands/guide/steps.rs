//! Which reading of a test comes next, what an earlier day left half done, what was skipped, and doubts in words.

use super::answers::step_called;
use super::question::{Doubt, Question};
use crate::advice::Step;
use jobs::{Event, Job, Standing};
use knowledge::Base;
use knowledge::base::Test;

/// Steps that were skipped on the job and exist in this base.
pub fn skipped_steps(job: &Job, base: &Base) -> Vec<Step> {
    job.terms.skipped.iter().filter_map(|s| step_called(&s.step, base)).collect()
}

/// The reading that is asked next: the first after `after` that this car has and, unless they are taken again, that has
/// no outcome since the last repair.
pub fn next_reading(test: &Test, after: Option<&str>, job: &Job, standing: &Standing, again: bool) -> Option<String> {
    let from = after.map_or(0, |a| test.readings.iter().position(|r| r.id == a).map_or(0, |i| i + 1));
    let done = |id: &str| job.present().results.iter().any(|d| d.reading == id);
    let askable = |id: &str| standing.network.finding(id).is_some();
    // Without a repetition, what was passed over earlier is asked as well.
    let from = if again { from } else { 0 };
    test.readings[from..].iter().find(|r| askable(&r.id) && (again || !done(&r.id))).map(|r| r.id.clone())
}

/// The test that the last event left half done: it goes on with the readings that are missing.
pub fn unfinished(job: &Job, standing: &Standing, base: &Base) -> Option<Question> {
    let last = job.log.iter().rev().find(|e| e.holds && !matches!(e.event, Event::Noted(_) | Event::Undone(_)))?;
    let (Event::Found(f) | Event::Retested(f)) = &last.event else { return None };
    let (test, _) = base.reading(&f.results.last()?.reading)?;
    let reading = next_reading(test, None, job, standing, false)?;
    Some(Question::Reading { test: test.id.clone(), reading, again: false })
}

pub fn in_doubt(doubt: &Doubt, base: &Base) -> String {
    match doubt {
        Doubt::ListNumber { reading, told, .. } => {
            let unit =
                base.reading(reading).and_then(|(_, r)| r.measure.as_ref()).map_or("a unit", |m| m.unit.as_str());
            format!("A number without a unit can be the number in the list, {told}, or what you read, in {unit}.")
        }
        Doubt::Cleared { codes } => format!(
            "{} counts as come back only if the codes were cleared after the repair; otherwise it is the old one.",
            codes.join(" ")
        ),
    }
}

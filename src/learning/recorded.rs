//! Jobs recorded with `job`, as learning sees them.

use super::job::{Cause, ClosedJob};
use jobs::{Event, Job, Status, Verdict};
use knowledge::base::Base;

/// The closed job; nothing while it is open, handed on, or without a code that the base knows.
///
/// A car that came back with the trouble is learned from as it was finally closed: the codes are those of its first
/// stay, since that is how it came in.
#[must_use]
pub fn closed(job: &Job, base: &Base) -> Option<ClosedJob> {
    let Status::Closed { how, .. } = &job.status else { return None };
    let date = job.opened_at().to_zoned_datetime(jiff::tz::TimeZone::UTC).date();
    let mut out = ClosedJob::on(date);
    let causes: Vec<String> =
        how.causes.iter().filter(|c| base.suspect(c).is_some() || c.starts_with("not-listed/")).cloned().collect();
    out.cause = match (how.verdict, causes.as_slice()) {
        (Verdict::Confirmed, [one]) => Cause::Found(one.clone()),
        (Verdict::Confirmed, [_, _, ..]) => Cause::Several(causes),
        (Verdict::HandedOn, []) => return None,
        (_, all) => Cause::Unsure(all.iter().map(|c| (c.clone(), 1.0 / all.len() as f64)).collect()),
    };
    (out.make, out.model, out.engine) = (job.car.make.clone(), job.car.model.clone(), job.car.engine.clone());
    out.vehicle = job.car.vehicle();
    if let (None, Some(year)) = (out.vehicle.age, job.car.year) {
        out.vehicle.age = Some(f64::from((i32::from(date.year()) - year).max(0)));
    }
    let first = job.visits.first()?.spans.first()?;
    out.codes = first.codes.iter().map(|(_, c)| c.clone()).filter(|c| base.code(c).is_some()).collect();
    out.codes.sort();
    out.codes.dedup();
    if out.codes.is_empty() {
        return None;
    }
    out.symptoms = first.symptoms.iter().filter(|s| base.symptom(s).is_some()).cloned().collect();
    // Results before the first repair speak of the car as it came in.
    for r in &first.results {
        let (Some((_, reading)), Ok(outcome)) = (base.reading(&r.reading), r.outcome.parse::<evidence::Outcome>())
        else {
            continue;
        };
        let likelihood = outcome.likelihood(reading).ok().flatten().unwrap_or_default();
        let mut levels = likelihood.iter().enumerate().filter(|(_, l)| **l > 0.0).map(|(i, _)| i);
        if let (Some(level), None) = (levels.next(), levels.next()) {
            out.results.push((r.reading.clone(), reading.levels[level].clone()));
        }
    }
    let mut made = job.log.iter().filter(|e| e.holds).filter_map(|e| match &e.event {
        Event::Repaired(r) if !job.is_retracted(e.number, None) => Some(r),
        _ => None,
    });
    // Of several repairs the last one is what cured the car.
    if let Some(r) = made.next_back().filter(|r| base.repair(&r.repair).is_some()) {
        out.repair = Some(r.repair.clone());
        out.repair_minutes = r.spent.minutes;
        out.parts_cost = r.spent.cost;
    }
    out.minutes = (job.minutes > 0.0).then_some(job.minutes);
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::Timestamp;
    use jobs::{Closed, Found, Opened, Repaired, Spent};

    #[test]
    fn a_closed_job_counts_and_an_open_one_does_not() {
        let base = shipped::base().unwrap();
        let found = Found { codes: vec!["P0442".into()], ..Found::default() };
        let at = Timestamp::from_second(1_700_000_000).unwrap();
        let mut job = Job::opened(1, "u", at, Opened { found, ..Opened::default() });
        assert!(closed(&job, &base).is_none());
        let repair =
            base.repairs().find(|(_, r)| r.removes.iter().any(|s| s == "purge-valve/leaks")).unwrap().1.id.clone();
        let spent = Spent { minutes: Some(25.0), cost: Some(60.0) };
        job.push(at, Event::Repaired(Repaired { repair: repair.clone(), note: None, with: None, spent })).unwrap();
        let how = Closed {
            verdict: Verdict::Confirmed,
            causes: vec!["purge-valve/leaks".into()],
            how: Some("held no vacuum".into()),
            spent: Spent::default(),
        };
        job.push(at, Event::Closed(how)).unwrap();
        let c = closed(&job, &base).unwrap();
        assert_eq!(c.cause, Cause::Found("purge-valve/leaks".into()));
        assert_eq!(
            (c.codes, c.repair, c.repair_minutes, c.parts_cost),
            (vec!["P0442".to_owned()], Some(repair), Some(25.0), Some(60.0))
        );
    }
}

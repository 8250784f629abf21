//! What forecasts are worth after so many jobs, on jobs that come later: learned from once, then only asked.

use super::counts::Counter;
use super::fit::fit_trusting;
use super::forecast::shares_on;
use super::job::{Cause, ClosedJob};
use super::model::Model;
use super::overlay::Overlay;
use super::scores::score;
use super::strength::Strengths;
use knowledge::base::{Base, Vehicle};
use network::build::build;
use std::collections::HashMap;

/// Gains in log score over the shipped base on each of the later jobs that can be asked about, above 0 where what was learned from
/// the earlier ones is better; one list for each way to trust the base. Of the cars nothing is known here but their codes.
#[must_use]
pub fn gains(base: &Base, earlier: &[ClosedJob], later: &[ClosedJob], ways: &[Strengths]) -> Vec<Vec<f64>> {
    let model = Model::new(base);
    let mut counter = Counter::default();
    earlier.iter().for_each(|j| counter.add(j));
    let counts = counter.finish();
    let tuned = |way: &Strengths| {
        let learned = fit_trusting(base, &model, &counts, 7, 0, way.clone());
        // An overlay of numbers just read from this base always fits it.
        Overlay::of(base, &learned, "").apply(base).unwrap_or_else(|_| base.clone())
    };
    let logs = |b: &Base| -> Vec<Option<f64>> {
        let network = build(b, &Vehicle::default());
        // Jobs with the same codes get the same forecast.
        let mut known: HashMap<String, Option<Vec<f64>>> = HashMap::new();
        let mut one = |job: &ClosedJob| {
            let Cause::Found(cause) = &job.cause else { return None };
            let happened = model.suspect(cause)?;
            let shares = known.entry(job.pattern().into_owned()).or_insert_with(|| shares_on(b, &network, &model, job));
            Some(score(shares.as_ref()?, happened).log)
        };
        later.iter().map(&mut one).collect()
    };
    let shipped = logs(base);
    let gain = |way: &Strengths| {
        let tuned = logs(&tuned(way));
        shipped.iter().zip(tuned).filter_map(|(a, b)| Some((*a)? - b?)).collect()
    };
    ways.iter().map(gain).collect()
}

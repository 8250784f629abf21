//! What the conversation proposes next. The conversation knows only the trait, so that another adviser can be put in.

use crate::inference::Prepared;
use crate::jobs::{Job, JobError, Standing, proof_tests};
use crate::knowledge::Base;
use crate::ranking::first_checks;
use std::collections::BTreeSet;

/// Something to do next.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Step {
    /// A test, by id.
    Test(String),
    /// A repair, by id.
    Repair(String),
    /// The car counts as fixed.
    Close,
    /// Nothing is left that is worth doing here.
    HandOn,
}

/// One that proposes steps.
pub trait Adviser {
    /// Steps in order of preference, the best first; never empty. Those in `skipped` are not wanted.
    ///
    /// # Errors
    /// Evidence that is impossible or too entangled.
    fn steps(
        &self,
        base: &Base,
        job: &Job,
        standing: &Standing,
        skipped: &BTreeSet<Step>,
    ) -> Result<Vec<Step>, JobError>;
}

/// From this probability on the car counts as fixed.
pub const FIXED: f64 = 0.90;
/// From this probability on, after a repair, proving it comes before looking for another fault.
const WORTH_PROVING: f64 = 0.50;
/// From this probability on a repair is proposed before another test.
const SURE_ENOUGH: f64 = 0.70;
/// Steps proposed.
const STEPS: usize = 12;

/// A plain adviser: prove after a repair; repair when one part is sure enough; else the test that tells most a minute.
#[derive(Clone, Debug)]
pub struct Plain<'a> {
    /// Tools at hand; none means all.
    pub tools: Option<&'a [String]>,
}

impl Adviser for Plain<'_> {
    fn steps(
        &self,
        base: &Base,
        job: &Job,
        standing: &Standing,
        skipped: &BTreeSet<Step>,
    ) -> Result<Vec<Step>, JobError> {
        let mut steps: Vec<Step> = Vec::new();
        let repaired = standing.epoch() > 0;
        if repaired && standing.fixed.is_some_and(|f| f >= FIXED) {
            steps.push(Step::Close);
        }
        let done: BTreeSet<String> = job.present().results.iter().map(|r| r.reading.clone()).collect();
        let mut prepared = Prepared::new(&standing.network, &standing.told.evidence).map_err(|e| standing.failed(e))?;
        let checks: Vec<String> = first_checks(base, &standing.network, &mut prepared, &done, self.tools)
            .map_err(|e| standing.failed(e))?
            .into_iter()
            .map(|c| c.test)
            .collect();
        let sure = best_repair(base, job, standing).filter(|(_, p)| *p >= SURE_ENOUGH);
        steps.extend(sure.map(|(repair, _)| Step::Repair(repair)));
        if repaired && standing.fixed.is_some_and(|f| f >= WORTH_PROVING) {
            steps.extend(proofs(base, job, standing)?.into_iter().filter(|t| checks.contains(t)).map(Step::Test));
        }
        steps.extend(checks.into_iter().take(STEPS).map(Step::Test));
        let mut seen = BTreeSet::new();
        steps.retain(|s| !skipped.contains(s) && seen.insert(s.clone()));
        if steps.is_empty() {
            steps.push(Step::HandOn);
        }
        Ok(steps)
    }
}

/// The re-tests by how much a normal outcome is expected to raise the probability that the car is fixed, a minute.
fn proofs(base: &Base, job: &Job, standing: &Standing) -> Result<Vec<String>, JobError> {
    let mut list: Vec<(String, f64)> = proof_tests(standing, job, base)?
        .into_iter()
        .filter_map(|t| {
            let minutes = base.test(&t.id)?.minutes.get();
            Some((t.id, t.passes * (t.if_normal - t.before) / (minutes + 1.0)))
        })
        .collect();
    list.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    Ok(list.into_iter().map(|(id, _)| id).collect())
}

/// The repair that most probably removes a fault that is there now, cheaper ones first among equals, with that
/// probability (the sum over its suspects, cut at 1).
pub fn best_repair(base: &Base, job: &Job, standing: &Standing) -> Option<(String, f64)> {
    // A repair that was just made is not proposed again before something speaks against it.
    let just_made = job.visit().spans.iter().rev().nth(1).and_then(|s| s.repair.as_ref()).map(|(_, r)| r.as_str());
    let fresh = job.present().results.is_empty() && job.present().codes.is_empty();
    let mut best: Option<(&crate::knowledge::base::Repair, f64)> = None;
    for (_, repair) in base.repairs() {
        if fresh && just_made == Some(repair.id.as_str()) {
            continue;
        }
        let p: f64 = repair.removes.iter().map(|s| standing.now(s)).sum::<f64>().min(1.0);
        let cheaper = |b: &crate::knowledge::base::Repair| {
            (repair.parts_cost.get(), repair.minutes.get()) < (b.parts_cost.get(), b.minutes.get())
        };
        // Within two per cent the cheaper one is as good.
        let better = best.is_none_or(|(b, q)| p > q + 0.02 || ((p - q).abs() <= 0.02 && cheaper(b)));
        if better {
            best = Some((repair, p));
        }
    }
    best.map(|(r, p)| (r.id.clone(), p))
}

//! What the conversation proposes next: the steps of `next`, and the proof of a repair that was made.

use jobs::{Job, JobError, Standing, checks_passed, proof_tests, proved};
use knowledge::Base;
use planning::{self, Effort, PlanError, Question, Shop, State, next_steps, pose};
use screens::next::amount;
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

/// Steps proposed, and why the first of them comes first.
#[derive(Clone, Debug, PartialEq)]
pub struct Advice {
    /// In order of preference, the best first; never empty.
    pub steps: Vec<Step>,
    /// The first step against the others, in words.
    pub because: Option<String>,
}

/// From this probability on the car counts as fixed.
pub const FIXED: f64 = 0.90;
/// From this probability on, after a repair, proving it comes before looking for another fault.
const WORTH_PROVING: f64 = 0.50;
/// Steps proposed.
const STEPS: usize = 14;

/// Proposes steps: after a repair the proof of it, else the steps of `next`, by the expected cost of the whole
/// rest of the job.
#[derive(Clone, Debug)]
pub struct Adviser {
    /// Rates, prices, tools.
    pub shop: Shop,
}

impl Adviser {
    /// What to do next. Steps in `skipped` are not wanted.
    ///
    /// # Errors
    /// Evidence that is impossible or too entangled.
    pub fn advise(
        &self,
        base: &Base,
        job: &Job,
        standing: &Standing,
        skipped: &BTreeSet<Step>,
    ) -> Result<Advice, JobError> {
        let shop = &job.terms.shop(self.shop.clone(), base);
        let mut steps: Vec<Step> = Vec::new();
        let mut proving: Vec<Step> = Vec::new();
        if let Some(after) = after_repair(base, job, standing, shop)? {
            if after.close {
                steps.push(Step::Close);
            }
            proving.extend(after.tests.into_iter().map(Step::Test));
            if after.fixed >= WORTH_PROVING {
                steps.append(&mut proving);
                // Nothing is left that could show it: what is believed has to do.
                if steps.is_empty() && after.fixed >= FIXED {
                    steps.push(Step::Close);
                }
            }
        }
        let scored = scored(base, standing, shop)?;
        for (step, _) in &scored.steps {
            match step {
                // What is to be proved is what the tests of the repair show; without a repair a re-test is one of the
                // tests of the base.
                None => steps.append(&mut proving),
                Some(step) => steps.push(step.clone()),
            }
        }
        let mut seen = BTreeSet::new();
        steps.retain(|s| !skipped.contains(s) && seen.insert(s.clone()));
        steps.truncate(STEPS);
        if steps.is_empty() {
            steps.push(Step::HandOn);
        }
        let first = steps.first().cloned();
        let because = first.and_then(|first| scored.because(&first, shop));
        Ok(Advice { steps, because })
    }
}

/// Steps with the expected cost of the whole job; no step stands for a re-test.
struct ScoredSteps {
    steps: Vec<(Option<Step>, f64)>,
}

impl ScoredSteps {
    /// Why this step, when the planner put it first.
    fn because(&self, step: &Step, shop: &Shop) -> Option<String> {
        let (at, cost) =
            self.steps.iter().enumerate().find_map(|(i, (s, c))| (s.as_ref() == Some(step)).then_some((i, *c)))?;
        let rival = self.steps.iter().enumerate().find(|(i, (s, _))| *i != at && s.is_some());
        let mut text = "No other beginning is cheaper on average".to_owned();
        if let Some((_, (Some(other), more))) = rival
            && *more >= cost
        {
            let id = match other {
                Step::Test(id) | Step::Repair(id) => id.as_str(),
                Step::Close => "close",
                Step::HandOn => "handing on",
            };
            let more = amount(more - cost, shop);
            text.push_str(&format!(": with the next best ({id}) the whole job costs {more} more"));
        }
        text.push('.');
        Some(text)
    }
}

fn scored(base: &Base, standing: &Standing, shop: &Shop) -> Result<ScoredSteps, JobError> {
    let question = Question {
        silent: &standing.told.silent,
        ..Question::quick(base, &standing.network, &standing.told.evidence, shop)
    };
    let posed = pose(&question).map_err(|PlanError::Inference(e)| standing.failed(e))?;
    let start = State::start(&posed.problem, &posed.universe);
    if start.mass <= 0.0 {
        return Ok(ScoredSteps { steps: Vec::new() });
    }
    let found = next_steps(&posed.problem, &posed.universe, &start, &Effort::quick());
    let steps = found.steps.iter().map(|s| {
        let id = posed.problem.id(s.step).to_owned();
        let step = match s.step {
            planning::Step::Test(_) => Some(Step::Test(id)),
            planning::Step::Repair(_) | planning::Step::Mend(_) => Some(Step::Repair(id)),
            planning::Step::HandOn => Some(Step::HandOn),
            planning::Step::Verify => None,
        };
        (step, s.expected)
    });
    Ok(ScoredSteps { steps: steps.collect() })
}

/// Where the job stands after a repair.
#[derive(Clone, Debug, PartialEq)]
pub struct AfterRepair {
    /// Probability that nothing that could have caused the complaint is left.
    pub fixed: f64,
    /// Whether that was shown since the repair, and the job can be closed.
    pub close: bool,
    /// Whether anything was looked at since, so that some of it is shown.
    pub looked: bool,
    /// What can show it, with the tools at hand, what shows most for its time first; what was done since the repair only where
    /// nothing else is left.
    pub tests: Vec<String>,
}

impl AfterRepair {
    /// Whether showing that the repair holds comes before looking for another fault.
    #[must_use]
    pub fn worth_proving(&self) -> bool {
        self.fixed >= WORTH_PROVING
    }
}

/// What a repair that was made asks for; nothing before the first repair.
///
/// # Errors
/// Evidence that is impossible or too entangled.
pub fn after_repair(base: &Base, job: &Job, standing: &Standing, shop: &Shop) -> Result<Option<AfterRepair>, JobError> {
    let Some(fixed) = standing.fixed.filter(|_| standing.epoch() > 0) else { return Ok(None) };
    let own = |t: &String| base.test(t).is_some_and(|t| shop.missing(t).is_empty());
    let tests: Vec<String> = proofs(base, job, standing)?.into_iter().filter(own).collect();
    // What the computer's own checks have shown gone is closed, whatever was believed of the cause. A reading by hand shows
    // that one thing is right again; it closes the job only where no check can be run and little doubt is left.
    let checked = checks_passed(job, base) || (tests.is_empty() && fixed >= FIXED);
    let close = proved(job, base) && checked;
    let looked = !job.present().results.is_empty();
    Ok(Some(AfterRepair { fixed, close, looked, tests }))
}

/// The re-tests, those on command in which the computer judges for itself first, since they alone close the job; then by how
/// much a normal outcome is expected to raise the probability that the car is fixed, a minute.
fn proofs(base: &Base, job: &Job, standing: &Standing) -> Result<Vec<String>, JobError> {
    let mut list: Vec<(String, bool, f64)> = proof_tests(standing, job, base)?
        .into_iter()
        .filter_map(|t| {
            let minutes = base.test(&t.id)?.minutes.get();
            Some((t.id, t.made, t.passes * (t.if_normal - t.before) / (minutes + 1.0)))
        })
        .collect();
    if list.iter().any(|t| !t.1) {
        list.retain(|t| !t.1);
    }
    let judges = |id: &str| base.test(id).is_some_and(|t| t.own_check && !t.repeats_monitors);
    list.sort_by(|a, b| judges(&b.0).cmp(&judges(&a.0)).then(b.2.total_cmp(&a.2)).then_with(|| a.0.cmp(&b.0)));
    Ok(list.into_iter().map(|(id, ..)| id).collect())
}

/// The repair that most probably removes a fault that is there now, cheaper ones first among equals, with that
/// probability (the sum over its suspects, cut at 1).
pub fn best_repair(base: &Base, job: &Job, standing: &Standing) -> Option<(String, f64)> {
    // A repair that was just made is not proposed again before something speaks against it.
    let just_made = job.visit().spans.iter().rev().nth(1).and_then(|s| s.repair.as_ref()).map(|(_, r)| r.as_str());
    let fresh = job.present().results.is_empty() && job.present().codes.is_empty();
    let mut best: Option<(&knowledge::base::Repair, f64)> = None;
    for (_, repair) in base.repairs() {
        if fresh && just_made == Some(repair.id.as_str()) {
            continue;
        }
        let p: f64 = repair.removes.iter().map(|s| standing.now(s)).sum::<f64>().min(1.0);
        let cheaper = |b: &knowledge::base::Repair| {
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

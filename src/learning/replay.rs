//! Did learning help? Jobs are replayed in the order of their dates: each is predicted from what was known before it,
//! then learned from. Three forecasts are compared: the base as shipped, the base as tuned so far, and the shares of
//! causes so far. Pure but for the clock that it does not look at.

use super::counts::Counter;
use super::fit::fit_with;
use super::forecast::{Rate, shares};
use super::job::{Cause, ClosedJob};
use super::model::Model;
use super::overlay::Overlay;
use super::plan_cost::{Beliefs, Prices, Recorded, plan_costs};
use super::scores::{Bin, Cut, Mean, Scored, bootstrap, calibration, score};
use inference::Rng;
use knowledge::base::Base;
use planning::{Shop, Spend};
use rayon::prelude::*;
use std::collections::{BTreeSet, HashMap};

/// The forecasts, in the order of all arrays here.
pub const FORECASTS: [&str; 3] = ["shipped", "tuned", "base-rate"];

/// How it is done.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    /// Share of the jobs, the earliest ones, from which is learned before anything is scored.
    pub first: f64,
    /// How often is learned anew over the rest.
    pub refits: usize,
    /// Draws of the bootstrap.
    pub draws: usize,
    /// Seed.
    pub seed: u64,
    /// On how many of the scored jobs, taken by lot with the seed, plans are made; 0 for none.
    pub plans: usize,
}

impl Default for Options {
    fn default() -> Self {
        Self { first: 0.5, refits: 20, draws: 4_000, seed: 7, plans: 0 }
    }
}

/// Fewer scored jobs than this say nothing.
pub const TOO_FEW: usize = 30;

/// The outcome.
#[derive(Clone, Debug, Default)]
pub struct Replayed {
    /// Jobs from which was only learned.
    pub learned_from: usize,
    /// Jobs that were predicted and scored.
    pub scored: usize,
    /// Later jobs without one confirmed cause, which cannot be scored.
    pub without_cause: usize,
    /// Later jobs whose cause or codes the base does not know, or whose evidence it calls impossible.
    pub unknown: usize,
    /// Scores of every forecast, job by job.
    pub scores: [Vec<Scored>; 3],
    /// Expected spending of every forecast's plan, on the jobs for which plans were made.
    pub plans: [Vec<Spend>; 3],
    /// What the shop really spent on those of these jobs on which it was noted, beside the minutes that the plans
    /// would have taken on the same jobs.
    pub spent: Vec<Spent>,
    /// Calibration of every forecast over all suspects with a share of at least 1 %.
    pub calibration: [Vec<Bin>; 3],
    /// First and last date of the scored jobs.
    pub dates: Option<(jiff::civil::Date, jiff::civil::Date)>,
    options: Options,
}

/// Minutes of one job: noted by the shop, and expected of the plan of every forecast.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spent {
    /// As noted: all labour of the job.
    pub noted: f64,
    /// Of the plans.
    pub plans: [f64; 3],
}

/// What can be compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// Log score; lower is better.
    Log,
    /// Brier score; lower is better.
    Brier,
    /// Share of jobs with the cause first; higher is better.
    Top1,
    /// Share of jobs with the cause among the first three; higher is better.
    Top3,
    /// Expected money that the plan costs when the recorded cause is the truth; lower is better.
    Money,
    /// Expected minutes of the same; lower is better.
    Minutes,
}

impl Measure {
    /// All of them with their words.
    pub const ALL: [(Self, &'static str); 6] = [
        (Self::Log, "log"),
        (Self::Brier, "brier"),
        (Self::Top1, "top-1"),
        (Self::Top3, "top-3"),
        (Self::Money, "plan-cost"),
        (Self::Minutes, "plan-minutes"),
    ];

    /// Whether more is better.
    #[must_use]
    pub fn more_is_better(self) -> bool {
        matches!(self, Self::Top1 | Self::Top3)
    }
}

/// What the comparison comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// The tuned base is better: the interval of the difference in log score excludes 0.
    Better,
    /// It is worse.
    Worse,
    /// The difference can as well be chance.
    NotShown,
    /// There are too few jobs to tell.
    TooFew,
}

impl Replayed {
    /// Value of a measure on every scored job.
    fn values(&self, forecast: usize, measure: Measure) -> Vec<f64> {
        let of = |f: &dyn Fn(&Scored) -> f64| self.scores[forecast].iter().map(f).collect();
        match measure {
            Measure::Log => of(&|s| s.log),
            Measure::Brier => of(&|s| s.brier),
            Measure::Top1 => of(&|s| s.within(1.0)),
            Measure::Top3 => of(&|s| s.within(3.0)),
            Measure::Money => self.plans[forecast].iter().map(|s| s.money).collect(),
            Measure::Minutes => self.plans[forecast].iter().map(|s| s.minutes).collect(),
        }
    }

    /// Mean of a measure.
    #[must_use]
    pub fn mean(&self, forecast: usize, measure: Measure) -> f64 {
        let v = self.values(forecast, measure);
        v.iter().sum::<f64>() / v.len() as f64
    }

    /// Mean gain of one forecast over another, above 0 when `of` is better, with a 90 % interval.
    #[must_use]
    pub fn gain(&self, of: usize, over: usize, measure: Measure) -> Mean {
        let sign = if measure.more_is_better() { 1.0 } else { -1.0 };
        let (a, b) = (self.values(of, measure), self.values(over, measure));
        let differences: Vec<f64> = a.iter().zip(&b).map(|(a, b)| sign * (a - b)).collect();
        bootstrap(&differences, self.options.draws, self.options.seed, 0.90)
    }

    /// Minutes noted by the shop less those of a forecast's plan, on the jobs with both, with a 90 % interval.
    #[must_use]
    pub fn noted_over_plan(&self, forecast: usize) -> Mean {
        let differences: Vec<f64> = self.spent.iter().map(|s| s.noted - s.plans[forecast]).collect();
        bootstrap(&differences, self.options.draws, self.options.seed, 0.90)
    }

    /// Whether so many jobs were measured that the interval of a gain can be trusted. On 8 jobs a world, intervals of
    /// plan costs missed the truth in 24 % of 200 worlds instead of in 10 %.
    #[must_use]
    pub fn enough(&self, measure: Measure) -> bool {
        self.values(1, measure).len() >= TOO_FEW
    }

    /// What can be compared here: without plans, no cost.
    #[must_use]
    pub fn measures(&self) -> Vec<(Measure, &'static str)> {
        let plans = !self.plans[0].is_empty();
        Measure::ALL.into_iter().filter(|(m, _)| plans || !matches!(m, Measure::Money | Measure::Minutes)).collect()
    }

    /// Whether the tuned base is better than the shipped one.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        if self.scored < TOO_FEW {
            return Verdict::TooFew;
        }
        let gain = self.gain(1, 0, Measure::Log);
        match (gain.low > 0.0, gain.high < 0.0) {
            (true, _) => Verdict::Better,
            (_, true) => Verdict::Worse,
            _ => Verdict::NotShown,
        }
    }
}

/// Replays jobs, which must be in the order of their dates. `progress` is told now and then the share that is done.
#[must_use]
pub fn replay(
    base: &Base,
    jobs: &[ClosedJob],
    shop: &Shop,
    options: Options,
    progress: &(dyn Fn(f64) + Sync),
) -> Replayed {
    let mut out = Replayed { options, ..Replayed::default() };
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of a length")]
    let mut at = ((jobs.len() as f64 * options.first.clamp(0.0, 1.0)) as usize).min(jobs.len());
    // A day is learned from as a whole: nobody knew the outcome of its other jobs that morning.
    while at > 0 && at < jobs.len() && jobs[at].date == jobs[at - 1].date {
        at += 1;
    }
    out.learned_from = at;
    let model = Model::new(base);
    let mut counter = Counter::default();
    let mut rate = Rate::default();
    for job in &jobs[..at] {
        counter.add(job);
        rate.add(job);
    }
    let block = (jobs.len() - at).div_ceil(options.refits.max(1)).max(1);
    let mut pairs: [Vec<(f64, bool)>; 3] = Default::default();
    let (mut first, mut last) = (None, None);
    let planned = lot(&model, &jobs[at..], options).into_iter().map(|i| i + at).collect::<BTreeSet<usize>>();
    let from = at;
    while at < jobs.len() {
        progress((at - from) as f64 / (jobs.len() - from) as f64);
        let mut end = (at + block).min(jobs.len());
        while end < jobs.len() && jobs[end].date == jobs[end - 1].date {
            end += 1;
        }
        let counts = std::mem::take(&mut counter).finish();
        let learned = fit_with(base, &model, &counts, options.seed, 0);
        let overlay = Overlay::of(base, &learned, "");
        // An overlay of numbers just read from this base always fits it.
        let tuned = overlay.apply(base).unwrap_or_else(|_| base.clone());
        let tuned = Tuned::new(&overlay, tuned, &jobs[at..end]);
        let prices = Prices::new(base, shop, &learned.numbers);
        let predicted: Vec<Option<Predicted>> = (at..end)
            .into_par_iter()
            .with_max_len(4)
            .map(|i| predict(base, &model, &tuned, &rate, planned.contains(&i).then_some(&prices), &jobs[i]))
            .collect();
        for (job, p) in jobs[at..end].iter().zip(predicted) {
            match p {
                None if matches!(job.cause, Cause::Found(_)) => out.unknown += 1,
                None => out.without_cause += 1,
                Some(p) => {
                    out.scored += 1;
                    first = first.or(Some(job.date));
                    last = Some(job.date);
                    if let Some(plans) = p.plans {
                        let minutes = plans.map(|s| s.minutes);
                        out.spent.extend(job.minutes.map(|noted| Spent { noted, plans: minutes }));
                        out.plans.iter_mut().zip(plans).for_each(|(all, one)| all.push(one));
                    }
                    for (k, pairs) in pairs.iter_mut().enumerate() {
                        out.scores[k].push(p.scores[k]);
                        pairs.extend_from_slice(&p.pairs[k]);
                    }
                }
            }
            rate.add(job);
        }
        // Counting again what was counted is cheap beside predicting.
        for job in &jobs[..end] {
            counter.add(job);
        }
        at = end;
    }
    out.calibration = pairs.map(|p| calibration(&p, 10, Cut::Even));
    out.dates = first.zip(last);
    out
}

/// The tuned base for each group of cars that is met.
struct Tuned {
    plain: Base,
    by_car: HashMap<Vec<(&'static str, String)>, Base>,
}

impl Tuned {
    fn new(overlay: &Overlay, plain: Base, jobs: &[ClosedJob]) -> Self {
        let mut by_car = HashMap::new();
        if !overlay.groups.is_empty() {
            for job in jobs {
                let groups = job.groups();
                if !by_car.contains_key(&groups) {
                    by_car.insert(groups.clone(), overlay.for_car(&plain, &groups));
                }
            }
        }
        Self { plain, by_car }
    }

    fn of(&self, job: &ClosedJob) -> &Base {
        self.by_car.get(&job.groups()).unwrap_or(&self.plain)
    }
}

struct Predicted {
    scores: [Scored; 3],
    plans: Option<[Spend; 3]>,
    pairs: [Vec<(f64, bool)>; 3],
}

/// Which of the jobs plans are made for: those with a cause that the base knows, drawn by lot if there are more than
/// wanted.
fn lot(model: &Model, jobs: &[ClosedJob], options: Options) -> Vec<usize> {
    let known = |j: &ClosedJob| matches!(&j.cause, Cause::Found(c) if model.suspect(c).is_some());
    let mut all: Vec<usize> = (0..jobs.len()).filter(|i| known(&jobs[*i])).collect();
    let mut rng = Rng::new(options.seed, u64::MAX - 7);
    for k in 0..options.plans.min(all.len()) {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place in the list")]
        let other = k + (rng.unit() * (all.len() - k) as f64) as usize;
        let last = all.len() - 1;
        all.swap(k, other.min(last));
    }
    all.truncate(options.plans);
    all
}

fn predict(
    base: &Base,
    model: &Model,
    tuned: &Tuned,
    rate: &Rate,
    prices: Option<&Prices>,
    job: &ClosedJob,
) -> Option<Predicted> {
    let Cause::Found(cause) = &job.cause else { return None };
    let happened = model.suspect(cause)?;
    let own = tuned.of(job);
    let forecasts = [shares(base, model, job)?, shares(own, model, job)?, rate.shares(model, &job.pattern())];
    let pairs =
        |f: &Vec<f64>| f.iter().enumerate().filter(|(_, p)| **p >= 0.01).map(|(i, p)| (*p, i == happened)).collect();
    let beliefs = Beliefs { shipped: base, tuned: own, model, base_rate: &forecasts[2] };
    Some(Predicted {
        scores: [0, 1, 2].map(|k| score(&forecasts[k], happened)),
        plans: prices.and_then(|p| plan_costs(&beliefs, p, &Recorded { job, cause })),
        pairs: [0, 1, 2].map(|k| pairs(&forecasts[k])),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::world::{Manner, World};
    use jiff::ToSpan as _;

    fn jobs(world: &mut World, manner: Manner, n: i64) -> Vec<ClosedJob> {
        let start = jiff::civil::date(2020, 1, 2);
        (0..n).map(|i| ClosedJob { date: start.saturating_add((i / 2).days()), ..world.job(manner) }).collect()
    }

    fn run(base: &Base, jobs: &[ClosedJob], options: Options) -> Replayed {
        replay(base, jobs, &Shop::default(), options, &|_| ())
    }

    const MANNER: Manner = Manner { doubt: 1.0, unsure: 0.1, noted: 0.0 };

    #[test]
    fn tuning_helps_in_a_world_of_its_own() {
        let base = shipped::base().unwrap();
        let mut world = World::draw(&base, MANNER, 3).unwrap();
        let r = run(&base, &jobs(&mut world, MANNER, 1_200), Options { refits: 4, draws: 500, ..Options::default() });
        assert_eq!(r.verdict(), Verdict::Better, "{:?}", r.gain(1, 0, Measure::Log));
        assert!(r.gain(1, 2, Measure::Log).mean > 0.0, "a base with shares learned on top beats bare shares");
        assert_eq!(r.scored + r.without_cause + r.unknown + r.learned_from, 1_200);
    }

    /// In how many of so many worlds whose truth is the shipped base itself "better" is claimed, and "worse".
    fn claims(worlds: u64, n: i64) -> (usize, usize) {
        let base = shipped::base().unwrap();
        let verdicts: Vec<Verdict> = (0..worlds)
            .into_par_iter()
            .map(|seed| {
                let mut world = World::of(base.clone(), Vec::new(), 1_000 + seed);
                let options = Options { refits: 4, draws: 500, ..Options::default() };
                run(&base, &jobs(&mut world, MANNER, n), options).verdict()
            })
            .collect();
        let count = |v: Verdict| verdicts.iter().filter(|x| **x == v).count();
        (count(Verdict::Better), count(Verdict::Worse))
    }

    /// A 90 % interval lies above 0 by chance once in twenty times. Of 10 fair draws at that rate more than 2 come up
    /// once in 90 times; seeds are fixed, so this either holds or does not.
    #[test]
    fn tuning_does_not_claim_to_help_where_the_shipped_numbers_are_true() {
        let (better, _) = claims(10, 240);
        assert!(better <= 2, "{better} of 10");
    }

    /// The rate itself: `cargo test --release --lib false_claims -- --ignored --nocapture`. Of 200 fair draws at one in
    /// twenty, 10 are expected and more than 17 come up once in a hundred times.
    #[test]
    #[ignore = "replays 200 worlds; run with --release"]
    fn false_claims_stay_within_the_nominal_rate() {
        let (better, worse) = claims(200, 400);
        assert!(better <= 17, "{better} of 200 better, {worse} worse");
    }

    #[test]
    fn few_jobs_are_told_to_be_few() {
        let base = shipped::base().unwrap();
        let mut world = World::of(base.clone(), Vec::new(), 1);
        assert_eq!(run(&base, &jobs(&mut world, MANNER, 20), Options::default()).verdict(), Verdict::TooFew);
        assert_eq!(run(&base, &[], Options::default()).verdict(), Verdict::TooFew);
    }
}

//! Did learning help? Jobs are replayed in the order of their dates: each is predicted from what was known before it,
//! then learned from. Three forecasts are compared: the base as shipped, the base as tuned so far, and the shares of
//! causes so far. Pure but for the clock that it does not look at.

use super::counts::Counter;
use super::fit::fit_with;
use super::job::{Cause, ClosedJob};
use super::model::Model;
use super::overlay::Overlay;
use super::scores::{Bin, Cut, Mean, Scored, bootstrap, calibration, score};
use crate::evidence::{Epoch, History};
use crate::knowledge::base::Base;
use crate::network::build::build;
use rayon::prelude::*;
use std::collections::{BTreeMap, HashMap};

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
}

impl Default for Options {
    fn default() -> Self {
        Self { first: 0.5, refits: 20, draws: 4_000, seed: 7 }
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
    /// Minutes down the list for every forecast, job by job.
    pub minutes: [Vec<f64>; 3],
    /// Minutes that those of the scored jobs took on which it was noted: mean and how many.
    pub spent: Option<(f64, usize)>,
    /// Calibration of every forecast over all suspects with a share of at least 1 %.
    pub calibration: [Vec<Bin>; 3],
    /// First and last date of the scored jobs.
    pub dates: Option<(jiff::civil::Date, jiff::civil::Date)>,
    options: Options,
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
    /// Minutes down the list; lower is better.
    Minutes,
}

impl Measure {
    /// All of them with their words.
    pub const ALL: [(Self, &'static str); 5] = [
        (Self::Log, "log"),
        (Self::Brier, "brier"),
        (Self::Top1, "top-1"),
        (Self::Top3, "top-3"),
        (Self::Minutes, "minutes"),
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
            Measure::Minutes => self.minutes[forecast].clone(),
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

/// Replays jobs, which must be in the order of their dates.
#[must_use]
pub fn replay(base: &Base, jobs: &[ClosedJob], options: Options) -> Replayed {
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
    let (mut spent, mut first, mut last) = (Vec::new(), None, None);
    while at < jobs.len() {
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
        let predicted: Vec<Option<Predicted>> =
            jobs[at..end].par_iter().map(|job| predict(base, &model, &tuned, &rate, job)).collect();
        for (job, p) in jobs[at..end].iter().zip(predicted) {
            match p {
                None if matches!(job.cause, Cause::Found(_)) => out.unknown += 1,
                None => out.without_cause += 1,
                Some(p) => {
                    out.scored += 1;
                    first = first.or(Some(job.date));
                    last = Some(job.date);
                    spent.extend(job.minutes);
                    for (k, pairs) in pairs.iter_mut().enumerate() {
                        out.scores[k].push(p.scores[k]);
                        out.minutes[k].push(p.minutes[k]);
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
    out.spent = (!spent.is_empty()).then(|| (spent.iter().sum::<f64>() / spent.len() as f64, spent.len()));
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
    minutes: [f64; 3],
    pairs: [Vec<(f64, bool)>; 3],
}

fn predict(base: &Base, model: &Model, tuned: &Tuned, rate: &Rate, job: &ClosedJob) -> Option<Predicted> {
    let Cause::Found(cause) = &job.cause else { return None };
    let happened = model.suspect(cause)?;
    let own = tuned.of(job);
    let forecasts = [shares(base, model, job)?, shares(own, model, job)?, rate.shares(model, &job.pattern())];
    let minutes_of = |i: usize| cheapest(base, &model.suspects[i].id);
    let costs: Vec<f64> = (0..model.suspects.len()).map(minutes_of).collect();
    let pairs =
        |f: &Vec<f64>| f.iter().enumerate().filter(|(_, p)| **p >= 0.01).map(|(i, p)| (*p, i == happened)).collect();
    Some(Predicted {
        scores: [0, 1, 2].map(|k| score(&forecasts[k], happened)),
        minutes: [0, 1, 2].map(|k| down_the_list(&forecasts[k], &costs, happened)),
        pairs: [0, 1, 2].map(|k| pairs(&forecasts[k])),
    })
}

/// Share of each suspect of the model given the codes and symptoms at intake, if one suspect alone is at fault, as it
/// was on the jobs that are scored: the explanations of one suspect that `rank` weighs, exactly.
///
/// Odds against no fault are p / (1 - p) × the product over findings of P(seen | suspect) / P(seen | none).
fn shares(base: &Base, model: &Model, job: &ClosedJob) -> Option<Vec<f64>> {
    let network = build(base, &job.vehicle);
    let known: Vec<String> = job.codes.iter().filter(|c| base.code(c).is_some()).cloned().collect();
    if known.is_empty() {
        return None;
    }
    let present = Epoch { codes: known, codes_complete: true, symptoms: job.symptoms.clone(), ..Epoch::default() };
    let told = History::visit(Vec::new(), present).tell(base, &network).ok()?;
    let mut odds: Vec<f64> = network.suspects.iter().map(|s| s.prior / (1.0 - s.prior)).collect();
    for o in &told.evidence.observations {
        let finding = &network.findings[o.finding];
        let alone: f64 = finding.leak.iter().zip(&o.likelihood).map(|(p, l)| p * l).sum();
        for link in &finding.links {
            odds[link.suspect] *= higher(&finding.leak, &link.levels, &o.likelihood) / alone;
        }
    }
    let mut out = vec![0.0; model.suspects.len()];
    for (s, odds) in network.suspects.iter().zip(&odds) {
        if let Some(i) = model.suspect(&s.id) {
            out[i] = *odds;
        }
    }
    let sum: f64 = out.iter().sum();
    (sum > 0.0 && sum.is_finite()).then(|| {
        out.iter_mut().for_each(|p| *p /= sum);
        out
    })
}

/// P(data | the higher of two independent levels).
fn higher(leak: &[f64], own: &[f64], likelihood: &[f64]) -> f64 {
    let (mut upto_leak, mut upto_own, mut p) = (0.0, 0.0, 0.0);
    for ((a, b), l) in leak.iter().zip(own).zip(likelihood) {
        // P(max = level) = a P(own < level) + b P(leak <= level): positive terms only.
        p += l * (a * upto_own + b * (upto_leak + a));
        upto_leak += a;
        upto_own += b;
    }
    p
}

/// Minutes of the quickest repair of a suspect; a cause that nothing repairs is worth two hours of looking.
fn cheapest(base: &Base, suspect: &str) -> f64 {
    const LOOKING: f64 = 120.0;
    let minutes = base.repairs().filter(|(_, r)| r.removes.iter().any(|s| s == suspect)).map(|(_, r)| r.minutes.get());
    let least = minutes.fold(f64::INFINITY, f64::min);
    if least.is_finite() { least.max(1.0) } else { LOOKING }
}

/// Minutes of someone who repairs down the list, in the order of share over minutes, until the cause is met
/// (J. Kadane and H. Simon, "Optimal strategies for a class of constrained sequential problems", 1977). The same
/// minutes count for every forecast, so that only the order is compared. A yardstick, not a plan: nobody tests here.
fn down_the_list(shares: &[f64], minutes: &[f64], happened: usize) -> f64 {
    let key = |i: usize| shares[i] / minutes[i];
    (0..shares.len()).filter(|i| *i == happened || key(*i) > key(happened)).map(|i| minutes[i]).sum()
}

/// Shares of causes so far, by the codes at intake.
#[derive(Default)]
struct Rate {
    by_pattern: HashMap<String, BTreeMap<String, f64>>,
    all: BTreeMap<String, f64>,
}

impl Rate {
    /// Jobs that the shares over all codes are worth beside those of one pattern.
    const SHRINK: f64 = 2.0;

    fn add(&mut self, job: &ClosedJob) {
        if let Cause::Found(cause) = &job.cause {
            *self.by_pattern.entry(job.pattern()).or_default().entry(cause.clone()).or_default() += 1.0;
            *self.all.entry(cause.clone()).or_default() += 1.0;
        }
    }

    fn shares(&self, model: &Model, pattern: &str) -> Vec<f64> {
        let n = model.suspects.len() as f64;
        let total: f64 = self.all.values().sum();
        let here = self.by_pattern.get(pattern);
        let jobs: f64 = here.map_or(0.0, |h| h.values().sum());
        let share = |s: &super::model::Suspect| {
            // One job is spread evenly over all suspects, so that none is impossible.
            let common = (self.all.get(&s.id).copied().unwrap_or(0.0) + 1.0 / n) / (total + 1.0);
            (here.and_then(|h| h.get(&s.id)).copied().unwrap_or(0.0) + Self::SHRINK * common) / (jobs + Self::SHRINK)
        };
        model.suspects.iter().map(share).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::learning::world::{Manner, World};
    use crate::shipped;
    use jiff::ToSpan as _;

    fn jobs(world: &mut World, manner: Manner, n: i64) -> Vec<ClosedJob> {
        let start = jiff::civil::date(2020, 1, 2);
        (0..n).map(|i| ClosedJob { date: start.saturating_add((i / 2).days()), ..world.job(manner) }).collect()
    }

    const MANNER: Manner = Manner { doubt: 1.0, unsure: 0.1, noted: 0.0 };

    #[test]
    fn tuning_helps_in_a_world_of_its_own() {
        let base = shipped::base().unwrap();
        let mut world = World::draw(&base, MANNER, 3).unwrap();
        let r = replay(&base, &jobs(&mut world, MANNER, 600), Options { refits: 4, draws: 500, ..Options::default() });
        assert_eq!(r.verdict(), Verdict::Better, "{:?}", r.gain(1, 0, Measure::Log));
        assert!(r.gain(1, 2, Measure::Log).mean > 0.0, "a base with shares learned on top beats bare shares");
        assert_eq!(r.scored + r.without_cause + r.unknown + r.learned_from, 600);
    }

    #[test]
    fn tuning_does_not_claim_to_help_where_the_shipped_numbers_are_true() {
        let base = shipped::base().unwrap();
        for seed in 0..3 {
            let mut world = World::of(base.clone(), Vec::new(), seed);
            let r =
                replay(&base, &jobs(&mut world, MANNER, 400), Options { refits: 4, draws: 500, ..Options::default() });
            assert_ne!(r.verdict(), Verdict::Better, "{:?}", r.gain(1, 0, Measure::Log));
        }
    }

    #[test]
    fn forecasts_are_the_single_explanations_of_exact_inference() {
        let base = shipped::base().unwrap();
        let model = Model::new(&base);
        let mut job = ClosedJob::on(jiff::civil::date(2024, 1, 1));
        job.codes = vec!["P0442".into(), "P0496".into()];
        let network = build(&base, &job.vehicle);
        let present = Epoch { codes: job.codes.clone(), codes_complete: true, ..Epoch::default() };
        let told = History::visit(Vec::new(), present).tell(&base, &network).unwrap();
        let all =
            crate::inference::worlds(&network, &told.evidence, crate::inference::Scope::Relevant, 400, 0.0).unwrap();
        let single: Vec<(usize, f64)> =
            all.list.iter().filter(|w| w.suspects.len() == 1).map(|w| (w.suspects[0], w.probability)).collect();
        let got = shares(&base, &model, &job).unwrap();
        let at = |i: usize| got[model.suspect(&network.suspects[i].id).unwrap()];
        let (first, p) = single[0];
        for (i, q) in &single[1..] {
            assert!((at(*i) / at(first) / (q / p) - 1.0).abs() < 1e-9, "{}", network.suspects[*i].id);
        }
    }

    #[test]
    fn few_jobs_are_told_to_be_few() {
        let base = shipped::base().unwrap();
        let mut world = World::of(base.clone(), Vec::new(), 1);
        assert_eq!(replay(&base, &jobs(&mut world, MANNER, 20), Options::default()).verdict(), Verdict::TooFew);
        assert_eq!(replay(&base, &[], Options::default()).verdict(), Verdict::TooFew);
    }

    #[test]
    fn the_list_is_worked_by_share_over_minutes() {
        // Own example of the design: p = (.3, .5, .2), c = (10, 30, 5): order third, first, second.
        let m = |i| down_the_list(&[0.3, 0.5, 0.2], &[10.0, 30.0, 5.0], i);
        assert_eq!([m(2), m(0), m(1)], [5.0, 15.0, 45.0]);
        // published rule (Kadane and Simon 1977): expected cost .2 x 5 + .3 x 15 + .5 x 45 = 28.
        assert!((0.3 * m(0) + 0.5 * m(1) + 0.2 * m(2) - 28.0).abs() < 1e-12);
    }
}

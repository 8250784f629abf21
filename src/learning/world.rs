//! Invented worlds: other numbers than a base holds, and jobs that come from them. For tests, the bench and the demo
//! data; no command learns from these.

use super::fit::{Number, What};
use super::job::{Cause, ClosedJob};
use super::model::Model;
use super::overlay::Overlay;
use super::shares::{Rates, prevalence};
use inference::Rng;
use inference::gamma::Sampler;
use knowledge::base::{Base, Vehicle};
use network::build::build;
use network::{Finding, FindingKind};

/// A world: a base that holds the truth, and what it takes to draw jobs from it.
#[derive(Debug)]
pub struct World {
    /// The base with the true numbers.
    pub base: Base,
    /// The numbers that differ from the base it was drawn from.
    pub truth: Vec<Number>,
    model: Model,
    cumulative: Vec<f64>,
    readings: Vec<usize>,
    rng: Rng,
}

/// How a world is drawn, and how its jobs are written down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Manner {
    /// Times by which the shipped weights are divided before the world is drawn: 1 draws from the shipped beliefs
    /// themselves, more makes worlds that differ more.
    pub doubt: f64,
    /// Share of the jobs whose cause was not confirmed.
    pub unsure: f64,
    /// Share of the readings that are taken and noted on a job.
    pub noted: f64,
}

impl World {
    /// Draws a world around a base: shares of jobs, `sets`, `detects` and false alarms from Dirichlet distributions
    /// with the base's weights, so that a calibrated learner's intervals hold as often as they say.
    ///
    /// # Errors
    /// When a drawn number has no place in the base, which would be a slip in this program.
    pub fn draw(base: &Base, manner: Manner, seed: u64) -> Result<Self, Vec<super::overlay::Trouble>> {
        let model = Model::new(base);
        let mut sampler = Sampler::new(Rng::new(seed, 1));
        let (mut truth, mut reach) = (Vec::new(), Vec::new());
        let mut dirichlet = |p: &[f64], weight: f64| {
            let shapes: Vec<f64> = p.iter().map(|p| p * weight / manner.doubt).collect();
            let mut out = vec![0.0; p.len()];
            sampler.dirichlet_once(&shapes, &mut out);
            // A base holds no certainties.
            out.iter().map(|x| x.clamp(2e-6, 1.0 - 2e-6)).collect::<Vec<f64>>()
        };
        let number = |what, of: &str, on: &str, level: &str, old: f64, new: f64| Number {
            what,
            of: of.to_owned(),
            on: on.to_owned(),
            level: level.to_owned(),
            old,
            new,
            low: new,
            high: new,
            jobs: 0.0,
        };
        for s in &model.suspects {
            let mut none = 1.0;
            for l in &s.monitors {
                let drawn = dirichlet(&l.levels, l.weight);
                none *=
                    1.0 - drawn[1..].iter().zip(&l.levels[1..]).filter(|(_, p)| **p > 0.0).map(|(d, _)| d).sum::<f64>();
                for (level, name) in model.monitors[l.monitor].levels.iter().enumerate().skip(1) {
                    if l.levels[level] > 0.0 {
                        truth.push(number(What::Sets, &s.id, name, "", l.levels[level], drawn[level]));
                    }
                }
            }
            reach.push((1.0 - none).max(1e-9));
        }
        let shipped: Vec<f64> = model.suspects.iter().map(|s| s.prior).collect();
        let shipped_reach: Vec<f64> = model.suspects.iter().map(|s| s.reach()).collect();
        let doubted: Vec<f64> = model.worth().iter().map(|w| w / manner.doubt).collect();
        let rates = Rates::shipped(&shipped, &shipped_reach, &doubted);
        let mut shares = vec![0.0; shipped.len()];
        rates.draw(&mut Sampler::new(Rng::new(seed, 3)), &vec![0.0; shipped.len()], &mut 0.0, &mut shares);
        for (s, p) in model.suspects.iter().zip(prevalence(&shares, &reach, rates.total())) {
            truth.push(number(What::Prior, &s.id, "", "", s.in_base, (s.in_base * p / s.prior).clamp(2e-6, 0.9)));
        }
        for f in model.network.findings.iter().filter(|f| f.kind == FindingKind::Reading) {
            let mut levels = |what, of: &str, p: &[f64], weight: f64| {
                let drawn = dirichlet(p, weight);
                for level in 1..p.len() {
                    if p[level] > 0.0 {
                        truth.push(number(what, of, &f.id, &f.levels[level], p[level], drawn[level]));
                    }
                }
            };
            levels(What::FalseAlarm, "", &f.leak, f.leak_weight);
            for l in &f.links {
                levels(What::Detects, &model.network.suspects[l.suspect].id, &l.levels, l.weight);
            }
        }
        truth.retain(|n| super::overlay::slot::stands(base, n));
        // Equipment that a test needs may hide its readings; what the base does not hold as such is left as it is.
        let base = Overlay::plain(truth.clone()).apply(base)?;
        Ok(Self::of(base, truth, seed))
    }

    /// The world whose truth is the base itself.
    #[must_use]
    pub fn of(base: Base, truth: Vec<Number>, seed: u64) -> Self {
        let model = Model::new(&base);
        let mut sum = 0.0;
        let cumulative = model
            .suspects
            .iter()
            .map(|s| {
                sum += s.prior * s.reach();
                sum
            })
            .collect();
        let is_reading = |f: &Finding| f.kind == FindingKind::Reading;
        let readings = (0..model.network.findings.len()).filter(|f| is_reading(&model.network.findings[*f])).collect();
        Self { base, truth, model, cumulative, readings, rng: Rng::new(seed, 2) }
    }

    /// Uniform in (0, 1), for callers that dress the jobs up.
    pub fn unit(&mut self) -> f64 {
        self.rng.unit()
    }

    /// The next job, of a car of which some things are known: the base's factors act on it, and suspects whose ids
    /// begin as `leanings` say are so many times as frequent.
    pub fn job_of(&mut self, vehicle: &Vehicle, leanings: &[(&str, f64)], manner: Manner) -> ClosedJob {
        let own = build(&self.base, vehicle);
        let priors: std::collections::HashMap<&str, f64> =
            own.suspects.iter().map(|s| (s.id.as_str(), s.prior)).collect();
        let mut sum = 0.0;
        let mut cumulative = Vec::with_capacity(self.cumulative.len());
        for s in &self.model.suspects {
            let leaning = leanings.iter().find(|l| s.id.starts_with(l.0)).map_or(1.0, |l| l.1);
            sum += priors.get(s.id.as_str()).copied().unwrap_or(0.0) * s.reach() * leaning;
            cumulative.push(sum);
        }
        let general = std::mem::replace(&mut self.cumulative, cumulative);
        let mut job = self.job(manner);
        self.cumulative = general;
        job.vehicle = vehicle.clone();
        job
    }

    /// The suspect, its codes and readings of the next job. One fault a job; its monitors are drawn until one speaks,
    /// which is what coming in means.
    pub fn job(&mut self, manner: Manner) -> ClosedJob {
        let total = self.cumulative.last().copied().unwrap_or(0.0);
        let wanted = self.rng.unit() * total;
        let i = self.cumulative.partition_point(|c| *c < wanted).min(self.cumulative.len() - 1);
        let mut job = ClosedJob::on(jiff::civil::date(2024, 1, 1));
        for _ in 0..1_000_000 {
            for l in &self.model.suspects[i].monitors {
                let level = pick(&mut self.rng, &l.levels);
                if level > 0 {
                    job.codes.push(self.model.monitors[l.monitor].levels[level].clone());
                }
            }
            if !job.codes.is_empty() {
                break;
            }
        }
        job.codes.sort();
        let id = self.model.suspects[i].id.clone();
        let place = self.model.place_in_network(i);
        for f in &self.readings {
            if manner.noted <= 0.0 || self.rng.unit() >= manner.noted {
                continue;
            }
            let finding = &self.model.network.findings[*f];
            let own = finding.links.iter().find(|l| l.suspect == place);
            let level = pick(&mut self.rng, &finding.leak).max(own.map_or(0, |l| pick(&mut self.rng, &l.levels)));
            job.results.push((finding.id.clone(), finding.levels[level].clone()));
        }
        job.cause = if self.rng.unit() < manner.unsure { Cause::Unsure(vec![]) } else { Cause::Found(id) };
        job
    }
}

/// A level by its probability.
fn pick(rng: &mut Rng, levels: &[f64]) -> usize {
    let mut left = rng.unit();
    for (level, p) in levels.iter().enumerate() {
        left -= p;
        if left < 0.0 {
            return level;
        }
    }
    0
}

/// How often intervals held the truth, by what the number is: held, all.
#[must_use]
pub fn coverage(world: &World, learned: &[Number], least_jobs: f64) -> [(usize, usize); 4] {
    let mut out = [(0, 0); 4];
    let kinds = [What::Prior, What::Sets, What::Detects, What::FalseAlarm];
    let key = |n: &Number| (n.what, n.of.clone(), n.on.clone(), n.level.clone());
    let truth: std::collections::BTreeMap<_, f64> = world.truth.iter().map(|n| (key(n), n.new)).collect();
    for n in learned.iter().filter(|n| n.jobs >= least_jobs) {
        if let (Some(true_value), Some(k)) = (truth.get(&key(n)), kinds.iter().position(|k| *k == n.what)) {
            out[k].1 += 1;
            out[k].0 += usize::from(n.low <= *true_value && *true_value <= n.high);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::counts::Counter;
    use crate::fit::fit;

    /// A few worlds here; the bench runs 100.
    #[test]
    fn intervals_hold_the_truth_of_drawn_worlds() {
        let base = shipped::base().unwrap();
        let manner = Manner { doubt: 1.0, unsure: 0.15, noted: 0.03 };
        let mut sums = [(0, 0); 4];
        for seed in 0..4 {
            let mut world = World::draw(&base, manner, seed).unwrap();
            let mut counter = Counter::default();
            for _ in 0..800 {
                counter.add(&world.job(manner));
            }
            let learned = fit(&base, &counter.finish(), 7);
            for (sum, c) in sums.iter_mut().zip(coverage(&world, &learned.numbers, 1.0)) {
                sum.0 += c.0;
                sum.1 += c.1;
            }
        }
        for (held, all) in sums {
            let share = held as f64 / all as f64;
            assert!(all > 100 && (0.8..=0.97).contains(&share), "{sums:?}");
        }
    }
}

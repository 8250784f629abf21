//! Cars drawn from the network, and a plan that works them: the check on everything computed.
//!
//! The cars come from the network itself, not from the planner's list of worlds, so that what the list leaves out
//! shows up as a difference.

use super::pose::{Posed, with_causes};
use super::tree::{Node, Plan, Shows};
use super::{Spend, Step};
use inference::{Evidence, Rng};
use network::{Bring, Finding, Network};
use rayon::prelude::*;

/// A drawn car, at the point at which the evidence ends.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Car {
    /// Suspects present, in increasing order.
    pub present: Vec<usize>,
    /// Those that keep the complaint up.
    pub need: Vec<usize>,
}

/// Cars that fit the evidence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cars {
    /// The cars.
    pub cars: Vec<Car>,
    /// How many had to be drawn.
    pub drawn: u64,
}

/// Cars drawn together from one stream of random numbers; the result does not depend on the number of threads.
const BATCH: u64 = 200_000;

/// Draws cars by rejection: suspects by their priors, repairs and findings as they happened, kept if every
/// observation comes out as it was (a likelihood below its largest keeps in proportion). Stops short of `wanted`
/// when `most` have been drawn.
#[must_use]
pub fn draw(network: &Network, evidence: &Evidence, posed: &Posed, wanted: usize, most: u64, seed: u64) -> Cars {
    let rare = Rare::new(network);
    let mut out = Cars { cars: Vec::new(), drawn: 0 };
    while out.cars.len() < wanted && out.drawn < most {
        let first = out.drawn / BATCH;
        let batches: Vec<Vec<(u64, Car)>> = (first..first + 8)
            .into_par_iter()
            .map(|b| {
                let mut rng = Rng::new(seed, b);
                (0..BATCH)
                    .filter_map(|i| one(network, evidence, posed, &rare, &mut rng).map(|c| (b * BATCH + i, c)))
                    .collect()
            })
            .collect();
        out.drawn += 8 * BATCH;
        for (at, car) in batches.into_iter().flatten() {
            if out.cars.len() < wanted {
                out.cars.push(car);
                if out.cars.len() == wanted {
                    out.drawn = at + 1;
                }
            }
        }
    }
    out
}

/// Draws which suspects are present by skipping those that are not: `P(none in a run) = prod (1 - p)`.
struct Rare {
    /// Running sums of `ln (1 - p)`, negated.
    sums: Vec<f64>,
}

impl Rare {
    fn new(network: &Network) -> Self {
        let mut sum = 0.0;
        Self {
            sums: network
                .suspects
                .iter()
                .map(|s| {
                    sum -= (-s.prior).ln_1p();
                    sum
                })
                .collect(),
        }
    }

    fn draw(&self, rng: &mut Rng) -> Vec<usize> {
        let mut present = Vec::new();
        let mut at = 0.0;
        loop {
            // The next present suspect is where an exponential step ends, a Poisson process on the sums: each
            // suspect's stretch is hit at least once with exactly its prior.
            at -= rng.unit().ln();
            let next = self.sums.partition_point(|s| *s <= at);
            let Some(end) = self.sums.get(next) else { return present };
            present.push(next);
            at = *end;
        }
    }
}

/// Adds what the causes bring about, and what that brings about in turn; a victim stands there once.
fn brought_about(
    network: &Network,
    present: &mut Vec<usize>,
    causes: &[usize],
    counts: impl Fn(&Bring) -> bool,
    rng: &mut Rng,
) {
    if network.brings.is_empty() {
        return;
    }
    let mut causes = causes.to_vec();
    while let Some(cause) = causes.pop() {
        for b in network.brings.iter().filter(|b| b.cause == cause && counts(b)) {
            if rng.unit() < b.p && !present.contains(&b.victim) {
                present.push(b.victim);
                causes.push(b.victim);
            }
        }
    }
    present.sort_unstable();
}

fn level(dist: &[f64], rng: &mut Rng) -> usize {
    let mut u = rng.unit();
    for (l, p) in dist.iter().enumerate() {
        u -= p;
        if u < 0.0 {
            return l;
        }
    }
    dist.iter().rposition(|p| *p > 0.0).unwrap_or(0)
}

/// The finding's level and the present suspects with their own levels above the lowest.
fn show(finding: &Finding, present: &[usize], rng: &mut Rng, raised: &mut Vec<usize>) -> usize {
    raised.clear();
    let mut top = level(&finding.leak, rng);
    for s in present {
        if let Ok(i) = finding.links.binary_search_by_key(s, |l| l.suspect) {
            let own = level(&finding.links[i].levels, rng);
            if own > 0 {
                raised.push(*s);
            }
            top = top.max(own);
        }
    }
    top
}

fn one(network: &Network, evidence: &Evidence, posed: &Posed, rare: &Rare, rng: &mut Rng) -> Option<Car> {
    let mut present = rare.draw(rng);
    let roots = present.clone();
    brought_about(network, &mut present, &roots, |_| true, rng);
    let (mut raised, mut need) = (Vec::new(), Vec::new());
    for epoch in 0..=evidence.repairs.len() {
        for o in evidence.observations.iter().filter(|o| o.epoch == epoch) {
            let top = o.likelihood.iter().copied().fold(0.0, f64::max);
            let shown = show(&network.findings[o.finding], &present, rng, &mut raised);
            let keep = o.likelihood[shown] / top;
            if keep <= 0.0 || keep < 1.0 && rng.unit() > keep {
                return None;
            }
            if posed.complaint.iter().any(|c| c.finding == o.finding && c.fresh) && epoch == evidence.repairs.len() {
                need.extend_from_slice(&raised);
            }
        }
        if let Some(repair) = evidence.repairs.get(epoch) {
            let gone: Vec<usize> =
                present.iter().copied().filter(|s| repair.suspects.contains(s) && rng.unit() >= repair.fails).collect();
            present.retain(|s| !gone.contains(s));
            // What was renewed beside a cause that is still there falls again, some of it only after a while.
            let causes = present.clone();
            let again = |b: &Bring| gone.contains(&b.victim) && (!b.later || repair.long_ago);
            brought_about(network, &mut present, &causes, again, rng);
        }
    }
    if posed.complaint.iter().any(|c| !c.fresh) {
        let linked = |s: &usize| {
            posed
                .complaint
                .iter()
                .any(|c| network.findings[c.finding].links.iter().any(|l| l.suspect == *s && l.levels[0] < 1.0))
        };
        need = present.iter().copied().filter(linked).collect();
    }
    need.sort_unstable();
    need.dedup();
    with_causes(network, &present, &mut need);
    Some(Car { present, need })
}

/// What a plan cost on many cars.
#[derive(Clone, Debug, PartialEq)]
pub struct Worked {
    /// Spending of each car.
    pub spends: Vec<Spend>,
    /// How many were repaired rather than handed on.
    pub fixed: usize,
}

impl Worked {
    /// Mean and standard error of the number that the aim keeps small.
    #[must_use]
    pub fn mean(&self, aim: super::Aim) -> (f64, f64) {
        #[expect(clippy::cast_precision_loss, reason = "a number of cars")]
        let n = self.spends.len() as f64;
        let mean = self.spends.iter().map(|s| s.cost(aim)).sum::<f64>() / n;
        let squares: f64 = self.spends.iter().map(|s| (s.cost(aim) - mean).powi(2)).sum();
        (mean, (squares / (n - 1.0) / n).sqrt())
    }
}

/// Works every car by the plan.
#[must_use]
pub fn work(network: &Network, posed: &Posed, plan: &Plan, cars: &[Car], seed: u64) -> Worked {
    let Some(root) = &plan.root else {
        return Worked { spends: vec![Spend::default(); cars.len()], fixed: cars.len() };
    };
    let removes: Vec<Vec<usize>> = posed
        .problem
        .repairs
        .iter()
        .map(|r| super::problem::bits(r.removes).map(|i| posed.problem.suspects[i]).collect())
        .collect();
    let results: Vec<(Spend, bool)> = cars
        .par_iter()
        .enumerate()
        .map(|(i, car)| {
            let mut rng = Rng::new(seed, i as u64);
            job(network, posed, root, car.clone(), &removes, &mut rng)
        })
        .collect();
    Worked { fixed: results.iter().filter(|r| r.1).count(), spends: results.into_iter().map(|r| r.0).collect() }
}

fn job(
    network: &Network,
    posed: &Posed,
    root: &Node,
    mut car: Car,
    removes: &[Vec<usize>],
    rng: &mut Rng,
) -> (Spend, bool) {
    let (mut node, mut spent, mut raised) = (root, Spend::default(), Vec::new());
    loop {
        let before = spent;
        spent = spent + node.spend;
        let shows = match node.step {
            // The plan's own figure is an average; this car pays for what is wrong with this car.
            Step::HandOn => return (before + handed_on(posed, &car), false),
            Step::Test(t) => {
                let readings = posed.problem.tests[t].readings.iter();
                let shown =
                    readings.map(|&r| show(&network.findings[posed.findings[r]], &car.present, rng, &mut raised));
                Shows::Levels(shown.map(|l| u8::try_from(l).unwrap_or(u8::MAX)).collect())
            }
            Step::Repair(_) | Step::Mend(_) | Step::Verify => {
                if let Some(r) = node.step.repair() {
                    if !car.present.iter().any(|s| removes[r].contains(s)) {
                        spent = spent + posed.problem.repairs[r].vain;
                    }
                    let stays = |s: &usize| stays(posed, &car.present, &removes[r], r, *s);
                    let touched = car.present.iter().copied().filter(|s| removes[r].contains(s));
                    let gone: Vec<usize> = touched.filter(|s| rng.unit() >= stays(s)).collect();
                    car.present.retain(|s| !gone.contains(s));
                    car.need.retain(|s| !gone.contains(s));
                }
                match node.step {
                    Step::Mend(_) => Shows::Unseen,
                    _ if car.need.is_empty() => Shows::Gone,
                    _ => Shows::StillThere,
                }
            }
        };
        let found = node
            .branches
            .iter()
            .find(|b| b.shows == shows)
            .or_else(|| node.branches.iter().find(|b| b.shows == Shows::Else));
        match found {
            Some(b) => match &b.then {
                Some(next) => node = next,
                None => return (spent, true),
            },
            // The plan says nothing of what cannot come about in its worlds: hand on.
            None => return (spent + handed_on(posed, &car), false),
        }
    }
}

/// Chance that a suspect is still there after a repair that removes it: the repair did not take, or a cause left behind has
/// brought it back.
fn stays(posed: &Posed, present: &[usize], removes: &[usize], repair: usize, suspect: usize) -> f64 {
    let problem = &posed.problem;
    let left = |cause: usize| present.contains(&cause) && !removes.contains(&cause);
    let back =
        problem.returns.iter().filter(|b| problem.suspects[b.victim] == suspect && left(problem.suspects[b.cause]));
    1.0 - (1.0 - problem.repairs[repair].fails) * back.map(|b| 1.0 - b.chance).product::<f64>()
}

/// Handing this car on: what it costs, and what others then have to repair.
fn handed_on(posed: &Posed, car: &Car) -> Spend {
    let need = posed.problem.suspects.iter().enumerate().filter(|(_, s)| car.need.contains(s));
    posed.problem.hand_on + posed.problem.owed(need.fold(0, |all, (i, _)| all | 1 << i))
}

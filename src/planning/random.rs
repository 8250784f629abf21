//! Small random decision problems, for measuring the policy against the true optimum. Not about any vehicle.

use super::problem::{Backing, Problem, ReadingModel, RepairStep, TestStep};
use super::universe::{Truth, Universe};
use super::{Aim, Spend};
use inference::Rng;
use std::ops::RangeInclusive;

/// Cost of a re-test alone.
const RETEST: f64 = 10.0;

/// A random problem: 5 to 7 suspects with single and double faults, one repair each and sometimes one for two, 4 or 5
/// noisy tests of one or two suspects, some of which share a setup, and handing on.
#[must_use]
pub fn problem(seed: u64) -> (Problem, Universe) {
    problem_of(seed, 5..=7, 4..=5, Pairs::Drawn)
}

/// How many cars have two faults.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pairs {
    /// Some: a fiftieth to a third of what independent weights would bring together, another share in each problem.
    Drawn,
    /// This share.
    Share(f64),
}

/// The same with other numbers of suspects and tests, and so many cars with two faults.
#[must_use]
pub fn problem_of(
    seed: u64,
    suspects: RangeInclusive<usize>,
    tests: RangeInclusive<usize>,
    pairs: Pairs,
) -> (Problem, Universe) {
    let mut rng = Rng::new(seed, 0x9a);
    let suspects = suspects.start() + below(&mut rng, suspects.clone().count());
    let tests = tests.start() + below(&mut rng, tests.clone().count());
    let money = |m: f64| Spend { money: m, minutes: m };
    let mut repairs: Vec<RepairStep> = (0..suspects)
        .map(|s| RepairStep {
            id: format!("repair-{s}"),
            spend: money(between(&mut rng, 20.0, 200.0)),
            alone: Spend::default(),
            // What the one setup opens, some repairs open too.
            holds: u128::from(s % 3 == 1),
            after: 0,
            parts: 0.0,
            vain: Spend::default(),
            backing: Backing::Reading,
            found_good: false,
            removes: 1 << s,
            part: 1 << s,
            fails: if rng.unit() < 0.5 { 0.0 } else { between(&mut rng, 0.02, 0.2) },
        })
        .collect();
    if rng.unit() < 0.4 {
        let (a, b) = (below(&mut rng, suspects), below(&mut rng, suspects));
        let spend = money(between(&mut rng, 80.0, 300.0));
        repairs.push(RepairStep {
            id: "repair-both".into(),
            spend,
            alone: Spend::default(),
            holds: 0,
            after: 0,
            parts: 0.0,
            vain: Spend::default(),
            backing: Backing::Reading,
            found_good: false,
            removes: 1 << a | 1 << b,
            part: 1 << a | 1 << b,
            fails: 0.0,
        });
    }
    let readings: Vec<ReadingModel> = (0..tests)
        .map(|t| {
            let false_alarm = between(&mut rng, 0.01, 0.15);
            let seen = 1 + below(&mut rng, 3);
            let mut links: Vec<(usize, Vec<f64>)> = Vec::new();
            for _ in 0..seen {
                let s = below(&mut rng, suspects);
                if links.iter().all(|l| l.0 != s) {
                    links.push((s, vec![1.0 - between(&mut rng, 0.6, 0.99), 1.0]));
                }
            }
            ReadingModel { id: format!("test-{t}:reading"), background: vec![1.0 - false_alarm, 1.0], links }
        })
        .collect();
    let steps = (0..tests)
        .map(|t| {
            let spend = money(between(&mut rng, 2.0, 40.0));
            let setups = u128::from(rng.unit() < 0.4);
            TestStep { id: format!("test-{t}"), spend, setups, leaves: setups, begun: false, readings: vec![t] }
        })
        .collect();
    let weights: Vec<f64> = (0..suspects).map(|_| rng.unit().powi(2) + 0.02).collect();
    let double = between(&mut rng, 0.02, 0.3);
    let mut worlds: Vec<(Truth, f64)> = Vec::new();
    for a in 0..suspects {
        worlds.push((single(a), weights[a]));
        for b in a + 1..suspects {
            let both = single(a).present | single(b).present;
            worlds.push((Truth { present: both, need: both }, weights[a] * weights[b] * double));
        }
    }
    if let Pairs::Share(share) = pairs {
        let of = |two: bool| worlds.iter().filter(|w| (w.0.present.count_ones() > 1) == two).map(|w| w.1).sum::<f64>();
        let times = [(1.0 - share) / of(false), share / of(true)];
        worlds.iter_mut().for_each(|w| w.1 *= times[usize::from(w.0.present.count_ones() > 1)]);
        worlds.retain(|w| w.1 > 0.0);
    }
    let retest = money(RETEST);
    repairs
        .iter_mut()
        .for_each(|r| r.alone = Spend { money: r.spend.money - RETEST, minutes: r.spend.minutes - RETEST });
    let setups = vec![("setup".to_owned(), money(between(&mut rng, 5.0, 30.0)))];
    let hand_on = money(between(&mut rng, 200.0, 800.0));
    let again = vec![0; repairs.len()];
    let problem = Problem {
        suspects: (0..suspects).collect(),
        tests: steps,
        repairs,
        readings,
        returns: Vec::new(),
        setups,
        hand_on,
        verify: retest,
        aim: Aim::Money,
        again,
        paid: 0,
        done: 0,
        repaired: false,
    };
    let universe = Universe::new(&problem, &worlds);
    (problem, universe)
}

fn single(s: usize) -> Truth {
    Truth { present: 1 << s, need: 1 << s }
}

fn between(rng: &mut Rng, low: f64, high: f64) -> f64 {
    low + (high - low) * rng.unit()
}

fn below(rng: &mut Rng, n: usize) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "n is small and the unit below 1"
    )]
    let at = (rng.unit() * n as f64) as usize;
    at.min(n - 1)
}

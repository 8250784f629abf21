//! The planner against exhaustive search, hand-worked tables, its own simulator, and problems at the edge.

mod edges;
mod habits;
mod laws;
mod published;
mod shipped;

use super::problem::{Backing, Problem, ReadingModel, RepairStep, TestStep};
use super::{Aim, Spend, Truth, Universe};

fn money(m: f64) -> Spend {
    Spend { money: m, minutes: m }
}

/// Single faults with one sure repair each and no test.
fn repairs(p: &[f64], costs: &[f64], hand_on: f64) -> (Problem, Vec<(Truth, f64)>) {
    let repairs = costs.iter().enumerate().map(|(i, c)| RepairStep {
        id: format!("r{i}"),
        spend: money(*c),
        alone: money((c - 1.0).max(0.0)),
        holds: 0,
        after: 0,
        parts: 0.0,
        vain: Spend::default(),
        backing: Backing::Reading,
        found_good: false,
        removes: 1 << i,
        part: 1 << i,
        fails: 0.0,
    });
    let problem = Problem {
        suspects: (0..p.len()).collect(),
        tests: Vec::new(),
        repairs: repairs.collect(),
        readings: Vec::new(),
        returns: Vec::new(),
        setups: Vec::new(),
        hand_on: money(hand_on),
        verify: money(1.0),
        aim: Aim::Money,
        again: vec![0; p.len()],
        paid: 0,
        done: 0,
        repaired: false,
    };
    let worlds = p.iter().enumerate().map(|(i, p)| (Truth { present: 1 << i, need: 1 << i }, *p)).collect();
    (problem, worlds)
}

fn with_test(problem: &mut Problem, cost: f64, background: f64, detects: &[(usize, f64)], setups: u128) {
    let reading = problem.readings.len();
    let links = detects.iter().map(|(s, d)| (*s, vec![1.0 - d, 1.0])).collect();
    problem.readings.push(ReadingModel { id: format!("t{reading}:r"), background: vec![1.0 - background, 1.0], links });
    problem.tests.push(TestStep {
        begun: false,
        id: format!("t{reading}"),
        spend: money(cost),
        setups,
        leaves: setups,
        readings: vec![reading],
    });
}

fn universe(problem: &Problem, worlds: &[(Truth, f64)]) -> Universe {
    Universe::new(problem, worlds)
}

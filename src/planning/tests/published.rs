//! Repair order and the value of one test against published results and a worked table.

use super::{repairs, universe, with_test};
use crate::{Detail, Effort, State, Step, best_step, exact, grow, rivals};
use inference::Rng;

const THOROUGH: usize = 1_000_000;

/// Own example, worked by hand: p = (.3, .5, .2), c = (10, 30, 5). Order 3, 1, 2 by p / c = .04, .03, .0167:
/// 5 + .8 x 10 + .5 x 30 = 28.
#[test]
fn probability_over_cost_gives_the_worked_order() {
    let (problem, worlds) = repairs(&[0.3, 0.5, 0.2], &[10.0, 30.0, 5.0], 1e6);
    let u = universe(&problem, &worlds);
    let plan = grow(&problem, &u, &u, &Detail::thorough(), &|s| rivals::repairs_only(&problem, &u, s));
    assert!((plan.expected().money - 28.0).abs() < 1e-9, "{}", plan.expected().money);
    let root = plan.root.unwrap();
    assert_eq!(root.step, Step::Repair(2));
    let second = root.branches[1].then.as_ref().unwrap();
    assert_eq!(second.step, Step::Repair(0));
}

/// The same with a perfect test of item 2 at cost 2: 2 + .5 x 30 + .5 x (order 3, 1 of the rest, p = (.6, .4):
/// 5 + .6 x 10 = 11) = 2 + 15 + 5.5 = 22.5.
#[test]
fn a_perfect_test_lowers_it_as_worked() {
    let (mut problem, worlds) = repairs(&[0.3, 0.5, 0.2], &[10.0, 30.0, 5.0], 1e6);
    with_test(&mut problem, 2.0, 0.0, &[(1, 1.0)], 0);
    let u = universe(&problem, &worlds);
    let (best, first) = exact(&problem, &u, &State::start(&problem, &u), THOROUGH).unwrap();
    assert!((best - 22.5).abs() < 1e-9, "{best}");
    assert_eq!(first, Step::Test(0));
    assert_eq!(best_step(&problem, &u, &State::start(&problem, &u), &Effort::quick()), Step::Test(0));
}

/// Published: Kadane & Simon 1977; Heckerman, Breese & Rommelse 1995. For one fault, probability over cost is the best
/// order: compared with all orders of up to 7 repairs.
#[test]
fn probability_over_cost_is_the_best_of_all_orders() {
    let mut rng = Rng::new(11, 0);
    for n in 2..=7_usize {
        for _ in 0..if n < 7 { 8 } else { 2 } {
            let weights: Vec<f64> = (0..n).map(|_| rng.unit()).collect();
            let total: f64 = weights.iter().sum();
            let p: Vec<f64> = weights.iter().map(|w| w / total).collect();
            let c: Vec<f64> = (0..n).map(|_| 5.0 + 100.0 * rng.unit()).collect();
            let (problem, worlds) = repairs(&p, &c, 1e6);
            let u = universe(&problem, &worlds);
            let plan = grow(&problem, &u, &u, &Detail::thorough(), &|s| rivals::repairs_only(&problem, &u, s));
            let best = cheapest_order(&p, &c, 0, 1.0);
            assert!((plan.expected().money - best).abs() < 1e-6 * best, "{} {best}", plan.expected().money);
        }
    }
}

fn cheapest_order(p: &[f64], c: &[f64], made: usize, alive: f64) -> f64 {
    let left = (0..p.len()).filter(|i| made >> i & 1 == 0);
    let all = left.map(|i| alive * c[i] + cheapest_order(p, c, made | 1 << i, alive - p[i]));
    let best = all.fold(f64::INFINITY, f64::min);
    if best.is_finite() { best } else { 0.0 }
}

//! What must hold on any problem: the policy near the optimum, bounds below it, and masses that add up.

use crate::random::{Pairs, problem, problem_of};
use crate::{Detail, Effort, State, Step, best_step, exact, grow, lower_bound, next_steps, quote, rivals};

/// Passes that come later may lower the best candidate a little more.
const EQUAL: f64 = 0.01;

/// The figures that the bench states for 500 problems, here on fewer so that the suite stays quick: mean excess of the
/// policy without exact search at most 0.7 %, worst at most 3 %.
#[test]
fn the_policy_is_close_to_exhaustive_search() {
    let effort = Effort { exact_nodes: 0, ..Effort::thorough() };
    let (mut sum, mut worst, mut n) = (0.0, 0.0_f64, 0.0);
    for seed in 0..24 {
        let (p, u) = problem_of(seed, 4..=5, 3..=4, Pairs::Drawn);
        let start = State::start(&p, &u);
        let Some((best, _)) = exact(&p, &u, &start, 20_000) else { continue };
        let plan = grow(&p, &u, &u, &Detail::thorough(), &|s| best_step(&p, &u, s, &effort));
        let excess = plan.expected().money / best - 1.0;
        // The walk of the tree drops worlds below 1e-7 of a state, the optimum does not: the two agree to about that.
        assert!(excess > -1e-6, "seed {seed}: better than the optimum by {excess}");
        let bound = lower_bound(&p, &u, &start);
        assert!(bound <= best * (1.0 + 1e-12), "seed {seed}: bound {bound}, optimum {best}");
        let repairs = grow(&p, &u, &u, &Detail::thorough(), &|s| rivals::repairs_only(&p, &u, s));
        assert!(repairs.expected().money >= best * (1.0 - 1e-12));
        sum += excess;
        worst = worst.max(excess);
        n += 1.0;
    }
    assert!(n >= 16.0, "only {n} problems were small enough");
    assert!(sum / n <= 0.007 && worst <= 0.03, "mean {} worst {worst} of {n}", sum / n);
}

#[test]
fn endings_add_up_and_agree_with_the_root() {
    for seed in 100..110 {
        let (p, u) = problem(seed);
        let plan = grow(&p, &u, &u, &Detail::thorough(), &|s| rivals::one_ahead(&p, &u, s));
        let total: f64 = plan.endings.iter().map(|e| e.mass).sum();
        assert!((total - 1.0).abs() < 1e-9, "seed {seed}: {total}");
        let root = plan.root.as_ref().unwrap();
        assert!((root.ahead.money - plan.expected().money).abs() < 1e-6);
        let q = quote(&plan);
        assert!((q.within(f64::INFINITY) - 1.0).abs() < 1e-9 && q.money.median <= q.money.p90);
        assert!((q.fixed - plan.endings.iter().filter(|e| e.fixed).map(|e| e.mass).sum::<f64>()).abs() < 1e-12);
    }
}

#[test]
fn candidates_come_best_first_and_never_below_the_bound() {
    for seed in 200..220 {
        let (p, u) = problem(seed);
        let start = State::start(&p, &u);
        let steps = next_steps(&p, &u, &start, &Effort { exact_nodes: 0, ..Effort::thorough() });
        assert!(steps.steps.windows(2).all(|w| w[0].expected <= w[1].expected));
        let advised = next_steps(&p, &u, &start, &Effort { exact_nodes: 0, sense: true, ..Effort::thorough() });
        assert!(advised.steps.windows(2).all(|w| w[0].expected <= w[1].expected), "seed {seed}: {advised:?}");
        assert!(steps.steps[0].expected >= steps.bound * (1.0 - 1e-12), "seed {seed}");
        // A test first costs at most itself on top of the best: what it shows can be ignored.
        let best = steps.steps.iter().map(|s| s.expected).fold(f64::INFINITY, f64::min);
        for s in steps.steps.iter().filter(|s| matches!(s.step, Step::Test(_))) {
            assert!(s.expected <= (best + s.spend.money) * (1.0 + EQUAL), "seed {seed}: {s:?} beside {best}");
        }
        assert!(steps.steps[0].expected <= steps.repairs_only * (1.0 + 1e-12), "seed {seed}");
        // The same question gives the same answer.
        assert_eq!(steps, next_steps(&p, &u, &start, &Effort { exact_nodes: 0, ..Effort::thorough() }));
    }
}

/// Splitting by a test and putting the outcomes together again gives the state back.
#[test]
fn outcomes_of_a_test_add_up_to_the_state() {
    for seed in 300..310 {
        let (p, u) = problem(seed);
        let start = State::start(&p, &u);
        for t in 0..p.tests.len() {
            for floor in [0.0, 0.3] {
                let shown = super::super::branch::split(&p, &u, &start, t, floor);
                let mass: f64 = shown.iter().map(|s| s.state.mass).sum();
                assert!((mass - 1.0).abs() < 1e-12);
                assert!(
                    shown
                        .iter()
                        .all(|s| (s.state.worlds.iter().map(|w| w.1).sum::<f64>() - s.state.mass).abs() < 1e-12)
                );
            }
        }
    }
}

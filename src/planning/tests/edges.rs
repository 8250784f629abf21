//! Problems at the edge: costs of nothing, huge costs, nothing to choose from.

use super::{money, repairs, universe, with_test};
use crate::problem::Backing;
use crate::{Detail, Effort, State, Step, best_step, grow, next_steps};

fn first(problem: &crate::Problem, worlds: &[(crate::Truth, f64)]) -> Step {
    let u = universe(problem, worlds);
    let steps = next_steps(problem, &u, &State::start(problem, &u), &Effort::quick());
    assert!(steps.steps.iter().all(|s| !s.expected.is_nan()));
    let plan = grow(problem, &u, &u, &Detail::quick(), &|s| best_step(problem, &u, s, &Effort::quick()));
    assert!(plan.expected().money.is_finite());
    steps.steps[0].step
}

#[test]
fn one_suspect_is_repaired() {
    let (problem, worlds) = repairs(&[1.0], &[50.0], 500.0);
    assert_eq!(first(&problem, &worlds), Step::Repair(0));
}

#[test]
fn what_cannot_be_repaired_is_handed_on() {
    let (mut problem, worlds) = repairs(&[1.0], &[50.0], 500.0);
    problem.repairs.clear();
    problem.again.clear();
    assert_eq!(first(&problem, &worlds), Step::HandOn);
}

#[test]
fn costs_of_nothing_do_not_loop() {
    let (mut problem, worlds) = repairs(&[0.5, 0.3, 0.2], &[0.0, 0.0, 0.0], 0.0);
    problem.repairs[0].fails = 0.5;
    with_test(&mut problem, 0.0, 0.1, &[(0, 0.9)], 0);
    problem.verify = money(0.0);
    first(&problem, &worlds);
    problem.hand_on = money(100.0);
    assert!(matches!(first(&problem, &worlds), Step::Repair(_) | Step::Test(_)));
}

#[test]
fn huge_costs_stay_finite() {
    let (mut problem, worlds) = repairs(&[0.5, 0.5], &[1e12, 3e12], 1e15);
    with_test(&mut problem, 1e9, 0.1, &[(0, 0.9)], 0);
    assert_eq!(first(&problem, &worlds), Step::Test(0));
}

#[test]
fn everything_tested_leaves_repairs() {
    let (mut problem, worlds) = repairs(&[0.7, 0.3], &[10.0, 20.0], 500.0);
    with_test(&mut problem, 1.0, 0.1, &[(0, 0.9)], 0);
    problem.done = 1;
    assert_eq!(first(&problem, &worlds), Step::Repair(0));
}

#[test]
fn nothing_present_needs_no_plan() {
    let (problem, _) = repairs(&[1.0], &[50.0], 500.0);
    let u = universe(&problem, &[(crate::Truth { present: 0, need: 0 }, 1.0)]);
    let plan = grow(&problem, &u, &u, &Detail::quick(), &|_| Step::HandOn);
    assert!(plan.root.is_none() && plan.expected().money == 0.0);
}

/// A setup is paid once: the second test that needs it costs only itself.
#[test]
fn setups_are_paid_once() {
    let (mut problem, worlds) = repairs(&[0.4, 0.3, 0.3], &[200.0, 300.0, 400.0], 5000.0);
    problem.setups = vec![("lift".into(), money(30.0))];
    with_test(&mut problem, 5.0, 0.01, &[(0, 0.99)], 1);
    with_test(&mut problem, 5.0, 0.01, &[(1, 0.99)], 1);
    assert_eq!(problem.cost(Step::Test(1), 0), 35.0);
    assert_eq!(problem.cost(Step::Test(1), 1), 5.0);
    let u = universe(&problem, &worlds);
    let plan = grow(&problem, &u, &u, &Detail::thorough(), &|s| best_step(&problem, &u, s, &Effort::quick()));
    let root = plan.root.unwrap();
    assert_eq!(root.spend.money, 35.0);
    let again = root.branches.iter().filter_map(|b| b.then.as_ref()).find(|n| matches!(n.step, Step::Test(_)));
    assert_eq!(again.unwrap().spend.money, 5.0);
}

/// A repair holds the way to the part: where a test has paid for it, that is not paid again, nor is it ever all of the labour.
#[test]
fn what_a_test_has_paid_for_is_not_paid_again_by_the_repair() {
    let (mut problem, worlds) = repairs(&[0.5, 0.5], &[100.0, 100.0], 5000.0);
    problem.setups = vec![("tank top reached".into(), money(30.0)), ("the wires measured".into(), money(90.0))];
    problem.repairs[0].holds = 0b01;
    problem.repairs[1].holds = 0b10;
    with_test(&mut problem, 10.0, 0.01, &[(0, 0.99)], 0b01);
    assert_eq!(problem.cost(Step::Repair(0), 0), 100.0);
    assert_eq!(problem.cost(Step::Repair(0), 0b01), 70.0);
    assert_eq!(problem.cost(Step::Mend(0), 0b01), 69.0);
    let third = 100.0 - 99.0 * 2.0 / 3.0;
    assert!((problem.cost(Step::Repair(1), 0b11) - third).abs() < 1e-9, "at most two thirds of the labour");
    let u = universe(&problem, &worlds);
    let plan = grow(&problem, &u, &u, &Detail::thorough(), &|s| best_step(&problem, &u, s, &Effort::quick()));
    let root = plan.root.unwrap();
    assert!(matches!(root.step, Step::Test(0)), "the look on the way costs next to nothing");
    let found = root.branches.iter().filter_map(|b| b.then.as_ref()).find(|n| n.step == Step::Repair(0)).unwrap();
    assert_eq!(found.spend.money, 70.0);
}

/// Handing on saves the search, never the repair: a sure fault is repaired here, however dear, and what is owed counts
/// a repair of two faults once.
#[test]
fn a_dear_repair_is_not_handed_on_when_its_need_is_sure() {
    let (problem, worlds) = repairs(&[1.0], &[900.0], 600.0);
    assert_eq!(first(&problem, &worlds), Step::Repair(0));
    let (mut problem, _) = repairs(&[0.4, 0.3, 0.3], &[900.0, 50.0, 70.0], 600.0);
    assert_eq!(problem.owed(0b111), money(1020.0));
    problem.repairs[2].removes = 0b110;
    problem.repairs[1].spend = money(80.0);
    assert_eq!(problem.owed(0b110), money(70.0));
    problem.repairs.remove(0);
    assert_eq!(problem.owed(0b001), money(0.0), "nobody knows what a fault without a repair costs");
}

/// What the base makes a repair wait for comes first, though the numbers would not; not where it costs more than a quarter of the
/// repair, and not once a reading has shown the fault alone.
#[test]
fn a_repair_waits_for_the_tests_that_it_is_made_after() {
    let (mut problem, worlds) = repairs(&[0.93, 0.07], &[300.0, 60.0], 5000.0);
    with_test(&mut problem, 20.0, 0.01, &[(1, 0.5)], 0);
    assert_eq!(first(&problem, &worlds), Step::Repair(0));
    problem.repairs[0].after = 0b1;
    assert_eq!(first(&problem, &worlds), Step::Test(0));
    problem.tests[0].spend = money(80.0);
    assert_eq!(first(&problem, &worlds), Step::Repair(0), "too dear beside the repair");
    problem.tests[0].spend = money(20.0);
    let (_, worlds) = repairs(&[0.97, 0.03], &[300.0, 60.0], 5000.0);
    problem.repairs[0].backing = Backing::Shown;
    assert_eq!(first(&problem, &worlds), Step::Repair(0), "shown alone");
}

/// Codes and symptoms alone fit no part, however likely they make it, while a test can show its fault.
#[test]
fn codes_alone_fit_no_part() {
    let (mut problem, worlds) = repairs(&[0.98, 0.02], &[300.0, 60.0], 5000.0);
    with_test(&mut problem, 80.0, 0.01, &[(0, 0.9)], 0);
    assert_eq!(
        first(&problem, &worlds),
        Step::Repair(0),
        "a reading that speaks for it, and a test of more than a quarter"
    );
    for repair in &mut problem.repairs {
        (repair.backing, repair.parts) = (Backing::Codes, 40.0);
    }
    assert_eq!(first(&problem, &worlds), Step::Test(0));
}

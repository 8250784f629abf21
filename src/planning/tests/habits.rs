//! What a technician holds to where costs do not decide: the rules of `preference` and `equals`, each on a problem of its own.

use super::{money, repairs, universe, with_test};
use crate::equals::settle_equals;
use crate::problem::Backing;
use crate::{Effort, Problem, Scored, State, Step, Truth, next_steps, score};

fn first(problem: &Problem, worlds: &[(Truth, f64)]) -> Step {
    let u = universe(problem, worlds);
    next_steps(problem, &u, &State::start(problem, &u), &Effort::quick()).steps[0].step
}

#[test]
fn what_was_measured_good_is_not_mended() {
    let (mut problem, worlds) = repairs(&[0.45, 0.55], &[50.0, 300.0], 5000.0);
    assert_eq!(first(&problem, &worlds), Step::Repair(0));
    problem.repairs[0].found_good = true;
    assert_eq!(first(&problem, &worlds), Step::Repair(1));
    let (_, worlds) = repairs(&[0.6, 0.4], &[50.0, 300.0], 5000.0);
    assert_eq!(first(&problem, &worlds), Step::Repair(1), "however likely the numbers leave it");
}

/// Where no test tells anything, a part for which only codes speak, and weakly, is no better than handing on.
#[test]
fn the_car_is_handed_on_before_a_weak_guess() {
    let (mut problem, worlds) = repairs(&[0.25, 0.2, 0.15, 0.4], &[60.0, 70.0, 80.0, 90.0], 600.0);
    assert!(matches!(first(&problem, &worlds), Step::Repair(_)));
    problem.repairs.truncate(3);
    for repair in &mut problem.repairs {
        repair.backing = Backing::Codes;
        repair.spend.minutes = 40.0;
    }
    assert_eq!(first(&problem, &worlds), Step::HandOn);
}

/// A repair for which the base names no test waits for what well shows its fault and no other part's, until a reading has shown it.
#[test]
fn what_well_shows_the_fault_comes_before_its_repair() {
    let (mut problem, worlds) = repairs(&[0.9, 0.1], &[200.0, 60.0], 5000.0);
    with_test(&mut problem, 30.0, 0.01, &[(0, 0.9)], 0);
    problem.repairs[0].backing = Backing::Reading;
    assert_eq!(first(&problem, &worlds), Step::Test(0));
    problem.repairs[0].backing = Backing::Shown;
    assert_eq!(first(&problem, &worlds), Step::Repair(0));
}

/// A test of 110 is a third of a repair of 300, but 80 of it open what the repair opens too.
#[test]
fn what_is_opened_for_both_is_no_cost_of_the_test() {
    let (mut problem, worlds) = repairs(&[0.93, 0.07], &[300.0, 60.0], 5000.0);
    problem.setups = vec![("open".to_owned(), money(80.0))];
    with_test(&mut problem, 30.0, 0.01, &[(1, 0.5)], 1);
    problem.repairs[0].after = 1;
    assert_eq!(first(&problem, &worlds), Step::Repair(0), "too dear beside the repair");
    problem.repairs[0].holds = 1;
    assert_eq!(first(&problem, &worlds), Step::Test(0));
}

/// The cheaper test looks at what is hardly ever at fault; the guess may follow either.
#[test]
fn the_test_in_the_place_of_a_guess_is_about_it() {
    let (mut problem, worlds) = repairs(&[0.8, 0.05, 0.15], &[100.0, 100.0, 100.0], 5000.0);
    with_test(&mut problem, 5.0, 0.01, &[(1, 0.9)], 0);
    with_test(&mut problem, 16.0, 0.01, &[(0, 0.9)], 0);
    for repair in &mut problem.repairs {
        (repair.backing, repair.parts) = (Backing::Codes, 50.0);
    }
    assert_eq!(first(&problem, &worlds), Step::Test(1));
}

/// In a plan the test that was made speaks for a repair only where what it shows is likely now.
#[test]
fn what_was_read_on_the_way_speaks_for_a_repair() {
    let (mut problem, worlds) = repairs(&[0.5, 0.5], &[100.0, 100.0], 5000.0);
    with_test(&mut problem, 5.0, 0.01, &[(0, 0.9)], 0);
    problem.repairs.iter_mut().for_each(|r| r.backing = Backing::Codes);
    let u = universe(&problem, &worlds);
    let after = |world: usize, done: u128| {
        let start = State::start(&problem, &u);
        State { worlds: vec![start.worlds[world]], mass: start.worlds[world].1, done, ..start }
    };
    let backing = |world: usize, done: u128, repair: usize| {
        score(&problem, &u, &after(world, done), Step::Repair(repair), &Effort::quick()).unwrap().backing
    };
    assert_eq!(backing(0, 0, 0), Backing::Codes, "no test was made");
    assert_eq!(backing(0, 1, 0), Backing::Shown);
    assert_eq!(backing(1, 1, 1), Backing::Codes, "the test does not show the other fault");
    // One repair for both: that the other fault is there is nothing that the test has shown.
    problem.repairs[1].removes = 0b11;
    let u = universe(&problem, &worlds);
    let start = State::start(&problem, &u);
    let other = State { worlds: vec![start.worlds[1]], mass: start.worlds[1].1, done: 1, ..start };
    assert_eq!(score(&problem, &u, &other, Step::Repair(1), &Effort::quick()).unwrap().backing, Backing::Codes);
}

/// Two tests and a repair that readings make likely, none dearer than the others by more than can be told apart.
#[test]
fn equals_are_settled_by_what_they_are_about() {
    let (mut problem, worlds) = repairs(&[0.7, 0.3], &[100.0, 100.0], 5000.0);
    with_test(&mut problem, 5.0, 0.01, &[(1, 0.9)], 0);
    with_test(&mut problem, 5.0, 0.01, &[(1, 0.8)], 0);
    let u = universe(&problem, &worlds);
    let start = State::start(&problem, &u);
    let scored = |step: Step| -> Scored {
        let s = score(&problem, &u, &start, step, &Effort::quick()).unwrap();
        Scored { expected: 100.0, fits: step.repair().is_some(), ..s }
    };
    let list: Vec<Scored> = [Step::Test(0), Step::Test(1), Step::Repair(0)].map(scored).into();
    let first = |problem: &Problem, needed: f64, trail: &[Step]| {
        let mut list = list.clone();
        let lead = Scored { needed, ..list[2] };
        settle_equals(problem, &mut list, Some(&lead), trail);
        list[0].step
    };
    assert_eq!(first(&problem, 0.7, &[]), Step::Repair(0), "no test is about it");
    assert_eq!(first(&problem, 0.5, &[]), Step::Test(0), "it is not likely enough to lead");
    assert_eq!(first(&problem, 0.7, &[Step::Test(1)]), Step::Test(1), "one is");
    let mut begun = problem.clone();
    begun.tests[0].begun = true;
    assert_eq!(first(&begun, 0.5, &[]), Step::Test(1), "somebody has been there");
    assert_eq!(first(&begun, 0.5, &[Step::Test(0)]), Step::Test(0), "unless nothing else is about it");
}

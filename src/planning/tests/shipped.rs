//! The shipped base: the first steps that practice expects, and plans that simulated cars agree with.

use crate::{Aim, Detail, Effort, Posed, Question, Shop, State, next_steps, plan, pose, simulate};
use evidence::{Epoch, History};
use inference::Evidence;
use knowledge::base::{Base, Vehicle};
use network::{Network, build::build};

fn said(base: &Base, vehicle: &Vehicle, codes: &[&str]) -> (Network, Evidence) {
    let network = build(base, vehicle);
    let codes = codes.iter().map(|c| (*c).to_owned()).collect();
    let epoch = Epoch { codes, codes_complete: true, ..Epoch::default() };
    let told = History::visit(Vec::new(), epoch).tell(base, &network).unwrap();
    (network, told.evidence)
}

fn first(posed: &Posed) -> String {
    let start = State::start(&posed.problem, &posed.universe);
    let steps = next_steps(&posed.problem, &posed.universe, &start, &Effort::quick());
    posed.problem.id(steps.steps[0].step).to_owned()
}

/// Common practice: for a leak code alone the look at the cap comes first, because it costs a minute.
#[test]
fn a_large_leak_starts_with_the_cap() {
    let base = shipped::base().unwrap();
    let (network, evidence) = said(&base, &Vehicle::default(), &["P0455"]);
    let shop = Shop::default();
    let posed = pose(&Question::quick(&base, &network, &evidence, &shop)).unwrap();
    assert_eq!(first(&posed), "cap-look-reseat");
    // A test of a tool that is not there is never on offer.
    let shop = shop.without_tool(&base, "smoke-machine");
    let posed = pose(&Question::quick(&base, &network, &evidence, &shop)).unwrap();
    assert!(posed.problem.tests.iter().all(|t| !t.id.starts_with("smoke-")));
    assert!(posed.lacking.iter().any(|l| l.0 == "smoke-whole" && l.1 == ["smoke-machine"]));
}

/// Cars drawn from the network and worked by the plan cost on average what the plan says, within three standard
/// errors and the share of the worlds that it leaves out.
#[test]
fn simulated_cars_agree_with_the_plan() {
    let base = shipped::base().unwrap();
    let (network, evidence) = said(&base, &Vehicle::default(), &["P0443"]);
    let shop = Shop::default();
    let question = Question { min_mass: 1e-5, ..Question::thorough(&base, &network, &evidence, &shop) };
    let posed = pose(&question).unwrap();
    let detail = Detail { full: 0.2, ahead: 0.05, ..Detail::quick() };
    let plan = plan(&posed, &Effort::quick(), &detail);
    let cars = simulate::draw(&network, &evidence, &posed, 3_000, 40_000_000, 5);
    assert_eq!(cars.cars.len(), 3_000);
    let (mean, error) = simulate::work(&network, &posed, &plan, &cars.cars, 6).mean(Aim::Money);
    let expected = plan.expected().money;
    assert!((mean - expected).abs() < 3.0 * error + posed.missing * expected, "{mean} ± {error}, plan {expected}");
}

/// Drawn cars have the suspects as often as the posterior says.
#[test]
fn drawn_cars_follow_the_posterior() {
    let base = shipped::base().unwrap();
    let (network, evidence) = said(&base, &Vehicle::default(), &["P0443"]);
    let shop = Shop::default();
    let posed = pose(&Question::quick(&base, &network, &evidence, &shop)).unwrap();
    let cars = simulate::draw(&network, &evidence, &posed, 4_000, 40_000_000, 9).cars;
    let now = inference::posterior(&network, &evidence).unwrap().now;
    for (s, p) in now.iter().enumerate() {
        let share = cars.iter().filter(|c| c.present.contains(&s)).count() as f64 / cars.len() as f64;
        let error = (p * (1.0 - p) / cars.len() as f64).sqrt();
        assert!((share - p).abs() < 4.5 * error + 1e-3, "{}: {share} {p}", network.suspects[s].id);
    }
}

//! Prints how far the planner is from the optimum, how it does against other ways to choose, whether simulated cars cost
//! what the plan says, what a technician's habits cost, and how long it takes. `cargo bench --bench planner`, or with a part: `small`,
//! `larger`, `sense`, `cars`, `time`; with `--problems=N`, fewer problems than 500 and 200.

#![expect(clippy::print_stdout, clippy::unwrap_used, reason = "a bench prints, and stops at what it does not expect")]

use faultodds::evidence::{Epoch, History};
use faultodds::inference::Evidence;
use faultodds::knowledge::base::{Base, Vehicle};
use faultodds::network::{Network, build::build};
use faultodds::planning::{
    Aim, Detail, Effort, Problem, Question, Shop, State, Step, Universe, best_step, exact, grow, lower_bound,
    next_steps, plan, pose,
    random::{self, Pairs},
    rivals, simulate,
};
use faultodds::shipped;
use rayon::prelude::*;
use std::time::Instant;

/// Random problems of each kind solved exhaustively.
const PROBLEMS: usize = 500;
/// Larger ones, which are not.
const LARGER: usize = 200;
/// States an exhaustive search may visit; problems that need more are skipped and counted.
const NODES: usize = 300_000;
/// Simulated cars.
const CARS: usize = 100_000;
/// Tests in the order of a general leak procedure, whatever is found: for comparison only.
const ORDER: &[&str] = &[
    "cap-look-reseat",
    "walk-round",
    "cap-leak-test",
    "purge-valve-hold",
    "purge-hose-trace",
    "vent-path-look",
    "vent-command",
    "smoke-whole",
    "smoke-tank-side",
    "tank-top-look",
];

fn main() {
    let part = std::env::args().skip(1).find(|a| !a.starts_with('-'));
    let wanted = |name: &str| part.as_deref().is_none_or(|p| p == name);
    let base = shipped::base().unwrap();
    if wanted("time") {
        time(&base);
    }
    let problems = std::env::args().find_map(|a| a.strip_prefix("--problems=")?.parse().ok());
    if wanted("small") {
        for (name, pairs) in KINDS {
            small(name, pairs, problems.unwrap_or(PROBLEMS));
        }
    }
    if wanted("larger") {
        larger(problems.unwrap_or(LARGER));
    }
    if wanted("sense") {
        sense(&base);
    }
    if wanted("cars") {
        for codes in [&["P0455"][..], &["P0442"], &["P0443"], &["P0455", "P0443"]] {
            cars(&base, codes);
        }
    }
}

/// Kinds of random problems.
const KINDS: [(&str, Pairs); 4] = [
    ("as drawn", Pairs::Drawn),
    ("one fault in every car", Pairs::Share(0.0)),
    ("two faults in half of the cars", Pairs::Share(0.5)),
    ("two faults in all cars", Pairs::Share(1.0)),
];

fn small(kind: &str, pairs: Pairs, problems: usize) {
    let names = [
        "repairs only",
        "information per cost",
        "one test ahead",
        "this planner, by costs",
        "same, no exact search",
        "as it is proposed",
    ];
    let proposed = Effort::quick();
    let own = Effort { sense: false, ..proposed };
    let inexact = Effort { exact_nodes: 0, ..own };
    let mut rows: Vec<[f64; 7]> = Vec::new();
    let (mut seed, mut skipped) = (0, 0);
    while rows.len() < problems {
        let batch: Vec<Option<[f64; 7]>> = (seed..seed + 64)
            .into_par_iter()
            .map(|seed| {
                let (p, u) = random::problem_of(seed, 5..=7, 4..=5, pairs);
                let start = State::start(&p, &u);
                let (best, _) = exact(&p, &u, &start, NODES)?;
                let of = |f: &(dyn Fn(&State) -> Step + Sync)| {
                    grow(&p, &u, &u, &Detail::thorough(), f).expected().money / best - 1.0
                };
                Some([
                    of(&|s| rivals::repairs_only(&p, &u, s)),
                    of(&|s| rivals::information(&p, &u, s)),
                    of(&|s| rivals::one_ahead(&p, &u, s)),
                    of(&|s| best_step(&p, &u, s, &own)),
                    of(&|s| best_step(&p, &u, s, &inexact)),
                    of(&|s| best_step(&p, &u, s, &proposed)),
                    lower_bound(&p, &u, &start) / best,
                ])
            })
            .collect();
        seed += 64;
        skipped += batch.iter().filter(|b| b.is_none()).count();
        rows.extend(batch.into_iter().flatten());
    }
    println!(
        "{kind}: {} random problems (5 to 7 suspects, 4 or 5 noisy tests, setups, repairs that may not take), solved exhaustively; {skipped} \
         more needed over {NODES} states and are left out",
        rows.len()
    );
    println!("{:<24}{:>14}{:>14}", "excess over the optimum", "mean", "worst");
    for (i, name) in names.iter().enumerate() {
        let (mean, worst) = mean_and_worst(rows.iter().map(|r| r[i]));
        println!("{name:<24}{:>12.2} %{:>12.2} %", mean * 100.0, worst * 100.0);
    }
    let (bound, _) = mean_and_worst(rows.iter().map(|r| r[6]));
    println!("the lower bound is {:.0} % of the optimum on average\n", bound * 100.0);
}

fn mean_and_worst(of: impl Iterator<Item = f64>) -> (f64, f64) {
    let all: Vec<f64> = of.collect();
    (all.iter().sum::<f64>() / all.len() as f64, all.into_iter().fold(f64::NEG_INFINITY, f64::max))
}

/// Problems too large for the optimum, against the best of all rivals, each run to the end.
fn larger(problems: usize) {
    let own = Effort { sense: false, ..Effort::quick() };
    let rows: Vec<[f64; 2]> = (0..problems as u64)
        .into_par_iter()
        .map(|seed| {
            let (p, u) = random::problem_of(50_000 + seed, 9..=12, 6..=8, Pairs::Drawn);
            let of = |f: &(dyn Fn(&State) -> Step + Sync)| {
                // Below a ten-thousandth of the cars everybody goes on with repairs only.
                let rare = |s: &State| if s.mass < 1e-4 { rivals::repairs_only(&p, &u, s) } else { f(s) };
                grow(&p, &u, &u, &Detail { trim: 0.0, ..Detail::thorough() }, &rare).expected().money
            };
            let best = [
                of(&|s| rivals::repairs_only(&p, &u, s)),
                of(&|s| rivals::information(&p, &u, s)),
                of(&|s| rivals::one_ahead(&p, &u, s)),
            ];
            let best = best.into_iter().fold(f64::INFINITY, f64::min);
            [
                of(&|s| best_step(&p, &u, s, &own)) / best - 1.0,
                of(&|s| best_step(&p, &u, s, &Effort::quick())) / best - 1.0,
            ]
        })
        .collect();
    println!(
        "{problems} larger random problems (9 to 12 suspects, 6 to 8 tests), over the best of three rivals run to the end"
    );
    for (i, name) in ["this planner, by costs", "as it is proposed"].into_iter().enumerate() {
        let (mean, worst) = mean_and_worst(rows.iter().map(|r| r[i]));
        let dearer = rows.iter().filter(|r| r[i] > 0.005).count();
        println!(
            "{name:<24}{:>12.2} % mean{:>10.2} % worst; dearer by over half a per cent in {dearer}",
            mean * 100.0,
            worst * 100.0
        );
    }
    println!();
}

/// What the technician's habits cost on the shipped base: plans as proposed beside plans by costs alone, each code by itself.
fn sense(base: &Base) {
    let shop = Shop::default();
    let mut rows: Vec<(f64, &str)> = base
        .codes
        .par_iter()
        .filter_map(|code| {
            let (network, evidence) = said(base, &[&code.id]);
            let posed = pose(&Question::thorough(base, &network, &evidence, &shop)).ok()?;
            let of = |sense| plan(&posed, &Effort { sense, ..Effort::quick() }, &Detail::quick()).expected().money;
            Some((of(true) / of(false) - 1.0, code.id.as_str()))
        })
        .filter(|r| r.0.is_finite())
        .collect();
    rows.sort_by(|a, b| b.0.total_cmp(&a.0));
    let (mean, _) = mean_and_worst(rows.iter().map(|r| r.0));
    println!(
        "plans as proposed over plans by costs alone, {} codes of the shipped base, each by itself: {:.2} % dearer on average",
        rows.len(),
        mean * 100.0
    );
    for (more, code) in rows.iter().take(8) {
        println!("  {code:<10}{:>8.2} %", more * 100.0);
    }
    println!();
}

fn said(base: &Base, codes: &[&str]) -> (Network, Evidence) {
    let network = build(base, &Vehicle::default());
    let codes = codes.iter().map(|c| (*c).to_owned()).collect();
    let present = Epoch { codes, codes_complete: true, ..Epoch::default() };
    let told = History::visit(Vec::new(), present).tell(base, &network).unwrap();
    (network, told.evidence)
}

fn cars(base: &Base, codes: &[&str]) {
    let (network, evidence) = said(base, codes);
    let shop = Shop::default();
    let posed = pose(&Question::thorough(base, &network, &evidence, &shop)).unwrap();
    let found = simulate::draw(&network, &evidence, &posed, CARS, 2_000_000_000, 7);
    let (p, u, full): (&Problem, &Universe, Universe) = (&posed.problem, &posed.universe, posed.full_universe());
    println!(
        "{}: {} cars out of {} drawn; left out of the worlds {:.2e}",
        codes.join(" "),
        found.cars.len(),
        found.drawn,
        posed.missing
    );
    println!(
        "{:<24}{:>12}{:>12}{:>10}{:>12}{:>8}",
        "mean cost", "expected", "simulated", "error", "in errors", "steps"
    );
    let order: Vec<usize> = ORDER.iter().filter_map(|id| p.tests.iter().position(|t| t.id == *id)).collect();
    let rare = |f: &(dyn Fn(&State) -> Step + Sync), s: &State| {
        if s.mass < 1e-3 { rivals::repairs_only(p, u, s) } else { f(s) }
    };
    let by = |f: &(dyn Fn(&State) -> Step + Sync)| grow(p, u, &full, &Detail::quick(), &|s| rare(f, s));
    let plans = [
        ("this planner", plan(&posed, &Effort::quick(), &Detail::quick())),
        ("one test ahead", by(&|s| rivals::one_ahead(p, u, s))),
        ("information per cost", by(&|s| rivals::information(p, u, s))),
        ("fixed order", by(&|s| rivals::fixed_order(p, u, s, &order))),
        ("repairs only", by(&|s| rivals::repairs_only(p, u, s))),
    ];
    for (name, plan) in plans {
        let (mean, error) = simulate::work(&network, &posed, &plan, &found.cars, 99).mean(Aim::Money);
        let expected = plan.expected().money;
        println!(
            "{name:<24}{expected:>12.2}{mean:>12.2}{error:>10.2}{:>12.2}{:>8}",
            (mean - expected) / error,
            plan.nodes()
        );
    }
    println!("{:<24}{:>12.2}\n", "lower bound", lower_bound(p, &full, &State::start(p, &full)));
}

fn time(base: &Base) {
    println!("{:<28}{:>12}{:>12}   first step", "milliseconds, median", "next", "plan");
    for codes in
        [&["P0455"][..], &["P0442"], &["P0441"], &["P0443"], &["P0455", "P0441", "P0443"], &["P0440", "P0446", "P0452"]]
    {
        let (network, evidence) = said(base, codes);
        let shop = Shop::default();
        let mut first = String::new();
        let next = median(|| {
            let posed = pose(&Question::quick(base, &network, &evidence, &shop)).unwrap();
            let start = State::start(&posed.problem, &posed.universe);
            let steps = next_steps(&posed.problem, &posed.universe, &start, &Effort::quick());
            posed.problem.id(steps.steps[0].step).clone_into(&mut first);
        });
        let whole = median(|| {
            let posed = pose(&Question::thorough(base, &network, &evidence, &shop)).unwrap();
            assert!(plan(&posed, &Effort::quick(), &Detail::quick()).root.is_some());
        });
        println!("{:<28}{next:>12.1}{whole:>12.1}   {first}", codes.join(" "));
    }
    println!();
}

fn median(mut run: impl FnMut()) -> f64 {
    let mut times: Vec<f64> = (0..9)
        .map(|_| {
            let start = Instant::now();
            run();
            start.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

//! Prints how long the exact posterior takes with 3 to 24 positive findings, on the shipped base and on made-up networks.
//!
//! `cargo bench --bench posterior`. Each line is over ten questions; a question's time is the median of repeated runs.

#![expect(clippy::print_stdout, clippy::unwrap_used, reason = "a bench prints, and stops at what it does not expect")]

use faultodds::evidence::{Epoch, History, Told};
use faultodds::inference::{Evidence, InferenceError, Observation, Prepared, posterior};
use faultodds::knowledge::base::Vehicle;
use faultodds::network::{Finding, FindingKind, Link, Network, Suspect, build::build};
use faultodds::ranking::{DRAWS, Wanted, first_checks, rank};
use faultodds::shipped;
use std::hint::black_box;
use std::time::Instant;

const POSITIVES: [usize; 9] = [3, 4, 6, 8, 10, 12, 16, 20, 24];
const QUESTIONS: u64 = 10;

/// Marsaglia's xorshift64: the same questions in every run.
struct Rng(u64);

impl Rng {
    fn new(seed: u64) -> Self {
        Self((seed + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15))
    }

    fn unit(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn below(&mut self, n: usize) -> usize {
        (self.unit() * n as f64) as usize
    }
}

fn main() {
    let base = shipped::base().unwrap();
    let shipped = build(&base, &Vehicle::default());
    let title = format!("shipped base, {} suspects", shipped.suspects.len());
    line(&title, true);
    for m in POSITIVES {
        row(m, (0..QUESTIONS).map(|q| (shipped.clone(), on_the_base(&shipped, m, q))));
    }
    for (most, kind) in [(4, "sparse"), (6, "middling")] {
        line(&format!("made up, 100 suspects, 60 findings, 1 to {most} findings a suspect ({kind})"), true);
        for m in POSITIVES {
            row(m, (0..QUESTIONS).map(|q| made_up(100, 60, most, m, q)));
        }
    }
    line("made up, 150 suspects, 3 codes and 10 measured readings", true);
    row(13, (0..QUESTIONS).map(codes_and_readings));
    line("everything that `rank` computes, shipped base, milliseconds", false);
    for codes in [vec!["P0455"], vec!["P0455", "P0441"], vec!["P0440", "P0441", "P0446", "P0452", "P0496"]] {
        parts_of_rank(&base, &shipped, &codes);
    }
    line("ends of intervals over seeds, standard deviation in widths of the interval", false);
    for codes in [vec!["P0455"], vec!["P0455", "P0441"], vec!["P0420"]] {
        steadiness(&base, &shipped, &codes);
    }
}

/// Seeds and leading suspects over which the ends of intervals are compared.
const SEEDS: u64 = 60;
const LEADERS: usize = 8;

fn steadiness(base: &faultodds::knowledge::Base, network: &Network, codes: &[&str]) {
    let told = told(base, network, codes);
    let mut prepared = Prepared::new(network, &told.evidence).unwrap();
    let now = prepared.posterior().unwrap().now;
    let mut leaders: Vec<usize> = (0..now.len()).filter(|&s| prepared.bears_on(s)).collect();
    leaders.sort_by(|a, b| now[*b].total_cmp(&now[*a]));
    leaders.truncate(LEADERS);
    let drawn: Vec<_> = (0..SEEDS).map(|s| prepared.intervals_of(&leaders, DRAWS, s, 0.9).unwrap()).collect();
    let in_widths = |end: &dyn Fn(usize, usize) -> f64| {
        let of = |k: usize| {
            let ends: Vec<f64> = (0..drawn.len()).map(|seed| end(seed, k)).collect();
            let width = drawn.iter().map(|i| i.high[k] - i.low[k]).sum::<f64>() / drawn.len() as f64;
            let mean = ends.iter().sum::<f64>() / ends.len() as f64;
            (ends.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / (ends.len() - 1) as f64).sqrt() / width
        };
        (0..leaders.len()).map(of).sum::<f64>() / leaders.len() as f64
    };
    let (low, high) = (in_widths(&|seed, k| drawn[seed].low[k]), in_widths(&|seed, k| drawn[seed].high[k]));
    println!("{:<32} low end {low:.4}, high end {high:.4}", codes.join(" "));
}

/// These codes stored and no other.
fn told(base: &faultodds::knowledge::Base, network: &Network, codes: &[&str]) -> Told {
    let present =
        Epoch { codes: codes.iter().map(|c| (*c).to_owned()).collect(), codes_complete: true, ..Epoch::default() };
    History::visit(Vec::new(), present).tell(base, network).unwrap()
}

fn line(title: &str, columns: bool) {
    println!("\n{title}");
    if columns {
        println!("{:>10}{:>14}{:>14}{:>16}", "positives", "median ms", "worst ms", "widest table");
    }
}

/// A random choice of findings abnormal at a random level above the lowest, every other monitor without a code.
fn on_the_base(network: &Network, positives: usize, question: u64) -> Evidence {
    let mut rng = Rng::new(1000 * positives as u64 + question);
    let mut order: Vec<usize> =
        (0..network.findings.len()).filter(|f| !network.findings[*f].links.is_empty()).collect();
    for k in 0..positives {
        let other = k + rng.below(order.len() - k);
        order.swap(k, other);
    }
    let mut evidence = Evidence::default();
    for (k, f) in order.into_iter().enumerate() {
        let finding = &network.findings[f];
        let levels = finding.levels.len();
        if k < positives {
            evidence.observations.push(Observation::hard(f, 0, 1 + rng.below(levels - 1), levels));
        } else if finding.kind == FindingKind::Monitor {
            evidence.observations.push(Observation::hard(f, 0, 0, levels));
        }
    }
    evidence
}

/// Each suspect touches one to `most` findings of two levels; the first findings are abnormal, all others normal.
fn made_up(suspects: usize, findings: usize, most: usize, positives: usize, question: u64) -> (Network, Evidence) {
    let mut rng = Rng::new(question);
    let mut network = Network::default();
    for j in 0..findings {
        network.findings.push(Finding {
            id: format!("finding-{j}"),
            kind: FindingKind::Reading,
            levels: vec!["normal".into(), "abnormal".into()],
            leak: vec![0.99, 0.01],
            leak_weight: 50.0,
            links: Vec::new(),
        });
    }
    for i in 0..suspects {
        network.suspects.push(Suspect::plain(format!("part-{i}/fault"), 0.005 + 0.04 * rng.unit(), 30.0));
        let mut touched: Vec<usize> = (0..1 + rng.below(most)).map(|_| rng.below(findings)).collect();
        touched.sort_unstable();
        touched.dedup();
        for j in touched {
            let p = 0.1 + 0.8 * rng.unit();
            network.findings[j].links.push(Link::plain(i, vec![1.0 - p, p], 20.0));
        }
    }
    let observations = (0..findings).map(|j| Observation::hard(j, 0, usize::from(j < positives), 2)).collect();
    (network, Evidence { observations, repairs: Vec::new() })
}

fn codes_and_readings(question: u64) -> (Network, Evidence) {
    let (network, mut evidence) = made_up(150, 70, 4, 3, question);
    let mut rng = Rng::new(question + 77);
    for o in &mut evidence.observations[60..] {
        o.likelihood = vec![0.2 + rng.unit(), 0.2 + rng.unit()];
    }
    (network, evidence)
}

fn median_ms(mut run: impl FnMut()) -> f64 {
    let first = Instant::now();
    run();
    let repeats = (0.05 / first.elapsed().as_secs_f64()).clamp(3.0, 300.0) as usize;
    let mut times: Vec<f64> = (0..repeats)
        .map(|_| {
            let start = Instant::now();
            run();
            start.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

fn row(positives: usize, questions: impl Iterator<Item = (Network, Evidence)>) {
    let (mut times, mut widest, mut refused) = (Vec::new(), 0, 0);
    for (network, evidence) in questions {
        match posterior(&network, &evidence) {
            Ok(answer) => {
                widest = widest.max(answer.frontier);
                times.push(median_ms(|| drop(black_box(posterior(black_box(&network), &evidence)))));
            }
            Err(InferenceError::TooWide { .. }) => refused += 1,
            Err(other) => println!("{positives:>10}  {other}"),
        }
    }
    times.sort_by(f64::total_cmp);
    let told = if refused > 0 { format!("  {refused} of {QUESTIONS} refused as too wide") } else { String::new() };
    if let Some(worst) = times.last() {
        println!("{positives:>10}{:>14.4}{worst:>14.4}{widest:>16}{told}", times[times.len() / 2]);
    } else {
        println!("{positives:>10}{told}");
    }
}

fn parts_of_rank(base: &faultodds::knowledge::Base, network: &Network, codes: &[&str]) {
    let told = told(base, network, codes);
    let ready = || Prepared::new(network, &told.evidence).unwrap();
    let mut prepared = ready();
    let done = std::collections::BTreeSet::new();
    let unpack = median_ms(|| drop(black_box(shipped::base())));
    let building = median_ms(|| drop(black_box(build(base, &Vehicle::default()))));
    let exact = median_ms(|| drop(black_box(posterior(network, &told.evidence))));
    let draws = median_ms(|| drop(black_box(prepared.intervals(DRAWS, 1, 0.9))));
    let whole = median_ms(|| drop(black_box(rank(network, &told, ready(), Wanted::default()))));
    let checks = median_ms(|| drop(black_box(first_checks(base, network, &mut prepared, &done, None))));
    println!(
        "{:<32} unpack the base {unpack:.2}, network {building:.2}, posterior {exact:.3}, {DRAWS} draws {draws:.2}, all of the ranking {whole:.2}, first checks {checks:.2}",
        codes.join(" ")
    );
}

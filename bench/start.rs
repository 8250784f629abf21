//! Prints how long whole commands take from a cold start, beside a program that does nothing.
//!
//! `cargo bench --bench start`. The empty program is `bench/empty.rs`, compiled here with the same optimisation. The two
//! take turns, so that what else the machine does touches both.

#![expect(clippy::print_stdout, clippy::unwrap_used, reason = "a bench prints, and stops at what it does not expect")]

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

/// Time spent on each question, seconds, and the runs it gets at least and at most.
const SECONDS: f64 = 4.0;
const RUNS: (usize, usize) = (5, 100);

fn main() {
    let folder = std::env::temp_dir().join(format!("faultodds-empty-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let empty = folder.join("empty");
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("bench/empty.rs");
    let compiled =
        Command::new("rustc").args(["-O", "--edition", "2024", "-o"]).arg(&empty).arg(source).status().unwrap();
    assert!(compiled.success(), "rustc cannot compile the empty program");
    let program = Path::new(env!("CARGO_BIN_EXE_faultodds"));
    println!(
        "milliseconds from start to end{:>10}{:>24}{:>10}{:>12}{:>10}{:>10}",
        "runs", "empty", "faultodds", "difference", "ratio", "fastest"
    );
    for question in [
        "--version",
        "rank P0455",
        "rank P0455 P0441",
        "rank P0420",
        "rank P0455 --json",
        "rank P0455 P0441 --why",
        "rank P0440 P0441 P0446 P0452 P0496",
        "search stinks of petrol",
        "next P0455",
        "next P0420",
        "plan P0455",
        "plan P0420",
        "plan P0455 P0441 P0443",
    ] {
        let arguments: Vec<&str> = question.split(' ').collect();
        let (mut nothing, mut ours) = (Vec::new(), Vec::new());
        let started = Instant::now();
        while ours.len() < RUNS.0 || ours.len() < RUNS.1 && started.elapsed().as_secs_f64() < SECONDS {
            nothing.push(run(&empty, &[]));
            ours.push(run(program, &arguments));
        }
        let runs = ours.len();
        let ((nothing, fastest_nothing), (ours, fastest)) = (median_and_least(nothing), median_and_least(ours));
        let more = ours - nothing;
        println!(
            "{question:<36}{runs:>4}{nothing:>24.2}{ours:>10.2}{more:>12.2}{:>10.1}{:>10.2}",
            ours / nothing,
            fastest - fastest_nothing
        );
    }
    std::fs::remove_dir_all(&folder).unwrap();
}

fn run(program: &Path, arguments: &[&str]) -> f64 {
    let start = Instant::now();
    let done = Command::new(program).args(arguments).stdout(Stdio::null()).stderr(Stdio::null()).status().unwrap();
    let took = start.elapsed().as_secs_f64() * 1e3;
    assert!(done.success(), "{arguments:?}");
    took
}

fn median_and_least(mut times: Vec<f64>) -> (f64, f64) {
    times.sort_by(f64::total_cmp);
    (times[times.len() / 2], times[0])
}

//! Prints how long a whole `faultodds rank` takes from a cold start, beside a program that does nothing.
//!
//! `cargo bench --bench start`. The empty program is `bench/empty.rs`, compiled here with the same optimisation. The two
//! take turns, so that what else the machine does touches both.

#![expect(clippy::print_stdout, clippy::unwrap_used, reason = "a bench prints, and stops at what it does not expect")]

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

const RUNS: usize = 200;

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
        "{RUNS} runs each, milliseconds from start to end{:>18}{:>10}{:>12}{:>10}{:>10}",
        "empty", "faultodds", "difference", "ratio", "fastest"
    );
    for question in
        ["--version", "rank P0455", "rank P0455 --json", "rank P0455 P0441 --why", "rank P0440 P0441 P0446 P0452 P0496"]
    {
        let arguments: Vec<&str> = question.split(' ').collect();
        let (mut nothing, mut ours) = (Vec::new(), Vec::new());
        for _ in 0..RUNS {
            nothing.push(run(&empty, &[]));
            ours.push(run(program, &arguments));
        }
        let ((nothing, fastest_nothing), (ours, fastest)) = (median_and_least(nothing), median_and_least(ours));
        let more = ours - nothing;
        println!(
            "{question:<46}{nothing:>18.2}{ours:>10.2}{more:>12.2}{:>10.1}{:>10.2}",
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

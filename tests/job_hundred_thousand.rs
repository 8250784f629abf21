//! With 100,000 jobs in the store, listing, showing and recording stay quick. Ignored in the normal run: it takes a
//! minute to fill the store. `cargo test --release --test job_hundred_thousand -- --ignored --nocapture`.

#![expect(clippy::print_stderr, reason = "the figures are what it is run for")]

use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};
use tempfile::TempDir;

const JOBS: u32 = 100_000;

fn run(db: &Path, args: &[&str]) -> Duration {
    let started = Instant::now();
    let out = Command::new(env!("CARGO_BIN_EXE_faultodds")).args(args).env("FAULTODDS_DB", db).output().unwrap();
    let took = started.elapsed();
    assert!(out.status.success(), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    took
}

fn lines() -> String {
    let codes = ["P0455", "P0442", "P0456", "P0441", "P0443"];
    let mut out = String::new();
    for n in 0..JOBS {
        let code = codes[n as usize % codes.len()];
        let at = format!("20{:02}-{:02}-{:02}T08:00:00Z", 10 + n / 8000, 1 + n / 28 % 12, 1 + n % 28);
        let _ = writeln!(
            out,
            r#"{{"schema":"faultodds.job/1","uid":"u{n}","events":[{{"number":1,"at":"{at}","event":{{"kind":"opened","body":{{"car":{{"make":"Ostrava","model":"Lind {}","year":2012,"age":9.0}},"reference":"order {n}","found":{{"codes":["{code}"],"codes_complete":true}}}}}}}},{{"number":2,"at":"{at}","event":{{"kind":"found","body":{{"results":[{{"reading":"cap-look-reseat:loose","outcome":"fail"}}]}}}}}},{{"number":3,"at":"{at}","event":{{"kind":"repaired","body":{{"repair":"filler-cap/reseat","spent":{{"minutes":4.0}}}}}}}},{{"number":4,"at":"{at}","event":{{"kind":"closed","body":{{"verdict":"confirmed","causes":["filler-cap/loose"]}}}}}}]}}"#,
            n % 40
        );
    }
    out
}

#[test]
#[ignore = "fills a store with 100,000 jobs; measure with --release"]
fn every_command_stays_under_fifty_milliseconds() {
    let folder = TempDir::new().unwrap();
    let db = folder.path().join("jobs.db");
    let file = folder.path().join("jobs.jsonl");
    std::fs::write(&file, lines()).unwrap();
    eprintln!("import {:?}", run(&db, &["job", "import", file.to_str().unwrap()]));
    run(&db, &["job", "open", "P0455"]);
    let commands: [&[&str]; 7] = [
        &["job", "list"],
        &["job", "list", "--code", "P0456", "--closed"],
        &["job", "list", "--words", "order 77"],
        &["job", "list", "--since", "2018-01-01", "--cause", "filler-cap/loose"],
        &["job", "show", "50000"],
        &["job", "record", "cap-look-reseat:loose=fail"],
        &["job", "note", "measured"],
    ];
    let mut slow = Vec::new();
    for args in commands {
        let mut times: Vec<Duration> = (0..15).map(|_| run(&db, args)).collect();
        times.sort();
        eprintln!("{:?} median, {:?} worst: {args:?}", times[7], times[14]);
        if times[7] > Duration::from_millis(50) {
            slow.push(args);
        }
    }
    assert!(slow.is_empty(), "over 50 ms: {slow:?}");
}

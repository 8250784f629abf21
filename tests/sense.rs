//! First steps that a technician would call sensible, on stages of jobs at every depth (`tests/sense/stages.yaml`, the lists written
//! before the program was asked, six of them mended afterwards). Ignored, since it asks the program a hundred times:
//! `cargo test --release --test sense -- --ignored --nocapture` prints what is not sensible.

use serde::Deserialize;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

/// Share that must be sensible at every depth and in all; none may be silly.
const AT_EVERY_DEPTH: f64 = 0.75;
const IN_ALL: f64 = 0.9;

#[derive(Debug, Deserialize)]
struct Stage {
    depth: String,
    #[serde(default)]
    ask: Option<String>,
    #[serde(default)]
    job: Vec<String>,
    accept: Vec<String>,
    #[serde(default)]
    silly: Vec<String>,
}

/// Words parted at blanks, those between double quotes kept together.
fn words(line: &str) -> Vec<String> {
    let mut out = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ' ' if !quoted => out.push(String::new()),
            c => out.last_mut().unwrap().push(c),
        }
    }
    out.retain(|w| !w.is_empty());
    out
}

fn run(home: &Path, args: &[String]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_faultodds"));
    command.args(args).env_clear().env("HOME", home).env("FAULTODDS_DB", home.join("jobs.db"));
    String::from_utf8(command.output().unwrap().stdout).unwrap()
}

fn first(stage: &Stage) -> String {
    let home = tempfile::tempdir().unwrap();
    let of = |head: &str, line: &str| -> Vec<String> { std::iter::once(head.to_owned()).chain(words(line)).collect() };
    for line in &stage.job {
        run(home.path(), &of("job", line));
    }
    let mut ask = of("next", stage.ask.as_deref().unwrap_or_default());
    ask.push("--json".to_owned());
    let answer: Value = serde_json::from_str(&run(home.path(), &ask)).unwrap_or_default();
    answer["steps"][0]["id"].as_str().unwrap_or("no answer").to_owned()
}

#[test]
#[ignore = "asks the program a hundred times"]
fn first_steps_are_sensible_at_every_depth() {
    let text = std::fs::read_to_string("tests/sense/stages.yaml").unwrap();
    let stages: Vec<Stage> = serde_yaml::from_str(&text).unwrap();
    let mut depths: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    let mut silly = Vec::new();
    for stage in &stages {
        let step = first(stage);
        let sensible = stage.accept.contains(&step);
        let (good, all) = depths.entry(&stage.depth).or_default();
        *good += usize::from(sensible);
        *all += 1;
        let asked = stage.ask.clone().unwrap_or_else(|| stage.job.join("; "));
        if !sensible {
            println!("{:10} {step:30} {asked}", stage.depth);
        }
        if stage.silly.contains(&step) {
            silly.push(asked);
        }
    }
    #[expect(clippy::cast_precision_loss, reason = "numbers of stages")]
    let share = |good: usize, all: usize| good as f64 / all as f64;
    for (depth, (good, all)) in &depths {
        println!("{depth:10} {good} of {all}");
        assert!(share(*good, *all) >= AT_EVERY_DEPTH, "{depth}");
    }
    let (good, all) = depths.values().fold((0, 0), |sum, d| (sum.0 + d.0, sum.1 + d.1));
    assert!(share(good, all) >= IN_ALL, "{good} of {all}");
    assert!(silly.is_empty(), "{silly:?}");
}

//! First steps that a technician would call sensible, on stages of jobs at every depth: `tests/sense/stages.yaml`, whose lists the
//! planner's author wrote before asking (six were mended afterwards), `fourth.yaml` likewise, and `blind.yaml`, `third.yaml` and the fifth to the tenth by
//! people who had not seen the planner (`tests/sense/README.md`). Ignored, since they ask the program up to some hundred times each:
//! `cargo test --release --test sense -- --ignored --nocapture` prints what is not sensible.

use faultodds::knowledge::base::Vehicle;
use serde::Deserialize;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
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

/// The first step of `next` after these lines of `job`: what kind it is, and its id.
fn first(job: &[Vec<String>], ask: &[String]) -> (String, String) {
    let home = tempfile::tempdir().unwrap();
    let of = |head: &str, words: &[String]| -> Vec<String> { [&[head.to_owned()], words].concat() };
    for line in job {
        run(home.path(), &of("job", line));
    }
    let mut ask = of("next", ask);
    ask.push("--json".to_owned());
    let answer: Value = serde_json::from_str(&run(home.path(), &ask)).unwrap_or_default();
    let told = |what: &str| answer["steps"][0][what].as_str().unwrap_or("no answer").to_owned();
    (told("kind"), told("id"))
}

#[test]
#[ignore = "asks the program a hundred times"]
fn first_steps_are_sensible_at_every_depth() {
    let text = std::fs::read_to_string("tests/sense/stages.yaml").unwrap();
    let stages: Vec<Stage> = serde_yaml::from_str(&text).unwrap();
    let mut depths: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    let mut silly = Vec::new();
    for stage in &stages {
        let job: Vec<Vec<String>> = stage.job.iter().map(|line| words(line)).collect();
        let (_, step) = first(&job, &words(stage.ask.as_deref().unwrap_or_default()));
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

#[derive(Debug, Deserialize)]
struct Blind {
    id: String,
    half: String,
    depth: String,
    #[serde(default)]
    args: Vec<String>,
    #[serde(default)]
    job: Vec<Vec<String>>,
    accept: Vec<String>,
    silly: Vec<String>,
    #[serde(default)]
    judged: Vec<Judged>,
}

#[derive(Debug, Deserialize)]
struct Judged {
    step: String,
    verdict: String,
}

impl Blind {
    /// What the technician says of this step: a verdict given afterwards outranks the lists.
    fn verdict(&self, kind: &str, step: &str) -> &str {
        let named = |list: &[String], what: &str| list.iter().any(|s| s == what);
        if let Some(judged) = self.judged.iter().find(|j| j.step == step) {
            return &judged.verdict;
        }
        let any = match kind {
            "repair" => "ANYREPAIR",
            "test" => "ANYTEST",
            other => other,
        };
        if named(&self.accept, step) {
            "sensible"
        } else if named(&self.silly, step) || named(&self.silly, any) {
            "silly"
        } else {
            "arguable"
        }
    }
}

/// Least share that is sensible and most that are silly, of each file. When this was last written there were 238 and 2 of 259,
const BLIND: (f64, usize) = (0.91, 2);
/// 113 and 1 of 120,
const THIRD: (f64, usize) = (0.93, 1);
/// 29 and none of 34,
const FOURTH: (f64, usize) = (0.82, 0);
/// 78 and none of 90.
const FIFTH: (f64, usize) = (0.88, 1);
const SIXTH: (f64, usize) = (0.83, 5);
const SEVENTH: (f64, usize) = (0.86, 3);
const EIGHTH: (f64, usize) = (0.91, 2);
const NINTH: (f64, usize) = (0.86, 1);
const TENTH: (f64, usize) = (0.88, 2);
const ELEVENTH: (f64, usize) = (0.86, 2);
const TWELFTH: (f64, usize) = (0.88, 2);

#[test]
#[ignore = "asks the program some 260 times"]
fn first_steps_are_what_a_technician_accepts() {
    holds("tests/sense/blind.yaml", BLIND);
}

#[test]
#[ignore = "asks the program some 120 times"]
fn first_steps_are_what_a_technician_accepts_in_the_third_set() {
    holds("tests/sense/third.yaml", THIRD);
}

#[test]
#[ignore = "asks the program some 34 times"]
fn first_steps_are_what_a_technician_accepts_in_the_fourth_set() {
    holds("tests/sense/fourth.yaml", FOURTH);
}

#[test]
#[ignore = "asks the program some 90 times"]
fn first_steps_are_what_a_technician_accepts_in_the_fifth_set() {
    holds("tests/sense/fifth.yaml", FIFTH);
}

#[test]
#[ignore = "asks the program some 80 times"]
fn first_steps_are_what_a_technician_accepts_in_the_sixth_set() {
    holds("tests/sense/sixth.yaml", SIXTH);
}

#[test]
#[ignore = "asks the program some 90 times"]
fn first_steps_are_what_a_technician_accepts_in_the_seventh_set() {
    holds("tests/sense/seventh.yaml", SEVENTH);
}

#[test]
#[ignore = "asks the program some 100 times"]
fn first_steps_are_what_a_technician_accepts_in_the_eighth_set() {
    holds("tests/sense/eighth.yaml", EIGHTH);
}

#[test]
#[ignore = "asks the program some 100 times"]
fn first_steps_are_what_a_technician_accepts_in_the_ninth_set() {
    holds("tests/sense/ninth.yaml", NINTH);
}

#[test]
#[ignore = "asks the program some 100 times"]
fn first_steps_are_what_a_technician_accepts_in_the_tenth_set() {
    holds("tests/sense/tenth.yaml", TENTH);
}

#[test]
#[ignore = "asks the program some 100 times"]
fn first_steps_are_what_a_technician_accepts_in_the_eleventh_set() {
    holds("tests/sense/eleventh.yaml", ELEVENTH);
}

#[test]
#[ignore = "asks the program some 100 times"]
fn first_steps_are_what_a_technician_accepts_in_the_twelfth_set() {
    holds("tests/sense/twelfth.yaml", TWELFTH);
}

/// Every code alone and 300 pairs: the first step touches a part that the code's check may fail for, is no shot in the dark while a
/// short test is open, and clears nothing. Only a code of which no part is known may be handed on at once.
#[test]
#[ignore = "asks the program some 480 times"]
fn first_steps_on_bare_codes_are_about_them() {
    let base = faultodds::shipped::base().unwrap();
    // A car of which nothing is known may have any equipment, so every link is in it.
    let network = faultodds::network::build::build(&base, &Vehicle::default());
    let part = |suspect: &str| suspect.split('/').next().unwrap_or_default().to_owned();
    let of_code = |code: &str| -> BTreeSet<String> {
        let monitor = &base.code(code).unwrap().monitor;
        let own = base.codes.iter().filter(|c| c.monitor == *monitor);
        own.flat_map(|c| &c.sets).map(|l| part(&l.suspect)).collect()
    };
    let codes: Vec<&str> = base.codes.iter().map(|c| c.id.as_str()).collect();
    let alone = codes.iter().map(|c| vec![(*c).to_owned()]);
    // Pairs by two strides that have no divisor in common with the number of codes.
    let pairs = (0..300).map(|i| [37 * i + 11, 101 * i + 5].map(|n| codes[n % codes.len()].to_owned()));
    let pairs = pairs.filter(|[a, b]| a != b).map(|p| p.to_vec());
    let mut wrong = Vec::new();
    for asked in alone.chain(pairs) {
        let parts: BTreeSet<String> = asked.iter().flat_map(|c| of_code(c)).collect();
        let (kind, step) = first(&[], &asked);
        let looks = |id: &str| {
            let readings = base.test(id).unwrap().readings.iter().filter_map(|r| network.finding(&r.id));
            let mut seen = readings.flat_map(|f| &network.findings[f].links).map(|l| &network.suspects[l.suspect].id);
            seen.any(|s| parts.contains(&part(s)))
        };
        let fits = |id: &str| {
            let (_, repair) = base.repair(id).unwrap();
            repair.parts_cost.get() > 0.0 || repair.removes.iter().all(|s| !parts.contains(&part(s)))
        };
        let unknown = |code: &String| base.code(code).unwrap().title.contains("standard wording not known");
        let bad = match kind.as_str() {
            "test" => !looks(&step),
            "repair" => fits(&step),
            "hand-on" => !asked.iter().any(unknown),
            _ => true,
        };
        if bad {
            wrong.push(format!("{}: {kind} {step}", asked.join(" ")));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Prints what is not sensible and how many there are at every depth, and refuses too few sensible or too many silly ones.
fn holds(file: &str, (least_sensible, most_silly): (f64, usize)) {
    let text = std::fs::read_to_string(file).unwrap();
    let stages: Vec<Blind> = serde_yaml::from_str(&text).unwrap();
    let mut counts: BTreeMap<(&str, &str, &str), usize> = BTreeMap::new();
    for stage in &stages {
        let (kind, step) = first(&stage.job, &stage.args);
        let verdict = stage.verdict(&kind, &step);
        *counts.entry((&stage.half, &stage.depth, verdict)).or_default() += 1;
        if verdict != "sensible" {
            println!("{:10} {:14} {verdict:9} {step}", stage.id, stage.depth);
        }
    }
    for ((half, depth, verdict), n) in &counts {
        println!("{half} {depth:14} {verdict:9} {n}");
    }
    let of = |wanted: &str| counts.iter().filter(|((_, _, v), _)| *v == wanted).map(|(_, n)| n).sum::<usize>();
    let (sensible, silly) = (of("sensible"), of("silly"));
    println!("{sensible} sensible, {silly} silly of {}", stages.len());
    #[expect(clippy::cast_precision_loss, reason = "numbers of stages")]
    let share = sensible as f64 / stages.len() as f64;
    assert!(share >= least_sensible && silly <= most_silly, "{sensible} sensible, {silly} silly");
}

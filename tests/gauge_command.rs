//! `gauge` and measured results as a person meets them: exit codes, help, JSON, screens of 80 columns.

use serde_json::Value;
use std::process::{Command, Output};

fn run(args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_faultodds"));
    command.args(args).args(["--width", "80"]).env_remove("FAULTODDS_KB").env("NO_COLOR", "1").output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

const QUESTIONS: [&str; 7] = ["hole", "hold", "vacuum", "coil", "lamp", "sensor", "convert"];

/// The examples of the help screen, as arguments.
fn examples(question: &str) -> Vec<Vec<String>> {
    let help = text(&run(&["gauge", question, "--help"]).stdout);
    let after = help.split("Example:").nth(1).unwrap_or_default().split_whitespace().collect::<Vec<_>>().join(" ");
    after
        .split("faultodds ")
        .filter(|e| !e.trim().is_empty())
        .map(|e| {
            let mut quoted = false;
            let mut words = vec![String::new()];
            for c in e.trim().chars() {
                match c {
                    '"' => quoted = !quoted,
                    ' ' if !quoted => words.push(String::new()),
                    c => words.last_mut().unwrap().push(c),
                }
            }
            words
        })
        .collect()
}

#[test]
fn every_example_of_the_help_answers_within_80_columns_and_as_json() {
    for question in QUESTIONS {
        let found = examples(question);
        assert!(!found.is_empty(), "{question} has no example");
        for example in found {
            let mut words: Vec<&str> = example.iter().map(String::as_str).collect();
            let shown = run(&words);
            assert_eq!(shown.status.code(), Some(0), "{example:?}: {}", text(&shown.stderr));
            let screen = text(&shown.stdout);
            for line in screen.lines() {
                assert!(line.chars().count() <= 80, "{line}");
            }
            assert!(screen.contains("formula:") && screen.contains("source:"), "{screen}");
            words.push("--json");
            let value: Value = serde_json::from_slice(&run(&words).stdout).unwrap();
            assert_eq!(value["schema"], "faultodds.gauge/1");
            assert!(value["value"]["value"].is_number() && value["formula"].is_string(), "{value}");
        }
    }
}

#[test]
fn pressure_answers_carry_their_limits() {
    let screen = text(&run(&["gauge", "hole", "--flow", "0.6 L/min", "--at", "14 inH2O", "--pressure"]).stdout);
    let screen = screen.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in ["14 inH2O (3.5 kPa, 0.5 psi)", "never shop air", "No flame", "P0456"] {
        assert!(screen.contains(words), "{words} missing in {screen}");
    }
    let above = text(&run(&["gauge", "hole", "--flow", "0.6 L/min", "--at", "30 inH2O", "--pressure"]).stdout);
    assert!(above.contains("above the most pressure"), "{above}");
}

#[test]
fn nonsense_is_refused_with_its_reason() {
    for (args, why) in [
        (&["gauge", "hole", "--decay", "14 -> 8 inH2O in 2 min"][..], "--pressure or --vacuum"),
        (&["gauge", "hole", "--decay", "14 -> 8 inH2O in 0 s", "--pressure"], "no time"),
        (&["gauge", "hole", "--decay", "14 -> 8 ohm in 2 min", "--pressure"], "resistance"),
        (&["gauge", "hole", "--decay", "14 -> 8 in 2 min", "--pressure"], "unit"),
        (&["gauge", "hole", "--decay", "20 -> 22 inHg in 4 min", "--vacuum"], ""),
        (&["gauge", "hole", "--decay", "NaN -> 8 inH2O in 2 min", "--pressure"], ""),
        (&["gauge", "hole", "--decay", "1e308 -> 8 inH2O in 2 min", "--pressure"], ""),
        (&["gauge", "convert", "-5 kPa absolute", "--to", "psi"], "below zero"),
        (&["gauge", "convert", "20 inHg", "--to", "ohm"], ""),
        (&["gauge", "coil", "34", "--at", "100 C"], "unit"),
        (
            &[
                "gauge",
                "hold",
                "--hole",
                "1 mm",
                "--from",
                "14 inH2O",
                "--to",
                "8 inH2O",
                "--pressure",
                "--volume",
                "90 L",
                "--tank",
                "60 L",
            ],
            "tank",
        ),
        (&["rank", "P0442", "--result", "purge-valve-hold=20 -> 21 inHg in 4 min"], "above the start"),
        (&["rank", "P0442", "--result", "purge-coil-ohms=34"], "unit"),
        (&["rank", "P0442", "--result", "cap-look-reseat:loose=3 V"], ""),
    ] {
        let refused = run(args);
        let told = text(&refused.stderr).split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(refused.status.code(), Some(2), "{args:?}: {}", text(&refused.stdout));
        assert!(told.starts_with("error:") && told.contains(why), "{args:?}: {told}");
        assert!(refused.stdout.is_empty());
    }
}

#[test]
fn a_number_ranks_and_is_shown_with_its_factor() {
    let args = ["rank", "P0442", "--long", "--result", "purge-valve-hold=20 -> 12 inHg in 4 min"];
    let screen = text(&run(&args).stdout);
    for words in
        ["Readings", "a drop of 8 inHg", "normal:", "against normal: abnormal ×", "purge valve, leaks when shut ×"]
    {
        assert!(screen.contains(words), "{words} missing in {screen}");
    }
    for line in screen.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    let json = |result: &[&str]| -> Value {
        let mut args = vec!["rank", "P0442", "--json"];
        for one in result {
            args.extend(["--result", one]);
        }
        let out = run(&args);
        assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
        serde_json::from_slice(&out.stdout).unwrap()
    };
    let likelihoods = |value: &Value| -> Vec<f64> {
        let all = value["evidence"].as_array().unwrap();
        let own = all.iter().find(|e| e["finding"] == "purge-coil-ohms:coil").unwrap();
        own["likelihoods"].as_array().unwrap().iter().map(|l| l.as_f64().unwrap()).collect()
    };
    // Three readings of one gauge are one reading of their mean, however they are given.
    let once = likelihoods(&json(&["purge-coil-ohms=30 ohm"]));
    let list = likelihoods(&json(&["purge-coil-ohms=29, 30, 31 ohm"]));
    let apart = likelihoods(&json(&["purge-coil-ohms=29 ohm", "purge-coil-ohms=30 ohm", "purge-coil-ohms=31 ohm"]));
    for (a, (b, c)) in once.iter().zip(list.iter().zip(&apart)) {
        assert!((a / b - 1.0).abs() < 1e-9 && (a / c - 1.0).abs() < 1e-9, "{once:?} {list:?} {apart:?}");
    }
}

//! `next`, `plan`, `quote` and `worth` from outside: shapes, sense, odd shops and refusals.

mod support;

use serde_json::Value;
use support::run;

#[track_caller]
fn json(args: &[&str]) -> Value {
    let ran = run(args);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{args:?}");
    serde_json::from_str(&ran.out).unwrap()
}

#[track_caller]
fn refused(args: &[&str], says: &str) {
    let ran = run(args);
    let flat = ran.err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{args:?}: {flat}");
    assert!(flat.contains(says), "{args:?} does not say `{says}` but: {flat}");
}

/// Common practice: any leak code alone starts with the look at the cap.
#[test]
fn a_leak_code_alone_starts_with_the_cap() {
    for code in ["P0455", "P0442", "P0456", "P0457"] {
        let answer = json(&["next", code, "--vehicle", "screw-cap", "--json"]);
        assert_eq!(answer["schema"], "faultodds.next/1");
        let steps = answer["steps"].as_array().unwrap();
        assert_eq!(steps[0]["id"], "cap-look-reseat", "{code}");
        let bound = answer["bound"].as_f64().unwrap();
        assert!(steps.iter().all(|s| s["expected_total"].as_f64().unwrap() >= bound * 0.999), "{code}");
        for kind in ["test", "repair", "hand-on"] {
            assert!(steps.iter().any(|s| s["kind"] == kind), "{code} has no {kind}");
        }
    }
}

#[test]
fn cautions_come_before_the_steps() {
    let out = run(&["next", "P0455", "--color", "never"]).out;
    let (caution, step) = (out.find("CAUTION").unwrap(), out.find("  1. Switch the engine off").unwrap());
    assert!(caution < step);
    assert!(out.contains("Repairing now"), "{out}");
}

#[test]
fn a_missing_tool_is_not_used_and_its_saving_is_told() {
    let answer = json(&["next", "P0455", "--without", "smoke-machine", "--json"]);
    let steps = answer["steps"].as_array().unwrap();
    assert!(steps.iter().all(|s| !s["id"].as_str().unwrap().starts_with("smoke-")));
    let missing = answer["missing_tools"].as_array().unwrap();
    assert!(missing.iter().any(|m| m["tool"] == "smoke-machine" && m["saves"].as_f64().unwrap() > 1.0), "{missing:?}");
}

#[test]
fn odd_shops_get_sensible_answers() {
    let first = |args: &[&str]| {
        let mut all = vec!["next", "P0443", "--json"];
        all.extend(args);
        let answer = json(&all);
        let first = &answer["steps"][0];
        assert!(first["expected_total"].as_f64().unwrap().is_finite());
        first["kind"].as_str().unwrap().to_owned()
    };
    assert_eq!(first(&["--hand-on", "0"]), "hand-on");
    assert_ne!(first(&["--hand-on", "1000000"]), "hand-on");
    first(&["--rate", "0"]);
    first(&["--rate", "1000000"]);
    first(&["--tools", ""]);
    first(&["--minutes-only"]);
}

#[test]
fn the_plan_agrees_with_its_quote_and_its_forms_are_whole() {
    let plan = json(&["plan", "P0443", "--json"]);
    let quote = json(&["quote", "P0443", "--json", "--within", "60", "--within", "100000"]);
    assert_eq!(plan["expected"]["money"], quote["money"]["mean"]);
    let (mean, bound) = (plan["expected"]["money"].as_f64().unwrap(), plan["bound"].as_f64().unwrap());
    assert!(mean >= bound);
    let within = |i: usize| quote["within"][i]["probability"].as_f64().unwrap();
    assert!(within(0) < within(1) && (within(1) - 1.0).abs() < 1e-6);
    let shares: f64 =
        plan["plan"]["outcomes"].as_array().unwrap().iter().map(|o| o["probability"].as_f64().unwrap()).sum();
    assert!((0.85..=1.0 + 1e-9).contains(&shares), "{shares}");
    let svg = run(&["plan", "P0443", "--form", "svg"]).out;
    assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"));
    assert_eq!(svg.matches("<text").count(), svg.matches("</text>").count());
    assert!(run(&["plan", "P0443", "--form", "dot"]).out.starts_with("digraph"));
    assert!(run(&["plan", "P0443", "--form", "mermaid"]).out.starts_with("flowchart"));
}

#[test]
fn worth_adds_up() {
    let answer = json(&["worth", "fused-lamp", "--codes", "P0443=3,P0447", "--json"]);
    let codes = answer["codes"].as_array().unwrap();
    let jobs: f64 = codes.iter().map(|c| c["jobs"].as_f64().unwrap()).sum();
    let saved: f64 = codes.iter().map(|c| c["jobs"].as_f64().unwrap() * c["saves"].as_f64().unwrap()).sum();
    assert_eq!(jobs, 4.0);
    let a_job = answer["saves_per_job"].as_f64().unwrap();
    assert!((a_job - saved / jobs).abs() < 1e-9);
    assert!(answer["break_even_jobs"].as_f64().unwrap() * a_job >= answer["price"].as_f64().unwrap());
}

#[test]
fn what_cannot_be_is_refused() {
    refused(&["next", "P9999"], "P9999");
    refused(&["next", "P0455", "--tools", "smoke-machin"], "smoke-machine");
    refused(&["next", "P0455", "--rate", "NaN"], "between 0");
    refused(&["next", "P0455", "--job", "1"], "only one of them");
    refused(&["plan", "P0455", "--least", "200"], "between 0 and 100");
    refused(&["quote", "P0455", "--within=-5"], "0 or more");
    refused(&["quote", "P0455", "--check", "1"], "cars");
    refused(&["worth", "smoke-machine", "--codes", "P0455=none"], "number of jobs");
    refused(&["worth", "hammer"], "hammer");
    refused(&["next", "P0455", "--shop", "/nowhere/shop.yaml"], "/nowhere/shop.yaml");
}

#[test]
fn a_shop_file_is_read_and_its_faults_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.yaml");
    let file = path.to_str().unwrap();
    std::fs::write(&path, faultodds::shop::EXAMPLE).unwrap();
    let answer = json(&["next", "P0455", "--shop", file, "--json"]);
    assert_eq!(answer["unit"], "EUR");
    std::fs::write(&path, "labour_rate: eighty\n").unwrap();
    refused(&["next", "P0455", "--shop", file], "shop.yaml:1:14");
    std::fs::write(&path, "tools: [smoke-machin]\n").unwrap();
    refused(&["next", "P0455", "--shop", file], "smoke-machine");
}

//! `search` and `--symptom` from outside: what is printed, what the JSON holds, and how the process ends.

use serde_json::Value;
use std::process::{Command, Output, Stdio};

fn faultodds(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_faultodds"))
        .args(arguments)
        .env_remove("FAULTODDS_KB")
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn a_search_tells_kind_id_and_what_a_symptom_speaks_for() {
    let output = faultodds(&["search", "stinks", "of", "petrol", "after", "filling", "up", "--in", "symptoms"]);
    assert_eq!(output.status.code(), Some(0));
    let text = out(&output);
    assert!(text.starts_with("symptom"), "{text}");
    for part in ["fuel-smell-after-fill", "raises most:", "often with it: P0"] {
        assert!(text.contains(part), "{part}: {text}");
    }
    assert!(!text.contains('\u{1b}'), "no colour without a terminal");
}

#[test]
fn the_json_has_its_schema_and_marks_that_fit_the_text() {
    let answer = json(&faultodds(&["search", "whoosh", "opening", "cap", "--json"]));
    assert_eq!(answer["schema"], "faultodds.search/2");
    let first = &answer["hits"][0];
    assert_eq!((first["kind"].as_str(), first["id"].as_str()), (Some("symptom"), Some("whoosh-opening-cap")));
    let text: Vec<char> = first["excerpt"]["text"].as_str().unwrap().chars().collect();
    let marked: Vec<String> = first["excerpt"]["marks"]
        .as_array()
        .unwrap()
        .iter()
        .map(|m| {
            let place = |i: usize| usize::try_from(m[i].as_u64().unwrap()).unwrap();
            text[place(0)..place(1)].iter().collect()
        })
        .collect();
    assert!(marked.iter().any(|m| m == "whoosh" || m == "rushes"), "{marked:?}");
    assert!(first["suspects"][0]["probability"].as_f64() > first["suspects"][0]["without"].as_f64());
    assert!(first["codes"][0]["id"].as_str().unwrap().starts_with('P'));
}

#[test]
fn finding_nothing_is_a_clear_no_and_an_unknown_kind_is_wrong_use() {
    for words in ["qqxz", "", "the of", "🚗", "\"", "(((", "P04FF"] {
        let output = faultodds(&["search", words]);
        assert_eq!(output.status.code(), Some(1), "{words}: {}", err(&output));
        assert!(!out(&output).is_empty() && err(&output).is_empty(), "{words}");
    }
    let output = faultodds(&["search", "cap", "--in", "symptms"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(err(&output).contains("did you mean `symptoms`?"), "{}", err(&output));
}

#[test]
fn a_symptom_said_in_words_is_evidence_and_is_told_back() {
    let in_words = faultodds(&["rank", "--symptom", "gas smell after a fill-up", "--json"]);
    assert_eq!(in_words.status.code(), Some(0), "{}", err(&in_words));
    assert!(err(&in_words).contains("fuel-smell-after-fill"));
    let by_id = faultodds(&["rank", "--symptom", "fuel-smell-after-fill", "--json"]);
    assert!(err(&by_id).is_empty());
    assert_eq!(json(&in_words), json(&by_id));
    assert_eq!(json(&by_id)["evidence"][0]["finding"], "symptom:fuel-smell-after-fill");
    let absent =
        json(&faultodds(&["rank", "P0442", "--no-symptom", "big whoosh when I take the fuel cap off", "--json"]));
    let said =
        absent["evidence"].as_array().unwrap().iter().find(|e| e["finding"] == "symptom:whoosh-opening-cap").unwrap();
    assert_eq!(said["level"], "normal");
}

#[test]
fn a_job_is_opened_with_a_symptom_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let store = folder.path().join("jobs.db");
    let store = store.to_str().unwrap();
    let output =
        faultodds(&["job", "open", "P0442", "--symptom", "big whoosh when I take the fuel cap off", "--db", store]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    assert!(err(&output).contains("whoosh-opening-cap"));
    let refused = faultodds(&["job", "open", "P0442", "--symptom", "smell of petrol", "--db", store]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(err(&refused).contains("fuel-smell-cabin"));
    let shown = faultodds(&["job", "show", "--db", store]);
    assert!(out(&shown).contains("whoosh"), "{}", out(&shown));
}

#[test]
fn words_that_fit_several_symptoms_are_not_guessed_at() {
    let output = faultodds(&["rank", "--symptom", "smell of petrol"]);
    assert_eq!(output.status.code(), Some(2));
    let told = err(&output);
    assert!(told.contains("--symptom fuel-smell-outside") && told.contains("--symptom fuel-smell-cabin"), "{told}");
    let output = faultodds(&["rank", "--symptom", "qqxz"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(err(&output).contains("kb list symptoms"));
}

#[test]
fn a_fault_found_in_words_is_evidence_and_is_told_back() {
    let in_words = faultodds(&["rank", "P0455", "--found", "canister cracked", "--json"]);
    assert_eq!(in_words.status.code(), Some(0), "{}", err(&in_words));
    assert!(err(&in_words).contains("canister/cracked"), "{}", err(&in_words));
    let by_id = faultodds(&["rank", "P0455", "--found", "canister/cracked", "--json"]);
    assert!(err(&by_id).is_empty());
    assert_eq!(json(&in_words), json(&by_id));
    let probably = faultodds(&["rank", "P0455", "--found", "canister cracked=probably", "--json"]);
    let by_id = faultodds(&["rank", "P0455", "--found", "canister/cracked=probably", "--json"]);
    assert_eq!(json(&probably), json(&by_id));
}

#[test]
fn words_that_fit_several_faults_are_not_guessed_at() {
    let output = faultodds(&["rank", "P0455", "--found", "hose is cracked"]);
    assert_eq!(output.status.code(), Some(2));
    let told = err(&output);
    assert!(told.contains("say which") || told.contains("say so"), "{told}");
    assert!(told.matches("--found ").count() >= 2, "{told}");
    let output = faultodds(&["rank", "P0455", "--found", "qqxz blorb"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(err(&output).contains("kb list suspects"), "{}", err(&output));
}

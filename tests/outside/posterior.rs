//! Source: **reference library** PyPI `pyagrum` 3.3.1 (LazyPropagation), agreed to by `pgmpy` 1.1.2 (VariableElimination)
//! where marked and by plain enumeration in every case; values made by `make/posterior.py`.

use crate::json;
use faultodds::inference::{Evidence, Observation, posterior};
use faultodds::network::{Finding, FindingKind, Link, Network, Suspect};
use serde_json::Value;

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

fn text(value: &Value) -> String {
    value.as_str().unwrap().to_owned()
}

/// The network of a `faultodds.network/1` value; weights play no part in a posterior.
fn network(value: &Value) -> Network {
    let mut network = Network::default();
    for s in value["suspects"].as_array().unwrap() {
        network.suspects.push(Suspect::plain(text(&s["id"]), s["prior"].as_f64().unwrap(), 1.0));
    }
    for f in value["findings"].as_array().unwrap() {
        let links = f["links"].as_object().unwrap().iter();
        let mut links: Vec<Link> =
            links.map(|(id, l)| Link::plain(network.suspect(id).unwrap(), numbers(l), 1.0)).collect();
        links.sort_by_key(|l| l.suspect);
        let kind = match f["kind"].as_str().unwrap() {
            "monitor" => FindingKind::Monitor,
            "symptom" => FindingKind::Symptom,
            _ => FindingKind::Reading,
        };
        let levels = f["levels"].as_array().unwrap().iter().map(text).collect();
        let leak = numbers(&f["leak"]);
        network.findings.push(Finding { id: text(&f["id"]), kind, levels, leak, leak_weight: 1.0, links });
    }
    network
}

/// Findings that are not named are unobserved.
fn evidence(value: &Value, network: &Network) -> Evidence {
    let mut evidence = Evidence::default();
    for e in value.as_array().unwrap() {
        let finding = network.finding(e["finding"].as_str().unwrap()).unwrap();
        let levels = &network.findings[finding].levels;
        let seen = match e.get("level") {
            Some(level) => {
                let level = levels.iter().position(|l| level == l.as_str()).unwrap();
                Observation::hard(finding, 0, level, levels.len())
            }
            None => Observation::soft(finding, 0, numbers(&e["likelihoods"])),
        };
        evidence.observations.push(seen);
    }
    evidence
}

fn compare(file: &str, at_least: usize) {
    let fixture = json(file);
    let cases = fixture["cases"].as_array().unwrap();
    assert!(cases.len() >= at_least, "{file} has only {} cases", cases.len());
    let (mut worst, mut worst_ln) = (0.0_f64, 0.0_f64);
    for (number, case) in cases.iter().enumerate() {
        let network = network(&case["network"]);
        let answer = posterior(&network, &evidence(&case["evidence"], &network)).unwrap();
        assert_eq!(case["posterior"].as_object().unwrap().len(), network.suspects.len(), "{file}, case {number}");
        for (s, p) in network.suspects.iter().zip(&answer.now) {
            let reference = case["posterior"][&s.id].as_f64().unwrap();
            let off = (p - reference).abs();
            assert!(off <= 1e-12, "{file}, case {number}, {}: {p} is not {reference}", s.id);
            worst = worst.max(off);
        }
        let reference = case["log_evidence"].as_f64().unwrap();
        let off = (answer.ln_evidence - reference).abs();
        assert!(
            off <= 1e-12 * reference.abs().max(1.0),
            "{file}, case {number}: ln P {} {reference}",
            answer.ln_evidence
        );
        worst_ln = worst_ln.max(off);
    }
    println!("{file}: {} cases, posterior apart by {worst:.1e} at most, ln P by {worst_ln:.1e}", cases.len());
}

#[test]
fn noisy_or_networks_equal_the_reference_libraries() {
    compare("posterior-noisy-or.json", 300);
}

#[test]
fn noisy_max_monitors_equal_the_reference_libraries() {
    compare("posterior-noisy-max.json", 150);
}

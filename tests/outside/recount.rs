//! `kb export --json` and `rank --json`, through the program, against a calculator of our own that shares no line with
//! `src/inference`: inclusion and exclusion over levels (Heckerman 1989, Quickscore) in whole numbers of 2^-416. The signed sum
//! loses digits by the dozen; 125 decimal places outlast that.
//!
//! The same is done by `make/check_rank.py`, in Python with decimals: see the ignored test at the end.

use crate::whole::Signed;
use crate::{here, program};
use serde_json::Value;
use std::collections::BTreeMap;
use std::process::Command;

/// Questions as one would type them.
const QUESTIONS: [&str; 32] = [
    "P0455",
    "P0457",
    "P0442",
    "P0456",
    "P0440",
    "P0441",
    "P0443",
    "P0446",
    "P0449",
    "P0452",
    "P0496",
    "P0463",
    "P0466",
    "P04AB",
    "P0455 --codes-incomplete",
    "P0455 P0441",
    "P0455 P0446",
    "P0441 P0496",
    "P0442 P0443",
    "P0442 P0456 P0455",
    "P0443 P0449 P0452",
    "P0440 P0441 P0446 P0452 P0496",
    "P0455 --vehicle age=14,salt,screw-cap",
    "P0456 --vehicle age=3,capless,pump-check",
    "P0441 --vehicle 190000km,turbo-purge",
    "P0455 --symptom fuel-smell-outside --no-symptom cap-found-loose",
    "P0496 --symptom hard-start-after-refuel --result purge-valve-hold=fail",
    "P0442 --result cap-look-reseat=pass --result cap-leak-test=pass",
    "P0442 --result cap-leak-test=fail --symptom fuel-smell-outside",
    "P0455 --already filler-cap/replace-cap",
    "P0446 --result vent-command:opens=fail --symptom slow-fill --vehicle age=11",
    "--symptom fuel-smell-outside --symptom slow-fill --symptom hard-start-after-refuel",
];

fn exact_list(list: &Value) -> Vec<Signed> {
    list.as_array().unwrap().iter().map(|x| Signed::exactly(x.as_f64().unwrap())).collect()
}

/// P(at or below each level): what is above is read as given, the lowest level is the rest.
fn at_most(levels: &Value) -> Vec<Signed> {
    let mut rest = Signed::one();
    let mut out = Vec::new();
    for p in exact_list(levels).iter().rev() {
        out.push(rest.clone());
        rest = rest.minus(p);
    }
    out.reverse();
    out
}

/// One observed finding: the levels that carry a signed term, the background and the suspects at or below each level.
struct Seen {
    terms: Vec<(usize, Signed)>,
    leak: Vec<Signed>,
    links: BTreeMap<String, Vec<Signed>>,
}

fn seen(network: &Value, entry: &Value) -> Seen {
    let finding = network["findings"].as_array().unwrap().iter().find(|f| f["id"] == entry["finding"]).unwrap();
    let likelihoods: Vec<Signed> = match entry.get("level") {
        Some(level) => {
            let names = finding["levels"].as_array().unwrap();
            assert!(names.contains(level), "{entry}");
            names.iter().map(|l| if l == level { Signed::one() } else { Signed::zero() }).collect()
        }
        None => exact_list(&entry["likelihoods"]),
    };
    // sum L(l) P(Y = l) = sum (L(l) - L(l + 1)) P(Y <= l).
    let next = likelihoods.iter().skip(1).cloned().chain([Signed::zero()]);
    let steps = likelihoods.iter().zip(next).map(|(here, next)| here.minus(&next));
    Seen {
        terms: steps.enumerate().filter(|(_, c)| !c.is_zero()).collect(),
        leak: at_most(&finding["leak"]),
        links: finding["links"].as_object().unwrap().iter().map(|(id, l)| (id.clone(), at_most(l))).collect(),
    }
}

/// ln P(evidence) and the posterior of every suspect.
fn recount(network: &Value, evidence: &Value) -> (f64, BTreeMap<String, f64>) {
    let suspects = network["suspects"].as_array().unwrap();
    let ids: Vec<&str> = suspects.iter().map(|s| s["id"].as_str().unwrap()).collect();
    let priors: Vec<Signed> = suspects.iter().map(|s| Signed::exactly(s["prior"].as_f64().unwrap())).collect();
    let all: Vec<Seen> = evidence.as_array().unwrap().iter().map(|e| seen(network, e)).collect();
    let (single, several): (Vec<Seen>, Vec<Seen>) = all.into_iter().partition(|s| s.terms.len() == 1);
    assert!(several.iter().map(|s| s.terms.len()).product::<usize>() <= 1024, "too many terms");
    let take = |s: &Seen, level: usize, reach: &mut [Signed]| {
        for (id, own) in ids.iter().zip(reach) {
            if let Some(link) = s.links.get(*id) {
                *own = own.times(&link[level]);
            }
        }
    };
    let (mut constant, mut spread) = (Signed::one(), vec![Signed::one(); ids.len()]);
    for s in &single {
        let (level, c) = &s.terms[0];
        constant = constant.times(c).times(&s.leak[*level]);
        take(s, *level, &mut spread);
    }
    let (mut total, mut joint) = (Signed::zero(), vec![Signed::zero(); ids.len()]);
    let mut choice = vec![0_usize; several.len()];
    loop {
        let (mut factor, mut reach) = (constant.clone(), spread.clone());
        for (s, k) in several.iter().zip(&choice) {
            let (level, c) = &s.terms[*k];
            factor = factor.times(c).times(&s.leak[*level]);
            take(s, *level, &mut reach);
        }
        let present: Vec<Signed> = priors.iter().zip(&reach).map(|(p, r)| p.times(r)).collect();
        let either: Vec<Signed> = priors.iter().zip(&present).map(|(p, x)| Signed::one().minus(p).plus(x)).collect();
        // Products of all before and all behind, so that nothing need be divided.
        let mut behind = vec![Signed::one()];
        for e in either.iter().rev() {
            let last = behind[behind.len() - 1].times(e);
            behind.push(last);
        }
        let mut before = factor;
        for (i, (j, x)) in joint.iter_mut().zip(&present).enumerate() {
            *j = j.plus(&before.times(x).times(&behind[ids.len() - 1 - i]));
            before = before.times(&either[i]);
        }
        total = total.plus(&before);
        let Some(k) = (0..choice.len()).find(|k| choice[*k] + 1 < several[*k].terms.len()) else { break };
        choice[k] += 1;
        choice[..k].fill(0);
    }
    assert!(total.is_positive());
    let posterior = ids.iter().zip(joint).map(|(id, j)| ((*id).to_owned(), j.size.over(&total.size))).collect();
    (total.size.ln_over(&Signed::one().size), posterior)
}

/// The network that the program exports for the vehicle and the earlier repairs of a question, and its answer.
fn asked(question: &str) -> (Vec<u8>, Vec<u8>) {
    let words: Vec<&str> = question.split(' ').collect();
    let mut export = vec!["kb", "export", "--json"];
    for pair in words.windows(2).filter(|p| matches!(p[0], "--vehicle" | "--already")) {
        export.extend(pair);
    }
    let rank: Vec<&str> = ["rank", "--json"].into_iter().chain(words.iter().copied()).collect();
    (program(&export), program(&rank))
}

/// Largest difference of a posterior.
fn check(question: &str) -> f64 {
    let (network, answer) = asked(question);
    let network: Value = serde_json::from_slice(&network).unwrap();
    let answer: Value = serde_json::from_slice(&answer).unwrap();
    let (ln, posterior) = recount(&network, &answer["evidence"]);
    let said = answer["suspects"].as_array().unwrap();
    assert_eq!(said.len(), posterior.len(), "{question}");
    let off = (answer["log_evidence"].as_f64().unwrap() - ln).abs();
    assert!(off <= 1e-9, "{question}: ln P(evidence) {} recounted {ln}", answer["log_evidence"]);
    let mut worst = 0.0_f64;
    for s in said {
        let (id, p) = (s["id"].as_str().unwrap(), s["probability"].as_f64().unwrap());
        let off = (p - posterior[id]).abs();
        assert!(off <= 1e-9, "{question}: {id} has {p}, recounted {}", posterior[id]);
        let (low, high) = (s["low"].as_f64().unwrap(), s["high"].as_f64().unwrap());
        assert!(0.0 <= low && low <= p && p <= high && high <= 1.0, "{question}: {id}: {low}, {p}, {high}");
        worst = worst.max(off);
    }
    worst
}

#[test]
fn the_exported_network_gives_the_answer() {
    // Two halves side by side: each question starts the program twice.
    let halves = QUESTIONS.split_at(QUESTIONS.len() / 2);
    let worst = |half: &[&str]| half.iter().map(|q| check(q)).fold(0.0, f64::max);
    let worst = std::thread::scope(|s| {
        let other = s.spawn(|| worst(halves.1));
        worst(halves.0).max(other.join().unwrap())
    });
    println!("{} questions, posteriors apart by {worst:.1e} at most", QUESTIONS.len());
}

#[test]
fn the_calculator_knows_a_case_done_by_hand() {
    let network = serde_json::json!({"suspects": [{"id": "a", "prior": 0.5}, {"id": "b", "prior": 0.25}], "findings": [
        {"id": "f", "levels": ["none", "low", "high"], "leak": [1.0, 0.0, 0.0], "links": {"a": [0.5, 0.5, 0.0], "b": [0.5, 0.25, 0.25]}}]});
    // P(Y <= low) = 1 - 0.25 * 0.25 = 15/16, P(Y <= none) = (1/2 + 1/4) (3/4 + 1/8) = 21/32, so P(low) = 9/32.
    let (ln, posterior) = recount(&network, &serde_json::json!([{"finding": "f", "level": "low"}]));
    assert!((ln - (9.0_f64 / 32.0).ln()).abs() < 1e-15);
    // With a: 1/2 (15/16 - 1/2 * 7/8) = 1/4; with b: 1/4 (3/4 - 3/8) = 3/32.
    assert!((posterior["a"] - 8.0 / 9.0).abs() < 1e-15);
    assert!((posterior["b"] - 1.0 / 3.0).abs() < 1e-15);
}

/// The same questions to the calculator in Python: `cargo test --test outside -- --ignored`. By hand:
/// `faultodds kb export --json > n.json; faultodds rank P0455 --json > r.json; python3 tests/outside/make/check_rank.py n.json r.json`.
#[test]
#[ignore = "needs python3"]
fn the_calculator_in_python_agrees() {
    let folder = tempfile::tempdir().unwrap();
    let (network, answer) = (folder.path().join("network.json"), folder.path().join("rank.json"));
    for question in QUESTIONS {
        let (exported, ranked) = asked(question);
        std::fs::write(&network, exported).unwrap();
        std::fs::write(&answer, ranked).unwrap();
        let done = Command::new("python3").arg(here("make/check_rank.py")).args([&network, &answer]).output().unwrap();
        let told = String::from_utf8_lossy(&done.stdout);
        print!("{question}: {told}");
        assert!(done.status.success(), "{question}: {told}{}", String::from_utf8_lossy(&done.stderr));
    }
}

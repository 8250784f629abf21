//! Runs the worked cases of a base: does inference put the suspects where experience says they belong?

use crate::evidence::History;
use crate::inference;
use crate::knowledge::base::{Base, Case, Claim, Expect, Subject};
use crate::knowledge::yaml::Place;
use crate::knowledge::{Problem, ProblemCode};
use crate::network::{Network, build::build};
use std::collections::BTreeMap;

/// Runs every worked case and tells what does not come out, each at its expectation.
#[must_use]
pub fn run(base: &Base) -> Vec<Problem> {
    base.cases.iter().flat_map(|case| run_one(base, case)).collect()
}

fn run_one(base: &Base, case: &Case) -> Vec<Problem> {
    let whole = |message: String| problem(case, Place { line: 1, column: 1 }, message);
    let network = build(base, &case.vehicle);
    let told = match History::of_case(case).and_then(|h| h.tell(base, &network)) {
        Ok(told) => told,
        Err(error) => return vec![whole(error.to_string())],
    };
    let now = match inference::posterior(&network, &told.evidence) {
        Ok(posterior) => posterior.now,
        Err(error) => return vec![whole(error.to_string())],
    };
    let suspects = ranked(network.suspects.iter().map(|s| s.id.clone()).zip(now.iter().copied()));
    let parts = ranked(by_part(&network, &now));
    let mut out = Vec::new();
    for e in &case.expect {
        if let Some(message) = fails(e, &suspects, &parts) {
            out.push(problem(case, Place { line: e.line, column: e.column }, message));
        }
    }
    out
}

fn problem(case: &Case, place: Place, message: String) -> Problem {
    Problem {
        code: ProblemCode::CaseFails,
        file: case.path.clone(),
        place,
        length: 1,
        message,
        hint: Some("either the numbers or the expectation is wrong".to_owned()),
    }
}

fn ranked(list: impl Iterator<Item = (String, f64)>) -> Vec<(String, f64)> {
    let mut list: Vec<(String, f64)> = list.collect();
    list.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    list
}

/// P(at least one suspect of the part is present), taking its suspects as exclusive, which single faults nearly are:
/// the sum, cut at 1.
fn by_part(network: &Network, now: &[f64]) -> impl Iterator<Item = (String, f64)> + use<> {
    let mut parts: BTreeMap<String, f64> = BTreeMap::new();
    for (s, p) in network.suspects.iter().zip(now) {
        let part = s.id.split('/').next().unwrap_or_default();
        *parts.entry(part.to_owned()).or_default() += p;
    }
    parts.into_iter().map(|(part, p)| (part, p.min(1.0)))
}

fn fails(e: &Expect, suspects: &[(String, f64)], parts: &[(String, f64)]) -> Option<String> {
    let (list, id) = match &e.subject {
        Subject::Suspect(id) => (suspects, id),
        Subject::Part(id) => (parts, id),
        // The plan is checked where there is one.
        Subject::FirstStep(_) => return None,
    };
    // What this vehicle cannot have comes last, with nothing.
    let at = list.iter().position(|(s, _)| s == id);
    let (rank, p) = (at.unwrap_or(list.len()) + 1, at.map_or(0.0, |i| list[i].1));
    let leaders = || -> String {
        let first: Vec<String> = list.iter().take(3).map(|(s, p)| format!("{s} {:.1} %", p * 100.0)).collect();
        first.join(", ")
    };
    match &e.claim {
        Claim::Within(n) if rank > *n as usize => {
            Some(format!("`{id}` ranks {rank} with {:.1} %, not within {n}; first come {}", p * 100.0, leaders()))
        }
        Claim::Above(other) => {
            let q = list.iter().find(|(s, _)| s == other).map_or(0.0, |(_, q)| *q);
            (p <= q)
                .then(|| format!("`{id}` has {:.2} %, `{other}` {:.2} %: it does not rank above", p * 100.0, q * 100.0))
        }
        Claim::AtLeast(n) if p < *n => {
            Some(format!("`{id}` has {:.1} %, less than {:.1} %; first come {}", p * 100.0, n * 100.0, leaders()))
        }
        Claim::AtMost(n) if p > *n => Some(format!("`{id}` has {:.1} %, more than {:.1} %", p * 100.0, n * 100.0)),
        Claim::Within(_) | Claim::AtLeast(_) | Claim::AtMost(_) | Claim::IsFirst => None,
    }
}

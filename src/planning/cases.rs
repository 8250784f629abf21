//! Runs the worked cases of a base: does inference put the suspects where experience says they belong?

use crate::{Effort, Question, Shop, State, next_steps, pose};
use evidence::History;
use inference::{self, Evidence};
use knowledge::base::{Base, Case, Claim, Expect, Subject};
use knowledge::yaml::Place;
use knowledge::{Problem, ProblemCode};
use network::{Network, build::build};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Runs every worked case and tells what does not come out, each at its expectation.
#[must_use]
pub fn run(base: &Base) -> Vec<Problem> {
    base.cases.par_iter().flat_map_iter(|case| run_one(base, case)).collect()
}

fn run_one(base: &Base, case: &Case) -> Vec<Problem> {
    let whole = |message: String| problem(case, Place { line: 1, column: 1 }, message);
    let history = match History::of_case(case) {
        Ok(history) => history,
        Err(error) => return vec![whole(error.to_string())],
    };
    let network = build(base, &history.settle(base, &case.vehicle));
    let told = match history.tell(base, &network) {
        Ok(told) => told,
        Err(error) => return vec![whole(error.to_string())],
    };
    let now = match inference::posterior(&network, &told.evidence) {
        Ok(posterior) => posterior.now,
        Err(error) => return vec![whole(error.to_string())],
    };
    let suspects = ranked(network.suspects.iter().map(|s| s.id.clone()).zip(now.iter().copied()));
    let parts = ranked(by_part(&network, &now));
    let asks_for_a_step = case.expect.iter().any(|e| matches!(e.subject, Subject::FirstStep(_)));
    let first = if asks_for_a_step { Some(first_step(base, &network, &told.evidence, case)) } else { None };
    let mut out = Vec::new();
    for e in &case.expect {
        let message = match (&e.subject, &first) {
            (Subject::FirstStep(id), Some(Ok(found))) if id != found => {
                Some(format!("the first step is `{found}`, not `{id}`"))
            }
            (Subject::FirstStep(_), Some(Err(error))) => Some(error.clone()),
            _ => fails(e, &suspects, &parts),
        };
        if let Some(message) = message {
            out.push(problem(case, Place { line: e.line, column: e.column }, message));
        }
    }
    out
}

/// What the planner does first, with the case's tools and otherwise the standard shop.
fn first_step(base: &Base, network: &Network, evidence: &Evidence, case: &Case) -> Result<String, String> {
    let tools = case.tools.as_ref().map(|tools| tools.iter().cloned().collect());
    let shop = Shop { tools, ..Shop::default() };
    let posed = pose(&Question::quick(base, network, evidence, &shop)).map_err(|e| e.to_string())?;
    let start = State::start(&posed.problem, &posed.universe);
    let steps = next_steps(&posed.problem, &posed.universe, &start, &Effort::quick()).steps;
    let first = steps.first().ok_or("there is nothing to do")?;
    Ok(posed.problem.id(first.step).to_owned())
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
        // Compared with the planner's own first step, above.
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

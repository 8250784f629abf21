//! The posterior of networks that come from elsewhere: one question a line in, one answer a line out.
//!
//! `cargo run --release --example posterior < questions.jsonl > answers.jsonl`
//!
//! A question is `{"network": …, "evidence": […]}`, the network in the shape of `faultodds kb export --json` (kinds, weights and
//! "later" may be left out), the evidence in that of `rank --json`: `{"finding", "level"}` or `{"finding", "likelihoods"}`. An
//! answer is `{"suspects": [{"id", "probability", "grades"}], "log_evidence"}`; `grades` has the share of each grade if present.

use faultodds::inference::{Evidence, Observation, posterior};
use faultodds::network::{Bring, Finding, FindingKind, Grade, Link, Network, Suspect};
use serde_json::{Value, json};
use std::error::Error;
use std::io::{BufRead as _, Write as _};
use std::{io, iter};

type Read<T> = Result<T, Box<dyn Error>>;

/// Cars that a number is worth when the network does not say; a posterior does not depend on it.
const WEIGHT: f64 = 1.0;

fn list<'v>(value: &'v Value, field: &str) -> Read<&'v Vec<Value>> {
    value[field].as_array().ok_or_else(|| format!("no list \"{field}\"").into())
}

fn text<'v>(value: &'v Value, field: &str) -> Read<&'v str> {
    value[field].as_str().ok_or_else(|| format!("no text \"{field}\"").into())
}

fn number(value: &Value) -> Read<f64> {
    value.as_f64().ok_or_else(|| format!("{value} is no number").into())
}

fn numbers(value: &Value) -> Read<Vec<f64>> {
    value.as_array().ok_or_else(|| format!("{value} is no list of numbers"))?.iter().map(number).collect()
}

fn suspect(value: &Value) -> Read<Suspect> {
    let grade = |g: &Value| Ok(Grade { id: text(g, "id")?.to_owned(), share: number(&g["share"])? });
    let grades = value["grades"].as_array().into_iter().flatten().map(grade).collect::<Read<_>>()?;
    let plain = Suspect::plain(text(value, "id")?.to_owned(), number(&value["prior"])?, WEIGHT);
    Ok(Suspect { grades, ..plain })
}

fn link(suspects: &[Suspect], (id, value): (&String, &Value)) -> Read<Link> {
    let at = suspects.iter().position(|s| s.id == *id).ok_or_else(|| format!("a link of {id}, which is no suspect"))?;
    if value.is_array() {
        return Ok(Link::plain(at, numbers(value)?, WEIGHT));
    }
    let grades = &suspects[at].grades;
    let by_grade = grades.iter().map(|g| numbers(&value[&g.id])).collect::<Read<Vec<_>>>()?;
    let levels = by_grade.first().map_or(0, Vec::len);
    let mean = |l: usize| by_grade.iter().zip(grades).map(|(row, g)| row[l] * g.share).sum();
    Ok(Link { levels: (0..levels).map(mean).collect(), by_grade, ..Link::plain(at, Vec::new(), WEIGHT) })
}

fn finding(suspects: &[Suspect], value: &Value) -> Read<Finding> {
    let levels = list(value, "levels")?.iter().map(|l| l.as_str().unwrap_or_default().to_owned());
    let links = value["links"].as_object().ok_or("no \"links\"")?.iter();
    let mut links = links.map(|l| link(suspects, l)).collect::<Read<Vec<_>>>()?;
    links.sort_by_key(|l| l.suspect);
    Ok(Finding {
        id: text(value, "id")?.to_owned(),
        kind: FindingKind::Reading,
        levels: levels.collect(),
        leak: numbers(&value["leak"])?,
        leak_weight: WEIGHT,
        links,
    })
}

fn network(value: &Value) -> Read<Network> {
    let listed = list(value, "suspects")?;
    let suspects = listed.iter().map(suspect).collect::<Read<Vec<_>>>()?;
    let findings = list(value, "findings")?.iter().map(|f| finding(&suspects, f)).collect::<Read<_>>()?;
    let mut net = Network { suspects, findings, ..Network::default() };
    for (cause, s) in listed.iter().enumerate() {
        for (victim, p) in s["brings"].as_object().into_iter().flatten() {
            let victim = net.suspect(victim).ok_or_else(|| format!("{victim} is no suspect"))?;
            net.brings.push(Bring { cause, victim, p: number(p)?, weight: WEIGHT, later: false });
        }
    }
    Ok(net)
}

fn evidence(net: &Network, value: &Value) -> Read<Evidence> {
    let mut out = Evidence::default();
    for e in list(value, "evidence")? {
        let id = text(e, "finding")?;
        let at = net.finding(id).ok_or_else(|| format!("{id} is no finding"))?;
        let levels = &net.findings[at].levels;
        out.observations.push(match e["level"].as_str() {
            Some(level) => {
                let place = levels.iter().position(|l| l == level).ok_or_else(|| format!("{id} has no {level}"))?;
                Observation::hard(at, 0, place, levels.len())
            }
            None => Observation::soft(at, 0, numbers(&e["likelihoods"])?),
        });
    }
    Ok(out)
}

fn answer(question: &str) -> Read<Value> {
    let question: Value = serde_json::from_str(question)?;
    let net = network(&question["network"])?;
    let found = posterior(&net, &evidence(&net, &question)?)?;
    let suspects = net.suspects.iter().enumerate().map(|(i, s)| {
        let grades: serde_json::Map<String, Value> =
            iter::zip(&s.grades, &found.grades[i]).map(|(g, share)| (g.id.clone(), json!(share))).collect();
        json!({"id": s.id, "probability": found.now[i], "grades": grades})
    });
    Ok(json!({"suspects": suspects.collect::<Vec<_>>(), "log_evidence": found.ln_evidence}))
}

fn main() -> Read<()> {
    let mut out = io::stdout().lock();
    for (k, line) in io::stdin().lock().lines().enumerate() {
        let answer = answer(&line?).map_err(|e| format!("line {}: {e}", k + 1))?;
        writeln!(out, "{answer}")?;
    }
    Ok(())
}

//! The JSON shapes that scripts rely on. Each names its schema; a change of meaning changes the number behind it.

use evidence::Told;
use gauge::Answer;
use knowledge::Problem;
use knowledge::base::Base;
use network::{FindingKind, Link, Network};
use ranking::{Check, Ranking};
use serde_json::{Value, json};

/// `faultodds.network/2`: the very network that inference uses. A suspect has `grades` where it matters how grave it is,
/// and `brings` where it brings others about; a link is one list for all grades, or one list for each.
#[must_use]
pub fn network(network: &Network) -> Value {
    let mut suspects: Vec<Value> =
        network.suspects.iter().map(|s| json!({"id": s.id, "prior": s.prior, "weight": s.weight})).collect();
    for (value, s) in suspects.iter_mut().zip(&network.suspects).filter(|(_, s)| !s.grades.is_empty()) {
        value["grades"] = s.grades.iter().map(|g| json!({"id": g.id, "share": g.share})).collect();
    }
    for b in &network.brings {
        let victim = network.suspects[b.victim].id.as_str();
        suspects[b.cause]["brings"][victim] = json!(b.p);
        if b.later {
            suspects[b.cause]["later"][victim] = json!(true);
        }
    }
    let findings: Vec<Value> = network
        .findings
        .iter()
        .map(|f| {
            let link = |l: &Link| match l.by_grade.as_slice() {
                [] => json!(l.levels),
                rows => {
                    let grades = network.suspects[l.suspect].grades.iter().map(|g| g.id.clone());
                    Value::Object(grades.zip(rows.iter().map(|r| json!(r))).collect())
                }
            };
            let links: serde_json::Map<String, Value> =
                f.links.iter().map(|l| (network.suspects[l.suspect].id.clone(), link(l))).collect();
            let kind = match f.kind {
                FindingKind::Monitor => "monitor",
                FindingKind::Symptom => "symptom",
                FindingKind::Reading => "reading",
                FindingKind::Seen => "seen",
            };
            json!({"id": f.id, "kind": kind, "levels": f.levels, "leak": f.leak, "links": links})
        })
        .collect();
    json!({"schema": "faultodds.network/2", "suspects": suspects, "findings": findings})
}

/// The evidence as used: a level where one is certain, otherwise the likelihood of the data at each level.
#[must_use]
pub fn evidence(network: &Network, told: &Told) -> Vec<Value> {
    told.evidence
        .observations
        .iter()
        .zip(&told.what)
        .map(|(o, what)| {
            let finding = &network.findings[o.finding];
            let mut certain = o.likelihood.iter().enumerate().filter(|(_, l)| **l > 0.0);
            let mut value = json!({"finding": finding.id});
            match (certain.next(), certain.next()) {
                (Some((level, l)), None) if (*l - 1.0).abs() < f64::EPSILON => {
                    value["level"] = json!(finding.levels[level]);
                }
                _ => value["likelihoods"] = json!(o.likelihood),
            }
            if let Some(number) = &what.number {
                value["said"] = json!(number.said);
                value["taken"] = json!(number.taken);
                value["notes"] = json!(number.notes);
            }
            if what.by_absence {
                value["by_absence"] = json!(true);
            }
            if !told.evidence.repairs.is_empty() {
                value["epoch"] = json!(o.epoch);
            }
            value
        })
        .collect()
}

/// Suspects whose odds a repair moved by a smaller factor than this are left out.
const LEAST_MOVED: f64 = 1.01;

/// `faultodds.rank/1`.
#[must_use]
pub fn rank(base: &Base, network: &Network, told: &Told, ranking: &Ranking, checks: &[Check]) -> Value {
    let suspects: Vec<Value> = ranking
        .standings
        .iter()
        .map(|s| {
            let id = &network.suspects[s.suspect].id;
            let name = base.suspect_name(id);
            let (low, high) = s.interval.unzip();
            json!({"id": id, "name": name, "probability": s.probability, "low": low, "high": high})
        })
        .collect();
    let repairs: Vec<Value> = told
        .evidence
        .repairs
        .iter()
        .zip(&told.repairs)
        .enumerate()
        .map(|(k, (r, said))| {
            let suspects: Vec<&str> = r.suspects.iter().map(|i| network.suspects[*i].id.as_str()).collect();
            let mut value = json!({"repair": said, "suspects": suspects, "fails": r.fails});
            if let Some(before) = ranking.before.iter().find(|b| b.repair == k) {
                let moved = before.moved(LEAST_MOVED).into_iter();
                let moved = moved.map(|(s, ln)| (network.suspects[s].id.clone(), json!(ln)));
                value["ln_odds"] = Value::Object(moved.collect());
            }
            value
        })
        .collect();
    let explanations: Vec<Value> = ranking
        .explanations
        .iter()
        .map(|e| {
            let ids: Vec<&str> = e.suspects.iter().map(|i| network.suspects[*i].id.as_str()).collect();
            json!({"suspects": ids, "probability": e.probability})
        })
        .collect();
    let checks: Vec<Value> = checks
        .iter()
        .map(|c| json!({"test": c.test, "minutes": c.minutes, "abnormal": c.abnormal, "bits": c.bits}))
        .collect();
    let conflict = ranking.conflict.as_ref().map(|c| {
        let again = c.check_again.and_then(|i| told.what.get(i)).map(|w| w.finding.clone());
        json!({"times_rarer": c.times_rarer, "check_again": again})
    });
    let because: serde_json::Map<String, Value> = ranking
        .because
        .iter()
        .map(|(victim, causes)| {
            let causes = causes.iter().map(|(s, p)| json!({"id": network.suspects[*s].id, "probability": p}));
            (network.suspects[*victim].id.clone(), causes.collect())
        })
        .collect();
    json!({
        "schema": "faultodds.rank/1",
        "suspects": suspects,
        "settled": told.settled,
        "because": because,
        "leak_mm": ranking.leak_mm.map(|(low, high)| [low, high]),
        "evidence": evidence(network, told),
        "repairs": repairs,
        "log_evidence": ranking.ln_evidence,
        "not_listed": ranking.not_listed,
        "leader_stays": ranking.leader_stays,
        "explanations": explanations,
        "conflict": conflict,
        "checks": checks,
        "silent": told.silent,
        "suspended": told.suspended,
    })
}

/// `faultodds.gauge/1`: the answer's fields as they are.
///
/// # Errors
/// Never in practice: every field has a JSON form.
pub fn gauge(answer: &Answer) -> Result<Value, serde_json::Error> {
    let mut value = serde_json::to_value(answer)?;
    value["schema"] = json!("faultodds.gauge/1");
    Ok(value)
}

/// `faultodds.problems/1`.
#[must_use]
pub fn problems(problems: &[Problem]) -> Value {
    let list: Vec<Value> = problems
        .iter()
        .map(|p| {
            json!({
                "code": p.code.word(), "file": p.file, "line": p.place.line, "column": p.place.column,
                "message": p.message, "hint": p.hint, "meaning": p.code.meaning(),
            })
        })
        .collect();
    json!({"schema": "faultodds.problems/1", "problems": list})
}

/// An entry of the base as JSON: its fields as they are.
///
/// # Errors
/// Never in practice: every field has a JSON form.
pub fn entry<T: serde::Serialize>(kind: &str, entry: &T) -> Result<Value, serde_json::Error> {
    Ok(json!({"schema": "faultodds.entry/1", "kind": kind, "entry": serde_json::to_value(entry)?}))
}

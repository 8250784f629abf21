//! What was taken from the car's own words, told back in one short block before the answer that rests on it.

use super::Look;
use super::text::hanging;
use car::Check;
use evidence::{CarSaid, Outcome};
use knowledge::base::Base;
use serde_json::{Value, json};

/// Test results told one by one; those that passed with room are counted.
const NEAR: f64 = 0.02;

/// The block.
#[must_use]
pub fn text(said: &CarSaid, base: &Base, look: Look) -> String {
    let mut out = String::new();
    hanging(&mut out, "The car says: ", "   ", &format!("{}.", facts(said, base).join("; ")), look.width);
    if !said.strangers.is_empty() {
        let kept = format!("kept, but not known to this base: {}.", said.strangers.join(", "));
        hanging(&mut out, "   ", "   ", &kept, look.width);
    }
    out.push('\n');
    out
}

/// Each thing taken, in words.
fn facts(said: &CarSaid, base: &Base) -> Vec<String> {
    let mut out = Vec::new();
    let known =
        |list: &[String]| list.iter().filter(|c| base.code(c).is_some()).cloned().collect::<Vec<_>>().join(", ");
    let stored: Vec<String> = said.codes.iter().filter(|c| !said.permanent_only.contains(c)).cloned().collect();
    match (known(&stored), said.codes_complete) {
        (list, _) if !list.is_empty() => out.push(format!("{list} stored")),
        (_, true) => out.push("no stored code".to_owned()),
        _ => {}
    }
    if !said.codes_complete {
        out.push("its list of codes did not come whole, so missing codes say nothing".to_owned());
    }
    let permanent = known(&said.permanent_only);
    if !permanent.is_empty() {
        out.push(format!("{permanent} permanent, so stored once and not disproved since"));
    }
    if !said.not_released.is_empty() {
        out.push(format!(
            "{} still permanent, which says nothing until the check has passed",
            said.not_released.join(", ")
        ));
    }
    if said.just_cleared {
        out.push("codes were cleared and the car has hardly been driven since".to_owned());
    }
    if !said.waiting.is_empty() {
        let names: Vec<&str> = said.waiting.iter().map(|c| Check::name(*c)).collect();
        out.push(format!("not run since clearing, so without a word: {}", names.join(", ")));
    }
    let told = |r: &&evidence::MonitorResult| r.margin.is_none_or(|m| m.fails_again > NEAR);
    for result in said.results.iter().filter(told) {
        out.push(result.words.clone());
    }
    let passed = said.results.len() - said.results.iter().filter(told).count();
    if passed > 0 {
        out.push(format!("{passed} check{} passed well inside the limits", if passed == 1 { "" } else { "s" }));
    }
    // What is abnormal is named; of the rest the values are enough.
    for answer in said.readings.iter().filter(|a| a.outcome == Outcome::Fail) {
        out.push(format!("{} = {} ({})", answer.reading, answer.outcome, answer.because));
    }
    let mut rest: Vec<&str> =
        said.readings.iter().filter(|a| a.outcome != Outcome::Fail).map(|a| a.because.as_str()).collect();
    rest.dedup();
    out.extend(rest.into_iter().map(str::to_owned));
    if !said.vehicle.is_empty() {
        out.push(said.vehicle.join(", "));
    }
    out
}

/// The same for scripts.
#[must_use]
pub fn value(said: &CarSaid) -> Value {
    let words = |list: &[Check]| list.iter().map(|c| c.word()).collect::<Vec<_>>();
    let results: Vec<Value> = said
        .results
        .iter()
        .map(|r| json!({"monitor": r.monitor, "likelihoods": r.likelihood, "words": r.words}))
        .collect();
    let readings: Vec<Value> = said
        .readings
        .iter()
        .map(|a| json!({"reading": a.reading, "outcome": a.outcome.to_string(), "because": a.because}))
        .collect();
    json!({
        "codes": said.codes, "permanent_only": said.permanent_only, "not_released": said.not_released,
        "pending_only": said.pending_only, "codes_complete": said.codes_complete, "just_cleared": said.just_cleared,
        "ran": words(&said.ran), "waiting": words(&said.waiting), "monitors_not_run": said.not_run,
        "results": results, "readings": readings, "vehicle": said.vehicle, "strangers": said.strangers,
    })
}

//! `faultodds.car/1`: the car's own words for scripts. Lists that were not read are absent, not empty.

use super::car_words::note;
use car::{CheckState, CodeText, MonitorTest, Outcome, Readiness, Report, UnitReport};
use serde_json::{Map, Value, json};

/// The report.
#[must_use]
pub fn car(report: &Report) -> Value {
    let units: Vec<Value> = report
        .units
        .iter()
        .map(|(unit, said)| {
            let mut value = json!({"unit": unit.to_string()});
            if let Value::Object(map) = &mut value {
                fill(map, said);
            }
            value
        })
        .collect();
    let notes: Vec<Value> = report.notes.iter().map(|(line, n)| json!({"line": line, "note": note(n)})).collect();
    let lines = report.lines;
    let mut out = json!({
        "schema": "faultodds.car/1",
        "units": units,
        "lines": {"all": lines.all, "diagnostic": lines.diagnostic, "other": lines.other, "unreadable": lines.unreadable},
        "notes": notes,
        "more_notes": report.more_notes,
    });
    if let Some(line) = report.cleared {
        out["cleared_on_line"] = json!(line);
    }
    out
}

fn codes(list: &[CodeText]) -> Value {
    list.iter().map(ToString::to_string).collect()
}

fn fill(map: &mut Map<String, Value>, said: &UnitReport) {
    let mut put = |name: &str, value: Option<Value>| {
        if let Some(value) = value {
            map.insert(name.to_owned(), value);
        }
    };
    put("name", said.name.as_ref().map(|n| json!(n)));
    put("lamp", said.since_clearing.map(|r| json!(r.lamp())));
    put("stored", said.stored.as_deref().map(codes));
    put("pending", said.pending.as_deref().map(codes));
    put("permanent", said.permanent.as_deref().map(codes));
    put("since_clearing", said.since_clearing.map(readiness));
    put("this_trip", said.this_trip.map(readiness));
    let frozen: Vec<Value> = said
        .frozen
        .iter()
        .map(|(at, f)| {
            let values: Vec<Value> = f
                .values
                .values()
                .map(|v| json!({"value": v.quantity.id, "number": v.number, "unit": v.quantity.kind.word()}))
                .collect();
            json!({"frame": at, "code": f.code.map(|c| c.to_string()), "values": values})
        })
        .collect();
    put("frozen", (!frozen.is_empty()).then(|| json!(frozen)));
    let live: Vec<Value> = said
        .values
        .values()
        .map(|l| {
            let q = l.value.quantity;
            let (low, high) = (l.low, l.high);
            json!({"value": q.id, "number": l.value.number, "unit": q.kind.word(), "low": low, "high": high, "times": l.times})
        })
        .collect();
    put("live", (!live.is_empty()).then(|| json!(live)));
    let tests: Vec<Value> = said.tests.values().map(test).collect();
    put("tests", (!tests.is_empty()).then(|| json!(tests)));
    let counters: Vec<Value> =
        said.counters.iter().map(|c| json!({"monitor": c.name, "ran": c.ran, "could": c.could})).collect();
    put("counters", (!counters.is_empty()).then(|| json!(counters)));
    put("calibrations", (!said.calibrations.is_empty()).then(|| json!(said.calibrations)));
    let numbers: Vec<String> = said.check_numbers.iter().map(|n| format!("{n:08X}")).collect();
    put("check_numbers", (!numbers.is_empty()).then(|| json!(numbers)));
    let others: Vec<String> = said.others.keys().map(|(s, n)| format!("{s:02X}{n:02X}")).collect();
    put("not_read", (!others.is_empty()).then(|| json!(others)));
}

fn readiness(readiness: Readiness) -> Value {
    let those = |state: CheckState| -> Vec<&str> {
        readiness.checks().filter(|(_, s)| *s == state).map(|(c, _)| c.word()).collect()
    };
    json!({"ran": those(CheckState::Ran), "not_run": those(CheckState::NotRun)})
}

fn test(test: &MonitorTest) -> Value {
    let outcome = match test.outcome() {
        Outcome::Passed => "passed",
        Outcome::Failed => "failed",
        Outcome::NotRun => "not-run",
    };
    let raw: Vec<String> = test.raw.iter().map(|b| format!("{:02X}{:02X}", b[0], b[1])).collect();
    let mut value = json!({
        "monitor": format!("{:02X}", test.monitor), "test": format!("{:02X}", test.test), "outcome": outcome, "raw": raw,
        "scaling": format!("{:02X}", test.scaling),
    });
    if let Some(name) = test.name() {
        value["name"] = json!(name);
    }
    if let Some(scale) = test.scale() {
        value["unit"] = json!(scale.unit);
        value["value"] = json!(test.value());
        value["low"] = json!(test.low());
        value["high"] = json!(test.high());
    }
    value
}

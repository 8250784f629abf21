//! Jobs for scripts: the documented JSON shapes of `job show` and `job list`.

use jobs::store::{Page, Row};
use jobs::{Job, Standing, Status};
use serde_json::{Value, json};

/// `faultodds.job-show/2`.
#[must_use]
pub fn show(job: &Job, standing: &Standing) -> Value {
    let suspects: Vec<Value> = standing
        .ranked()
        .into_iter()
        .map(|(s, p)| json!({"id": standing.network.suspects[s].id, "probability": p}))
        .collect();
    let events: Vec<Value> =
        job.log.iter().map(|e| json!({"number": e.number, "at": e.at, "holds": e.holds, "event": e.event})).collect();
    let closed = match &job.status {
        Status::Open => Value::Null,
        Status::Closed { at, how } => json!({"at": at, "how": how}),
    };
    json!({
        "schema": "faultodds.job-show/2",
        "number": job.number,
        "uid": job.uid,
        "opened_at": job.opened_at(),
        "closed": closed,
        "reference": job.reference,
        "car": job.car,
        "freeze": job.freeze,
        "terms": terms(job),
        "codes": job.codes(),
        "minutes": job.minutes,
        "cost": job.cost,
        "epoch": standing.epoch(),
        "fixed": standing.fixed,
        "log_evidence": standing.posterior.ln_evidence,
        "suspects": suspects,
        "leak_mm": standing.leak_mm().ok().flatten().map(|(low, high)| [low, high]),
        "without_effect": {"silent": standing.told.silent, "held_back": standing.told.suspended, "unknown": standing.unknown},
        "events": events,
    })
}

/// Tools, limit, files, and what was skipped.
fn terms(job: &Job) -> Value {
    let t = &job.terms;
    json!({
        "tools": t.tools, "with": t.with, "without": t.without, "limit": t.limit, "shop": t.shop, "overlay": t.overlay,
        "skipped": t.skipped,
    })
}

/// `faultodds.job-list/1`.
#[must_use]
pub fn list(page: &Page) -> Value {
    let jobs: Vec<Value> = page.rows.iter().map(row).collect();
    json!({"schema": "faultodds.job-list/1", "total": page.total, "counted_all": page.counted_all, "jobs": jobs})
}

fn row(r: &Row) -> Value {
    json!({
        "number": r.number,
        "opened_at": r.opened_at,
        "changed_at": r.changed_at,
        "closed_at": r.closed_at,
        "verdict": r.verdict,
        "codes": r.codes,
        "causes": r.causes,
        "repairs": r.repairs,
        "car": r.car,
        "reference": r.reference,
        "minutes": r.minutes,
        "cost": r.cost,
        "events": r.events,
    })
}

//! How a job that is closed in the conversation ends: its causes, and what proved the repair.

use jobs::{Closed, Job, Spent, Standing, Verdict};
use knowledge::Base;
use std::collections::BTreeSet;

/// The job closed with what its record says.
pub fn closed(verdict: Verdict, job: &Job, standing: &Standing, base: &Base) -> Closed {
    let causes = if verdict == Verdict::HandedOn { Vec::new() } else { repaired_causes(job, standing, base) };
    let how = if verdict == Verdict::HandedOn { None } else { proved_by(job, base) };
    Closed { verdict, causes, how, spent: Spent::default() }
}

/// Of the suspects that the repairs of this stay removed, those that were probably there.
pub fn repaired_causes(job: &Job, standing: &Standing, base: &Base) -> Vec<String> {
    let mut causes: Vec<(String, f64)> = Vec::new();
    for (_, repair) in job.visit().spans.iter().filter_map(|s| s.repair.as_ref()) {
        let Some((_, found)) = base.repair(repair) else { continue };
        for suspect in &found.removes {
            let p = standing.network.suspect(suspect).map_or(0.0, |s| standing.posterior.at_start[s]);
            if p >= 0.5 && !causes.iter().any(|(c, _)| c == suspect) {
                causes.push((suspect.clone(), p));
            }
        }
    }
    causes.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    causes.into_iter().map(|(c, _)| c).collect()
}

/// The re-tests that came out normal since the last repair, as words for the record.
fn proved_by(job: &Job, base: &Base) -> Option<String> {
    let passed: BTreeSet<&str> = job
        .present()
        .results
        .iter()
        .filter(|r| r.outcome == "pass")
        .filter_map(|r| r.reading.split(':').next())
        .collect();
    let names: Vec<&str> = passed.iter().filter_map(|t| base.test(t)).map(|t| t.name.as_str()).collect();
    (!names.is_empty()).then(|| format!("after the repair normal: {}", names.join("; ")))
}

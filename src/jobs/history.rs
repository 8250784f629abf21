//! From a job to what the evidence layer reads: the present stay as epochs, repairs before it as made without effect.

use super::job::{Job, Span};
use evidence::{Epoch, History, MonitorResult, Outcome};
use knowledge::base::Base;

/// A job's history as far as a base knows its words.
#[derive(Clone, Debug, PartialEq)]
pub struct Known {
    /// The history.
    pub history: History,
    /// Codes, readings, outcomes and repairs on the job that the base does not know; they are kept and say nothing.
    pub unknown: Vec<String>,
}

impl Known {
    /// The history of the job's present stay.
    ///
    /// An old job may have been recorded with another base; what this one does not know is left out and told, so
    /// that the job can always be shown.
    #[must_use]
    pub fn of(job: &Job, base: &Base) -> Self {
        let mut unknown = Vec::new();
        let visit = job.visit();
        let already: Vec<String> =
            visit.already.iter().filter(|r| keep(base.repair(r).is_some(), r, &mut unknown)).cloned().collect();
        // On a car that has been away, what its driver can bring about again is as likely as on any other.
        let away = job.visits.len() > 1;
        let again = |r: &String| {
            let driver = |s: &String| base.suspect(s).is_some_and(|(_, s)| s.by_driver);
            away && base.repair(r).is_some_and(|(_, r)| !r.removes.is_empty() && r.removes.iter().all(driver))
        };
        let already: Vec<String> = already.into_iter().filter(|r| !again(r)).collect();
        let mut epochs = Vec::new();
        if !already.is_empty() {
            // What was seen before them is not known here, so the epoch that they end holds no finding.
            epochs.push(Epoch { repairs: already, ..Epoch::default() });
        }
        for span in &visit.spans {
            epochs.push(epoch(span, base, &mut unknown));
        }
        unknown.dedup();
        Self { history: History { epochs }, unknown }
    }
}

fn keep(known: bool, word: &str, unknown: &mut Vec<String>) -> bool {
    if !known {
        unknown.push(word.to_owned());
    }
    known
}

fn epoch(span: &Span, base: &Base, unknown: &mut Vec<String>) -> Epoch {
    let codes = span.codes.iter().map(|(_, c)| c);
    let codes = codes.filter(|c| keep(base.code(c).is_some(), c, unknown)).cloned().collect();
    let mut symptom = |list: &[String]| -> Vec<String> {
        list.iter().filter(|s| keep(base.symptom(s).is_some(), s, unknown)).cloned().collect()
    };
    let (symptoms, no_symptoms) = (symptom(&span.symptoms), symptom(&span.no_symptoms));
    let mut results = Vec::new();
    for r in &span.results {
        let outcome: Option<Outcome> = r.outcome.parse().ok();
        let usable = base.reading(&r.reading).zip(outcome).filter(|((_, reading), o)| o.likelihood(reading).is_ok());
        match usable {
            Some((_, outcome)) => results.push((r.reading.clone(), outcome)),
            None => unknown.push(format!("{}={}", r.reading, r.outcome)),
        }
    }
    let repairs = span.repair.iter().map(|(_, r)| r);
    let repairs = repairs.filter(|r| keep(base.repair(r).is_some(), r, unknown)).cloned().collect();
    let passed = span.passed.iter().map(|p| &p.monitor);
    let passed = passed.filter(|m| keep(base.monitor(m).is_some(), m, unknown)).cloned().collect();
    let not_run = span.not_run.clone();
    let reported = span.reported.iter().filter(|r| keep(base.monitor(&r.monitor).is_some(), &r.monitor, unknown));
    let monitor_results = reported
        .map(|r| MonitorResult {
            monitor: r.monitor.clone(),
            likelihood: r.likelihoods.clone(),
            words: r.words.clone(),
            margin: None,
        })
        .collect();
    let looks = span.looks.iter().filter(|l| keep(base.suspect(&l.suspect).is_some(), &l.suspect, unknown));
    let looks = looks.map(|l| (l.suspect.clone(), l.outcome.seen())).collect();
    Epoch {
        codes,
        codes_complete: span.codes_complete,
        passed,
        not_run,
        symptoms,
        no_symptoms,
        results,
        looks,
        repairs,
        monitor_results,
    }
}

//! From the car's own words to evidence: codes with what each list is worth, monitors that have not run and so say
//! nothing, test results against their limits, and the readings that a capture answers. Computes no posterior.

mod answers;
mod monitors;

pub use monitors::{Margin, MonitorResult};

use super::Epoch;
use super::outcome::Outcome;
use car::{Check, CheckState, Frozen, Ignition, Note, Numbered, Report, Unit, UnitReport};
use knowledge::base::{Base, Vehicle};
use std::collections::BTreeSet;

/// When the capture was taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Taken {
    /// Before any repair of this stay.
    AtFirst,
    /// After a repair: what was stored for good before it says nothing about now.
    AfterRepair,
}

/// What a capture says, as evidence and to be told back.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CarSaid {
    /// Codes that count as present: stored ones, and at first permanent ones, which were stored once and have not been
    /// disproved since. Also those that the base does not know.
    pub codes: Vec<String>,
    /// Of `codes`, those that were read as permanent only.
    pub permanent_only: Vec<String>,
    /// Permanent codes that say nothing, because a repair came between.
    pub not_released: Vec<String>,
    /// Codes read as pending only; they come as `results`.
    pub pending_only: Vec<String>,
    /// Whether every control unit's list of stored codes was read whole.
    pub codes_complete: bool,
    /// Monitors whose missing code says nothing.
    pub not_run: Vec<String>,
    /// Groups of checks by where they stand.
    pub ran: Vec<Check>,
    /// Groups of checks that have not run since codes were cleared.
    pub waiting: Vec<Check>,
    /// What is known of a monitor beside codes: a failed check that is not confirmed yet, a test result.
    pub results: Vec<MonitorResult>,
    /// Readings that the capture answers, with what answered them.
    pub readings: Vec<Answer>,
    /// What was frozen with a code that the base knows.
    pub frozen: Option<Frozen>,
    /// Words about the vehicle that follow from it.
    pub vehicle: Vec<String>,
    /// Codes that the base does not know, and test results of the makers' own.
    pub strangers: Vec<String>,
    /// Whether the car was cleared so lately that next to nothing has run.
    pub just_cleared: bool,
    /// Its identification number, where it was asked for and a control unit gave it.
    pub number: Option<Numbered>,
}

/// A reading of a test, answered by the car.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Reading id.
    pub reading: String,
    /// Its outcome.
    pub outcome: Outcome,
    /// The values that answered it.
    pub because: String,
}

impl CarSaid {
    /// Puts what the car said into an epoch beside what a person said. Where both answer one reading, the person's word
    /// stands; codes that the base does not know stay here.
    pub fn into_epoch(&self, epoch: &mut Epoch, base: &Base) {
        let typed = !epoch.codes.is_empty();
        for code in self.codes.iter().filter(|c| base.code(c).is_some()) {
            if !epoch.codes.contains(code) {
                epoch.codes.push(code.clone());
            }
        }
        // What a person typed beside the capture is as complete as the capture.
        epoch.codes_complete = self.codes_complete || typed && epoch.codes_complete;
        epoch.not_run.extend(self.not_run.iter().cloned());
        epoch.monitor_results.extend(self.results.iter().cloned());
        for answer in &self.readings {
            let test = answer.reading.split(':').next().unwrap_or_default();
            let said = |(r, _): &(String, Outcome)| *r == answer.reading || r == test;
            if !epoch.results.iter().any(said) {
                epoch.results.push((answer.reading.clone(), answer.outcome.clone()));
            }
        }
    }

    /// Adds what the car says it is, where a person did not say otherwise.
    pub fn into_vehicle(&self, vehicle: &mut Vehicle, base: &Base) {
        for word in &self.vehicle {
            let Some((choice, _)) = base.equipment_option(word) else { continue };
            if !choice.options.iter().any(|o| vehicle.equipment.contains(&o.id)) {
                vehicle.equipment.push(word.clone());
            }
        }
    }
}

/// Turns a report into evidence.
#[must_use]
pub fn car_said(report: &Report, base: &Base, taken: Taken) -> CarSaid {
    let mut said = CarSaid { codes_complete: complete(report), ..CarSaid::default() };
    let words = |list: Vec<car::CodeText>| list.iter().map(ToString::to_string).collect::<Vec<_>>();
    said.codes = words(report.codes(|u| u.stored.as_ref()));
    for code in words(report.codes(|u| u.permanent.as_ref()))
        .into_iter()
        .filter(|c| !said.codes.contains(c))
        .collect::<Vec<_>>()
    {
        match taken {
            Taken::AtFirst => {
                said.permanent_only.push(code.clone());
                said.codes.push(code);
            }
            Taken::AfterRepair => said.not_released.push(code),
        }
    }
    said.pending_only =
        words(report.codes(|u| u.pending.as_ref())).into_iter().filter(|c| !said.codes.contains(c)).collect();
    readiness(report, base, &mut said);
    said.results = monitors::results(report, base, &said);
    said.readings = answers::answers(report, base);
    let known = |f: &&Frozen| f.code.is_some_and(|c| base.code(&c.to_string()).is_some());
    said.frozen = report.units.values().flat_map(|u| u.frozen.values()).find(known).cloned();
    said.strangers = strangers(report, base, &said);
    said.number = report.units.values().find_map(|u| u.vehicle_number.clone());
    said
}

/// Whether the lists of stored codes are whole: read from every unit that answered, nothing lost, none contradicting
/// the number that the unit itself gives.
fn complete(report: &Report) -> bool {
    let spoiled = |unit: Unit| {
        report.notes.iter().any(|(_, n)| match n {
            Note::Lost(of, _) => *of == unit && report.units.get(&unit).is_none_or(|u| u.stored.is_none()),
            Note::CodesDiffer(of, ..) | Note::Wrong(of, 0x03) | Note::StillPending(of, 0x03) => *of == unit,
            _ => false,
        })
    };
    let emissions = |u: &UnitReport| u.stored.is_some() || u.since_clearing.is_none();
    let noted = report.notes.iter().filter_map(|(_, n)| match n {
        Note::Lost(unit, _)
        | Note::Wrong(unit, 0x03)
        | Note::CodesDiffer(unit, ..)
        | Note::StillPending(unit, 0x03) => Some(*unit),
        _ => None,
    });
    report.units.values().any(|u| u.stored.is_some())
        && report.units.values().all(emissions)
        && !noted.into_iter().any(spoiled)
        && report.more_notes == 0
}

/// Where a group of checks stands over all units: not run where any unit has it open.
fn state(report: &Report, check: Check, of: impl Fn(&UnitReport) -> Option<car::Readiness>) -> Option<CheckState> {
    let mut states = report.units.values().filter_map(of).map(|r| r.state(check)).peekable();
    states.peek()?;
    Some(states.fold(CheckState::Absent, |all, one| match (all, one) {
        (CheckState::NotRun, _) | (_, CheckState::NotRun) => CheckState::NotRun,
        (CheckState::Ran, _) | (_, CheckState::Ran) => CheckState::Ran,
        _ => CheckState::Absent,
    }))
}

fn readiness(report: &Report, base: &Base, said: &mut CarSaid) {
    let since = |u: &UnitReport| u.since_clearing;
    let Some(_) = state(report, Check::Components, since) else { return };
    for check in Check::ALL {
        match state(report, check, since) {
            Some(CheckState::Ran) => said.ran.push(check),
            Some(CheckState::NotRun) => said.waiting.push(check),
            _ => {}
        }
    }
    said.just_cleared = monitors::just_cleared(report, said);
    let silent: BTreeSet<&str> =
        base.monitors.iter().filter(|m| monitors::is_silent(m, report, said)).map(|m| m.id.as_str()).collect();
    said.not_run = silent.into_iter().map(str::to_owned).collect();
    let engine = report.units.values().filter_map(since).find(|r| r.checks().count() > 3);
    let mut word = |id: &str| {
        if base.equipment_option(id).is_some() {
            said.vehicle.push(id.to_owned());
        }
    };
    match engine.map(|r| r.ignition()) {
        Some(Ignition::Spark) => word("petrol-engine"),
        Some(Ignition::Compression) => word("diesel-engine"),
        None => {}
    }
    // Trims of a second bank are sent only by an engine that has one.
    let second = |u: &UnitReport| u.live("short-trim-2").is_some() || u.live("long-trim-2").is_some();
    if report.units.values().any(second) {
        word("two-banks");
    }
}

/// What the base has no use for, to be kept and named.
fn strangers(report: &Report, base: &Base, said: &CarSaid) -> Vec<String> {
    let unknown = said.codes.iter().chain(&said.pending_only).filter(|c| base.code(c).is_none()).cloned();
    let known = |monitor: u8| base.monitors.iter().any(|m| m.test_results.iter().any(|t| t.test == monitor));
    let tests = report.units.values().flat_map(|u| u.tests.values());
    let own = tests.filter(|t| t.outcome() == car::Outcome::Failed && !known(t.monitor)).map(|t| {
        format!("a failed test result of {}", t.name().unwrap_or_else(|| format!("monitor {:02X}", t.monitor)))
    });
    let mut out: Vec<String> = unknown.chain(own).collect();
    out.dedup();
    out
}

#[cfg(test)]
mod tests;

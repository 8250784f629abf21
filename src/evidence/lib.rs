//! From what a person says (codes, symptoms, outcomes, repairs) to evidence on a network. Knows the base and the
//! network; computes no probability.

mod already;
mod car;
mod error;
mod look;
mod meant;
mod measured;
mod noticed;
mod outcome;
mod said;
mod settled;
mod vehicle;

pub use already::renewed_said;
pub use car::{Answer, CarSaid, Margin, MonitorResult, Taken, car_said};
pub use error::{EvidenceError, Kind, ParseOutcomeError};
pub use look::{Look, looks_said};
pub use meant::{unknown_repair, unknown_suspect};
pub use measured::{Number, kind_of};
pub use outcome::Outcome;
pub use said::{CodesSaid, Stranger, codes_said, results_said};
pub use vehicle::{parse_vehicle, vehicle_meanings, vehicle_words};

use already::renewed;
use inference::{Evidence, Observation, RepairEvent};
use knowledge::base::{Base, Case, Reading};
use network::Network;
use network::build::SEEN_PREFIX;
use settled::said_already;
use std::collections::BTreeSet;

/// What was seen between two repairs, and the repair that ended it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Epoch {
    /// Codes present.
    pub codes: Vec<String>,
    /// Whether the codes were read completely, so that the monitors without a code speak too.
    pub codes_complete: bool,
    /// Monitors that are known to have run and stored nothing.
    pub passed: Vec<String>,
    /// Monitors that are known not to have run, so that their silence says nothing.
    pub not_run: Vec<String>,
    /// What is known of monitors without a code: a failed check not confirmed yet, a test result against its limits.
    pub monitor_results: Vec<MonitorResult>,
    /// Symptoms noticed.
    pub symptoms: Vec<String>,
    /// Symptoms looked for and absent.
    pub no_symptoms: Vec<String>,
    /// Readings with their outcomes, in the order in which they were taken.
    pub results: Vec<(String, Outcome)>,
    /// Suspects found, or looked at and sound, in the order in which they were seen.
    pub looks: Vec<(String, Look)>,
    /// Repairs that ended it; none for the present.
    pub repairs: Vec<String>,
}

/// Everything seen and done on one vehicle, the present last.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct History {
    /// At least one epoch.
    pub epochs: Vec<Epoch>,
}

/// Evidence on a network, with what each observation was in words.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Told {
    /// For inference.
    pub evidence: Evidence,
    /// One for each repair of the evidence: `PART/REPAIR`, with `=` and what it was renewed with where that was said.
    pub repairs: Vec<String>,
    /// One for each observation of the evidence.
    pub what: Vec<Observed>,
    /// Findings that were given but say nothing: `unclear`, tests that make no sense on this vehicle, and those of
    /// `repeated`.
    pub silent: Vec<String>,
    /// Readings that only repeat what the codes read after the same drive say, so that the two do not count twice.
    pub repeated: Vec<String>,
    /// Equipment of the network's vehicle that what was seen settles, beside what was said of the vehicle.
    pub settled: Vec<String>,
    /// Monitors left out because another monitor that failed keeps them from running.
    pub suspended: Vec<String>,
}

/// One observation in words.
#[derive(Clone, Debug, PartialEq)]
pub struct Observed {
    /// Finding id.
    pub finding: String,
    /// Level name, or the outcome as given.
    pub level: String,
    /// Epoch it belongs to.
    pub epoch: usize,
    /// Whether it is a monitor at its lowest level because no code of it was read.
    pub by_absence: bool,
    /// Whether it is at the lowest level.
    pub normal: bool,
    /// The number behind it, when it was read off a gauge.
    pub number: Option<Number>,
}

impl Epoch {
    /// Whether anything was seen in it, normal readings and sound looks included.
    #[must_use]
    pub fn says_anything(&self) -> bool {
        let said =
            [!self.codes.is_empty(), !self.symptoms.is_empty(), !self.results.is_empty(), !self.looks.is_empty()];
        said.contains(&true) || !self.monitor_results.is_empty()
    }

    /// What is known of a monitor without a code, if it fits the levels that it has on this vehicle.
    fn result_of(&self, monitor: &str, levels: usize) -> Option<&MonitorResult> {
        self.monitor_results.iter().find(|r| r.monitor == monitor && r.likelihood.len() == levels)
    }
}

impl History {
    /// One epoch, and the repairs that others made before it without effect.
    ///
    /// What was seen before those repairs is not known, so that earlier epoch holds no finding: the repair alone
    /// makes its suspects unlikely.
    #[must_use]
    pub fn visit(already: Vec<String>, present: Epoch) -> Self {
        let mut epochs = Vec::new();
        if !already.is_empty() {
            epochs.push(Epoch { repairs: already, ..Epoch::default() });
        }
        epochs.push(present);
        Self { epochs }
    }

    /// The history of a worked case.
    ///
    /// # Errors
    /// An outcome that cannot be read.
    pub fn of_case(case: &Case) -> Result<Self, EvidenceError> {
        let mut epochs = Vec::new();
        if !case.already.is_empty() {
            epochs.push(Epoch { repairs: case.already.clone(), ..Epoch::default() });
        }
        for e in &case.epochs {
            let mut results = Vec::new();
            for (reading, outcome) in &e.results {
                results.push((reading.clone(), outcome.parse()?));
            }
            epochs.push(Epoch {
                codes: e.codes.clone(),
                codes_complete: !e.codes.is_empty(),
                symptoms: e.symptoms.clone(),
                no_symptoms: e.no_symptoms.clone(),
                results,
                looks: e
                    .found
                    .iter()
                    .map(|s| (s.clone(), Look::Found))
                    .chain(e.sound.iter().map(|s| (s.clone(), Look::Sound)))
                    .collect(),
                repairs: e.repair.iter().cloned().collect(),
                ..Epoch::default()
            });
        }
        Ok(Self { epochs })
    }

    /// Turns the history into evidence on the network.
    ///
    /// # Errors
    /// An id that the base does not know, an outcome that the reading does not have, or two outcomes of one reading
    /// in one epoch that contradict each other.
    pub fn tell(&self, base: &Base, network: &Network) -> Result<Told, EvidenceError> {
        let settled = self.settles(base).into_iter().filter(|o| network.vehicle.equipment.contains(o)).collect();
        let mut told = Told { settled, ..Told::default() };
        let (mut epoch, mut seen_before) = (0, false);
        for e in &self.epochs {
            let e = &if seen_before { drive_counted_once(e, base, &mut told) } else { e.clone() };
            seen_before |= e.says_anything();
            codes(e, epoch, base, network, &mut told)?;
            symptoms(e, epoch, base, network, &mut told)?;
            results(e, epoch, base, network, &mut told)?;
            looks(e, epoch, base, network, &mut told)?;
            noticed::noticed(e, epoch, base, network, &mut told);
            // What was done before anything was seen was done before the visit.
            for repair in &e.repairs {
                told.evidence.repairs.push(repair_event(repair, !seen_before, base, network)?);
                told.repairs.push(repair.clone());
                epoch += 1;
            }
        }
        Ok(told)
    }
}

/// A drive until the checks have run, and the codes read after it, are one piece of evidence. What is left of an epoch
/// that follows a repair of this stay when it is counted once: the codes where they were read, since each monitor
/// says more than one word for all of them; the drive where it failed without a stored code, since a check that has
/// failed once stores nothing yet and its silence then says nothing.
///
/// Codes of the first epoch were stored before the visit: a drive after they were cleared is a run of its own.
fn drive_counted_once(e: &Epoch, base: &Base, told: &mut Told) -> Epoch {
    let repeats = |reading: &str| base.reading(reading).is_some_and(|(t, _)| t.repeats_monitors);
    let failed = |(reading, outcome): &(String, Outcome)| {
        let likelihood = base.reading(reading).and_then(|(_, r)| outcome.likelihood(r).ok().flatten());
        repeats(reading) && likelihood.is_some_and(|l| l.first() == Some(&0.0))
    };
    let mut kept = e.clone();
    if e.codes.is_empty() && e.results.iter().any(failed) {
        kept.codes_complete = false;
    } else if e.codes_complete || !e.codes.is_empty() {
        kept.results.retain(|(reading, _)| !repeats(reading));
        let again = e.results.iter().map(|(reading, _)| reading).filter(|r| repeats(r));
        let again: Vec<String> = again.filter_map(|r| base.reading(r)).map(|(_, r)| r.id.clone()).collect();
        told.silent.extend(again.iter().cloned());
        told.repeated.extend(again);
    }
    kept
}

fn repair_event(repair: &str, long_ago: bool, base: &Base, network: &Network) -> Result<RepairEvent, EvidenceError> {
    let (repair, left) = renewed(repair);
    let (_, found) = base.repair(repair).ok_or_else(|| unknown_repair(repair, base))?;
    // A suspect that this vehicle cannot have is simply not there to be removed.
    let suspects = found.removes.iter().filter_map(|s| network.suspect(s)).collect();
    let fails = (found.fails.get() + left).min(1.0);
    Ok(RepairEvent { suspects, fails, long_ago })
}

fn push(
    told: &mut Told,
    network: &Network,
    finding: usize,
    epoch: usize,
    likelihood: Vec<f64>,
    level: &str,
    absent: bool,
) {
    let normal = likelihood.iter().skip(1).all(|l| *l == 0.0);
    told.evidence.observations.push(Observation::soft(finding, epoch, likelihood));
    told.what.push(Observed {
        finding: network.findings[finding].id.clone(),
        level: level.to_owned(),
        epoch,
        by_absence: absent,
        normal,
        number: None,
    });
}

fn one_hot(level: usize, levels: usize) -> Vec<f64> {
    (0..levels).map(|l| f64::from(u8::from(l == level))).collect()
}

fn codes(e: &Epoch, epoch: usize, base: &Base, network: &Network, told: &mut Told) -> Result<(), EvidenceError> {
    let mut failed: BTreeSet<&str> = BTreeSet::new();
    for code in &e.codes {
        let found = base
            .code(code)
            .ok_or_else(|| EvidenceError::unknown(Kind::Code, code, base.codes.iter().map(|c| c.id.as_str())))?;
        failed.insert(&found.monitor);
    }
    // A check that failed once keeps others from running as one that failed twice does.
    failed.extend(e.monitor_results.iter().filter(|r| r.failed()).map(|r| r.monitor.as_str()));
    for m in &base.monitors {
        let Some(finding) = network.finding(&format!("monitor:{}", m.id)) else { continue };
        let levels = network.findings[finding].levels.len();
        // Of several codes of one monitor the highest is the level; the lower ones add nothing.
        let highest = m.levels.iter().rposition(|c| e.codes.contains(c));
        if let Some(i) = highest {
            push(told, network, finding, epoch, one_hot(i + 1, levels), &m.levels[i], false);
        } else if let Some(result) = e.result_of(&m.id, levels) {
            push(told, network, finding, epoch, result.likelihood.clone(), &result.words, false);
        } else if e.not_run.contains(&m.id) {
            told.suspended.push(m.id.clone());
        } else if e.passed.contains(&m.id) {
            let none = network.findings[finding].levels[0].clone();
            push(told, network, finding, epoch, one_hot(0, levels), &none, false);
        } else if e.codes_complete {
            if m.suspended_by.iter().any(|s| failed.contains(s.as_str())) {
                told.suspended.push(m.id.clone());
            } else {
                let none = network.findings[finding].levels[0].clone();
                push(told, network, finding, epoch, one_hot(0, levels), &none, true);
            }
        }
    }
    Ok(())
}

fn symptoms(e: &Epoch, epoch: usize, base: &Base, network: &Network, told: &mut Told) -> Result<(), EvidenceError> {
    if let Some(both) = e.symptoms.iter().find(|s| e.no_symptoms.contains(s)) {
        return Err(EvidenceError::Contradiction {
            what: format!("symptom `{both}`"),
            one: "there".into(),
            other: "absent".into(),
        });
    }
    let there = e.symptoms.iter().map(|s| (s, 1));
    let absent = e.no_symptoms.iter().map(|s| (s, 0));
    let mut done = BTreeSet::new();
    for (symptom, level) in there.chain(absent) {
        let id = format!("symptom:{symptom}");
        let finding = base.symptom(symptom).and_then(|_| network.finding(&id)).ok_or_else(|| {
            EvidenceError::unknown(Kind::Symptom, symptom, base.symptoms.iter().map(|s| s.id.as_str()))
        })?;
        if !done.insert(finding) {
            continue;
        }
        if level == 1 && said_already(base, &network.vehicle, symptom) {
            told.repeated.push(id.clone());
            told.silent.push(id);
        } else {
            let word = if level == 1 { "noticed" } else { "absent" };
            push(told, network, finding, epoch, one_hot(level, 2), word, false);
        }
    }
    Ok(())
}

fn results(e: &Epoch, epoch: usize, base: &Base, network: &Network, told: &mut Told) -> Result<(), EvidenceError> {
    let mut seen: Vec<(&Reading, Outcome)> = Vec::new();
    for (reading, outcome) in &e.results {
        let (_, found) = base.reading(reading).ok_or_else(|| {
            let all = base.tests.iter().flat_map(|t| &t.readings).map(|r| r.id.as_str());
            EvidenceError::unknown(Kind::Reading, reading, all)
        })?;
        match seen.iter_mut().find(|(r, _)| r.id == found.id) {
            None => seen.push((found, outcome.clone())),
            Some((_, earlier)) if earlier == outcome => {}
            // Numbers of one gauge on one state of the vehicle count together, as one reading.
            Some((_, earlier)) if earlier.number(found).is_some() && outcome.number(found).is_some() => {
                *earlier = Outcome::Measured(format!("{earlier} and {outcome}"));
            }
            Some((_, earlier)) => {
                return Err(EvidenceError::Contradiction {
                    what: format!("`{reading}`"),
                    one: earlier.to_string(),
                    other: outcome.to_string(),
                });
            }
        }
    }
    for (reading, outcome) in seen {
        match (network.finding(&reading.id), outcome.likelihood(reading)?) {
            (Some(finding), Some(likelihood)) => {
                push(told, network, finding, epoch, likelihood, &outcome.level_in_words(reading), false);
                if let (Some(number), Some(last)) = (outcome.number(reading).transpose()?, told.what.last_mut()) {
                    last.number = Some(number);
                }
            }
            _ => told.silent.push(reading.id.clone()),
        }
    }
    Ok(())
}

/// Of one suspect the last look of an epoch counts: whoever looks again sees more.
fn looks(e: &Epoch, epoch: usize, base: &Base, network: &Network, told: &mut Told) -> Result<(), EvidenceError> {
    for (at, (suspect, look)) in e.looks.iter().enumerate() {
        if base.suspect(suspect).is_none() {
            return Err(unknown_suspect(suspect, base));
        }
        let id = format!("{SEEN_PREFIX}{suspect}");
        let later = e.looks[at + 1..].iter().any(|(s, _)| s == suspect);
        match (network.finding(&id), look) {
            _ if later => {}
            (Some(finding), look) => {
                let false_alarm = network.findings[finding].leak[1];
                push(told, network, finding, epoch, look.likelihood(false_alarm), &look.to_string(), false);
            }
            (None, Look::Sound) => told.silent.push(id),
            (None, Look::Found | Look::Probably) => {
                let why = "it was found, yet a car such as this is said to be has no such part".to_owned();
                return Err(EvidenceError::Unusable { what: suspect.clone(), why });
            }
        }
    }
    Ok(())
}

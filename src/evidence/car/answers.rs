//! Readings of the base that a capture answers, each by the rule that the base names for it.

use super::super::outcome::Outcome;
use super::Answer;
use car::{Check, CheckState, Frozen, Report, UnitReport};
use knowledge::base::{Base, CarAnswer, CarRule, CarWindow, Test};

/// Coolant from here on is warm, in °C.
const WARM: f64 = 70.0;
/// Engine speed at idle, in turns a minute.
const IDLE: std::ops::RangeInclusive<f64> = 450.0..=1100.0;
/// Warm-ups after which a check that the others have run should have run too.
const WARM_UPS: f64 = 10.0;
/// Command of the EGR valve from which a gap says something, in per cent.
const COMMANDED: f64 = 5.0;
/// Inches of mercury in a kilopascal.
const IN_HG: f64 = 0.295_3;

/// Every reading that the capture answers.
pub(super) fn answers(report: &Report, base: &Base) -> Vec<Answer> {
    let mut out = Vec::new();
    for test in &base.tests {
        for reading in &test.readings {
            let Some(rule) = &reading.car else { continue };
            if let Some((outcome, because)) = answer(rule, test, report, base) {
                out.push(Answer { reading: reading.id.clone(), outcome, because });
            }
        }
    }
    out
}

fn answer(rule: &CarAnswer, test: &Test, report: &Report, base: &Base) -> Option<(Outcome, String)> {
    match rule.rule {
        CarRule::FrozenWindow => {
            let frozen = frozen(test, report, base)?;
            windows(&rule.windows, |id| frozen.value(id))
        }
        CarRule::RunningWindow => {
            let unit = report.units.values().find(|u| is_running(u))?;
            windows(&rule.windows, |id| live(unit, id))
        }
        CarRule::HeldBack => held_back(&rule.windows, report),
        CarRule::TrimLow => trim(report, f64::min),
        CarRule::TrimHigh => trim(report, f64::max),
        CarRule::IdleVacuum => idle_vacuum(report),
        CarRule::EgrGap => egr_gap(report),
    }
}

fn live(unit: &UnitReport, id: &str) -> Option<f64> {
    unit.live(id).map(|l| l.value.number)
}

fn is_running(unit: &UnitReport) -> bool {
    live(unit, "engine-speed").is_some_and(|s| s >= *IDLE.start())
}

/// The frame frozen with a code of the test's family.
fn frozen<'a>(test: &Test, report: &'a Report, base: &Base) -> Option<&'a Frozen> {
    let own =
        |f: &&Frozen| f.code.and_then(|c| base.code(&c.to_string()).map(|c| c.family == test.family)) == Some(true);
    report.units.values().flat_map(|u| u.frozen.values()).find(own)
}

/// Normal when every window has its value inside, abnormal when one has it outside, nothing otherwise.
fn windows(windows: &[CarWindow], value: impl Fn(&str) -> Option<f64>) -> Option<(Outcome, String)> {
    let mut words = Vec::new();
    let (mut outside, mut missing) = (false, false);
    for window in windows {
        let Some((id, number)) = window.values.iter().find_map(|id| Some((id, value(id)?))) else {
            missing = true;
            continue;
        };
        words.push(in_words(id, number));
        outside |= !(window.low..=window.high).contains(&number);
    }
    let because = words.join(", ");
    match (outside, missing) {
        (true, _) => Some((Outcome::Fail, because)),
        (false, false) if !words.is_empty() => Some((Outcome::Pass, because)),
        _ => None,
    }
}

fn in_words(id: &str, number: f64) -> String {
    let (name, unit) = car::quantity(id).map_or((id, ""), |q| (q.name, q.kind.unit()));
    format!("{name} {:.0} {unit}", number.round()).trim_end().to_owned()
}

/// Normal when the check of the leak group has run; abnormal when it alone waits after many warm-ups and the value that
/// holds it back is outside its window.
fn held_back(list: &[CarWindow], report: &Report) -> Option<(Outcome, String)> {
    let (unit, readiness) = report.units.values().find_map(|u| {
        let r = u.since_clearing?;
        (r.state(Check::Evap) != CheckState::Absent).then_some((u, r))
    })?;
    if readiness.state(Check::Evap) == CheckState::Ran {
        return Some((Outcome::Pass, "the EVAP check has run since codes were cleared".to_owned()));
    }
    let others_ran = readiness.checks().all(|(c, s)| c == Check::Evap || s == CheckState::Ran);
    let long = live(unit, "warm-ups-since-clearing").is_some_and(|w| w >= WARM_UPS);
    match windows(list, |id| live(unit, id))? {
        (Outcome::Fail, because) if others_ran && long => {
            Some((Outcome::Fail, format!("the EVAP check alone has not run, {because}")))
        }
        (Outcome::Pass, because) => Some((Outcome::Pass, because)),
        _ => None,
    }
}

/// Short and long trim of a bank together, warm and running; of two banks the one picked.
fn trim(report: &Report, pick: fn(f64, f64) -> f64) -> Option<(Outcome, String)> {
    let unit = report.units.values().find(|u| is_running(u))?;
    if live(unit, "coolant-temperature").is_none_or(|t| t < WARM) {
        return None;
    }
    let bank = |short: &str, long: &str| Some(live(unit, short)? + live(unit, long)?);
    let first = bank("short-trim-1", "long-trim-1")?;
    let sum = bank("short-trim-2", "long-trim-2").map_or(first, |second| pick(first, second));
    Some((Outcome::Measured(format!("{sum:.1} %")), format!("short and long trim together {sum:.1} %")))
}

/// Barometer less manifold pressure, standing and idling warm.
fn idle_vacuum(report: &Report) -> Option<(Outcome, String)> {
    let unit = report.units.values().find(|u| is_running(u))?;
    let idling = live(unit, "engine-speed").is_some_and(|s| IDLE.contains(&s));
    let standing = live(unit, "road-speed").is_some_and(|s| s < 1.0);
    let warm = live(unit, "coolant-temperature").is_some_and(|t| t >= WARM);
    let (air, manifold) = (live(unit, "barometer")?, live(unit, "manifold-pressure")?);
    if !(idling && standing && warm) || air < manifold {
        return None;
    }
    let vacuum = (air - manifold) * IN_HG;
    let because = format!("manifold {manifold:.0} kPa under air of {air:.0} kPa at warm idle");
    Some((Outcome::Measured(format!("{vacuum:.1} inHg at {air:.0} kPa")), because))
}

/// The EGR error is a share of the command; together they are the gap in per cent of the travel.
fn egr_gap(report: &Report) -> Option<(Outcome, String)> {
    let unit = report.units.values().find(|u| live(u, "egr-error").is_some())?;
    let (command, error) = (live(unit, "egr-command")?, live(unit, "egr-error")?);
    if command < COMMANDED {
        return None;
    }
    let gap = error.abs() * command / 100.0;
    let because = format!("EGR commanded {command:.0} %, error {error:.0} % of it");
    Some((Outcome::Measured(format!("{gap:.1} %")), because))
}

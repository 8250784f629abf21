//! What the car says of its own checks: which have not run, which failed without a confirmed code, and how near to
//! their limits the test results lie.

use super::{CarSaid, state};
use car::{Check, CheckState, MonitorTest, Outcome, Report};
use knowledge::base::{Base, Monitor, ReadyGroup, Runs};
use statrs::function::erf::erf;

/// What is known of a monitor beside its codes.
#[derive(Clone, Debug, PartialEq)]
pub struct MonitorResult {
    /// Monitor id.
    pub monitor: String,
    /// P(what was seen | the monitor is at that level), lowest level first, up to a common factor.
    pub likelihood: Vec<f64>,
    /// What was seen, in words.
    pub words: String,
    /// The margin of the worst test result.
    pub margin: Option<Margin>,
}

impl MonitorResult {
    /// Whether the check failed, rather than passing near its limit.
    #[must_use]
    pub fn failed(&self) -> bool {
        let most = self.likelihood.iter().skip(1).copied().fold(0.0, f64::max);
        self.likelihood.first().is_some_and(|none| *none < most)
    }
}

/// How a test result lies to its limits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Margin {
    /// Outside by this share of the limit; below 0 inside.
    pub beyond: f64,
    /// Chance that the check fails when it is run again on the same car.
    pub fails_again: f64,
}

/// Spread of the results of one check from run to run on an unchanged car, as a share of its limit. Judgement.
const FROM_RUN_TO_RUN: f64 = 0.10;
/// How probable a single failed check is on a car on which the next would pass, against one on which it would fail
/// again: a check in two hundred fails by itself. Judgement.
const FAILS_BY_ITSELF: f64 = 0.005;
/// Least chance at any level: no result makes another run impossible to differ.
const LEAST: f64 = 1e-6;

/// Chance that the next run fails after a result that lies so far beyond its limit: both runs scatter around the same
/// unknown value, so their difference has twice the variance of one.
fn fails_again(beyond: f64) -> f64 {
    let z = beyond / (FROM_RUN_TO_RUN * std::f64::consts::SQRT_2);
    let p = 0.5 * (1.0 + erf(z / std::f64::consts::SQRT_2));
    p.clamp(LEAST, 1.0 - LEAST)
}

/// The bit of a group.
fn check(group: ReadyGroup) -> Check {
    match group {
        ReadyGroup::Catalyst => Check::Catalyst,
        ReadyGroup::HeatedCatalyst => Check::HeatedCatalyst,
        ReadyGroup::Evap => Check::Evap,
        ReadyGroup::SecondaryAir => Check::SecondaryAir,
        ReadyGroup::Egr => Check::Egr,
        ReadyGroup::Components => Check::Components,
    }
}

/// A live counter since clearing, the smallest of all units.
fn counter(report: &Report, id: &str) -> Option<f64> {
    report.units.values().filter_map(|u| u.live(id)).map(|l| l.value.number).min_by(f64::total_cmp)
}

/// Whether codes were cleared so lately that no trip lies behind the car: the counters say so, or, where there are
/// none, none of the checks that need a drive has run.
pub(super) fn just_cleared(report: &Report, said: &CarSaid) -> bool {
    let warm_ups = counter(report, "warm-ups-since-clearing");
    let distance = counter(report, "distance-since-clearing");
    match (warm_ups, distance) {
        (Some(w), Some(d)) => w < 1.0 && d < 5.0,
        (Some(w), None) => w < 1.0,
        (None, Some(d)) => d < 5.0,
        (None, None) => {
            let driven = |c: &Check| !matches!(c, Check::Misfire | Check::FuelSystem | Check::Components);
            said.waiting.iter().any(driven) && !said.ran.iter().any(driven)
        }
    }
}

/// Whether a monitor's missing code says nothing: its check has not run since codes were cleared, the car does not have
/// it, or it may have failed once and be waiting for the second trip while the pending codes were not read.
pub(super) fn is_silent(monitor: &Monitor, report: &Report, said: &CarSaid) -> bool {
    let Some(group) = monitor.readiness else { return false };
    let pending_read = report.units.values().any(|u| u.pending.is_some());
    let warm_ups = counter(report, "warm-ups-since-clearing");
    let one_trip_only = monitor.trips >= 2 && !pending_read && warm_ups.is_some_and(|w| w <= 1.0);
    if group == ReadyGroup::Components {
        // The bit of circuits and sensors is complete on most cars whatever has run. What is watched all the time and
        // needs one trip is seen within seconds; the rest needs driving.
        return one_trip_only || said.just_cleared && (monitor.runs == Runs::OnceATrip || monitor.trips >= 2);
    }
    let since = state(report, check(group), |u| u.since_clearing);
    since != Some(CheckState::Ran) || one_trip_only
}

/// Test results and pending codes of the monitors that have no code; a code that is there says it all.
pub(super) fn results(report: &Report, base: &Base, said: &CarSaid) -> Vec<MonitorResult> {
    base.monitors.iter().filter_map(|m| result(m, report, said)).collect()
}

fn result(monitor: &Monitor, report: &Report, said: &CarSaid) -> Option<MonitorResult> {
    if monitor.levels.iter().any(|c| said.codes.contains(c)) {
        return None;
    }
    let level = |code: &String| monitor.levels.iter().position(|l| l == code);
    if let Some((at, code)) = said.pending_only.iter().filter_map(|c| Some((level(c)?, c))).max() {
        let mut likelihood = vec![0.0; monitor.levels.len() + 1];
        likelihood[0] = FAILS_BY_ITSELF;
        likelihood[at + 1] = 1.0;
        let words = format!("{code} pending: failed, not confirmed by a second trip");
        return Some(MonitorResult { monitor: monitor.id.clone(), likelihood, words, margin: None });
    }
    let mut worst: Option<(&MonitorTest, f64)> = None;
    // Chance of failing again by level; none where no test stands for the level.
    let mut fails: Vec<Option<f64>> = vec![None; monitor.levels.len()];
    for own in &monitor.test_results {
        let Some(at) = level(&own.code) else { continue };
        let tests = report.units.values().flat_map(|u| u.tests.values()).filter(|t| t.monitor == own.test);
        for test in tests {
            let Some(beyond) = test.beyond() else { continue };
            let p = fails_again(beyond);
            fails[at] = Some(fails[at].map_or(p, |q: f64| q.max(p)));
            if worst.is_none_or(|(_, b)| beyond > b) {
                worst = Some((test, beyond));
            }
        }
    }
    let (test, beyond) = worst?;
    let failed = test.outcome() == Outcome::Failed;
    let passes: f64 = fails.iter().flatten().map(|p| 1.0 - p).product();
    let mut likelihood = vec![if failed { passes.max(FAILS_BY_ITSELF) } else { passes }];
    for at in 0..fails.len() {
        // A level without a test of its own is as likely as the nearest milder one that has one: what leaks much fails
        // the finer test too.
        let own = fails[..=at].iter().rev().flatten().next().or_else(|| fails[at..].iter().flatten().next());
        likelihood.push(own.copied().unwrap_or(LEAST));
    }
    let margin = Margin { beyond, fails_again: fails_again(beyond) };
    let words = in_words(test, failed, beyond);
    Some(MonitorResult { monitor: monitor.id.clone(), likelihood, words, margin: Some(margin) })
}

fn in_words(test: &MonitorTest, failed: bool, beyond: f64) -> String {
    let name = test.name().unwrap_or_else(|| format!("monitor {:02X}", test.monitor));
    let share = (beyond.abs() * 100.0).round();
    let outcome = if failed { "failed, outside" } else { "passed, inside" };
    let far =
        if share >= 1000.0 { "far beyond all limits".to_owned() } else { format!("its limit by {share} % of it") };
    format!("{name}: {outcome} {far}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn at_the_limit_the_next_run_may_go_either_way() {
        assert!((fails_again(0.0) - 0.5).abs() < 1e-12);
        assert!((fails_again(0.1) + fails_again(-0.1) - 1.0).abs() < 1e-9);
        assert!((0.7..0.8).contains(&fails_again(0.1)), "{}", fails_again(0.1));
        assert!(fails_again(0.5) > 0.999 && fails_again(-0.5) < 0.001);
    }
}

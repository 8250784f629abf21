//! The first checks worth doing: the cheapest informative ones, one test ahead. What comes after them, and whether a
//! repair would be cheaper, is for the plan.

use crate::inference::{InferenceError, Prepared, Scope, World};
use crate::knowledge::base::{Base, Test};
use crate::network::{Finding, LIKELY_TO_FIT, Network};
use std::collections::{BTreeSet, HashMap};

/// Worlds looked at: they hold nearly all of the probability of one or two codes.
const WORLDS: usize = 160;
/// Worlds rarer than this are left out.
const LEAST_WORLD: f64 = 2e-4;
/// Minutes that any step costs beside its own time: walking, writing down.
const OVERHEAD_MINUTES: f64 = 1.0;

/// One test, judged.
#[derive(Clone, Debug, PartialEq)]
pub struct Check {
    /// Test id.
    pub test: String,
    /// Minutes, its setups included.
    pub minutes: f64,
    /// P(at least one reading is abnormal | evidence), 0 where the vehicle does not allow the test.
    pub abnormal: f64,
    /// Expected information about which suspects are present, in bits, the sum over its readings, times the
    /// probability that the vehicle allows the test.
    pub bits: f64,
}

/// The tests in order of expected information per minute, without those already done and those that need a tool
/// that is not at hand.
///
/// # Errors
/// Evidence that is impossible or too entangled.
pub fn first_checks(
    base: &Base,
    network: &Network,
    prepared: &mut Prepared<'_>,
    done: &BTreeSet<String>,
    tools: Option<&[String]>,
) -> Result<Vec<Check>, InferenceError> {
    let worlds = prepared.worlds(Scope::Relevant, WORLDS, LEAST_WORLD)?.list;
    let now = if network.unsure.is_empty() { Vec::new() } else { prepared.posterior()?.now };
    let index: HashMap<&str, usize> = network.findings.iter().enumerate().map(|(i, f)| (f.id.as_str(), i)).collect();
    let mut out = Vec::new();
    for test in &base.tests {
        if tools.is_some_and(|have| test.tools.iter().any(|t| !have.contains(t))) {
            continue;
        }
        let readings: Vec<&Finding> = test
            .readings
            .iter()
            .filter(|r| !done.contains(&r.id))
            .filter_map(|r| index.get(r.id.as_str()).map(|i| &network.findings[*i]))
            .collect();
        if readings.is_empty() {
            continue;
        }
        let fit = network.fit(&test.id, &now);
        if fit < LIKELY_TO_FIT {
            continue;
        }
        let minutes = minutes(base, test);
        let (bits, abnormal) = news(&readings, &worlds);
        let (bits, abnormal) = (bits * fit, abnormal * fit);
        out.push(Check { test: test.id.clone(), minutes, abnormal, bits });
    }
    let rate = |c: &Check| c.bits / (c.minutes + OVERHEAD_MINUTES);
    out.sort_by(|a, b| rate(b).total_cmp(&rate(a)).then_with(|| a.test.cmp(&b.test)));
    Ok(out)
}

/// Minutes of a test with all its setups.
fn minutes(base: &Base, test: &Test) -> f64 {
    let setups: f64 = test.setups.iter().filter_map(|s| base.setup(s)).map(|s| s.minutes.get()).sum();
    test.minutes.get() + setups
}

/// Mutual information between each reading and the worlds, summed over the readings (in bits), and the probability
/// that at least one reading is abnormal.
fn news(readings: &[&Finding], worlds: &[World]) -> (f64, f64) {
    let total: f64 = worlds.iter().map(|w| w.probability).sum();
    if total <= 0.0 {
        return (0.0, 0.0);
    }
    let mut bits = 0.0;
    let mut all_normal = vec![1.0; worlds.len()];
    for finding in readings {
        let mut mean = vec![0.0; finding.levels.len()];
        let mut inner = 0.0;
        for (k, world) in worlds.iter().enumerate() {
            let levels = given(finding, &world.suspects);
            let share = world.probability / total;
            all_normal[k] *= levels[0];
            inner += share * entropy(&levels);
            for (m, l) in mean.iter_mut().zip(&levels) {
                *m += share * l;
            }
        }
        bits += (entropy(&mean) - inner).max(0.0);
    }
    let normal: f64 = worlds.iter().zip(&all_normal).map(|(w, n)| w.probability / total * n).sum();
    (bits, 1.0 - normal)
}

/// P(level | exactly these suspects present): the noisy-MAX, P(Y <= s) = product of the P_i(Y <= s).
fn given(finding: &Finding, present: &[usize]) -> Vec<f64> {
    let mut upto = finding.leak.clone();
    accumulate(&mut upto);
    for s in present {
        if let Ok(i) = finding.links.binary_search_by_key(s, |l| l.suspect) {
            let mut own = finding.links[i].levels.clone();
            accumulate(&mut own);
            for (u, o) in upto.iter_mut().zip(&own) {
                *u *= o;
            }
        }
    }
    for i in (1..upto.len()).rev() {
        upto[i] = (upto[i] - upto[i - 1]).max(0.0);
    }
    upto
}

fn accumulate(levels: &mut [f64]) {
    let mut sum = 0.0;
    for l in levels.iter_mut() {
        sum += *l;
        *l = sum;
    }
}

fn entropy(levels: &[f64]) -> f64 {
    levels.iter().filter(|p| **p > 0.0).map(|p| -p * p.log2()).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::{FindingKind, Link};

    #[test]
    fn a_perfect_reading_of_an_even_chance_is_worth_one_bit() {
        let finding = Finding {
            id: "t:r".into(),
            kind: FindingKind::Reading,
            levels: vec!["normal".into(), "abnormal".into()],
            leak: vec![1.0, 0.0],
            leak_weight: 1.0,
            links: vec![Link { suspect: 0, levels: vec![0.0, 1.0], weight: 1.0 }],
        };
        let worlds = [World { suspects: vec![0], probability: 0.3 }, World { suspects: vec![], probability: 0.3 }];
        let (bits, abnormal) = news(&[&finding], &worlds);
        assert!((bits - 1.0).abs() < 1e-12);
        assert!((abnormal - 0.5).abs() < 1e-12);
    }
}

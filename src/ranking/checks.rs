//! The first checks worth doing: the cheapest informative ones, one test ahead. What comes after them, and whether a
//! repair would be cheaper, is for the plan.

use inference::{InferenceError, Prepared, Scope, World};
use knowledge::base::{Base, Test};
use network::{Finding, LIKELY_TO_FIT, Network};
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
    let looked = Looked::at(&prepared.worlds(Scope::Relevant, WORLDS, LEAST_WORLD)?.list);
    let posterior = prepared.posterior()?;
    let now = &posterior.now;
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
        let fit = network.fit(&test.id, now);
        if fit < LIKELY_TO_FIT {
            continue;
        }
        let minutes = minutes(base, test);
        let (bits, abnormal) = looked.news(&readings, &posterior.grades);
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

/// The worlds, and which of them hold each suspect.
struct Looked {
    /// Shares of the worlds, which add up to 1.
    shares: Vec<f64>,
    holding: HashMap<usize, Vec<usize>>,
}

impl Looked {
    fn at(worlds: &[World]) -> Self {
        let total: f64 = worlds.iter().map(|w| w.probability).sum();
        let mut holding: HashMap<usize, Vec<usize>> = HashMap::new();
        for (k, world) in worlds.iter().enumerate() {
            for s in &world.suspects {
                holding.entry(*s).or_default().push(k);
            }
        }
        let shares = if total > 0.0 { worlds.iter().map(|w| w.probability / total).collect() } else { Vec::new() };
        Self { shares, holding }
    }

    /// Mutual information between each reading and the worlds, summed over the readings (in bits), and the probability
    /// that at least one reading is abnormal.
    fn news(&self, readings: &[&Finding], grades: &[Vec<f64>]) -> (f64, f64) {
        let mut bits = 0.0;
        let mut all_normal = self.shares.clone();
        for finding in readings {
            bits += self.news_of(finding, grades, &mut all_normal);
        }
        let normal: f64 = all_normal.iter().sum();
        if self.shares.is_empty() { (0.0, 0.0) } else { (bits, 1.0 - normal) }
    }

    /// The same for one reading; multiplies P(all normal, world) by its part.
    ///
    /// P(level | exactly these suspects present) is the noisy-MAX, P(Y <= s) = product of the P_i(Y <= s). Worlds that
    /// hold none of the finding's suspects share its background, so only the others are gone through.
    fn news_of(&self, finding: &Finding, grades: &[Vec<f64>], all_normal: &mut [f64]) -> f64 {
        let levels = finding.levels.len();
        let mut background = finding.leak.clone();
        accumulate(&mut background);
        let mut touched: Vec<(usize, Vec<f64>)> = Vec::new();
        let mut slot = vec![usize::MAX; self.shares.len()];
        for link in &finding.links {
            let Some(holding) = self.holding.get(&link.suspect) else { continue };
            let mut own = link.levels_at(grades.get(link.suspect).map_or(&[], Vec::as_slice)).into_owned();
            accumulate(&mut own);
            for &k in holding {
                if slot[k] == usize::MAX {
                    slot[k] = touched.len();
                    touched.push((k, background.clone()));
                }
                touched[slot[k]].1.iter_mut().zip(&own).for_each(|(u, o)| *u *= o);
            }
        }
        for (k, n) in all_normal.iter_mut().enumerate() {
            *n *= touched.get(slot[k]).map_or(finding.leak[0], |t| t.1[0]);
        }
        let mut silent = 1.0;
        let (mut mean, mut inner) = (vec![0.0; levels], 0.0);
        for (k, mut upto) in touched {
            for i in (1..levels).rev() {
                upto[i] = (upto[i] - upto[i - 1]).max(0.0);
            }
            silent -= self.shares[k];
            inner += self.shares[k] * entropy(&upto);
            mean.iter_mut().zip(&upto).for_each(|(m, l)| *m += self.shares[k] * l);
        }
        let silent = silent.max(0.0);
        inner += silent * entropy(&finding.leak);
        mean.iter_mut().zip(&finding.leak).for_each(|(m, l)| *m += silent * l);
        (entropy(&mean) - inner).max(0.0)
    }
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
    use network::{FindingKind, Link};

    #[test]
    fn a_perfect_reading_of_an_even_chance_is_worth_one_bit() {
        let finding = Finding {
            id: "t:r".into(),
            kind: FindingKind::Reading,
            levels: vec!["normal".into(), "abnormal".into()],
            leak: vec![1.0, 0.0],
            leak_weight: 1.0,
            links: vec![Link::plain(0, vec![0.0, 1.0], 1.0)],
        };
        let worlds = [World { suspects: vec![0], probability: 0.3 }, World { suspects: vec![], probability: 0.3 }];
        let (bits, abnormal) = Looked::at(&worlds).news(&[&finding], &[]);
        assert!((bits - 1.0).abs() < 1e-12);
        assert!((abnormal - 0.5).abs() < 1e-12);
    }

    /// Going through the touched worlds only gives what going through all of them gives.
    #[test]
    fn equals_listing_every_world() {
        let levels = ["none", "wisp", "plume"].map(String::from).to_vec();
        let link = |suspect, levels: [f64; 3]| Link::plain(suspect, levels.to_vec(), 1.0);
        let finding = |leak: [f64; 3], links| Finding {
            id: "t:r".into(),
            kind: FindingKind::Reading,
            levels: levels.clone(),
            leak: leak.to_vec(),
            leak_weight: 1.0,
            links,
        };
        let findings = [
            finding(
                [0.9, 0.07, 0.03],
                vec![link(0, [0.2, 0.5, 0.3]), link(2, [0.6, 0.4, 0.0]), link(9, [0.1, 0.2, 0.7])],
            ),
            finding([0.99, 0.01, 0.0], vec![link(1, [0.05, 0.9, 0.05])]),
        ];
        let world = |suspects: &[usize], probability| World { suspects: suspects.to_vec(), probability };
        let worlds = [world(&[0], 0.4), world(&[2], 0.2), world(&[0, 2], 0.05), world(&[1], 0.1), world(&[5], 0.03)];
        let given = |f: &Finding, present: &[usize]| -> Vec<f64> {
            let upto = |l: &[f64], s: usize| l[..=s].iter().sum::<f64>();
            let all = |s: usize| {
                let own = f.links.iter().filter(|l| present.contains(&l.suspect)).map(|l| upto(&l.levels, s));
                upto(&f.leak, s) * own.product::<f64>()
            };
            (0..3).map(|s| if s == 0 { all(0) } else { all(s) - all(s - 1) }).collect()
        };
        let total: f64 = worlds.iter().map(|w| w.probability).sum();
        let mean = |of: &dyn Fn(&World) -> f64| worlds.iter().map(|w| w.probability / total * of(w)).sum::<f64>();
        let of = |f: &Finding| {
            let shown: Vec<f64> = (0..3).map(|s| mean(&|w| given(f, &w.suspects)[s])).collect();
            entropy(&shown) - mean(&|w| entropy(&given(f, &w.suspects)))
        };
        let bits: f64 = findings.iter().map(of).sum();
        let normal = mean(&|w| findings.iter().map(|f| given(f, &w.suspects)[0]).product());
        let (got_bits, got_abnormal) = Looked::at(&worlds).news(&[&findings[0], &findings[1]], &[]);
        assert!((got_bits - bits).abs() < 1e-12 && bits > 0.3, "{got_bits} {bits}");
        assert!((got_abnormal - (1.0 - normal)).abs() < 1e-12, "{got_abnormal} {normal}");
    }
}

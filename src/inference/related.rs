//! What a symptom speaks for: the suspects it raises most and the codes it usually comes with. Computed on the network,
//! never typed in.

use crate::{Evidence, InferenceError, Observation, Prepared};
use network::{FindingKind, Link, Network, is_not_listed};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Something that a symptom makes more probable.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Raised {
    /// Suspect id, or code.
    pub id: String,
    /// Probability without the symptom.
    pub before: f64,
    /// Probability with it.
    pub after: f64,
}

/// What a symptom speaks for.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Related {
    /// Suspects by how much their probability rises, most first.
    pub suspects: Vec<Raised>,
    /// Codes by how much their probability rises, most first.
    pub codes: Vec<Raised>,
}

/// A network on which the symptom is the only thing known.
#[derive(Debug)]
pub struct Relations<'n> {
    network: &'n Network,
    /// Nothing known.
    before: Prepared<'n>,
    /// The probability of every suspect with nothing known.
    priors: Vec<f64>,
    /// The level probabilities of the monitors that were asked for with nothing known, by finding.
    without: BTreeMap<usize, Vec<f64>>,
}

/// Suspects and codes that a symptom is told with.
pub const TOLD: usize = 3;

/// What each of the symptoms speaks for.
///
/// # Errors
/// A network that inference refuses.
pub fn related<'s>(
    network: &Network,
    symptoms: impl Iterator<Item = &'s str>,
) -> Result<BTreeMap<String, Related>, InferenceError> {
    let mut relations = Relations::new(network)?;
    symptoms.map(|s| Ok((s.to_owned(), relations.of(s, TOLD)?))).collect()
}

/// A rise below this share of the largest is not worth a line.
const WORTH_TELLING: f64 = 0.05;

/// Nor is one that leaves the probability nearly where it was.
const LEAST_TIMES: f64 = 1.03;

/// A monitor fires more often by about as much as its suspects are more probable, each times its chance to make it fire.
/// How suspects hang together lets it be a little more; so many times that was never reached by any symptom of the base.
const AT_MOST_TIMES: f64 = 2.0;

impl<'n> Relations<'n> {
    /// Looks at the network with nothing known.
    ///
    /// # Errors
    /// A network that inference refuses.
    pub fn new(network: &'n Network) -> Result<Self, InferenceError> {
        let mut before = Prepared::new(network, &Evidence::default())?;
        let priors = before.posterior()?.now;
        Ok(Self { network, before, priors, without: BTreeMap::new() })
    }

    /// What the symptom speaks for, at most so many of each; nothing for a symptom that the network does not have.
    ///
    /// # Errors
    /// Evidence that inference refuses.
    pub fn of(&mut self, symptom: &str, most: usize) -> Result<Related, InferenceError> {
        let Some(finding) = self.network.finding(&format!("symptom:{symptom}")) else { return Ok(Related::default()) };
        let there = Observation::hard(finding, 0, 1, self.network.findings[finding].levels.len());
        let evidence = Evidence { observations: vec![there], repairs: Vec::new() };
        let mut prepared = Prepared::new(self.network, &evidence)?;
        let now = prepared.posterior()?.now;
        let codes = self.codes(&prepared, &now, most);
        let suspects = self.network.suspects.iter().zip(now).zip(&self.priors);
        let suspects = suspects
            .filter(|((s, _), _)| !is_not_listed(&s.id))
            .map(|((s, after), before)| Raised { id: s.id.clone(), before: *before, after })
            .collect();
        Ok(Related { suspects: most_raised(suspects, most), codes: most_raised(codes, most) })
    }

    /// The codes that may rise most. Monitors are looked at in the order of what they may rise at most, until no other can
    /// overtake: a look at one goes through all suspects, and most monitors share none with the symptom. Both `prepared` and
    /// `before` have been run.
    fn codes(&mut self, prepared: &Prepared, now: &[f64], most: usize) -> Vec<Raised> {
        let mut order: Vec<(f64, usize)> = Vec::new();
        for (i, f) in self.network.findings.iter().enumerate().filter(|(_, f)| f.kind == FindingKind::Monitor) {
            let rise = |link: &Link| {
                let fires = 1.0 - link.levels.first().copied().unwrap_or(1.0);
                (now[link.suspect] - self.priors[link.suspect]).max(0.0) * fires
            };
            order.push((AT_MOST_TIMES * f.links.iter().map(rise).sum::<f64>(), i));
        }
        order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let mut codes: Vec<Raised> = Vec::new();
        let mut rises: Vec<f64> = Vec::new();
        for (bound, i) in order {
            if bound <= 1e-9 || most.checked_sub(1).is_none_or(|last| rises.get(last).is_some_and(|r| *r >= bound)) {
                break;
            }
            let without = match self.without.get(&i) {
                Some(known) => known.clone(),
                None => self.before.predict_after_run(i),
            };
            let with = prepared.predict_after_run(i);
            for (level, (before, after)) in
                self.network.findings[i].levels.iter().zip(without.iter().zip(&with)).skip(1)
            {
                codes.push(Raised { id: level.clone(), before: *before, after: *after });
                rises.push(after - before);
            }
            rises.sort_by(|a, b| b.total_cmp(a));
            self.without.insert(i, without);
        }
        codes
    }
}

fn most_raised(mut list: Vec<Raised>, most: usize) -> Vec<Raised> {
    let rise = |r: &Raised| r.after - r.before;
    list.sort_by(|a, b| rise(b).total_cmp(&rise(a)).then_with(|| a.id.cmp(&b.id)));
    let least = list.first().map_or(0.0, rise) * WORTH_TELLING;
    list.retain(|r| rise(r) > least.max(1e-9) && r.after >= r.before * LEAST_TIMES);
    list.truncate(most);
    list
}

#[cfg(test)]
mod tests {
    use super::*;
    use network::build::build;

    #[test]
    fn what_a_symptom_raises_follows_bayes_and_every_symptom_raises_something() {
        let base = shipped::base().unwrap();
        let network = build(&base, &knowledge::base::Vehicle::default());
        let mut relations = Relations::new(&network).unwrap();
        let related = relations.of("hard-start-after-refuel", 3).unwrap();
        assert_eq!(related.suspects.len(), 3);
        // The same by the exact engine: what is likely once the symptom alone is known.
        let finding = network.finding("symptom:hard-start-after-refuel").unwrap();
        let present = crate::Observation { finding, epoch: 0, likelihood: vec![0.0, 1.0] };
        let evidence = crate::Evidence { observations: vec![present], ..Default::default() };
        let now = crate::posterior(&network, &evidence).unwrap().now;
        for r in &related.suspects {
            let expected = now[network.suspect(&r.id).unwrap()];
            assert!((r.after - expected).abs() < 1e-12, "{}: {} and {expected}", r.id, r.after);
        }
        for s in &base.symptoms {
            let related = relations.of(&s.id, 3).unwrap();
            // A symptom of which no suspect speaks, a lamp without any complaint, raises nothing.
            if base.suspects().all(|(_, one)| one.symptoms.iter().all(|l| l.symptom != s.id)) {
                continue;
            }
            assert!(!related.suspects.is_empty(), "{}", s.id);
            // A fuel door that stays shut or open stores no code, which is right.
            assert!(!related.codes.is_empty() || s.id.starts_with("fuel-door-"), "{}", s.id);
        }
        assert_eq!(relations.of("no-such-symptom", 3).unwrap(), Related::default());
    }

    #[test]
    fn looking_at_the_likeliest_monitors_finds_what_looking_at_all_finds() {
        let base = shipped::base().unwrap();
        let network = build(&base, &knowledge::base::Vehicle::default());
        let mut relations = Relations::new(&network).unwrap();
        let nothing = crate::predict_all(&network, &Evidence::default()).unwrap();
        for s in base.symptoms.iter().step_by(4) {
            let finding = network.finding(&format!("symptom:{}", s.id)).unwrap();
            let there = Observation::hard(finding, 0, 1, network.findings[finding].levels.len());
            let evidence = Evidence { observations: vec![there], repairs: Vec::new() };
            let with = crate::predict_all(&network, &evidence).unwrap();
            let mut all = Vec::new();
            for (i, f) in network.findings.iter().enumerate().filter(|(_, f)| f.kind == FindingKind::Monitor) {
                for (level, (before, after)) in f.levels.iter().zip(nothing[i].iter().zip(&with[i])).skip(1) {
                    all.push(Raised { id: level.clone(), before: *before, after: *after });
                }
            }
            let ids = |list: &[Raised]| list.iter().map(|r| r.id.clone()).collect::<Vec<_>>();
            assert_eq!(ids(&relations.of(&s.id, 3).unwrap().codes), ids(&most_raised(all, 3)), "{}", s.id);
        }
    }
}

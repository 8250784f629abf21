//! What a symptom speaks for: the suspects it raises most and the codes it usually comes with. Computed on the network,
//! never typed in.

use crate::evidence::is_not_listed;
use crate::inference::{Evidence, InferenceError, Observation, Prepared};
use crate::network::{FindingKind, Network};

/// Something that a symptom makes more probable.
#[derive(Clone, Debug, PartialEq)]
pub struct Raised {
    /// Suspect id, or code.
    pub id: String,
    /// Probability without the symptom.
    pub before: f64,
    /// Probability with it.
    pub after: f64,
}

/// What a symptom speaks for.
#[derive(Clone, Debug, Default, PartialEq)]
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
    without: Vec<Vec<f64>>,
}

/// A rise below this share of the largest is not worth a line.
const WORTH_TELLING: f64 = 0.05;

/// Nor is one that leaves the probability nearly where it was.
const LEAST_TIMES: f64 = 1.03;

impl<'n> Relations<'n> {
    /// Looks at the network with nothing known.
    ///
    /// # Errors
    /// A network that inference refuses.
    pub fn new(network: &'n Network) -> Result<Self, InferenceError> {
        let without = Self::monitors(&mut Prepared::new(network, &Evidence::default())?, network)?;
        Ok(Self { network, without })
    }

    /// The level probabilities of the monitors, in the order of the findings; nothing for other findings.
    fn monitors(prepared: &mut Prepared, network: &Network) -> Result<Vec<Vec<f64>>, InferenceError> {
        let levels = |(i, f): (usize, &crate::network::Finding)| match f.kind {
            FindingKind::Monitor => prepared.predict(i),
            FindingKind::Symptom | FindingKind::Reading | FindingKind::Seen => Ok(Vec::new()),
        };
        network.findings.iter().enumerate().map(levels).collect()
    }

    /// What the symptom speaks for, at most so many of each; nothing for a symptom that the network does not have.
    ///
    /// # Errors
    /// Evidence that inference refuses.
    pub fn of(&self, symptom: &str, most: usize) -> Result<Related, InferenceError> {
        let Some(finding) = self.network.finding(&format!("symptom:{symptom}")) else { return Ok(Related::default()) };
        let there = Observation::hard(finding, 0, 1, self.network.findings[finding].levels.len());
        let evidence = Evidence { observations: vec![there], repairs: Vec::new() };
        let mut prepared = Prepared::new(self.network, &evidence)?;
        let now = prepared.posterior()?.now;
        let suspects = self.network.suspects.iter().zip(now).filter(|(s, _)| !is_not_listed(&s.id));
        let suspects = suspects.map(|(s, after)| Raised { id: s.id.clone(), before: s.prior, after }).collect();
        let with = Self::monitors(&mut prepared, self.network)?;
        let mut codes = Vec::new();
        for ((f, before), after) in self.network.findings.iter().zip(&self.without).zip(&with) {
            for (level, (before, after)) in f.levels.iter().zip(before.iter().zip(after)).skip(1) {
                codes.push(Raised { id: level.clone(), before: *before, after: *after });
            }
        }
        Ok(Related { suspects: most_raised(suspects, most), codes: most_raised(codes, most) })
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
    use crate::network::build::build;

    #[test]
    fn what_a_symptom_raises_follows_bayes_and_every_symptom_raises_something() {
        let base = crate::shipped::base().unwrap();
        let network = build(&base, &crate::knowledge::base::Vehicle::default());
        let relations = Relations::new(&network).unwrap();
        let related = relations.of("hard-start-after-refuel", 3).unwrap();
        assert_eq!(related.suspects.len(), 3);
        // The same by the exact engine: what is likely once the symptom alone is known.
        let finding = network.finding("symptom:hard-start-after-refuel").unwrap();
        let present = crate::inference::Observation { finding, epoch: 0, likelihood: vec![0.0, 1.0] };
        let evidence = crate::inference::Evidence { observations: vec![present], ..Default::default() };
        let now = crate::inference::posterior(&network, &evidence).unwrap().now;
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
}

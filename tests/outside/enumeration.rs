//! Source: the definition of the noisy-MAX itself, added up over all sets of suspects in exact integers. No table, no order
//! of suspects, no rounding: every probability is a count of thousandths.

use crate::whole::Natural;
use faultodds::inference::{Evidence, Observation, posterior};
use faultodds::network::{Finding, FindingKind, Link, Network, Suspect};
use proptest::prelude::*;

const UNIT: u32 = 1000;

/// A suspect's or the background's thousandths over the levels.
type Counts = Vec<u32>;

#[derive(Clone, Debug)]
struct Question {
    priors: Vec<u32>,
    /// Background, one distribution or none a suspect, likelihood of the data at each level in thousandths.
    findings: Vec<(Counts, Vec<Option<Counts>>, Counts)>,
}

/// Cuts of 0..=UNIT as a distribution.
fn distribution(levels: usize) -> impl Strategy<Value = Counts> {
    prop::collection::vec(0..=UNIT, levels - 1).prop_map(|mut cuts| {
        cuts.sort_unstable();
        let ends = cuts.iter().copied().chain([UNIT]);
        let starts = std::iter::once(0).chain(cuts.iter().copied());
        starts.zip(ends).map(|(a, b)| b - a).collect()
    })
}

/// A level seen for certain, or a measured number.
fn likelihood(levels: usize) -> impl Strategy<Value = Counts> {
    let hard = (0..levels).prop_map(move |seen| (0..levels).map(|l| if l == seen { UNIT } else { 0 }).collect());
    prop_oneof![3 => hard, 1 => prop::collection::vec(1..=UNIT, levels)]
}

fn question() -> impl Strategy<Value = Question> {
    (1_usize..=10, 1_usize..=6).prop_flat_map(|(suspects, findings)| {
        let finding = (2_usize..=5).prop_flat_map(move |levels| {
            let links = prop::collection::vec(prop::option::weighted(0.6, distribution(levels)), suspects);
            (distribution(levels), links, likelihood(levels))
        });
        (prop::collection::vec(1..=400_u32, suspects), prop::collection::vec(finding, findings))
            .prop_map(|(priors, findings)| Question { priors, findings })
    })
}

impl Question {
    /// P(present, evidence) of each suspect and P(evidence), all over the same denominator.
    fn exact(&self) -> (Vec<Natural>, Natural) {
        let n = self.priors.len();
        let small = |n: u32| Natural::new(u64::from(n));
        let (mut joint, mut total) = (vec![small(0); n], small(0));
        for world in 0..1_u32 << n {
            let present = |i: usize| world >> i & 1 == 1;
            let mut weight = small(1);
            for (i, p) in self.priors.iter().enumerate() {
                weight = weight.times(&small(if present(i) { *p } else { UNIT - *p }));
            }
            for (leak, links, data) in &self.findings {
                // P(at or below the level): a product over the background and the suspects present, the rest filled up.
                let (mut below, mut sum) = (small(0), small(0));
                for level in 0..leak.len() {
                    let up_to = |c: &Counts| small(c[..=level].iter().sum::<u32>());
                    let mut at_most = up_to(leak);
                    for (i, link) in links.iter().enumerate() {
                        at_most = at_most.times(&link.as_ref().filter(|_| present(i)).map_or(small(UNIT), up_to));
                    }
                    sum = sum.plus(&at_most.minus(&below).times(&small(data[level])));
                    below = at_most;
                }
                weight = weight.times(&sum);
            }
            for (_, j) in joint.iter_mut().enumerate().filter(|(i, _)| present(*i)) {
                *j = j.plus(&weight);
            }
            total = total.plus(&weight);
        }
        (joint, total)
    }

    fn network(&self) -> (Network, Evidence) {
        let share = |c: &Counts| -> Vec<f64> { c.iter().map(|n| f64::from(*n) / f64::from(UNIT)).collect() };
        let suspects = self
            .priors
            .iter()
            .enumerate()
            .map(|(i, p)| Suspect::plain(format!("part-{i}/fault"), f64::from(*p) / f64::from(UNIT), 1.0));
        let findings = self.findings.iter().enumerate().map(|(j, (leak, links, _))| Finding {
            id: format!("finding-{j}"),
            kind: FindingKind::Reading,
            levels: (0..leak.len()).map(|l| format!("level-{l}")).collect(),
            leak: share(leak),
            leak_weight: 1.0,
            links: links
                .iter()
                .enumerate()
                .filter_map(|(suspect, l)| Some(Link::plain(suspect, share(l.as_ref()?), 1.0)))
                .collect(),
        });
        let observations =
            self.findings.iter().enumerate().map(|(j, f)| Observation::soft(j, 0, share(&f.2))).collect();
        let network = Network { suspects: suspects.collect(), findings: findings.collect(), ..Network::default() };
        (network, Evidence { observations, repairs: Vec::new() })
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn posterior_equals_exact_enumeration(question in question()) {
        let (joint, total) = question.exact();
        let (network, evidence) = question.network();
        let answer = posterior(&network, &evidence);
        if total.is_zero() {
            prop_assert!(answer.is_err(), "impossible evidence must be refused");
        } else {
            let answer = answer.unwrap();
            for (i, j) in joint.into_iter().enumerate() {
                let exact = j.over(&total);
                let off = (answer.now[i] - exact).abs();
                prop_assert!(off <= 1e-12, "suspect {}: {} is not {}", i, answer.now[i], exact);
            }
        }
    }
}

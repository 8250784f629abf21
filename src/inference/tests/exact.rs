//! The engine against enumeration on random small networks, and against exact integers.

use proptest::prelude::*;

use super::brute::{cases, level_distribution, probability, there};
use super::nets::{close, evidence, network};
use crate::rng::Rng;
use crate::{Evidence, InferenceError, Observation, Prepared, Scope, When, posterior};
use network::{Finding, FindingKind, Link, Network, Suspect};

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn posterior_equals_enumeration(seed in any::<u64>(), suspects in 1_usize..9, findings in 1_usize..8, repairs in 0_usize..2) {
        let mut rng = Rng::new(seed, 0);
        let density = 0.2 + 0.7 * rng.unit();
        let net = network(&mut rng, suspects, findings, density);
        let ev = evidence(&mut rng, &net, repairs);
        let all = cases(&net, &ev);
        let (z, _) = probability(&all, |_| true);
        match posterior(&net, &ev) {
            Err(InferenceError::Impossible { .. }) => prop_assert_eq!(z, 0.0),
            Err(e) => prop_assert!(false, "{e}"),
            Ok(post) => {
                prop_assert!((post.ln_evidence - z.ln()).abs() < 1e-12);
                for i in 0..suspects {
                    let now = probability(&all, |lived| there(lived, i, ev.repairs.len())).1;
                    let start = probability(&all, |lived| there(lived, i, 0)).1;
                    prop_assert!(close(post.now[i], now), "{} {now}", post.now[i]);
                    prop_assert!(close(post.at_start[i], start), "{} {start}", post.at_start[i]);
                }
            }
        }
    }

    #[test]
    fn derived_answers_equal_enumeration(seed in any::<u64>(), suspects in 1_usize..8, findings in 1_usize..7, repairs in 0_usize..3) {
        let mut rng = Rng::new(seed, 1);
        let net = network(&mut rng, suspects, findings, 0.5);
        let ev = evidence(&mut rng, &net, repairs);
        let all = cases(&net, &ev);
        let last = ev.repairs.len();
        prop_assume!(probability(&all, |_| true).0 > 0.0);
        let mut ready = Prepared::new(&net, &ev)?;

        // Everything present now lies inside a random set.
        let set: Vec<usize> = (0..suspects).filter(|_| rng.below(2) == 0).collect();
        let part = probability(&all, |l| (0..suspects).all(|i| set.contains(&i) || !there(l, i, last))).1;
        prop_assert!(close(ready.inside(&set)?, part));

        // Worlds over all suspects, complete.
        let worlds = ready.worlds(Scope::All, usize::MAX, 0.0)?;
        prop_assert!(worlds.complete && worlds.missing < 1e-12);
        for w in &worlds.list {
            let p = probability(&all, |l| (0..suspects).all(|i| w.suspects.contains(&i) == there(l, i, last))).1;
            prop_assert!(close(w.probability, p), "{w:?} {p}");
        }

        // Explanations over relevant suspects, at the start; complete, and each exact.
        let explained = ready.explain(When::Start, suspects, usize::MAX, 0.0)?;
        prop_assert!((explained.covered - 1.0).abs() < 1e-12);
        let relevant = ready.plan.relevant.clone();
        for e in &explained.list {
            let p = probability(&all, |l| (0..suspects).all(|i| !relevant[i] || e.suspects.contains(&i) == there(l, i, 0))).1;
            prop_assert!(close(e.probability, p), "{e:?} {p}");
        }

        // A cut search returns the head of the full list, within size and mass.
        let few = ready.explain(When::Start, 2, 3, 1e-3)?;
        let head: Vec<_> = explained.list.iter().filter(|e| e.suspects.len() <= 2 && e.probability >= 1e-3).take(3).collect();
        prop_assert_eq!(few.list.len(), head.len());
        for (a, b) in few.list.iter().zip(head) {
            prop_assert!(close(a.probability, b.probability));
        }

        // Predictions for every finding.
        let z = probability(&all, |_| true).0;
        for (j, levels) in ready.predict_all()?.iter().enumerate() {
            let mut expected = vec![0.0; levels.len()];
            for case in &all {
                let dist = level_distribution(&net, j, &case.grade, &|s| there(&case.lived, s, last));
                expected.iter_mut().zip(dist).for_each(|(e, d)| *e += case.weight * d / z);
            }
            for (a, b) in levels.iter().zip(expected) {
                prop_assert!(close(*a, b), "{a} {b}");
            }
        }
    }

    #[test]
    fn weights_equal_leaving_out(seed in any::<u64>(), suspects in 1_usize..7, findings in 1_usize..7, repairs in 0_usize..2) {
        let mut rng = Rng::new(seed, 2);
        let net = network(&mut rng, suspects, findings, 0.6);
        let ev = evidence(&mut rng, &net, repairs);
        prop_assume!(!matches!(posterior(&net, &ev), Err(InferenceError::Impossible { .. })));
        let all = posterior(&net, &ev)?;
        let weights = Prepared::new(&net, &ev)?.weigh()?;
        let (mut sum_alone, mut ln_without) = (0.0, Vec::new());
        for o in 0..ev.observations.len() {
            let mut fewer = ev.clone();
            let only = Evidence { observations: vec![fewer.observations.remove(o)], repairs: ev.repairs.clone() };
            let other = posterior(&net, &fewer)?;
            let alone = posterior(&net, &only)?.ln_evidence;
            prop_assert!((weights.ln_alone[o] - alone).abs() < 1e-11);
            sum_alone += alone;
            ln_without.push((alone, other.ln_evidence));
            for i in 0..suspects {
                let odds = |p: f64| (p / (1.0 - p)).ln();
                let (a, b) = (odds(all.now[i]), odds(other.now[i]));
                if a.is_finite() && b.is_finite() && all.now[i] < 0.999_999 && other.now[i] < 0.999_999 {
                    prop_assert!((weights.ln_odds[o][i] - (a - b)).abs() < 1e-9);
                }
            }
        }
        prop_assert!((weights.ln_conflict - (sum_alone - all.ln_evidence)).abs() < 1e-10);
        for near in [-1.0, -1e-6, 1e-6, 1.0] {
            let above = Prepared::new(&net, &ev)?.conflict_above(weights.ln_conflict + near);
            prop_assert_eq!(above.unwrap(), near < 0.0);
        }
        for (conflict, (alone, z)) in weights.ln_conflict_without.iter().zip(ln_without) {
            prop_assert!((conflict - (sum_alone - alone - z)).abs() < 1e-10);
        }
    }

    #[test]
    fn posterior_equals_exact_integers(seed in any::<u64>()) {
        // All parameters are sixteenths, so P(evidence) is an integer over 16^19 and fits 128 bits.
        let mut rng = Rng::new(seed, 3);
        let (net, levels) = sixteenths(&mut rng);
        let ev = Evidence {
            observations: levels.iter().enumerate().map(|(j, &l)| Observation::hard(j, 0, l, 3)).collect(),
            repairs: vec![],
        };
        let (mut z, mut with) = (0_u128, [0_u128; 4]);
        for present in 0..16_u32 {
            let mut weight = 1_u128;
            for (i, s) in net.suspects.iter().enumerate() {
                let p = (s.prior * 16.0) as u128;
                weight *= if present >> i & 1 == 1 { p } else { 16 - p };
            }
            for (f, &level) in net.findings.iter().zip(&levels) {
                let at_most = |top: usize| {
                    let sum = |d: &[f64]| (d[..top].iter().sum::<f64>() * 16.0) as u128;
                    f.links.iter().fold(sum(&f.leak), |c, l| c * if present >> l.suspect & 1 == 1 { sum(&l.levels) } else { 16 })
                };
                weight *= at_most(level + 1) - at_most(level);
            }
            z += weight;
            (0..4).filter(|i| present >> i & 1 == 1).for_each(|i| with[i] += weight);
        }
        match posterior(&net, &ev) {
            Err(_) => prop_assert_eq!(z, 0),
            Ok(post) => {
                for (i, &part) in with.iter().enumerate() {
                    let exact = part as f64 / z as f64;
                    prop_assert!((post.now[i] - exact).abs() <= 4e-15 * exact, "{} {exact}", post.now[i]);
                }
            }
        }
    }
}

fn sixteenths(rng: &mut Rng) -> (Network, Vec<usize>) {
    let dist = |rng: &mut Rng| {
        let (a, b) = (rng.below(17), rng.below(17));
        let (a, b) = (a.min(b), a.max(b));
        [a, b - a, 16 - b].iter().map(|&k| k as f64 / 16.0).collect::<Vec<f64>>()
    };
    let suspects = (0..4).map(|i| Suspect::plain(format!("s{i}"), (1 + rng.below(15)) as f64 / 16.0, 1.0)).collect();
    let findings = (0..3).map(|j| Finding {
        id: format!("f{j}"),
        kind: FindingKind::Monitor,
        levels: vec!["0".into(), "1".into(), "2".into()],
        leak: dist(rng),
        leak_weight: 1.0,
        links: (0..4).map(|suspect| Link::plain(suspect, dist(rng), 1.0)).collect(),
    });
    let net = Network { suspects, findings: findings.collect(), ..Network::default() };
    (net, (0..3).map(|_| rng.below(3)).collect())
}

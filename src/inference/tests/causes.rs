//! Grades and causes against enumeration: every answer that the engine gives, on random networks in which suspects have
//! grades and bring each other about.

use proptest::prelude::*;

use super::brute::{cases, level_distribution, probability, there};
use super::nets::{close, evidence, tangled};
use crate::rng::Rng;
use crate::{Evidence, InferenceError, Prepared, RepairEvent, Scope, When, intervals, posterior};
use network::{Bring, Network, Suspect};

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn answers_equal_enumeration(seed in any::<u64>(), suspects in 2_usize..6, findings in 1_usize..6, repairs in 0_usize..3) {
        let mut rng = Rng::new(seed, 4);
        let density = 0.2 + 0.7 * rng.unit();
        let net = tangled(&mut rng, suspects, findings, density);
        let ev = evidence(&mut rng, &net, repairs);
        let all = cases(&net, &ev);
        let last = ev.repairs.len();
        let z = probability(&all, |_| true).0;
        let post = match posterior(&net, &ev) {
            Err(InferenceError::Impossible { .. }) => {
                prop_assert_eq!(z, 0.0);
                return Ok(());
            }
            other => other?,
        };
        prop_assert!((post.ln_evidence - z.ln()).abs() < 1e-12, "{} {}", post.ln_evidence, z.ln());
        for i in 0..suspects {
            let now = probability(&all, |l| there(l, i, last)).1;
            let start = probability(&all, |l| there(l, i, 0)).1;
            prop_assert!(close(post.now[i], now), "{i} now {} {now}", post.now[i]);
            prop_assert!(close(post.at_start[i], start), "{i} start {} {start}", post.at_start[i]);
            for (g, share) in post.grades[i].iter().enumerate().filter(|_| now > 0.0) {
                let own = all.iter().filter(|c| there(&c.lived, i, last) && c.grade[i] == g);
                let own = own.map(|c| c.weight).sum::<f64>() / z;
                prop_assert!((share * now - own).abs() <= 1e-12 * now, "{i} grade {g} {share} {}", own / now);
            }
        }
        let mut ready = Prepared::new(&net, &ev)?;
        let set: Vec<usize> = (0..suspects).filter(|_| rng.below(2) == 0).collect();
        let part = probability(&all, |l| (0..suspects).all(|i| set.contains(&i) || !there(l, i, last))).1;
        prop_assert!(close(ready.inside(&set)?, part));
        let worlds = ready.worlds(Scope::All, usize::MAX, 0.0)?;
        prop_assert!(worlds.complete && worlds.missing < 1e-12);
        for w in &worlds.list {
            let p = probability(&all, |l| (0..suspects).all(|i| w.suspects.contains(&i) == there(l, i, last))).1;
            prop_assert!(close(w.probability, p), "{w:?} {p}");
        }
        let explained = ready.explain(When::Start, suspects, usize::MAX, 0.0)?;
        prop_assert!((explained.covered - 1.0).abs() < 1e-12);
        let relevant = ready.plan.relevant.clone();
        for e in &explained.list {
            let p = probability(&all, |l| (0..suspects).all(|i| !relevant[i] || e.suspects.contains(&i) == there(l, i, 0))).1;
            prop_assert!(close(e.probability, p), "{e:?} {p}");
        }
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
    fn weights_equal_leaving_out(seed in any::<u64>(), suspects in 2_usize..7, findings in 1_usize..7, repairs in 0_usize..3) {
        let mut rng = Rng::new(seed, 5);
        let net = tangled(&mut rng, suspects, findings, 0.6);
        let ev = evidence(&mut rng, &net, repairs);
        prop_assume!(!matches!(posterior(&net, &ev), Err(InferenceError::Impossible { .. })));
        let all = posterior(&net, &ev)?;
        let weights = Prepared::new(&net, &ev)?.weigh()?;
        let mut sum_alone = 0.0;
        for o in 0..ev.observations.len() {
            let mut fewer = ev.clone();
            let only = Evidence { observations: vec![fewer.observations.remove(o)], repairs: ev.repairs.clone() };
            let other = posterior(&net, &fewer)?;
            let alone = posterior(&net, &only)?.ln_evidence;
            prop_assert!((weights.ln_alone[o] - alone).abs() < 1e-11, "{} {alone}", weights.ln_alone[o]);
            sum_alone += alone;
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
    }

    /// What is drawn for the suspects that the evidence bears on does not depend on who else there is.
    #[test]
    fn intervals_hold_the_draws(seed in any::<u64>()) {
        let mut rng = Rng::new(seed, 6);
        let net = tangled(&mut rng, 6, 4, 0.4);
        let ev = evidence(&mut rng, &net, 1);
        let Ok(found) = intervals(&net, &ev, 40, 7, 0.9) else { return Ok(()) };
        for s in 0..6 {
            prop_assert!(found.low[s] <= found.high[s] && (0.0..=1.0).contains(&found.mean[s]));
        }
    }
}

#[test]
fn a_victim_found_again_speaks_for_its_cause() {
    let suspects = vec![Suspect::plain("short".into(), 0.001, 10.0), Suspect::plain("fuse".into(), 0.01, 10.0)];
    let brings = vec![Bring { cause: 0, victim: 1, p: 0.9, weight: 10.0, later: false }];
    let net = Network { suspects, brings, ..Network::default() };
    let before = posterior(&net, &Evidence::default()).unwrap();
    assert!((before.now[1] - (1.0 - 0.99 * (1.0 - 0.001 * 0.9))).abs() < 1e-15);
    // The fuse is renewed well, and a fuse that is blown again can only have been blown by the short.
    let repaired = Evidence { repairs: vec![RepairEvent::new(vec![1], 1e-9)], ..Evidence::default() };
    let after = posterior(&net, &repaired).unwrap();
    assert!((after.now[1] - 0.001 * 0.9).abs() < 1e-9 && after.now[1] < before.now[1]);
}

#[test]
fn a_circle_is_refused_with_its_members() {
    let suspects = (0..4).map(|i| Suspect::plain(format!("s{i}"), 0.1, 10.0)).collect();
    let bring = |cause, victim| Bring { cause, victim, p: 0.5, weight: 10.0, later: false };
    let net = Network { suspects, brings: vec![bring(0, 1), bring(1, 2), bring(2, 1)], ..Network::default() };
    assert_eq!(posterior(&net, &Evidence::default()), Err(InferenceError::Circle { suspects: vec![1, 2] }));
}

//! Laws: what must not change an answer does not, limits are reached, refusals say what they should.

use proptest::prelude::*;

use super::nets::{close, evidence, network};
use crate::layout::Layout;
use crate::rng::Rng;
use crate::{
    Evidence, InferenceError, Observation, Posterior, Prepared, RepairEvent, Scope, Worlds, intervals, posterior,
    worlds,
};
use network::{Finding, FindingKind, Link, Network, Suspect};

fn same(a: &Posterior, b: &Posterior) -> bool {
    let all_close = |x: &[f64], y: &[f64]| x.len() == y.len() && x.iter().zip(y).all(|(a, b)| close(*a, *b));
    (a.ln_evidence - b.ln_evidence).abs() < 1e-12 && all_close(&a.now, &b.now) && all_close(&a.at_start, &b.at_start)
}

fn possible(seed: u64, repairs: usize) -> Option<(Rng, Network, Evidence, Posterior)> {
    let mut rng = Rng::new(seed, 9);
    let net = network(&mut rng, 12, 9, 0.3);
    let ev = evidence(&mut rng, &net, repairs);
    let post = posterior(&net, &ev).ok()?;
    Some((rng, net, ev, post))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn order_of_suspects_findings_and_observations_is_irrelevant(seed in any::<u64>()) {
        let Some((mut rng, net, ev, post)) = possible(seed, 1) else { return Ok(()) };
        let shuffled = |rng: &mut Rng, n: usize| {
            let mut p: Vec<usize> = (0..n).collect();
            (1..n).for_each(|i| p.swap(i, rng.below(i + 1)));
            p
        };
        // `suspects[i]` is the new place of suspect i, `findings[j]` that of finding j.
        let (suspects, findings) = (shuffled(&mut rng, 12), shuffled(&mut rng, 9));
        let mut other = net.clone();
        for (i, &to) in suspects.iter().enumerate() {
            other.suspects[to] = net.suspects[i].clone();
        }
        for (j, &to) in findings.iter().enumerate() {
            let mut f = net.findings[j].clone();
            f.links.iter_mut().for_each(|l| l.suspect = suspects[l.suspect]);
            f.links.sort_by_key(|l| l.suspect);
            other.findings[to] = f;
        }
        let mut moved = ev.clone();
        moved.observations.iter_mut().for_each(|o| o.finding = findings[o.finding]);
        moved.observations.reverse();
        moved.repairs.iter_mut().for_each(|r| r.suspects.iter_mut().for_each(|s| *s = suspects[*s]));
        let mut back = posterior(&other, &moved)?;
        let (now, start) = (back.now.clone(), back.at_start.clone());
        for (i, &to) in suspects.iter().enumerate() {
            (back.now[i], back.at_start[i]) = (now[to], start[to]);
        }
        prop_assert!(same(&post, &back));
    }

    #[test]
    fn an_uninformative_reading_changes_nothing(seed in any::<u64>()) {
        let Some((_, net, mut ev, post)) = possible(seed, 0) else { return Ok(()) };
        let unread = (0..9).find(|j| ev.observations.iter().all(|o| o.finding != *j));
        let Some(j) = unread else { return Ok(()) };
        ev.observations.push(Observation::soft(j, 0, vec![1.0; net.findings[j].levels.len()]));
        prop_assert!(same(&post, &posterior(&net, &ev)?));
    }

    #[test]
    fn soft_tends_to_hard(seed in any::<u64>()) {
        let Some((_, net, mut ev, post)) = possible(seed, 0) else { return Ok(()) };
        for o in ev.observations.iter_mut() {
            o.likelihood.iter_mut().filter(|l| **l == 0.0).for_each(|l| *l = 1e-13);
        }
        let near = posterior(&net, &ev)?;
        // P(evidence) may itself be small, so the limit is judged only where it is not.
        if post.ln_evidence > -12.0 {
            for (a, b) in post.now.iter().zip(&near.now) {
                prop_assert!((a - b).abs() < 1e-5);
            }
        }
    }

    #[test]
    fn a_repair_of_nobody_and_a_repair_that_fails_change_nothing(seed in any::<u64>()) {
        let Some((_, net, mut ev, post)) = possible(seed, 0) else { return Ok(()) };
        ev.repairs.push(RepairEvent::new(vec![], 0.0));
        ev.repairs.push(RepairEvent::new(vec![0, 3], 1.0));
        prop_assert!(same(&post, &posterior(&net, &ev)?));
    }

    #[test]
    fn a_scaled_likelihood_only_scales_the_evidence(seed in any::<u64>()) {
        let Some((_, net, mut ev, post)) = possible(seed, 1) else { return Ok(()) };
        prop_assume!(!ev.observations.is_empty());
        ev.observations[0].likelihood.iter_mut().for_each(|l| *l *= 1e-290);
        let mut other = posterior(&net, &ev)?;
        other.ln_evidence += 290.0 * std::f64::consts::LN_10;
        prop_assert!((other.ln_evidence - post.ln_evidence).abs() < 1e-10);
        other.ln_evidence = post.ln_evidence;
        prop_assert!(same(&post, &other));
    }

    #[test]
    fn cutting_the_pass_into_segments_changes_nothing(seed in any::<u64>(), every in 1_usize..4) {
        let Some((_, net, ev, post)) = possible(seed, 1) else { return Ok(()) };
        let mut ready = Prepared::new(&net, &ev)?;
        let layout: &mut Layout = &mut ready.plan.layout;
        layout.segments = (0..layout.steps.len()).step_by(every).collect();
        prop_assert!(same(&post, &ready.posterior()?));
        prop_assert!(same(&post, &ready.posterior()?));
    }

    #[test]
    fn prepared_with_one_more_equals_afresh(seed in any::<u64>()) {
        let Some((mut rng, net, mut ev, _)) = possible(seed, 0) else { return Ok(()) };
        let Some(last) = ev.observations.pop() else { return Ok(()) };
        let mut ready = Prepared::new(&net, &ev)?;
        let priors: Vec<f64> = net.suspects.iter().map(|_| rng.unit()).collect();
        ready.set_priors(&priors)?;
        let mut other = net.clone();
        other.suspects.iter_mut().zip(&priors).for_each(|(s, p)| s.prior = *p);
        ev.observations.push(last.clone());
        prop_assert!(same(&posterior(&other, &ev)?, &ready.with(last)?.posterior()?));
    }
}

fn binary(suspects: usize, w: f64, leak: f64, links: &[Vec<usize>]) -> Network {
    let suspects = (0..suspects).map(|i| Suspect::plain(format!("s{i}"), 0.01, 40.0));
    let findings = links.iter().enumerate().map(|(j, touching)| Finding {
        id: format!("f{j}"),
        kind: FindingKind::Reading,
        levels: vec!["normal".into(), "abnormal".into()],
        leak: vec![1.0 - leak, leak],
        leak_weight: 30.0,
        links: touching.iter().map(|&suspect| Link::plain(suspect, vec![1.0 - w, w], 10.0)).collect(),
    });
    Network { suspects: suspects.collect(), findings: findings.collect(), ..Network::default() }
}

#[test]
fn impossible_evidence_names_the_findings_in_conflict() {
    // A sure suspect would show in finding 1, which is normal, and nothing else can cause finding 2.
    let net = binary(3, 1.0, 0.0, &[vec![1], vec![0], vec![0], vec![1, 2]]);
    let levels = [1, 0, 1, 1];
    let observations = (0..4).map(|j| Observation::hard(j, 0, levels[j], 2)).collect();
    let answer = posterior(&net, &Evidence { observations, repairs: vec![] });
    assert_eq!(answer, Err(InferenceError::Impossible { findings: vec![1, 2] }));
}

#[test]
fn bad_evidence_is_refused() {
    let net = binary(1, 0.5, 0.1, &[vec![0]]);
    let ask = |o| posterior(&net, &Evidence { observations: vec![o], repairs: vec![] });
    let bad = |r| matches!(r, Err(InferenceError::BadLikelihood { observation: 0, .. }));
    assert!(bad(ask(Observation::hard(0, 0, 2, 2))));
    assert!(bad(ask(Observation::soft(0, 0, vec![1.0]))));
    assert!(bad(ask(Observation::soft(0, 0, vec![1.0, f64::NAN]))));
    assert!(bad(ask(Observation::soft(0, 0, vec![1.0, -1.0]))));
    assert!(matches!(ask(Observation::hard(7, 0, 0, 2)), Err(InferenceError::UnknownFinding { finding: 7, .. })));
    assert!(matches!(ask(Observation::hard(0, 1, 0, 2)), Err(InferenceError::BadEpoch { last: 0, .. })));
}

#[test]
fn a_net_that_is_too_wide_is_refused_with_numbers() {
    // Forty findings, each touched by all of forty suspects: the table needs 2^40 cells.
    let net = binary(40, 0.5, 0.1, &vec![(0..40).collect(); 40]);
    let observations = (0..40).map(|j| Observation::hard(j, 0, 1, 2)).collect();
    match posterior(&net, &Evidence { observations, repairs: vec![] }) {
        Err(InferenceError::TooWide { cells, limit, findings }) => assert!(cells > limit && findings.len() == 40),
        other => panic!("{other:?}"),
    }
}

/// A ring of `n` positive findings, each with two possible causes of prior 0.01 and link 0.5.
fn ring(n: usize) -> (Network, Evidence) {
    let net = binary(n, 0.5, 1e-8, &(0..n).map(|j| vec![j, (j + 1) % n]).collect::<Vec<_>>());
    let observations = (0..n).map(|j| Observation::hard(j, 0, 1, 2)).collect();
    (net, Evidence { observations, repairs: vec![] })
}

/// Eigenvalues of the ring's transfer matrix [[f0, f1], [x f1, x f2]], with x the prior odds and f_n the chance of a
/// positive finding with n causes present, and the growth sqrt(x) f1 of the two worlds with every other suspect.
fn ring_by_transfer_matrix() -> ([f64; 2], f64) {
    let (x, f) = (0.01 / 0.99, [0, 1, 2].map(|n| 1.0 - (1.0 - 1e-8) * 0.5_f64.powi(n)));
    let (half_trace, determinant) = (0.5 * (f[0] + x * f[2]), x * (f[0] * f[2] - f[1] * f[1]));
    let root = (half_trace * half_trace - determinant).sqrt();
    ([half_trace + root, half_trace - root], x.sqrt() * f[1])
}

#[test]
fn very_unlikely_evidence_does_not_underflow() {
    // P(evidence) is 0.99^n times the sum of the eigenvalues to the n-th: about 1e-762, far below the range of f64.
    let (net, ev) = ring(600);
    let ([large, small], _) = ring_by_transfer_matrix();
    let expected = 600.0 * (0.99_f64.ln() + large.ln()) + (small / large).powi(600).ln_1p();
    let post = posterior(&net, &ev);
    assert!(post.is_ok_and(
        |p| (p.ln_evidence - expected).abs() < 1e-9 && p.now.iter().all(|x| (x / p.now[0] - 1.0).abs() < 1e-11)
    ));
}

#[test]
fn worlds_of_very_unlikely_evidence_are_found() {
    // Every other suspect of a ring of sixty explains all findings, in two ways that are equally likely: about
    // 1e-78 each before conditioning and 0.011 after.
    let (net, ev) = ring(60);
    let found = worlds(&net, &ev, Scope::Relevant, 2, 1e-3);
    let Ok(Worlds { list, complete: true, .. }) = found else { panic!("{found:?}") };
    assert_eq!(list[0].suspects.len(), 30);
    let (eigenvalues, growth) = ring_by_transfer_matrix();
    let expected = 1.0 / eigenvalues.iter().map(|e| (e / growth).powi(60)).sum::<f64>();
    assert!((0..2).all(|k| (list[k].probability / expected - 1.0).abs() < 1e-11), "{list:?} {expected}");
}

#[test]
fn the_conflict_is_minimal_among_many_observations() {
    // Only findings 5 and 20 contradict each other: 5 needs suspect 0, and 20 is normal in spite of it.
    let mut links: Vec<Vec<usize>> = (0..24).map(|j| vec![1 + j % 3, 4]).collect();
    (links[5], links[20]) = (vec![0], vec![0]);
    let mut net = binary(5, 1.0, 0.0, &links);
    for j in (0..24).filter(|j| ![5, 20].contains(j)) {
        net.findings[j].leak = vec![0.5, 0.5];
    }
    let observations = (0..24).map(|j| Observation::hard(j, 0, usize::from(j == 5), 2)).collect();
    let answer = posterior(&net, &Evidence { observations, repairs: vec![] });
    assert_eq!(answer, Err(InferenceError::Impossible { findings: vec![5, 20] }));
}

#[test]
fn intervals_depend_on_the_seed_only() {
    let net = binary(8, 0.6, 0.02, &(0..6).map(|j| vec![j, j + 1, j + 2]).collect::<Vec<_>>());
    let observations = (0..6).map(|j| Observation::hard(j, 0, usize::from(j < 2), 2)).collect();
    let ev = Evidence { observations, repairs: vec![] };
    let first = intervals(&net, &ev, 100, 7, 0.9);
    assert_eq!(first, intervals(&net, &ev, 100, 7, 0.9));
    assert_ne!(first, intervals(&net, &ev, 100, 8, 0.9));
    let one = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .map(|pool| pool.install(|| intervals(&net, &ev, 100, 7, 0.9)));
    assert!(one.is_ok_and(|r| r == first));
    let post = posterior(&net, &ev).map(|p| p.now).unwrap_or_default();
    assert!(first.is_ok_and(|i| i.impossible == 0 && (0..8).all(|s| i.low[s] < post[s] && post[s] < i.high[s])));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// A base may grow by whole families: what touches nothing that was found changes no answer about the others.
    #[test]
    fn suspects_that_nothing_found_points_at_change_nothing(seed in any::<u64>()) {
        let Some((mut rng, net, ev, post)) = possible(seed, 1) else { return Ok(()) };
        let (suspects, findings) = (net.suspects.len(), net.findings.len());
        let (mut more, mut evidence) = (net.clone(), ev.clone());
        let other = super::nets::network(&mut rng, 6, 4, 0.6);
        more.suspects.extend(other.suspects);
        for (j, mut f) in other.findings.into_iter().enumerate() {
            let levels = f.levels.len();
            f.links.iter_mut().for_each(|l| l.suspect += suspects);
            f.leak = vec![1.0 / levels as f64; levels];
            more.findings.push(f);
            evidence.observations.push(Observation::hard(findings + j, j % (ev.repairs.len() + 1), 0, levels));
        }
        let again = posterior(&more, &evidence)?;
        prop_assert!((0..suspects).all(|s| close(again.now[s], post.now[s]) && close(again.at_start[s], post.at_start[s])));
        let (mut small, mut large) = (Prepared::new(&net, &ev)?, Prepared::new(&more, &evidence)?);
        let bears: Vec<usize> = (0..suspects).filter(|&s| small.bears_on(s)).collect();
        prop_assert!((0..more.suspects.len()).all(|s| large.bears_on(s) == bears.contains(&s)));
        // Not only close: the same draws.
        prop_assert_eq!(small.intervals_of(&bears, 20, 5, 0.9)?, large.intervals_of(&bears, 20, 5, 0.9)?);
        let worlds = |p: &mut Prepared<'_>| p.worlds(Scope::Relevant, 50, 1e-4).map(|w| w.list);
        for (a, b) in worlds(&mut small)?.iter().zip(worlds(&mut large)?.iter()) {
            prop_assert!(close(a.probability, b.probability), "{:?} {:?}", a, b);
        }
    }

    /// An interval is that of the suspect, whoever else is asked for; and without ties it is the one of all at once.
    #[test]
    fn intervals_are_the_same_whoever_is_asked_for(seed in any::<u64>()) {
        let Some((_, net, ev, _)) = possible(seed, 1) else { return Ok(()) };
        let mut prepared = Prepared::new(&net, &ev)?;
        let all = prepared.intervals(20, 5, 0.9)?;
        let odd: Vec<usize> = (0..net.suspects.len()).filter(|&s| s % 2 == 1).collect();
        let some = prepared.intervals_of(&odd, 20, 5, 0.9)?;
        for (k, &s) in odd.iter().enumerate() {
            prop_assert_eq!((some.low[k], some.high[k], some.mean[k]), (all.low[s], all.high[s], all.mean[s]));
        }
    }
}

#[test]
fn known_numbers_give_no_interval() {
    let mut net = binary(2, 0.6, 0.02, &[vec![0, 1]]);
    net.suspects.iter_mut().for_each(|s| s.weight = f64::INFINITY);
    net.findings[0].leak_weight = f64::INFINITY;
    net.findings[0].links.iter_mut().for_each(|l| l.weight = f64::INFINITY);
    let ev = Evidence { observations: vec![Observation::hard(0, 0, 1, 2)], repairs: vec![] };
    assert!(intervals(&net, &ev, 10, 1, 0.9).is_ok_and(|i| i.low == i.high));
}

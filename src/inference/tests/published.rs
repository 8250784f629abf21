//! Values worked out or printed elsewhere.

use crate::{Evidence, Observation, posterior, predict};
use network::{Finding, FindingKind, Link, Network, Suspect};

fn binary(priors: &[f64], leak: f64, w: &[f64]) -> Network {
    let suspects = priors.iter().enumerate().map(|(i, &prior)| Suspect::plain(format!("s{i}"), prior, 1.0));
    let links = w.iter().enumerate().map(|(suspect, &w)| Link::plain(suspect, vec![1.0 - w, w], 1.0));
    let finding = Finding {
        id: "f".into(),
        kind: FindingKind::Symptom,
        levels: vec!["normal".into(), "abnormal".into()],
        leak: vec![1.0 - leak, leak],
        leak_weight: 1.0,
        links: links.collect(),
    };
    Network { suspects: suspects.collect(), findings: vec![finding], ..Network::default() }
}

/// Published: S. Russell and P. Norvig, *Artificial Intelligence: A Modern Approach*, noisy-OR example: fever with
/// inhibitors cold 0.6, flu 0.2, malaria 0.1.
#[test]
fn fever() {
    let table = [(1, 0.4), (2, 0.8), (4, 0.9), (3, 0.88), (5, 0.94), (6, 0.98), (7, 0.988), (0, 0.0)];
    for (present, expected) in table {
        let priors: Vec<f64> = (0..3).map(|i| f64::from(present >> i & 1_u8)).collect();
        let net = binary(&priors, 0.0, &[0.4, 0.8, 0.9]);
        let levels = predict(&net, &Evidence::default(), 0).unwrap_or_default();
        assert!((levels[1] - expected).abs() < 1e-15, "{present:03b}: {levels:?}");
    }
}

/// Published: G. Gigerenzer and U. Hoffrage, Psychological Review 102, 1995: prior 0.01, sensitivity 0.80, false
/// alarm 0.096. The background acts in the ill too, so the link is what is left of the sensitivity.
#[test]
fn mammography() {
    let net = binary(&[0.01], 0.096, &[1.0 - 0.2 / 0.904]);
    let ev = Evidence { observations: vec![Observation::hard(0, 0, 1, 2)], repairs: vec![] };
    let now = posterior(&net, &ev).map(|p| p.now[0]);
    assert!(now.is_ok_and(|p| (p - 0.008 / (0.008 + 0.099 * 0.96)).abs() < 1e-15 && (p - 0.0776).abs() < 5e-5));
}

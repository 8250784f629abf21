//! Small tables from books and papers: what the network says for one finding.

use faultodds::inference::{Evidence, Observation, posterior};
use faultodds::network::{Finding, FindingKind, Link, Network, Suspect};

fn two_level(links: &[f64], leak: f64) -> Finding {
    Finding {
        id: "finding".into(),
        kind: FindingKind::Reading,
        levels: vec!["normal".into(), "abnormal".into()],
        leak: vec![1.0 - leak, leak],
        leak_weight: 1.0,
        links: links.iter().enumerate().map(|(suspect, p)| Link::plain(suspect, vec![1.0 - p, *p], 1.0)).collect(),
    }
}

fn suspect(id: &str, prior: f64) -> Suspect {
    Suspect::plain(id.into(), prior, 1.0)
}

/// Source: **published** Russell & Norvig, *Artificial Intelligence*, the fever example of the noisy-OR (inhibitors cold 0.6,
/// flu 0.2, malaria 0.1).
#[test]
fn fever_table() {
    let table = [
        ([0, 0, 0], 0.0),
        ([1, 0, 0], 0.4),
        ([0, 1, 0], 0.8),
        ([0, 0, 1], 0.9),
        ([1, 1, 0], 0.88),
        ([1, 0, 1], 0.94),
        ([0, 1, 1], 0.98),
        ([1, 1, 1], 0.988),
    ];
    for (present, expected) in table {
        let suspects =
            ["cold", "flu", "malaria"].iter().zip(present).map(|(id, there)| suspect(id, f64::from(there))).collect();
        let network = Network { suspects, findings: vec![two_level(&[0.4, 0.8, 0.9], 0.0)], ..Network::default() };
        let no_fever = Evidence { observations: vec![Observation::hard(0, 0, 0, 2)], repairs: vec![] };
        let p = 1.0 - posterior(&network, &no_fever).unwrap().ln_evidence.exp();
        assert!((p - expected).abs() < 1e-12, "{present:?}: {p}, the book has {expected}");
    }
}

/// Source: **published** Gigerenzer & Hoffrage 1995, *Psychological Review* 102, the mammography problem: prior 0.01, sensitivity 0.80,
/// false alarms 0.096, answer 0.0776 (0.078 as printed). Their false alarms are those without the disease, which is the leak.
///
/// The noisy-OR lets the background raise the rate with the disease: the link is chosen so that the whole is 0.80.
#[test]
fn one_test_one_suspect() {
    let (sensitivity, false_alarm) = (0.80, 0.096);
    let link = 1.0 - (1.0 - sensitivity) / (1.0 - false_alarm);
    let network = Network {
        suspects: vec![suspect("disease", 0.01)],
        findings: vec![two_level(&[link], false_alarm)],
        ..Network::default()
    };
    let positive = Evidence { observations: vec![Observation::hard(0, 0, 1, 2)], repairs: vec![] };
    let p = posterior(&network, &positive).unwrap().now[0];
    assert!((p - 0.0776).abs() < 5e-5, "{p}");
    assert!((p - 0.008 / (0.008 + 0.09504)).abs() < 1e-12, "{p}");
}

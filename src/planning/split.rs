//! Which of the present suspects keep the complaint up? From a world to what must go before the complaint is gone.

use network::{Finding, Network};
use std::collections::BTreeMap;

/// A finding that makes up the complaint, at the level at which it was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Complaint {
    /// Index of the finding.
    pub finding: usize,
    /// Its level, above the lowest.
    pub level: usize,
    /// Whether it was read since the last repair. If not, a suspect that was repaired may have been behind it.
    pub fresh: bool,
}

/// Sets of more suspects than this are not split: all of them are taken as needed.
const LARGEST_SPLIT: usize = 6;

/// The subsets of the present suspects that keep the complaint up, with their probabilities given that exactly these
/// suspects are present and that the complaint was read as it was.
///
/// In a noisy-MAX finding each present suspect has a level of its own; the finding shows the highest. With A the
/// suspects whose own level is above the lowest, and B the other present ones,
/// `P(A, shown = s) = prod B P_b(0) x [prod A P_a(1..s) x L(..s) - prod A P_a(1..s-1) x L(..s-1)]`, L the background.
/// The complaint is kept up by the union of the A of its findings.
#[must_use]
pub fn needed(network: &Network, complaint: &[Complaint], present: &[usize]) -> Vec<(Vec<usize>, f64)> {
    let linked = |s: &usize| {
        complaint.iter().any(|c| network.findings[c.finding].links.iter().any(|l| l.suspect == *s && l.levels[0] < 1.0))
    };
    let concerned: Vec<usize> = present.iter().copied().filter(linked).collect();
    let whole = vec![(concerned.clone(), 1.0)];
    if concerned.len() > LARGEST_SPLIT || complaint.iter().any(|c| !c.fresh) {
        return whole;
    }
    let mut unions = BTreeMap::from([(0_usize, 1.0)]);
    for c in complaint {
        let mut next = BTreeMap::new();
        for (subset, p) in own(&network.findings[c.finding], c.level, &concerned) {
            for (union, q) in &unions {
                *next.entry(union | subset).or_insert(0.0) += p * q;
            }
        }
        unions = next;
    }
    let total: f64 = unions.values().sum();
    // The present suspects cannot show this: the world has no mass, and how it is split does not matter.
    if total.is_nan() || total <= 0.0 {
        return whole;
    }
    let chosen =
        |subset: usize| concerned.iter().enumerate().filter(|(i, _)| subset >> i & 1 == 1).map(|(_, s)| *s).collect();
    unions.into_iter().filter(|u| u.1 > 0.0).map(|(subset, p)| (chosen(subset), p / total)).collect()
}

fn own(finding: &Finding, level: usize, present: &[usize]) -> Vec<(usize, f64)> {
    let below =
        |levels: &[f64], from: usize, to: usize| -> f64 { levels.get(from..to).unwrap_or_default().iter().sum() };
    let links: Vec<Option<&[f64]>> =
        present.iter().map(|s| finding.links.iter().find(|l| l.suspect == *s).map(|l| l.levels.as_slice())).collect();
    (0..1_usize << present.len())
        .filter_map(|subset| {
            let (mut up_to, mut under, mut silent) =
                (below(&finding.leak, 0, level + 1), below(&finding.leak, 0, level), 1.0);
            for (i, link) in links.iter().enumerate() {
                match (subset >> i & 1 == 1, link) {
                    (true, Some(levels)) => {
                        up_to *= below(levels, 1, level + 1);
                        under *= below(levels, 1, level);
                    }
                    (true, None) => return None,
                    (false, Some(levels)) => silent *= levels[0],
                    (false, None) => {}
                }
            }
            Some((subset, silent * (up_to - under).max(0.0)))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use network::{FindingKind, Link};

    fn network() -> Network {
        let link = |suspect, levels: &[f64]| Link::plain(suspect, levels.to_vec(), 10.0);
        let finding = Finding {
            id: "monitor:m".into(),
            kind: FindingKind::Monitor,
            levels: vec!["none".into(), "small".into(), "large".into()],
            leak: vec![0.97, 0.02, 0.01],
            leak_weight: 10.0,
            links: vec![link(0, &[0.3, 0.5, 0.2]), link(1, &[0.6, 0.1, 0.3])],
        };
        Network { findings: vec![finding], ..Network::default() }
    }

    /// The split equals what comes out of listing every combination of own levels.
    #[test]
    fn equals_listing_all_levels() {
        let network = network();
        let f = &network.findings[0];
        for level in 1..3 {
            let mut listed = BTreeMap::new();
            for a in 0..3 {
                for b in 0..3 {
                    for bg in 0..3 {
                        if a.max(b).max(bg) == level {
                            let set: Vec<usize> = [(0, a), (1, b)].iter().filter(|x| x.1 > 0).map(|x| x.0).collect();
                            *listed.entry(set).or_insert(0.0) +=
                                f.links[0].levels[a] * f.links[1].levels[b] * f.leak[bg];
                        }
                    }
                }
            }
            let total: f64 = listed.values().sum();
            let got = needed(&network, &[Complaint { finding: 0, level, fresh: true }], &[0, 1]);
            assert_eq!(got.len(), listed.len());
            for (set, p) in got {
                assert!((p - listed[&set] / total).abs() < 1e-14, "{set:?} {p}");
            }
        }
    }
}

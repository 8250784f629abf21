//! Part of a question: some suspects with all that the evidence says of them, and nothing of the others. Whether the
//! others may be left out is the caller's business.

use super::{Evidence, Observation, RepairEvent};
use network::{Bring, Finding, Link, Network};

/// The network and the evidence of these suspects alone, in the order given, which must be increasing.
///
/// Observations that touch none of them are left out: their backgrounds are the same factor of every answer. Nothing
/// changes for the suspects kept if no observation ties them to one that is not: given the evidence they are then
/// independent, and `P(kept, evidence) = P(kept, evidence on kept) x constant`.
pub(crate) fn part(network: &Network, evidence: &Evidence, keep: &[usize]) -> (Network, Evidence) {
    let mut place = vec![None; network.suspects.len()];
    keep.iter().enumerate().for_each(|(new, &old)| place[old] = Some(new));
    let suspects = keep.iter().map(|&s| network.suspects[s].clone()).collect();
    let mut findings = Vec::new();
    let mut observations = Vec::new();
    let mut at = vec![None; network.findings.len()];
    for o in &evidence.observations {
        let finding = &network.findings[o.finding];
        let new = match at[o.finding] {
            Some(new) => new,
            None => {
                let links = finding.links.iter().filter_map(|l| Some((place[l.suspect]?, l)));
                let links: Vec<Link> = links.map(|(suspect, l)| Link { suspect, ..l.clone() }).collect();
                if links.is_empty() {
                    continue;
                }
                findings.push(Finding { links, ..bare(finding) });
                *at[o.finding].insert(findings.len() - 1)
            }
        };
        observations.push(Observation { finding: new, ..o.clone() });
    }
    let kept = |r: &RepairEvent| RepairEvent {
        suspects: r.suspects.iter().filter_map(|s| place[*s]).collect(),
        fails: r.fails,
        long_ago: r.long_ago,
    };
    let repairs = evidence.repairs.iter().map(kept);
    let brings = network.brings.iter().filter_map(|b| {
        let (cause, victim) = (place[b.cause]?, place[b.victim]?);
        Some(Bring { cause, victim, ..*b })
    });
    let brings = brings.collect();
    (
        Network { suspects, findings, brings, ..Network::default() },
        Evidence { observations, repairs: repairs.collect() },
    )
}

/// The finding without its links, which are replaced.
fn bare(finding: &Finding) -> Finding {
    Finding {
        id: finding.id.clone(),
        kind: finding.kind,
        levels: finding.levels.clone(),
        leak: finding.leak.clone(),
        leak_weight: finding.leak_weight,
        links: Vec::new(),
    }
}

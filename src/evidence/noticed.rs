//! What whoever has a part in hand notices by the way: a cap that is taken to a tester was seen on its neck, and it goes back
//! as it should. Says so of faults in plain sight that a driver brings about, where nothing else was said of them.

use super::look::Look;
use super::{Epoch, Told, push};
use knowledge::base::{Base, Open, Test};
use network::Network;
use network::build::SEEN_PREFIX;

/// A reading that is about one part alone and shows a fault of it at least this often is taken with the part in hand.
const IN_HAND: f64 = 0.6;

/// Such a fault is overlooked, or not told, by one in ten who had the part in hand (judgement). That the part went back as it should,
/// so that what is found afterwards cannot come of it, is not modelled but for this.
const OVERLOOKED: f64 = 0.1;

/// Puts what was not noticed in the tests of this epoch among the observations.
pub(super) fn noticed(e: &Epoch, epoch: usize, base: &Base, network: &Network, told: &mut Told) {
    let mut made: Vec<&Test> = Vec::new();
    for test in e.results.iter().filter_map(|(reading, _)| base.reading(reading)).map(|(test, _)| test) {
        if !made.iter().any(|t| t.id == test.id) {
            made.push(test);
        }
    }
    let mut parts: Vec<String> = made.iter().filter_map(|t| in_hand(t, network)).collect();
    parts.sort();
    parts.dedup();
    let plain = |s: &&knowledge::base::Suspect| s.by_driver && s.seen.open == Open::InSight;
    for suspect in parts.iter().filter_map(|p| base.part(p)).flat_map(|p| &p.suspects).filter(plain) {
        let looked_at = e.looks.iter().any(|(s, _)| *s == suspect.id)
            || made.iter().flat_map(|t| &t.readings).flat_map(|r| &r.detects).any(|l| l.suspect == suspect.id);
        let finding = network.finding(&format!("{SEEN_PREFIX}{}", suspect.id));
        if let Some(finding) = finding.filter(|_| !looked_at) {
            let word = format!("{} by the way", Look::Sound);
            push(told, network, finding, epoch, vec![1.0, OVERLOOKED], &word, false);
        }
    }
}

/// The part that the test takes in hand.
fn in_hand(test: &Test, network: &Network) -> Option<String> {
    let part = |id: &str| id.split('/').next().unwrap_or_default().to_owned();
    test.readings.iter().filter_map(|r| network.finding(&r.id)).find_map(|f| {
        let links = &network.findings[f].links;
        let one = part(&network.suspects[links.first()?.suspect].id);
        let alone = links.iter().all(|l| part(&network.suspects[l.suspect].id) == one);
        (alone && links.iter().any(|l| 1.0 - l.levels[0] >= IN_HAND)).then_some(one)
    })
}

#[cfg(test)]
mod tests {
    use super::super::{History, Outcome};
    use super::*;
    use knowledge::base::Vehicle;

    fn looked(reading: &str, looks: Vec<(String, Look)>) -> Vec<String> {
        let base = shipped::base().unwrap();
        let network = network::build::build(&base, &Vehicle::default());
        let results = vec![(reading.to_owned(), Outcome::Pass)];
        let epoch = Epoch { codes: vec!["P0455".to_owned()], results, looks, ..Epoch::default() };
        let told = History::visit(Vec::new(), epoch).tell(&base, &network).unwrap();
        told.what.into_iter().filter(|o| o.finding.starts_with(SEEN_PREFIX)).map(|o| o.level).collect()
    }

    #[test]
    fn a_cap_on_the_tester_was_seen_on_its_neck() {
        assert_eq!(looked("cap-leak-test:hold", Vec::new()), ["looked at and sound by the way"]);
        assert!(looked("cap-look-reseat:seal", Vec::new()).is_empty(), "that test has a reading of its own for it");
        assert!(looked("smoke-whole:filler", Vec::new()).is_empty(), "smoke takes no cap in hand");
        let said = vec![("filler-cap/loose".to_owned(), Look::Found)];
        assert_eq!(looked("cap-leak-test:hold", said), ["found"]);
    }
}

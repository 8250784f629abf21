//! What a repair made before anything was seen did to each suspect: it is left out, as findings are when they are weighed.

use evidence::Told;
use inference::{Evidence, InferenceError, posterior};
use network::Network;

/// A repair that others made, and what that speaks for and against.
#[derive(Clone, Debug, PartialEq)]
pub struct Before {
    /// Index into the repairs of the evidence.
    pub repair: usize,
    /// For each suspect: ln odds(present now | all) less the same had the repair not been made. Infinite where the repair
    /// makes it impossible.
    pub ln_odds: Vec<f64>,
    /// For each suspect: P(present now | all) less the same had the repair not been made.
    pub change: Vec<f64>,
}

impl Before {
    /// Suspects whose odds it moved by at least this factor, those first whose probability it moved most, ties by index.
    #[must_use]
    pub fn moved(&self, factor: f64) -> Vec<(usize, f64)> {
        let all = self.ln_odds.iter().copied().enumerate();
        let mut list: Vec<(usize, f64)> = all.filter(|(_, ln)| ln.abs() >= factor.ln()).collect();
        let most = |s: usize| self.change[s].abs();
        list.sort_by(|a, b| most(b.0).total_cmp(&most(a.0)).then(a.0.cmp(&b.0)));
        list
    }
}

/// The repairs made before anything was seen; `now` are the probabilities with all of them.
pub(super) fn before(network: &Network, told: &Told, now: &[f64]) -> Result<Vec<Before>, InferenceError> {
    let made = told.evidence.repairs.iter().enumerate().filter(|(_, r)| r.long_ago);
    made.map(|(repair, _)| {
        let without = posterior(network, &left_out(&told.evidence, repair))?.now;
        let ln_odds = now.iter().zip(&without).map(|(with, without)| difference(*with, *without)).collect();
        let change = now.iter().zip(&without).map(|(with, without)| with - without).collect();
        Ok(Before { repair, ln_odds, change })
    })
    .collect()
}

fn left_out(evidence: &Evidence, repair: usize) -> Evidence {
    let mut fewer = evidence.clone();
    fewer.repairs.remove(repair);
    for o in fewer.observations.iter_mut().filter(|o| o.epoch > repair) {
        o.epoch -= 1;
    }
    fewer
}

/// ln odds of one less ln odds of the other; nothing where both are the same certainty.
fn difference(with: f64, without: f64) -> f64 {
    let odds = |p: f64| (p / (1.0 - p)).ln();
    if with == without { 0.0 } else { odds(with) - odds(without) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use inference::{Observation, RepairEvent};
    use network::{Finding, FindingKind, Link, Suspect};

    /// With p = 0.1 and a repair that fails one time in ten the odds fall from 1/9 to 1/99, and by the same factor when a code
    /// speaks for the suspect; a second suspect of that code takes over what the first one loses.
    #[test]
    fn a_repair_takes_from_what_it_removes_and_gives_to_its_rivals() {
        let suspects = ["worn", "split"].map(|id| Suspect::plain(id.to_owned(), 0.1, 10.0)).to_vec();
        let link = |s| Link::plain(s, vec![0.5, 0.5], 10.0);
        let finding = Finding {
            id: "monitor:leak".into(),
            kind: FindingKind::Monitor,
            levels: vec!["none".into(), "P0455".into()],
            leak: vec![0.99, 0.01],
            leak_weight: 10.0,
            links: vec![link(0), link(1)],
        };
        let network = Network { suspects, findings: vec![finding], ..Network::default() };
        let repair = RepairEvent { long_ago: true, ..RepairEvent::new(vec![0], 0.1) };
        let mut told =
            Told { evidence: Evidence { repairs: vec![repair], observations: Vec::new() }, ..Told::default() };
        let effect = |told: &Told| {
            let now = posterior(&network, &told.evidence).unwrap().now;
            before(&network, told, &now).unwrap().remove(0)
        };
        let alone = effect(&told);
        assert!((alone.ln_odds[0] + 11.0_f64.ln()).abs() < 1e-12 && alone.ln_odds[1] == 0.0, "{alone:?}");
        assert_eq!(alone.moved(1.05).iter().map(|m| m.0).collect::<Vec<_>>(), [0]);
        told.evidence.observations.push(Observation::hard(0, 1, 1, 2));
        let with_code = effect(&told);
        assert!((with_code.ln_odds[0] + 11.0_f64.ln()).abs() < 1e-12 && with_code.ln_odds[1] > 0.1, "{with_code:?}");
        assert!(with_code.change[0] < 0.0 && with_code.change[1] > 0.0, "{with_code:?}");
    }

    #[test]
    fn a_repair_of_this_stay_is_not_one_of_them() {
        let network = Network { suspects: vec![Suspect::plain("worn".into(), 0.1, 10.0)], ..Network::default() };
        let evidence = Evidence { repairs: vec![RepairEvent::new(vec![0], 0.1)], observations: Vec::new() };
        assert_eq!(before(&network, &Told { evidence, ..Told::default() }, &[0.01]), Ok(Vec::new()));
    }
}

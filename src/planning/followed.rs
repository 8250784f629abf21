//! What a plan would have cost on a car whose fault is known: the yardstick for plans made under different beliefs.
//! Exact over what the tests can show; decides nothing.

use super::pose::Posed;
use super::tree::{Node, Plan, Shows};
use super::{Spend, Step};
use network::Network;

/// The fault that was there, and what it does.
#[derive(Clone, Copy)]
pub struct KnownFault<'a> {
    /// How tests show it: not necessarily the network that the plan was made with.
    pub network: &'a Network,
    /// Its place among the suspects of that network.
    pub suspect: usize,
    /// Whether a repair, by id, removes it.
    pub removed_by: &'a dyn Fn(&str) -> bool,
    /// What others have to spend on its repair after the car was handed on.
    pub owed: Spend,
}

/// Expected spending of following the plan on a car that has this fault alone and keeps the complaint until the fault
/// is gone. A reading shows the higher of what the fault does and of the false alarm (noisy-MAX), the readings of a
/// test independently; a repair takes with `1 - fails`. What the plan does not foresee is handed on.
#[must_use]
pub fn followed(plan: &Plan, posed: &Posed, fault: &KnownFault<'_>) -> Spend {
    let Some(root) = &plan.root else { return Spend::default() };
    let readings = || posed.problem.readings.iter();
    let there = readings().map(|r| levels(fault, &r.id)).collect();
    let gone = readings().map(|r| without(fault, &r.id)).collect();
    Follow { posed, fault, there, gone }.node(root, true)
}

struct Follow<'a> {
    posed: &'a Posed,
    fault: &'a KnownFault<'a>,
    /// P(level) of each reading of the problem while the fault is there,
    there: Vec<Vec<f64>>,
    /// and when a repair without a re-test has removed it.
    gone: Vec<Vec<f64>>,
}

impl Follow<'_> {
    fn node(&self, node: &Node, there: bool) -> Spend {
        let problem = &self.posed.problem;
        // A node that hands on carries the plan's own average of what others have to repair; here it is known.
        let handed_on = problem.hand_on + if there { self.fault.owed } else { Spend::default() };
        let next = |shows: &Shows, there: bool, share: f64| {
            let then = node.branches.iter().find(|b| b.shows == *shows).and_then(|b| b.then.as_ref());
            if share > 0.0 { then.map_or(handed_on, |n| self.node(n, there)).times(share) } else { Spend::default() }
        };
        // Chance that the fault is there after a repair, and what the repair costs on top in vain.
        let repaired = |r: usize| {
            let repair = &problem.repairs[r];
            let removes = there && (self.fault.removed_by)(&repair.id);
            let stays = if removes { repair.fails } else { f64::from(u8::from(there)) };
            (stays, if removes { Spend::default() } else { repair.vain })
        };
        match node.step {
            Step::HandOn => handed_on,
            Step::Verify => node.spend + next(&Shows::StillThere, true, f64::from(u8::from(there))),
            Step::Repair(r) => {
                let (stays, vain) = repaired(r);
                node.spend + vain + next(&Shows::StillThere, true, stays)
            }
            Step::Mend(r) => {
                let (stays, vain) = repaired(r);
                node.spend + vain + next(&Shows::Unseen, true, stays) + next(&Shows::Unseen, false, 1.0 - stays)
            }
            Step::Test(t) => {
                let (mut sum, mut rest, mut other) = (node.spend, 1.0, None);
                let shown = if there { &self.there } else { &self.gone };
                for branch in &node.branches {
                    let Shows::Levels(levels) = &branch.shows else {
                        other = branch.then.as_ref();
                        continue;
                    };
                    let p = |(reading, level): (&usize, &u8)| {
                        shown[*reading].get(usize::from(*level)).copied().unwrap_or(0.0)
                    };
                    let p: f64 = problem.tests[t].readings.iter().zip(levels).map(p).product();
                    if p > 0.0 {
                        sum = sum + branch.then.as_ref().map_or(handed_on, |n| self.node(n, there)).times(p);
                        rest -= p;
                    }
                }
                // What is left of 1 after subtraction is rounding unless it is a real share.
                if rest > 1e-12 { sum + other.map_or(handed_on, |n| self.node(n, there)).times(rest) } else { sum }
            }
        }
    }
}

fn without(fault: &KnownFault<'_>, reading: &str) -> Vec<f64> {
    fault.network.finding(reading).map_or_else(|| vec![1.0], |f| fault.network.findings[f].leak.clone())
}

fn levels(fault: &KnownFault<'_>, reading: &str) -> Vec<f64> {
    let Some(f) = fault.network.finding(reading).map(|f| &fault.network.findings[f]) else { return vec![1.0] };
    let Some(own) = f.links.iter().find(|l| l.suspect == fault.suspect) else { return f.leak.clone() };
    let (mut upto_leak, mut upto_own) = (0.0, 0.0);
    let higher = |(leak, own): (&f64, &f64)| {
        // P(max = level) = leak P(own < level) + own P(leak <= level): positive terms only.
        let p = leak * upto_own + own * (upto_leak + leak);
        upto_leak += leak;
        upto_own += own;
        p
    };
    f.leak.iter().zip(&own.levels).map(higher).collect()
}

#[cfg(test)]
mod tests {
    use crate::simulate::{Car, work};
    use crate::{Detail, Effort, KnownFault, Question, Shop, Spend, followed, plan, pose, pose_believing};
    use evidence::{Epoch, History};
    use knowledge::base::Vehicle;
    use network::build::build;

    fn small() -> Detail {
        Detail { full: 0.05, ahead: 0.01, work: 2_000_000, ..Detail::quick() }
    }

    /// The simulator works cars one by one with random outcomes; the average of many is what is computed here.
    #[test]
    fn it_is_what_simulated_cars_with_that_fault_cost() {
        let base = shipped::base().unwrap();
        let network = build(&base, &Vehicle::default());
        let epoch = Epoch { codes: vec!["P0455".into()], codes_complete: true, ..Epoch::default() };
        let told = History::visit(Vec::new(), epoch).tell(&base, &network).unwrap();
        let shop = Shop::default();
        let posed = pose(&Question::quick(&base, &network, &told.evidence, &shop)).unwrap();
        let plan = plan(&posed, &Effort::quick(), &small());
        for id in ["filler-cap/seal-worn", "purge-valve/stuck-open", "vent-valve/stuck-open"] {
            let suspect = network.suspects.iter().position(|s| s.id == id).unwrap();
            let place = posed.problem.suspects.iter().position(|s| *s == suspect).unwrap();
            let removed_by = |r: &str| base.repair(r).is_some_and(|(_, r)| r.removes.iter().any(|s| s == id));
            let owed = posed.problem.owed(1 << place);
            let known = KnownFault { network: &network, suspect, removed_by: &removed_by, owed };
            let exact = followed(&plan, &posed, &known).money;
            let cars = vec![Car { present: vec![suspect], need: vec![suspect] }; 20_000];
            let (mean, error) = work(&network, &posed, &plan, &cars, 5).mean(shop.aim);
            assert!((mean - exact).abs() < 4.5 * error + 1e-9, "{id}: {exact} {mean} ± {error}");
        }
    }

    #[test]
    fn who_believes_in_the_right_fault_spends_less() {
        let base = shipped::base().unwrap();
        let network = build(&base, &Vehicle::default());
        let epoch = Epoch { codes: vec!["P0455".into()], codes_complete: true, ..Epoch::default() };
        let told = History::visit(Vec::new(), epoch).tell(&base, &network).unwrap();
        let shop = Shop::default();
        let place = |id: &str| network.suspects.iter().position(|s| s.id == id).unwrap();
        let (right, wrong) = (place("purge-valve/stuck-open"), place("filler-cap/seal-worn"));
        let removed_by =
            |r: &str| base.repair(r).is_some_and(|(_, r)| r.removes.iter().any(|s| s == "purge-valve/stuck-open"));
        let known = KnownFault { network: &network, suspect: right, removed_by: &removed_by, owed: Spend::default() };
        let cost = |of: f64| {
            let question = Question::quick(&base, &network, &told.evidence, &shop);
            let posed = pose_believing(&question, &[(right, of), (wrong, 1.0 - of)]);
            followed(&plan(&posed, &Effort::quick(), &small()), &posed, &known).money
        };
        assert!(cost(0.95) < cost(0.05), "{} {}", cost(0.95), cost(0.05));
    }
}

//! What would the plans have cost on a closed job, made under each forecast's beliefs, its recorded cause being the
//! truth? The same prices and the same behaviour of tests count for all, so that only beliefs are compared.

use super::fit::{Number, What};
use super::forecast::intake;
use super::job::ClosedJob;
use super::model::Model;
use knowledge::base::Base;
use planning::{Detail, Effort, KnownFault, Posed, Question, Shop, Spend, followed, plan, pose, pose_believing};

/// What is paid, whoever plans.
#[derive(Debug)]
pub(super) struct Prices {
    shop: Shop,
}

impl Prices {
    /// The shop's own numbers; where its file is silent, the minutes and prices learned from earlier jobs, so that
    /// plans are in the same minutes as what the shop noted.
    pub fn new(base: &Base, shop: &Shop, learned: &[Number]) -> Self {
        let mut shop = shop.clone();
        for n in learned {
            let own = match n.what {
                What::Minutes => &mut shop.minutes,
                What::Price => &mut shop.prices,
                _ => continue,
            };
            // Learned for a test or a repair of this base only.
            if base.test(&n.of).is_some() || base.repair(&n.of).is_some() {
                own.entry(n.of.clone()).or_insert(n.new);
            }
        }
        Self { shop }
    }
}

/// What is believed: by two bases, and as bare shares of the model's suspects.
pub(super) struct Beliefs<'a> {
    pub shipped: &'a Base,
    pub tuned: &'a Base,
    pub model: &'a Model,
    pub base_rate: &'a [f64],
}

/// A closed job and its cause.
pub(super) struct Recorded<'a> {
    pub job: &'a ClosedJob,
    pub cause: &'a str,
}

/// How far plans are thought through here: some 20 ms each. All three get the same.
fn detail() -> Detail {
    Detail { full: 0.05, ahead: 0.005, work: 1_000_000, ..Detail::quick() }
}

/// Expected spending of the three plans, in the order of the forecasts. Tests behave as shipped, for all three: that
/// favours nobody but the shipped base. Nothing when a plan cannot be made.
pub(super) fn plan_costs(beliefs: &Beliefs<'_>, prices: &Prices, it: &Recorded<'_>) -> Option<[Spend; 3]> {
    let shop = &prices.shop;
    let (network, told) = intake(beliefs.shipped, it.job)?;
    let (tuned_network, tuned_told) = intake(beliefs.tuned, it.job)?;
    let suspect = network.suspects.iter().position(|s| s.id == it.cause)?;
    let repairs = || beliefs.shipped.repairs().map(|(_, r)| r).filter(|r| r.removes.iter().any(|s| s == it.cause));
    let removed_by = |id: &str| repairs().any(|r| r.id == id);
    let cheaper = |a: &Spend, b: &Spend| a.cost(shop.aim).total_cmp(&b.cost(shop.aim));
    // A cause that no repair removes is not counted after handing on, as in the plans themselves.
    let owed = repairs().map(|r| shop.repair(r) + shop.retest()).min_by(cheaper).unwrap_or_default();
    let fault = KnownFault { network: &network, suspect, removed_by: &removed_by, owed };
    let cost = |posed: Posed| followed(&plan(&posed, &Effort::quick(), &detail()), &posed, &fault);
    let shipped = Question::quick(beliefs.shipped, &network, &told.evidence, shop);
    let tuned = Question::quick(beliefs.tuned, &tuned_network, &tuned_told.evidence, shop);
    let shares: Vec<(usize, f64)> = network
        .suspects
        .iter()
        .enumerate()
        .filter_map(|(i, s)| Some((i, beliefs.base_rate[beliefs.model.suspect(&s.id)?])))
        .collect();
    Some([cost(pose(&shipped).ok()?), cost(pose(&tuned).ok()?), cost(pose_believing(&shipped, &shares))])
}

//! What a diagnosis and repair will cost, as a distribution, straight from the endings of a plan.

use super::tree::{Ending, Plan};
use super::{Aim, Spend};
use std::collections::BTreeMap;

/// Mean, median and 90th percentile of one quantity.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spread {
    /// Mean.
    pub mean: f64,
    /// Half of the jobs stay at or below.
    pub median: f64,
    /// Nine in ten jobs stay at or below.
    pub p90: f64,
}

/// The quote.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Quote {
    /// Cost to the end, handing on included.
    pub money: Spread,
    /// Minutes to the end.
    pub minutes: Spread,
    /// P(the complaint is repaired here).
    pub fixed: f64,
    /// Sets of repairs after which a job ends, repaired, the most likely first, with their probabilities.
    pub repairs: Vec<(Vec<usize>, f64)>,
    /// Minutes and probability of each ending, by minutes; for [`Quote::within`].
    pub by_minutes: Vec<(f64, f64)>,
    /// Money and probability of each ending that is a repair, by money; for [`Quote::cured_for`].
    pub cured: Vec<(f64, f64)>,
}

impl Quote {
    /// P(done within so many minutes), handing on included.
    #[must_use]
    pub fn within(&self, minutes: f64) -> f64 {
        self.by_minutes.iter().take_while(|e| e.0 <= minutes).map(|e| e.1).sum()
    }

    /// P(repaired here for at most so much money).
    #[must_use]
    pub fn cured_for(&self, money: f64) -> f64 {
        self.cured.iter().take_while(|e| e.0 <= money).map(|e| e.1).sum()
    }
}

/// The distribution of a plan's costs.
#[must_use]
pub fn quote(plan: &Plan) -> Quote {
    let by = |aim: Aim, wanted: &dyn Fn(&&Ending) -> bool| {
        let endings = plan.endings.iter().filter(wanted);
        let mut list: Vec<(f64, f64)> = endings.map(|e: &Ending| (e.spend.cost(aim), e.mass)).collect();
        list.sort_by(|a, b| a.0.total_cmp(&b.0));
        list
    };
    let (by_money, by_minutes) = (by(Aim::Money, &|_| true), by(Aim::Minutes, &|_| true));
    let mut repairs: BTreeMap<Vec<usize>, f64> = BTreeMap::new();
    for e in plan.endings.iter().filter(|e| e.fixed) {
        let mut made = e.repairs.clone();
        made.sort_unstable();
        made.dedup();
        *repairs.entry(made).or_default() += e.mass;
    }
    let mut repairs: Vec<(Vec<usize>, f64)> = repairs.into_iter().collect();
    repairs.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    let mean: Spend = plan.expected();
    Quote {
        money: spread(&by_money, mean.money),
        minutes: spread(&by_minutes, mean.minutes),
        fixed: plan.endings.iter().filter(|e| e.fixed).map(|e| e.mass).sum(),
        repairs,
        by_minutes,
        cured: by(Aim::Money, &|e| e.fixed),
    }
}

fn spread(sorted: &[(f64, f64)], mean: f64) -> Spread {
    let total: f64 = sorted.iter().map(|e| e.1).sum();
    let quantile = |q: f64| {
        let mut sum = 0.0;
        let reached = sorted.iter().find(|e| {
            sum += e.1;
            sum >= q * total
        });
        reached.or(sorted.last()).map_or(0.0, |e| e.0)
    };
    Spread { mean, median: quantile(0.5), p90: quantile(0.9) }
}

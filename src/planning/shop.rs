//! What is true of one shop: its rates, prices and tools. Reading it from a file is not done here.

use knowledge::acts::Act;
use knowledge::base::{Base, Hazard, Repair, Setup, Test};
use std::collections::{BTreeMap, BTreeSet};

/// What is to be kept small.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Aim {
    /// Money: labour, consumables and parts.
    #[default]
    Money,
    /// Minutes of labour; parts and consumables count nothing.
    Minutes,
}

/// Money and minutes of one action. The money includes the labour.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spend {
    /// In the shop's currency.
    pub money: f64,
    /// Of labour.
    pub minutes: f64,
}

impl Spend {
    /// The number that the aim keeps small.
    #[must_use]
    pub fn cost(self, aim: Aim) -> f64 {
        match aim {
            Aim::Money => self.money,
            Aim::Minutes => self.minutes,
        }
    }

    /// So many times as much.
    #[must_use]
    pub fn times(self, by: f64) -> Self {
        Self { money: self.money * by, minutes: self.minutes * by }
    }

    /// Less that, and never below nothing.
    #[must_use]
    pub fn less(self, saved: Self) -> Self {
        Self { money: (self.money - saved.money).max(0.0), minutes: (self.minutes - saved.minutes).max(0.0) }
    }
}

impl std::ops::Add for Spend {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self { money: self.money + other.money, minutes: self.minutes + other.minutes }
    }
}

/// Rates, prices and tools of a shop.
#[derive(Clone, Debug, PartialEq)]
pub struct Shop {
    /// What an hour of labour costs.
    pub labour_rate: f64,
    /// Name or sign of the currency, for screens.
    pub currency: String,
    /// What it costs to give the vehicle to someone else with the cause still unknown: the lost work, the transport,
    /// the other shop's bill.
    pub hand_on_cost: f64,
    /// The same for those who count minutes only.
    pub hand_on_minutes: f64,
    /// What a part fitted in vain costs on top, as a share of its price: it is rarely taken back, and somebody has to
    /// explain it to the customer. Judgement, for nobody publishes it.
    pub in_vain: f64,
    /// Labour on top of any repair made in vain: putting things back, beginning anew. Judgement as well.
    pub in_vain_minutes: f64,
    /// Labour of one re-test after a repair: clear the codes and prove the repair.
    pub retest_minutes: f64,
    /// What it costs to come back, or to wait, for a part that is not at hand: beside labour, and its minutes.
    pub second_visit: (f64, f64),
    /// Repairs (`part/repair`) whose parts are at hand.
    pub at_hand: BTreeSet<String>,
    /// Tool ids at hand; nothing means all tools of the base.
    pub tools: Option<BTreeSet<String>>,
    /// What is kept small.
    pub aim: Aim,
    /// Own minutes of tests, setups and repairs, by id.
    pub minutes: BTreeMap<String, f64>,
    /// Own parts prices of repairs (`part/repair`) and consumables of tests, by id.
    pub prices: BTreeMap<String, f64>,
}

impl Default for Shop {
    fn default() -> Self {
        Self {
            labour_rate: 80.0,
            currency: "EUR".to_owned(),
            hand_on_cost: 600.0,
            hand_on_minutes: 300.0,
            in_vain: 0.5,
            in_vain_minutes: 15.0,
            retest_minutes: 10.0,
            second_visit: (0.0, 0.0),
            at_hand: BTreeSet::new(),
            tools: None,
            aim: Aim::Money,
            minutes: BTreeMap::new(),
            prices: BTreeMap::new(),
        }
    }
}

impl Shop {
    /// Money and minutes of so many minutes of labour and so much material.
    #[must_use]
    pub fn spend(&self, minutes: f64, material: f64) -> Spend {
        Spend { money: minutes * self.labour_rate / 60.0 + material, minutes }
    }

    fn own(&self, id: &str, minutes: f64, price: f64) -> Spend {
        self.spend(self.minutes.get(id).copied().unwrap_or(minutes), self.prices.get(id).copied().unwrap_or(price))
    }

    /// A test without its setups.
    #[must_use]
    pub fn test(&self, t: &Test) -> Spend {
        self.own(&t.id, t.minutes.get(), t.consumables.get())
    }

    /// A setup, paid once a job.
    #[must_use]
    pub fn setup(&self, s: &Setup) -> Spend {
        self.own(&s.id, s.minutes.get(), 0.0)
    }

    /// A repair without the re-test, the second visit for its part included.
    #[must_use]
    pub fn repair(&self, r: &Repair) -> Spend {
        let own = self.own(&r.id, r.minutes.get(), r.parts_cost.get());
        let fits = self.price(r) > 0.0 && !self.at_hand.contains(&r.id);
        if fits { own + self.spend(self.second_visit.1, self.second_visit.0) } else { own }
    }

    /// What the parts of a repair cost.
    #[must_use]
    pub fn price(&self, r: &Repair) -> f64 {
        self.prices.get(&r.id).copied().unwrap_or(r.parts_cost.get())
    }

    /// On top of a repair that found nothing to remove.
    #[must_use]
    pub fn in_vain(&self, r: &Repair) -> Spend {
        self.spend(self.in_vain_minutes, self.in_vain * self.price(r))
    }

    /// One re-test.
    #[must_use]
    pub fn retest(&self) -> Spend {
        self.spend(self.retest_minutes, 0.0)
    }

    /// Handing the vehicle on.
    #[must_use]
    pub fn hand_on(&self) -> Spend {
        Spend { money: self.hand_on_cost, minutes: self.hand_on_minutes }
    }

    /// The tools of this test that are not at hand.
    #[must_use]
    pub fn missing<'t>(&self, t: &'t Test) -> Vec<&'t str> {
        let Some(have) = &self.tools else { return Vec::new() };
        t.tools.iter().filter(|tool| !have.contains(*tool)).map(String::as_str).collect()
    }

    /// The tools that raise the vehicle, for a repair that is made under it, when none of them is at hand.
    #[must_use]
    pub fn missing_under<'b>(&self, base: &'b Base, r: &Repair) -> Vec<&'b str> {
        let Some(have) = &self.tools else { return Vec::new() };
        let under = |acts: &[Act]| acts.contains(&Act::Lift);
        let reached = r.reaches.iter().filter_map(|id| base.setup(id)).any(|s| under(&s.acts));
        let lifts = || base.tools.iter().filter(|t| t.hazards.contains(&Hazard::Raised)).map(|t| t.id.as_str());
        if (under(&r.acts) || reached) && !lifts().any(|t| have.contains(t)) { lifts().collect() } else { Vec::new() }
    }

    /// The same shop with one tool more.
    #[must_use]
    pub fn with_tool(&self, base: &Base, tool: &str) -> Self {
        let mut tools = self.tools.clone().unwrap_or_else(|| base.tools.iter().map(|t| t.id.clone()).collect());
        tools.insert(tool.to_owned());
        Self { tools: Some(tools), ..self.clone() }
    }

    /// The same shop with one tool less.
    #[must_use]
    pub fn without_tool(&self, base: &Base, tool: &str) -> Self {
        let mut tools = self.tools.clone().unwrap_or_else(|| base.tools.iter().map(|t| t.id.clone()).collect());
        tools.remove(tool);
        Self { tools: Some(tools), ..self.clone() }
    }
}

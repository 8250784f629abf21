//! What the customer will pay at most, and how likely the car is repaired for it.

use super::text::{harmless, percent};
use planning::Shop;
use serde_json::{Value, json};

/// A limit on one job.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// In all, in the shop's currency.
    pub whole: f64,
    /// Spent on the job so far: labour at the shop's rate, parts and materials.
    pub spent: f64,
    /// P(repaired here for what is left), by the plan that keeps the average cost small.
    pub cured: f64,
}

impl Limit {
    /// What is left of it.
    #[must_use]
    pub fn left(&self) -> f64 {
        (self.whole - self.spent).max(0.0)
    }

    /// In two sentences; `step` is what the next step costs.
    #[must_use]
    pub fn text(&self, step: f64, shop: &Shop) -> String {
        let money = |m: f64| format!("{m:.0} {}", harmless(&shop.currency));
        let spent = if self.spent > 0.0 { format!(", {} of it spent", money(self.spent)) } else { String::new() };
        let ask = if step > self.left() {
            " This step alone passes it: ask the customer first."
        } else {
            " Once it is reached, ask the customer before going on."
        };
        let (whole, cured) = (money(self.whole), percent(self.cured));
        format!("The customer pays at most {whole}{spent}: the car is repaired within it with {cured}.{ask}")
    }

    /// As in `faultodds.quote/1` and `faultodds.next/2`.
    #[must_use]
    pub fn json(&self) -> Value {
        json!({"whole": self.whole, "spent": self.spent, "repaired": self.cured})
    }
}

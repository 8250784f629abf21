//! What the work on a job has to reckon with: tools at hand, the customer's limit, the files of the shop, and what was
//! skipped. Kept with the job, so that whoever goes on with it starts from the same.

use knowledge::base::Base;
use planning::Shop;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// What the work has to reckon with; what is not given stays as it was.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Arranged {
    /// The tools at hand, by id, in place of all that was said of tools before.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tools: Option<Vec<String>>,
    /// Tools that are at hand after all.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub with: Vec<String>,
    /// Tools that are not at hand after all.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub without: Vec<String>,
    /// What the customer will pay at most, in the shop's currency; 0 takes the limit away.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limit: Option<f64>,
    /// The shop file in use; empty for the usual one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shop: Option<String>,
    /// The overlay in use; empty for none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub overlay: Option<String>,
}

/// A step that was proposed and not done.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Skipped {
    /// The test's id, or `part/repair`.
    pub step: String,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
}

/// All that was arranged on a job, the later word before the earlier.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Terms {
    /// The tools at hand, when they were listed.
    pub tools: Option<BTreeSet<String>>,
    /// Tools said to be at hand since.
    pub with: BTreeSet<String>,
    /// Tools said not to be at hand since.
    pub without: BTreeSet<String>,
    /// What the customer will pay at most.
    pub limit: Option<f64>,
    /// The shop file in use, when not the usual one.
    pub shop: Option<String>,
    /// The overlay in use.
    pub overlay: Option<String>,
    /// What was skipped.
    pub skipped: Vec<Skipped>,
}

impl Terms {
    /// Takes over what was arranged.
    pub(super) fn arrange(&mut self, a: &Arranged) {
        if let Some(tools) = &a.tools {
            self.tools = Some(tools.iter().cloned().collect());
            self.with.clear();
            self.without.clear();
        }
        for tool in &a.with {
            self.without.remove(tool);
            self.with.insert(tool.clone());
        }
        for tool in &a.without {
            self.with.remove(tool);
            self.without.insert(tool.clone());
        }
        if let Some(limit) = a.limit {
            self.limit = (limit > 0.0).then_some(limit);
        }
        let file = |path: &String| (!path.is_empty()).then(|| path.clone());
        if let Some(shop) = &a.shop {
            self.shop = file(shop);
        }
        if let Some(overlay) = &a.overlay {
            self.overlay = file(overlay);
        }
    }

    /// Takes over what was skipped; the same step twice is one.
    pub(super) fn skip(&mut self, s: &Skipped) {
        self.skipped.retain(|k| k.step != s.step);
        self.skipped.push(s.clone());
    }

    /// The shop with the tools of this job.
    #[must_use]
    pub fn shop(&self, mut shop: Shop, base: &Base) -> Shop {
        if let Some(tools) = &self.tools {
            shop.tools = Some(tools.clone());
        }
        for tool in &self.without {
            shop = shop.without_tool(base, tool);
        }
        // Where no list was given, every tool of the base counts as at hand.
        for tool in self.with.iter().filter(|_| shop.tools.is_some()).cloned().collect::<Vec<_>>() {
            shop = shop.with_tool(base, &tool);
        }
        shop
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_later_word_on_a_tool_holds() {
        let mut terms = Terms::default();
        terms.arrange(&Arranged { without: vec!["smoke-machine".into()], ..Arranged::default() });
        terms.arrange(&Arranged { with: vec!["smoke-machine".into()], ..Arranged::default() });
        assert!(terms.without.is_empty() && terms.with.contains("smoke-machine"));
        terms.arrange(&Arranged { tools: Some(vec!["torch".into()]), limit: Some(200.0), ..Arranged::default() });
        assert!(terms.with.is_empty() && terms.limit == Some(200.0));
        terms.arrange(&Arranged { limit: Some(0.0), ..Arranged::default() });
        assert_eq!(terms.limit, None);
    }
}

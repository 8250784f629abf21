//! The screen of `worth`.

use super::Look;
use super::next::{amount, unit};
use super::paint::{HEADING, paint};
use super::text::{cut, left, paragraph, percent, right};
use knowledge::base::Base;
use planning::{Aim, Shop};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// One code of the mix.
#[derive(Clone, Debug, PartialEq)]
pub struct Gain {
    /// The code, or several codes of one job.
    pub code: String,
    /// Its jobs in the mix.
    pub jobs: f64,
    /// Expected cost of a job with the tool.
    pub with: f64,
    /// Expected cost without it.
    pub without: f64,
}

impl Gain {
    /// What the tool saves a job.
    #[must_use]
    pub fn saves(&self) -> f64 {
        self.without - self.with
    }
}

/// What the screen shows.
#[derive(Debug)]
pub struct WorthScreen<'a> {
    /// The base.
    pub base: &'a Base,
    /// The shop with the tool.
    pub shop: &'a Shop,
    /// Tool id.
    pub tool: &'a str,
    /// Its price, where another than that of the base was said.
    pub price: Option<f64>,
    /// The mix.
    pub gains: &'a [Gain],
    /// What the mix is.
    pub over: Over,
}

/// What a mix of codes is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Over {
    /// Every code of the base alike.
    AllCodes,
    /// What was said.
    Given,
    /// The shop's closed jobs, without this share of them that have rarer codes.
    OwnJobs {
        /// That share.
        left_out: f64,
    },
}

/// Codes shown.
const CODES: usize = 8;

/// Savings below this are within the plans' own roughness.
const LEAST: f64 = 0.05;

impl WorthScreen<'_> {
    /// Expected saving a job over the mix; 0 when it is lost in the roughness of the plans.
    #[must_use]
    pub fn saving(&self) -> f64 {
        let jobs: f64 = self.gains.iter().map(|g| g.jobs).sum();
        let saving = self.gains.iter().map(|g| g.jobs * g.saves()).sum::<f64>() / jobs;
        if saving < LEAST { 0.0 } else { saving }
    }

    fn price(&self) -> f64 {
        self.price.unwrap_or_else(|| self.base.tool(self.tool).map_or(0.0, |t| t.price.get()))
    }

    /// Tests made with the tool, and what some of them need beside it and the shop lacks, with the number of these tests.
    fn others(&self) -> (usize, Vec<(&str, usize)>) {
        let tests = || self.base.tests.iter().filter(|t| t.tools.iter().any(|tool| tool == self.tool));
        let mut lacking: BTreeMap<&str, usize> = BTreeMap::new();
        tests().flat_map(|t| self.shop.missing(t)).for_each(|tool| *lacking.entry(tool).or_default() += 1);
        let mut lacking: Vec<(&str, usize)> = lacking.into_iter().collect();
        lacking.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
        (tests().count(), lacking)
    }

    /// Jobs after which the saving has paid the price; nothing when it never does, or when minutes are counted.
    fn break_even(&self) -> Option<f64> {
        let saving = self.saving();
        (saving > 0.0 && self.shop.aim == Aim::Money).then(|| (self.price() / saving).ceil())
    }

    fn best(&self) -> Vec<&Gain> {
        let mut best: Vec<&Gain> = self.gains.iter().collect();
        best.sort_by(|a, b| b.saves().total_cmp(&a.saves()).then_with(|| a.code.cmp(&b.code)));
        best
    }

    /// The whole screen.
    #[must_use]
    pub fn text(&self, look: Look) -> String {
        let mut out = String::new();
        let name = self.base.tool(self.tool).map_or(self.tool, |t| t.name.as_str());
        let _ = writeln!(out, "{}", paint(HEADING, format!("What a tool is worth: {name} [{}]", self.tool)));
        let jobs: f64 = self.gains.iter().map(|g| g.jobs).sum();
        let over = match self.over {
            Over::AllCodes => "over all codes alike".to_owned(),
            Over::Given => "over the codes given".to_owned(),
            Over::OwnJobs { left_out } if left_out > 0.0 => {
                format!("over {jobs:.0} of the shop's closed jobs ({} with rarer codes left out)", percent(left_out))
            }
            Over::OwnJobs { .. } => format!("over the shop's {jobs:.0} closed jobs"),
        };
        let saving = self.saving();
        let mut text = if saving > 0.0 {
            format!("It saves {} a job on average, {over}.", amount_fine(saving, self.shop))
        } else {
            format!("It saves nothing that could be told from the roughness of the plans, {over}.")
        };
        if let Some(jobs) = self.break_even() {
            let _ = write!(
                text,
                " At a price of {:.0} {} it has paid for itself after {jobs:.0} job{}.",
                self.price(),
                self.shop.currency,
                if jobs == 1.0 { "" } else { "s" }
            );
        }
        paragraph(&mut out, "", &text, look.width);
        let (tests, lacking) = self.others();
        if !lacking.is_empty() {
            let each: Vec<String> = lacking.iter().map(|(tool, n)| format!("{tool} ({n})")).collect();
            let text = format!(
                "Of the {tests} tests made with it some need what is not at hand either, and count for nothing here: {}.",
                each.join(", ")
            );
            paragraph(&mut out, "", &text, look.width);
        }
        let best = self.best();
        let shown = &best[..best.len().min(CODES)];
        let width = shown.iter().map(|g| g.code.len()).max().unwrap_or(0).clamp(6, 40) + 2;
        let head = ["jobs", "without", "with", "saves"].map(|h| right(h, 11));
        let _ = writeln!(out, "\n  {}{}", left("code", width), head.concat());
        for g in shown {
            let columns = [g.without, g.with, g.saves()].map(|c| right(&amount(c, self.shop), 11));
            let code = left(&cut(&g.code, width - 1), width);
            let _ = writeln!(out, "  {code}{}{}", right(&format!("{:.0}", g.jobs), 11), columns.concat());
        }
        if best.len() > shown.len() {
            let _ = writeln!(out, "  {} more save less a job", best.len() - shown.len());
        }
        out
    }

    /// `faultodds.worth/1`.
    #[must_use]
    pub fn json(&self) -> Value {
        let codes: Vec<Value> = self
            .best()
            .into_iter()
            .map(|g| json!({"code": g.code, "jobs": g.jobs, "with": g.with, "without": g.without, "saves": g.saves()}))
            .collect();
        json!({
            "schema": "faultodds.worth/1", "tool": self.tool, "unit": unit(self.shop), "saves_per_job": self.saving(),
            "price": self.price(), "break_even_jobs": self.break_even(), "codes": codes,
            "lacking": self.others().1.into_iter().map(|(tool, tests)| json!({"tool": tool, "tests": tests})).collect::<Vec<_>>(),
        })
    }
}

fn amount_fine(cost: f64, shop: &Shop) -> String {
    match shop.aim {
        Aim::Money => format!("{cost:.1} {}", shop.currency),
        Aim::Minutes => format!("{cost:.1} min"),
    }
}

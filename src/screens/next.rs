//! The screen of `next`: candidates with their costs, in words why, and how the first one is done.

mod about;
mod first;

use super::Look;
use super::guide;
use super::limit::Limit;
use super::paint::{HEADING, ID, QUIET, paint};
use super::text::{cut, hanging, left, minutes, paragraph, percent, right};
use jobs::LIKELY_FIXED;
use knowledge::base::{Base, Vehicle};
use planning::{Aim, EQUAL, Posed, Scored, Shop, Step, Steps};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// What a missing tool would save on this job.
#[derive(Clone, Debug, PartialEq)]
pub struct Saved {
    /// Tool id.
    pub tool: String,
    /// Expected cost without it less expected cost with it.
    pub saves: f64,
}

/// Where the job stands after a repair that most likely holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Repaired<'a> {
    /// Probability that the complaint is gone for good.
    pub fixed: f64,
    /// Whether that was shown.
    pub close: bool,
    /// Whether anything was looked at since.
    pub looked: bool,
    /// Tests that can show it, the best first.
    pub tests: &'a [String],
}

/// What the screen shows.
#[derive(Debug)]
pub struct NextScreen<'a> {
    /// The base.
    pub base: &'a Base,
    /// The shop.
    pub shop: &'a Shop,
    /// The problem.
    pub posed: &'a Posed,
    /// The answer.
    pub steps: &'a Steps,
    /// What a repair that was made asks for.
    pub after: Option<Repaired<'a>>,
    /// Missing tools.
    pub saved: &'a [Saved],
    /// The vehicle, for what it has and has not.
    pub vehicle: &'a Vehicle,
    /// Codes, for the heading.
    pub codes: &'a [String],
    /// Steps to show.
    pub top: usize,
    /// The leading suspects by name, each with its probability.
    pub leaders: &'a [(String, f64)],
    /// What the customer will pay at most.
    pub limit: Option<Limit>,
    /// Whether rates and prices are an example, because no shop file was read.
    pub example: bool,
}

/// An amount in the shop's currency, or minutes.
#[must_use]
pub fn amount(cost: f64, shop: &Shop) -> String {
    match shop.aim {
        Aim::Money => format!("{cost:.0} {}", super::text::harmless(&shop.currency)),
        Aim::Minutes => minutes(cost),
    }
}

/// What kind of step it is, as in the JSON.
#[must_use]
pub fn kind(step: Step) -> &'static str {
    match step {
        Step::Test(_) => "test",
        Step::Repair(_) | Step::Mend(_) => "repair",
        Step::Verify => "re-test",
        Step::HandOn => "hand-on",
    }
}

/// What the step does, in a few words.
#[must_use]
pub fn name(base: &Base, posed: &Posed, step: Step) -> String {
    let id = posed.problem.id(step);
    match step {
        Step::Test(_) => base.test(id).map_or_else(|| id.to_owned(), |t| t.name.clone()),
        Step::Repair(_) => base.repair(id).map_or_else(|| id.to_owned(), |(_, r)| format!("Repair now: {}", r.does)),
        Step::Mend(_) => {
            base.repair(id).map_or_else(|| id.to_owned(), |(_, r)| format!("Repair, re-test later: {}", r.does))
        }
        Step::Verify => "Clear any codes and re-test: it may be gone already".to_owned(),
        Step::HandOn => "Hand the vehicle on with the cause unknown".to_owned(),
    }
}

impl NextScreen<'_> {
    /// Whether nothing was found that would have to be repaired.
    #[must_use]
    pub fn nothing_to_do(&self) -> bool {
        self.posed.complaint.is_empty() && self.after.is_none()
    }

    /// The whole screen.
    #[must_use]
    pub fn text(&self, look: Look) -> String {
        let mut out = String::new();
        if self.nothing_to_do() {
            let text = "No code and no symptom is there that a repair would have to clear, so there is no next step.";
            paragraph(&mut out, "", text, look.width);
            return out;
        }
        if let Some(after) = &self.after
            && self.repaired(&mut out, after, look)
        {
            return out;
        }
        let what = if self.codes.is_empty() { String::new() } else { format!(" for {}", self.codes.join(" ")) };
        let _ = writeln!(out, "{}", paint(HEADING, format!("Next step{what}, best first")));
        let _ = writeln!(
            out,
            "{}",
            paint(QUIET, format!("{}  {}  {}", left("", 4), right("now", 9), right("whole job", 11)))
        );
        for (i, s) in self.steps.steps.iter().take(self.top).enumerate() {
            self.line(&mut out, i, s, look);
        }
        self.reasons(&mut out, look);
        if self.steps.steps.first().is_some_and(|s| s.step == Step::HandOn) {
            self.notes(&mut out, look);
        }
        self.how(&mut out, look);
        out
    }

    /// Tells what a repair asks for; whether there is nothing more to be said.
    fn repaired(&self, out: &mut String, after: &Repaired<'_>, look: Look) -> bool {
        let fixed = percent(after.fixed);
        if after.close && after.fixed < LIKELY_FIXED {
            let text = format!(
                "The complaint stays away, so nothing is left to test; but what was repaired does not explain that: with \
                 {fixed} the fault is gone. Close the job as unsure, and have the car back when the lamp lights again. \
                 `faultodds job close --as unsure`."
            );
            paragraph(out, "", &text, look.width);
            return true;
        }
        if after.close || after.tests.is_empty() {
            let text = format!(
                "Close the job: with {fixed} nothing is left that could have caused the complaint. `faultodds job close`."
            );
            paragraph(out, "", &text, look.width);
            return true;
        }
        let yet = if after.looked { "by what was looked at since" } else { "and nobody has looked yet" };
        let text = format!("First show that the repair holds: with {fixed} the complaint is gone, {yet}.");
        paragraph(out, "", &text, look.width);
        for id in after.tests.iter().take(3) {
            let Some(test) = self.base.test(id) else { continue };
            let text = format!("{} {}", test.name, minutes(test.minutes.get()));
            // Painted after wrapping, so that the width counts what is seen.
            let mut line = String::new();
            hanging(&mut line, "  ", "    ", &format!("{text}  {id}"), look.width);
            out.push_str(&line.replacen(id.as_str(), &paint(ID, id), 1));
        }
        out.push_str("\nIf it is not gone:\n");
        self.posed.complaint.is_empty()
    }

    fn line(&self, out: &mut String, i: usize, s: &Scored, look: Look) {
        let now = amount(s.spend.cost(self.shop.aim), self.shop);
        let sign = if s.followed { "" } else { "<= " };
        let whole = format!("{sign}{}", amount(s.expected, self.shop));
        let words = name(self.base, self.posed, s.step);
        let lead = format!("{}. {}  {}  ", right(&(i + 1).to_string(), 2), right(&now, 9), right(&whole, 11));
        let room = look.width.saturating_sub(lead.len()).max(20);
        let _ = writeln!(out, "{lead}{}", cut(&words, room));
        let chance = match s.step {
            Step::Test(_) => format!("abnormal with {}", percent(s.chance)),
            Step::Repair(_) | Step::Verify => format!("ends it with {}", percent(s.chance)),
            Step::Mend(_) => format!("one of several faults with {}", percent(s.chance)),
            Step::HandOn => String::new(),
        };
        let worse = if i == 0 {
            String::new()
        } else {
            let first = self.steps.steps[0].expected;
            let more = s.expected - first;
            if more.abs() <= EQUAL * first {
                "as good, as far as can be told".to_owned()
            } else {
                format!("{} more on average", amount(more.max(0.0), self.shop))
            }
        };
        let facts: Vec<String> = [chance, worse].into_iter().filter(|f| !f.is_empty()).collect();
        let id = self.posed.problem.id(s.step);
        let (mut text, blanks) = (String::new(), " ".repeat(lead.len()));
        hanging(&mut text, &blanks, &blanks, &format!("{id}  {}", facts.join(", ")), look.width);
        // Painted after wrapping, so that the width counts what is seen.
        out.push_str(&text.replacen(id, &paint(ID, id), 1));
    }

    /// The candidates against each other, in words.
    fn reasons(&self, out: &mut String, look: Look) {
        let Some(first) = self.steps.steps.first() else { return };
        let mut text = String::new();
        let money = |c: f64| amount(c, self.shop);
        let repair = self.steps.steps.iter().find(|s| matches!(s.step, Step::Repair(_)));
        if let (Step::Test(_), Some(repair)) = (first.step, repair) {
            let _ = write!(
                text,
                "Repairing now ({}) costs {} more on average than this test first, which takes {}. ",
                self.posed.problem.id(repair.step),
                money((repair.expected - first.expected).max(0.0)),
                minutes(first.spend.minutes)
            );
        }
        let test = self.steps.steps.iter().find(|s| matches!(s.step, Step::Test(_)));
        if let (Step::Repair(_), Some(test)) = (first.step, test) {
            let _ = write!(
                text,
                "A test first ({}) would cost {} more on average: what it can tell is not worth its time here. ",
                self.posed.problem.id(test.step),
                money((test.expected - first.expected).max(0.0))
            );
        }
        let hand_on = self.steps.steps.iter().find(|s| s.step == Step::HandOn);
        if let (Step::Test(_) | Step::Repair(_) | Step::Verify, Some(hand_on)) = (first.step, hand_on) {
            let flat = hand_on.spend.cost(self.shop.aim);
            let _ = write!(
                text,
                "Handing on now costs {} and the repair, which others then have to make: {} on average. ",
                money(flat),
                money(hand_on.expected)
            );
        }
        if let (Step::HandOn, Some(other)) = (first.step, self.steps.steps.get(1)) {
            let _ = write!(
                text,
                "Handing on costs {}, the repair included that others then have to make. Going on here, at best with {}, \
                 would cost {} more on average. ",
                money(first.expected),
                self.posed.problem.id(other.step),
                money((other.expected - first.expected).max(0.0))
            );
        }
        let sure =
            if self.steps.exact { " The first step was found by searching everything that can happen." } else { "" };
        let _ = write!(
            text,
            "Repairs without any test would cost {}; no plan at all can cost less than {}.{sure}",
            money(self.steps.repairs_only),
            money(self.steps.bound)
        );
        if let Some(limit) = self.limit {
            let _ = write!(text, " {}", limit.text(first.spend.money, self.shop));
        }
        out.push('\n');
        paragraph(out, "", &text, look.width);
        let beyond = self.posed.beyond_repair();
        if beyond >= 0.005 {
            let text = format!(
                "With {} the cause is one that is not listed here; then only handing on ends the job.",
                percent(beyond)
            );
            paragraph(out, "", &text, look.width);
        }
        let tools = self.saved.iter().filter(|s| s.saves >= 0.5).map(|s| {
            let tool = self.base.tool(&s.tool).map_or(s.tool.as_str(), |t| t.name.as_str());
            format!("{tool} [{}], {}", s.tool, money(s.saves))
        });
        let tools: Vec<String> = tools.collect();
        if !tools.is_empty() {
            let text = format!("Not at hand, with what each alone would save on this job: {}.", tools.join("; "));
            paragraph(out, "", &text, look.width);
        }
        let unasked: Vec<String> = self
            .posed
            .unasked
            .iter()
            .map(|o| match self.base.equipment_option(o) {
                Some((_, option)) => format!("{o} ({})", option.name),
                None => o.clone(),
            })
            .collect();
        if !unasked.is_empty() {
            let text = format!(
                "If the car has one of these, say so with --vehicle, and more tests count: {}.",
                unasked.join(", ")
            );
            paragraph(out, "", &text, look.width);
        }
        if self.posed.left_out > 0 || self.posed.looked_at < 0.8 {
            let text = format!(
                "This is a rough answer: the step was chosen over {} of what may be the case.",
                percent(self.posed.looked_at)
            );
            paragraph(out, "", &text, look.width);
        }
    }

    fn how(&self, out: &mut String, look: Look) {
        let Some(first) = self.steps.steps.first() else { return };
        let id = self.posed.problem.id(first.step);
        match first.step {
            Step::Test(_) => {
                if let Some(test) = self.base.test(id) {
                    out.push_str(&guide::test(test, 1, &mut BTreeSet::new(), self.base, self.vehicle, look));
                    for reading in &test.readings {
                        out.push_str(&guide::reading(reading, look));
                    }
                    out.push_str(&guide::afterwards(test, self.base, self.vehicle, look));
                }
            }
            Step::Repair(_) | Step::Mend(_) => {
                if let Some((_, repair)) = self.base.repair(id) {
                    out.push_str(&guide::repair(
                        repair,
                        1,
                        first.chance,
                        &mut BTreeSet::new(),
                        self.base,
                        self.vehicle,
                        look,
                    ));
                }
            }
            Step::Verify | Step::HandOn => {}
        }
    }

    /// Closing the job, or what shows that the repair holds.
    fn repaired_json(&self, after: &Repaired<'_>) -> Vec<Value> {
        let step = |kind: &str, id: &str, spend: planning::Spend| {
            let cost = spend.cost(self.shop.aim);
            json!({
                "kind": kind, "id": id, "cost": cost, "expected_total": cost, "money": spend.money,
                "minutes": spend.minutes, "chance": after.fixed, "bits": 0.0,
            })
        };
        if after.close || after.tests.is_empty() {
            return vec![step("close", "close", planning::Spend::default())];
        }
        let tests = after.tests.iter().filter_map(|t| self.base.test(t));
        tests.map(|t| step("test", &t.id, self.shop.test(t))).collect()
    }

    /// `faultodds.next/2`.
    #[must_use]
    pub fn json(&self) -> Value {
        let aim = self.shop.aim;
        let open = !self.posed.complaint.is_empty() && self.after.is_none_or(|a| !a.close);
        let after = self.after.iter().flat_map(|a| self.repaired_json(a));
        let steps: Vec<Value> = after
            .chain(
                if open { &self.steps.steps[..] } else { &[][..] }
                    .iter()
                    .filter(|s| self.after.is_none() || s.step != Step::Verify)
                    .map(|s| {
                        json!({
                            "kind": kind(s.step), "id": self.posed.problem.id(s.step), "cost": s.spend.cost(aim),
                            "expected_total": s.expected, "money": s.spend.money, "minutes": s.spend.minutes,
                            "chance": s.chance, "bits": s.bits,
                        })
                    }),
            )
            .collect();
        let saved: Vec<Value> = self.saved.iter().map(|s| json!({"tool": s.tool, "saves": s.saves})).collect();
        json!({
            "schema": "faultodds.next/2", "steps": steps, "bound": self.steps.bound, "exact": self.steps.exact,
            "repairs_only": self.steps.repairs_only, "beyond_repair": self.posed.beyond_repair(),
            "looked_at": self.posed.looked_at, "missing_tools": saved, "unit": unit(self.shop),
            "limit": self.limit.map(|l| l.json()),
        })
    }
}

/// What the costs are counted in.
#[must_use]
pub fn unit(shop: &Shop) -> &str {
    match shop.aim {
        Aim::Money => &shop.currency,
        Aim::Minutes => "minutes",
    }
}

//! The screen of `plan`: the tree with the likeliest way going straight down and the other outcomes turned in.

use super::Look;
use super::next::{amount, kind, name, unit};
use super::paint::{HEADING, QUIET, paint};
use super::text::{minutes, paragraph, percent};
use knowledge::base::Base;
use planning::{Branch, Node, Plan, Posed, Shop, Shows, Step};
use serde_json::{Value, json};
use std::fmt::Write as _;

/// How much of the plan is shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cut {
    /// Steps in a row.
    pub depth: usize,
    /// Probability below which a branch is left out.
    pub least: f64,
}

/// What the screen shows.
#[derive(Debug)]
pub struct PlanScreen<'a> {
    /// The base.
    pub base: &'a Base,
    /// The shop.
    pub shop: &'a Shop,
    /// The problem.
    pub posed: &'a Posed,
    /// The plan.
    pub plan: &'a Plan,
    /// No plan costs less.
    pub bound: f64,
    /// Codes, for the heading.
    pub codes: &'a [String],
    /// How much is shown.
    pub cut: Cut,
}

/// A node ready to be drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawn {
    /// What is done, or how the job ends.
    pub title: String,
    /// The id of what is done, to look it up by; empty at the end.
    pub id: String,
    /// Its cost and how likely one comes here.
    pub facts: String,
    /// What sort of node it is.
    pub sort: Sort,
    /// What can come out, with what follows.
    pub branches: Vec<Outcome>,
}

/// What a node of a drawing is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sort {
    /// A test or a re-test.
    Test,
    /// A repair.
    Repair,
    /// The complaint is gone.
    Done,
    /// The job is handed on.
    HandOn,
}

impl Sort {
    /// Whether the job ends here.
    #[must_use]
    pub fn ends(self) -> bool {
        matches!(self, Self::Done | Self::HandOn)
    }
}

/// One outcome of a drawn node.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// What was shown.
    pub shows: String,
    /// Probability of coming here from the start.
    pub mass: f64,
    /// What then.
    pub then: Drawn,
}

/// A plan ready to be drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Poster {
    /// Its heading.
    pub title: String,
    /// What a reader must know, one paragraph each.
    pub notes: Vec<String>,
    /// The first step.
    pub root: Drawn,
}

/// What makes a plan's figures rough, if anything does.
#[must_use]
pub fn roughness(posed: &Posed, cut_short: bool) -> Option<String> {
    let mut words = Vec::new();
    if posed.missing >= LEAST_MISSING {
        words.push(format!(
            "{} of what may be the case is too rare to be listed one by one; likelier cases stand in for it",
            percent(posed.missing)
        ));
    }
    if cut_short {
        words.push(
            "the plan is large, so after its rarer results it reckons with repairs alone, without further tests"
                .to_owned(),
        );
    }
    if posed.left_out > 0 {
        words.push(format!("{} suspects, tests or repairs had to be left out", posed.left_out));
    }
    (!words.is_empty()).then(|| format!("Rough figures: {}.", words.join("; ")))
}

/// What every plan ends with.
const LAST_NOTE: &str = "Cautions and steps of a test: faultodds kb show TEST. Read the cautions before you begin; the \
    vehicle maker's procedure comes first.";

/// From this share on it is told that worlds are missing.
const LEAST_MISSING: f64 = 0.01;

impl PlanScreen<'_> {
    /// The whole screen.
    #[must_use]
    pub fn text(&self, look: Look) -> String {
        let mut out = String::new();
        let Some(root) = &self.plan.root else {
            let text =
                "No code and no symptom is there that a repair would have to clear, so there is nothing to plan.";
            paragraph(&mut out, "", text, look.width);
            return out;
        };
        let what = if self.codes.is_empty() { String::new() } else { format!(" for {}", self.codes.join(" ")) };
        let _ = writeln!(out, "{}", paint(HEADING, format!("Plan{what}")));
        paragraph(&mut out, "", &self.heading(), look.width);
        if let Some(text) = roughness(self.posed, self.plan.cut_short) {
            paragraph(&mut out, "", &text, look.width);
        }
        out.push('\n');
        self.node(&mut out, root, "", 0, 0.0, look);
        out.push('\n');
        paragraph(&mut out, "", LAST_NOTE, look.width);
        out
    }

    fn node(&self, out: &mut String, node: &Node, indent: &str, depth: usize, spent: f64, look: Look) {
        let spent = spent + node.spend.cost(self.shop.aim);
        let facts = format!(
            "{}, {} so far, {} of cars",
            amount(node.spend.cost(self.shop.aim), self.shop),
            amount(spent, self.shop),
            percent(node.mass)
        );
        let words = format!("{} [{}]", name(self.base, self.posed, node.step), self.posed.problem.id(node.step));
        paragraph(out, &format!("{indent}* "), &words, look.width);
        let _ = writeln!(out, "{}", paint(QUIET, format!("{indent}    {facts}")));
        let shown: Vec<&Branch> = node.branches.iter().filter(|b| b.mass >= self.cut.least).collect();
        if depth + 1 >= self.cut.depth {
            if !node.branches.is_empty() {
                let _ = writeln!(out, "{indent}  ...");
            }
            return;
        }
        // The likeliest way on goes straight down, so that a long plan does not run off the page.
        let main = shown
            .iter()
            .enumerate()
            .filter(|(_, b)| b.then.is_some())
            .max_by(|a, b| a.1.mass.total_cmp(&b.1.mass).then(b.0.cmp(&a.0)));
        let main = main.map(|(i, _)| i);
        for (i, b) in shown.iter().enumerate() {
            if Some(i) != main {
                self.outcome(out, node.step, b, &format!("{indent}  "), look);
                if let Some(then) = &b.then {
                    self.node(out, then, &format!("{indent}    "), depth + 1, spent, look);
                }
            }
        }
        if let Some(b) = main.map(|i| shown[i])
            && let Some(then) = &b.then
        {
            self.outcome(out, node.step, b, indent, look);
            self.node(out, then, indent, depth + 1, spent, look);
        }
    }

    fn outcome(&self, out: &mut String, step: Step, b: &Branch, indent: &str, look: Look) {
        let done = if b.then.is_none() { ": done" } else { "" };
        let text = format!("{}{done} ({})", self.shows(step, &b.shows), percent(b.mass));
        paragraph(out, &format!("{indent}> "), &text, look.width);
    }

    /// An outcome in words: the readings that are not normal, or that all are.
    #[must_use]
    pub fn shows(&self, step: Step, shows: &Shows) -> String {
        match shows {
            Shows::Gone => "complaint gone".to_owned(),
            Shows::StillThere => "still there".to_owned(),
            Shows::Unseen => "no re-test yet".to_owned(),
            Shows::Else => "any other result".to_owned(),
            Shows::Levels(levels) => {
                let Step::Test(t) = step else { return String::new() };
                let readings = &self.posed.problem.tests[t].readings;
                let abnormal = readings.iter().zip(levels).filter(|(_, l)| **l > 0).map(|(&r, &l)| {
                    let id = &self.posed.problem.readings[r].id;
                    let Some((_, reading)) = self.base.reading(id) else { return id.clone() };
                    let level = reading.levels.get(usize::from(l)).map_or("", String::as_str);
                    format!("{}: {level}", reading.name)
                });
                let abnormal: Vec<String> = abnormal.collect();
                if abnormal.is_empty() { "all normal".to_owned() } else { abnormal.join("; ") }
            }
        }
    }

    /// The plan ready to be drawn.
    #[must_use]
    pub fn drawn(&self) -> Poster {
        let what = if self.codes.is_empty() { String::new() } else { format!(" for {}", self.codes.join(" ")) };
        let root = match &self.plan.root {
            Some(root) => self.draw(root, 0),
            None => Drawn {
                title: "Nothing to do".into(),
                id: String::new(),
                facts: String::new(),
                sort: Sort::Done,
                branches: Vec::new(),
            },
        };
        let mut notes = vec![self.heading()];
        notes.extend(roughness(self.posed, self.plan.cut_short));
        notes.push(LAST_NOTE.to_owned());
        Poster { title: format!("Plan{what}"), notes, root }
    }

    fn draw(&self, node: &Node, depth: usize) -> Drawn {
        let cost = amount(node.spend.cost(self.shop.aim), self.shop);
        let mut branches = Vec::new();
        for b in node.branches.iter().filter(|b| b.mass >= self.cut.least && depth + 1 < self.cut.depth) {
            let then = b.then.as_ref().map_or_else(
                || Drawn {
                    title: "Done".into(),
                    id: String::new(),
                    facts: format!("{} of cars", percent(b.mass)),
                    sort: Sort::Done,
                    branches: Vec::new(),
                },
                |n| self.draw(n, depth + 1),
            );
            branches.push(Outcome { shows: self.shows(node.step, &b.shows), mass: b.mass, then });
        }
        let sort = match node.step {
            Step::Test(_) | Step::Verify => Sort::Test,
            Step::Repair(_) | Step::Mend(_) => Sort::Repair,
            Step::HandOn => Sort::HandOn,
        };
        let id = self.posed.problem.id(node.step);
        Drawn {
            title: name(self.base, self.posed, node.step),
            id: if sort.ends() { String::new() } else { id.to_owned() },
            // How many cars come here stands at the outcome that leads here.
            facts: cost,
            sort,
            branches,
        }
    }

    /// What the plan costs.
    #[must_use]
    pub fn expectation(&self) -> String {
        let expected = self.plan.expected();
        format!(
            "Expected {} and {} to the end of the job; no plan can cost less than {}.",
            amount(expected.cost(self.shop.aim), self.shop),
            minutes(expected.minutes),
            amount(self.bound, self.shop)
        )
    }

    /// What the plan costs, and what its figures are.
    fn heading(&self) -> String {
        format!(
            "{} The percentage is the share of such cars that come to a line; what is left out happens to fewer than {}.",
            self.expectation(),
            percent(self.cut.least)
        )
    }

    /// `faultodds.plan/1`.
    #[must_use]
    pub fn json(&self) -> Value {
        let expected = self.plan.expected();
        json!({
            "schema": "faultodds.plan/1", "unit": unit(self.shop), "bound": self.bound,
            "expected": {"money": expected.money, "minutes": expected.minutes}, "missing": self.posed.missing, "cut_short": self.plan.cut_short,
            "plan": self.plan.root.as_ref().map(|n| self.node_json(n, 0)),
        })
    }

    fn node_json(&self, node: &Node, depth: usize) -> Value {
        let cut = |b: &&Branch| b.mass >= self.cut.least && depth + 1 < self.cut.depth;
        let outcomes: Vec<Value> = node
            .branches
            .iter()
            .filter(cut)
            .map(|b| {
                let levels = match (&b.shows, node.step) {
                    (Shows::Levels(levels), Step::Test(t)) => {
                        let readings = self.posed.problem.tests[t].readings.iter();
                        let ids = readings.map(|&r| self.posed.problem.readings[r].id.clone());
                        Some(ids.zip(levels.iter().map(|l| json!(l))).collect::<serde_json::Map<String, Value>>())
                    }
                    _ => None,
                };
                json!({
                    "shows": self.shows(node.step, &b.shows), "levels": levels, "probability": b.mass,
                    "then": b.then.as_ref().map(|n| self.node_json(n, depth + 1)),
                })
            })
            .collect();
        json!({
            "kind": kind(node.step), "id": self.posed.problem.id(node.step), "money": node.spend.money,
            "minutes": node.spend.minutes, "probability": node.mass,
            "ahead": {"money": node.ahead.money, "minutes": node.ahead.minutes}, "outcomes": outcomes,
        })
    }
}

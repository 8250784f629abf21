//! The screen of `quote`.

use super::Look;
use super::limit::Limit;
use super::next::unit;
use super::paint::{HEADING, QUIET, paint};
use super::plan::roughness;
use super::text::{columns, cut_words, harmless, left, minutes, paragraph, percent, right};
use knowledge::base::Base;
use planning::{Aim, Posed, Quote, Shop};
use serde_json::{Value, json};
use std::fmt::Write as _;

/// What the simulation said.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Checked {
    /// Cars worked.
    pub cars: usize,
    /// Cars asked for.
    pub asked: usize,
    /// Their mean cost.
    pub mean: f64,
    /// Its standard error.
    pub error: f64,
    /// What the plan expects.
    pub expected: f64,
}

impl Checked {
    /// How many standard errors the simulation lies above the plan.
    #[must_use]
    pub fn errors(&self) -> f64 {
        let apart = self.mean - self.expected;
        // Where every car costs the same there is no error to measure by, only rounding.
        if apart.abs() <= 1e-9 * self.expected.abs() { 0.0 } else { apart / self.error.max(f64::MIN_POSITIVE) }
    }

    /// Whether plan and simulation agree: chance alone puts them further apart than this once in 370 times.
    #[must_use]
    pub fn agrees(&self) -> bool {
        self.errors().abs() <= 3.0
    }
}

/// What the screen shows.
#[derive(Debug)]
pub struct QuoteScreen<'a> {
    /// The base.
    pub base: &'a Base,
    /// The shop.
    pub shop: &'a Shop,
    /// The problem.
    pub posed: &'a Posed,
    /// The answer.
    pub quote: &'a Quote,
    /// Codes, for the heading.
    pub codes: &'a [String],
    /// Minutes asked for.
    pub within: &'a [f64],
    /// What the customer will pay at most.
    pub limit: Option<Limit>,
    /// Whether the plan was cut short.
    pub cut_short: bool,
    /// The check, if asked for.
    pub checked: Option<Checked>,
}

/// Sets of repairs shown.
const REPAIRS: usize = 6;
/// Columns of a repair's words at least.
const MIN_WORDS: usize = 24;

impl QuoteScreen<'_> {
    /// The whole screen.
    #[must_use]
    pub fn text(&self, look: Look) -> String {
        let mut out = String::new();
        if self.posed.complaint.is_empty() {
            paragraph(
                &mut out,
                "",
                "No code and no symptom is there that a repair would have to clear: nothing to quote.",
                look.width,
            );
            return out;
        }
        let what = if self.codes.is_empty() { String::new() } else { format!(" for {}", self.codes.join(" ")) };
        let _ = writeln!(out, "{}", paint(HEADING, format!("Quote{what}: from here to the end of the job")));
        let currency = harmless(&self.shop.currency);
        let (m, t) = (self.quote.money, self.quote.minutes);
        for (words, money, time) in [
            ("on average", m.mean, t.mean),
            ("half of such jobs at most", m.median, t.median),
            ("nine in ten at most", m.p90, t.p90),
        ] {
            let _ = writeln!(
                out,
                "  {} {}  {}",
                left(words, 26),
                right(&format!("{money:.0} {currency}"), 10),
                right(&minutes(time), 8)
            );
        }
        for &within in self.within {
            let _ = writeln!(
                out,
                "  {} {}",
                left(&format!("done within {}", minutes(within)), 26),
                right(&percent(self.quote.within(within)), 10)
            );
        }
        let hand_on = (1.0 - self.quote.fixed).max(0.0);
        if let Some(limit) = self.limit {
            let words = format!("repaired for at most {:.0}", limit.left());
            let _ = writeln!(out, "  {} {}", left(&words, 26), right(&percent(limit.cured), 10));
        }
        let _ = writeln!(out, "  {} {}", left("repaired here", 26), right(&percent(self.quote.fixed), 10));
        let lead = format!("  {} {}  ", left("handed on", 26), right(&percent(hand_on), 10));
        let text = format!("at {:.0} {currency} and the repair by others, counted in", self.shop.hand_on_cost);
        paragraph(&mut out, &lead, &text, look.width);
        self.ends(&mut out, hand_on, look);
        out.push('\n');
        let mut note = format!("Re-tests after repairs are counted at {} each.", minutes(self.shop.retest_minutes));
        if self.shop.aim == Aim::Minutes {
            note.push_str(" The plan keeps minutes small, not money.");
        }
        if let Some(text) = roughness(self.posed, self.cut_short) {
            note = format!("{note} {text}");
        }
        if let Some(limit) = self.limit {
            note = format!("{} {note}", limit.text(0.0, self.shop));
        }
        let mut lines = String::new();
        paragraph(&mut lines, "", &note, look.width);
        if let Some(c) = self.checked {
            let few = if c.cars < c.asked {
                format!(" (of {} asked for: cars like this are rare)", c.asked)
            } else {
                String::new()
            };
            let verdict = match c.errors().abs() {
                z if z <= 1.0 => "they agree within the standard error".to_owned(),
                z if c.agrees() => format!("they agree, {z:.1} standard errors apart, as chance may have it"),
                z => format!("THEY DO NOT AGREE: {z:.1} standard errors apart"),
            };
            let text = format!(
                "Checked on {} simulated cars{few}: {} on average, standard error {:.2}; the plan says {}: {verdict}.",
                c.cars,
                fine(c.mean, self.shop),
                c.error,
                fine(c.expected, self.shop)
            );
            paragraph(&mut lines, "", &text, look.width);
        }
        for line in lines.lines() {
            let _ = writeln!(out, "{}", paint(QUIET, line));
        }
        out
    }

    /// How such jobs end, the likely ends in words, the others together; the shares add up.
    fn ends(&self, out: &mut String, hand_on: f64, look: Look) {
        let currency = harmless(&self.shop.currency);
        let _ = writeln!(out, "\n{}", paint(HEADING, "How such jobs end, with parts, labour and re-tests"));
        let mut line = |share: f64, price: &str, words: &str| {
            paragraph(out, &format!("  {}  {}  ", right(&percent(share), 6), right(price, 9)), words, look.width);
        };
        let shown = &self.quote.repairs[..self.quote.repairs.len().min(REPAIRS)];
        for (made, p) in shown {
            let steps = || made.iter().map(|&r| &self.posed.problem.repairs[r]);
            let price: f64 = steps().map(|r| r.spend.money).sum();
            let room = (look.width.saturating_sub(21) / made.len().max(1)).max(MIN_WORDS);
            let named = |id: &str| {
                let does = self.base.repair(id).map_or("", |(_, r)| r.does.as_str());
                format!("{} [{id}]", cut_words(does, room.saturating_sub(columns(id) + 3).max(MIN_WORDS)))
            };
            let words: Vec<String> = steps().map(|r| named(&r.id)).collect();
            let words = if words.is_empty() { "no repair: the re-test passes".to_owned() } else { words.join("; ") };
            line(*p, &format!("{price:.0} {currency}"), &words);
        }
        let rest = self.quote.fixed - shown.iter().map(|s| s.1).sum::<f64>();
        let more = self.quote.repairs.len() - shown.len();
        if more > 0 && rest > 0.0 {
            line(rest, "", &format!("{more} other repairs or sets of them, each rarer"));
        }
        if hand_on > 0.0 {
            line(hand_on, "", "handed on");
        }
    }

    /// `faultodds.quote/1`.
    #[must_use]
    pub fn json(&self) -> Value {
        let spread = |s: planning::Spread| json!({"mean": s.mean, "median": s.median, "p90": s.p90});
        let within: Vec<Value> =
            self.within.iter().map(|m| json!({"minutes": m, "probability": self.quote.within(*m)})).collect();
        let repairs: Vec<Value> = self
            .quote
            .repairs
            .iter()
            .map(|(made, p)| {
                let ids: Vec<&str> = made.iter().map(|&r| self.posed.problem.repairs[r].id.as_str()).collect();
                let money: f64 = made.iter().map(|&r| self.posed.problem.repairs[r].spend.money).sum();
                json!({"repairs": ids, "probability": p, "money": money})
            })
            .collect();
        let checked = self.checked.map(|c| json!({"cars": c.cars, "mean": c.mean, "standard_error": c.error, "expected": c.expected, "agrees": c.agrees()}));
        json!({
            "schema": "faultodds.quote/1", "unit": unit(self.shop), "money": spread(self.quote.money),
            "minutes": spread(self.quote.minutes), "repaired": self.quote.fixed, "within": within, "repairs": repairs,
            "checked": checked, "missing": self.posed.missing, "limit": self.limit.map(|l| l.json()),
        })
    }
}

/// An amount with one decimal, to be compared.
fn fine(cost: f64, shop: &Shop) -> String {
    match shop.aim {
        Aim::Money => format!("{cost:.1} {}", harmless(&shop.currency)),
        Aim::Minutes => format!("{cost:.1} min"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_check_can_fail() {
        let checked = |mean, error| Checked { cars: 9, asked: 9, mean, error, expected: 100.0 };
        assert!(checked(101.0, 0.5).agrees() && checked(100.0, 0.0).agrees());
        assert!(!checked(101.6, 0.5).agrees() && !checked(98.0, 0.5).agrees() && !checked(101.0, 0.0).agrees());
    }
}
// x

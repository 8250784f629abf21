//! The first screen of `next`: the leading suspects, the best ways on with what the whole job then costs, what is most
//! dangerous, and last what to do now. It fits 24 rows of 80 columns; everything else is on `--long`.

use super::super::Look;
use super::super::first;
use super::super::paint::{BAR, HEADING, paint};
use super::super::text::{bar, columns, cut_words, left, paragraph, percent, right};
use super::{NextScreen, amount, name};
use knowledge::procedure;
use planning::{Aim, Scored, Step};
use std::fmt::Write as _;

/// Suspects shown.
const LEADERS: usize = 3;
/// Other steps shown.
const OTHERS: usize = 3;
/// A missing tool that saves this share of the whole job is named at once.
const WORTH_NAMING: f64 = 0.1;
/// Columns of a bar.
const BAR_COLUMNS: usize = 8;

impl NextScreen<'_> {
    /// The screen.
    #[must_use]
    pub fn first(&self, look: Look) -> String {
        let mut out = String::new();
        if let Some(after) = &self.after
            && self.repaired(&mut out, after, look)
        {
            return out;
        }
        let Some(step) = self.steps.steps.first().filter(|_| !self.nothing_to_do()) else { return self.text(look) };
        if !self.codes.is_empty() {
            let _ = writeln!(out, "{}", paint(HEADING, self.codes.join(" ")));
        }
        for (name, p) in self.leaders.iter().take(LEADERS) {
            let drawn = bar(*p, BAR_COLUMNS);
            let lead = format!("{} {} ", right(&percent(*p), 6), left(&drawn, BAR_COLUMNS));
            let words = cut_words(name, look.width.saturating_sub(columns(&lead)));
            let _ = writeln!(out, "{}{words}", lead.replacen(&drawn, &paint(BAR, &drawn), 1));
        }
        out.push('\n');
        self.money(&mut out, step, look);
        for other in self.steps.steps.iter().skip(1).take(OTHERS) {
            let sign = if other.followed { "" } else { "<= " };
            let lead = format!("{}  ", right(&format!("{sign}{}", amount(other.expected, self.shop)), 11));
            let words = cut_words(&name(self.base, self.posed, other.step), look.width.saturating_sub(columns(&lead)));
            let _ = writeln!(out, "{lead}{words}");
        }
        out.push('\n');
        if step.step == Step::HandOn && self.notes(&mut out, look) {
            out.push('\n');
        }
        self.now(&mut out, step, look);
        out
    }

    /// What the whole job costs, at which rate, and whether that is the shop's own.
    fn money(&self, out: &mut String, step: &Scored, look: Look) {
        let whole = amount(step.expected, self.shop);
        let now = amount(step.spend.cost(self.shop.aim), self.shop);
        let rate = match self.shop.aim {
            Aim::Money => {
                let rate = format!("at {:.0} {} an hour", self.shop.labour_rate, self.shop.currency);
                let example =
                    if self.example { ", an example until there is a shop file (faultodds shop)" } else { "" };
                format!(", {rate}{example}")
            }
            Aim::Minutes => String::new(),
        };
        let tools = match self.shop.tools.as_ref().map(|t| t.len()) {
            None => String::new(),
            Some(0) => ", without any tool".to_owned(),
            Some(1) => ", with the 1 tool at hand".to_owned(),
            Some(n) => format!(", with the {n} tools at hand"),
        };
        let limit = self.limit.map_or_else(String::new, |l| format!(" {}", l.text(step.spend.money, self.shop)));
        let most = self.saved.iter().max_by(|a, b| a.saves.total_cmp(&b.saves));
        let tool = most.filter(|s| s.saves >= WORTH_NAMING * step.expected).map_or_else(String::new, |s| {
            let tool = self.base.tool(&s.tool).map_or(s.tool.as_str(), |t| t.name.as_str());
            format!(" Not at hand: {tool} [{}], which would save {}.", s.tool, amount(s.saves, self.shop))
        });
        let others = if self.steps.steps.len() > 1 {
            " Other ways on, more of them and why on --long:"
        } else {
            " Why: --long."
        };
        let text = format!(
            "From here the whole job costs {whole} on average, this step {now}{rate}{tools}.{tool}{limit}{others}"
        );
        paragraph(out, "", &text, look.width);
    }

    /// What the base notes on the codes, where it can do no more: above all which wording it does not know.
    /// Answers whether there was any.
    pub(super) fn notes(&self, out: &mut String, look: Look) -> bool {
        let codes = self.codes.iter().filter_map(|c| self.base.code(c));
        let noted: Vec<(&str, &str)> = codes.filter_map(|c| Some((c.id.as_str(), c.note.as_deref()?))).collect();
        noted.iter().for_each(|(code, note)| paragraph(out, &format!("{code}: "), note, look.width));
        !noted.is_empty()
    }

    fn now(&self, out: &mut String, step: &Scored, look: Look) {
        let id = self.posed.problem.id(step.step);
        let took = step.spend.minutes;
        match (self.base.test(id), self.base.repair(id)) {
            (Some(test), _) if matches!(step.step, Step::Test(_)) => {
                first::danger(out, &procedure::of_test(self.base, test, self.vehicle), look);
                out.push('\n');
                first::test(out, "Do now", test, took, self.base, look);
            }
            (_, Some((_, repair))) => {
                first::danger(out, &procedure::of_repair(self.base, repair, self.vehicle), look);
                out.push('\n');
                first::repair(out, "Do now", repair, took, look);
            }
            _ => first::action(out, "Do now", &name(self.base, self.posed, step.step), look),
        }
    }
}

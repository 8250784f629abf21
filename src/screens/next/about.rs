//! Where one test stands on the way on, or why it does not: for whoever misses it among the steps.

use super::super::text::{paragraph, percent};
use super::{NextScreen, amount};
use knowledge::procedure::{self, Fitted};
use planning::{Effort, State, Step, score};

impl NextScreen<'_> {
    /// One sentence or two on a test of the base; nothing for an id that is none.
    #[must_use]
    pub fn about(&self, id: &str, look: super::Look) -> Option<String> {
        let test = self.base.test(id)?;
        let mut out = String::new();
        paragraph(&mut out, &format!("{id}: "), &self.standing_of(test), look.width);
        Some(out)
    }

    fn standing_of(&self, test: &knowledge::base::Test) -> String {
        let posed = self.posed;
        let is_it = |step: Step| matches!(step, Step::Test(_)) && posed.problem.id(step) == test.id;
        let told = |s: &planning::Scored| {
            format!(
                "costs {}, is abnormal with {} and tells {:.2} bits about what has to be done",
                amount(s.spend.cost(self.shop.aim), self.shop),
                percent(s.chance),
                s.bits
            )
        };
        if let Some(at) = self.steps.steps.iter().position(|s| is_it(s.step)) {
            let s = &self.steps.steps[at];
            return format!("step {} of {}: {}", at + 1, self.steps.steps.len(), told(s));
        }
        if let Some((_, tools)) = posed.lacking.iter().find(|(id, _)| *id == test.id) {
            return format!("would count here, but it needs what is not at hand: {}", tools.join(", "));
        }
        let Some(index) = posed.problem.tests.iter().position(|t| t.id == test.id) else {
            return self.why_not_on_offer(test);
        };
        if posed.problem.done & (1 << index) != 0 {
            let told =
                "it was made since the last repair, or what it looks at is not in question here or was found good";
            return told.to_owned();
        }
        let start = State::start(&posed.problem, &posed.universe);
        match score(&posed.problem, &posed.universe, &start, Step::Test(index), &Effort::quick()) {
            None => "whatever it shows, the next thing to do stays the same".to_owned(),
            Some(s) => {
                let first = self.steps.steps.first().map(told).unwrap_or_default();
                format!("{}; not followed, since others do more for their cost: the first step {first}", told(&s))
            }
        }
    }

    fn why_not_on_offer(&self, test: &knowledge::base::Test) -> String {
        match procedure::fitted(self.base, self.vehicle, &test.requires) {
            Fitted::Not => format!("this car has not what it is for: {}", test.requires.join(", ")),
            Fitted::May if test.requires.iter().any(|r| self.posed.unasked.contains(r)) => {
                format!("it would count on a car that has {}: say so with --vehicle", test.requires.join(", "))
            }
            Fitted::May | Fitted::Has => {
                "nothing that it reveals can be at fault here with more than a trace, so it would tell nothing"
                    .to_owned()
            }
        }
    }
}

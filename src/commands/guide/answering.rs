//! What an answer does: it is told back in capitals, stored, and leads to the next question.

use super::answers::Answer;
use super::ending::{closed, repaired_causes};
use super::question::{Doubt, Question};
use super::steps::next_reading;
use super::talk::{Asked, Goes, Talk};
use crate::Stop;
use crate::advice::Step;
use crate::job::still_stored;
use crate::job_input::results;
use jobs::{Event, Found, Noted, Repaired, Verdict, code_proofs, made_by_the_way};
use screens::guide as screen;

impl Talk<'_> {
    pub(super) fn answer(&mut self, question: Question, answer: Answer) -> Result<Goes, Stop> {
        match (question, answer) {
            (Question::Reading { test, reading, again }, Answer::Outcome { outcome, told, note }) => {
                let words = self.base.reading(&reading).map_or(reading.clone(), |(_, r)| r.name.clone());
                self.tell(&format!("TAKEN AS {told}: {words}"));
                self.outcome(&test, &reading, again, &outcome, note)?;
            }
            (Question::Repair { repair }, Answer::Made(spent)) => {
                let mut facts = vec![format!("TAKEN AS REPAIR MADE: {repair}")];
                facts.extend(spent.minutes.map(|m| format!("{m} min")));
                facts.extend(spent.cost.map(|c| format!("{c:.2} spent")));
                self.tell(&facts.join(", "));
                if self.add(Event::Repaired(Repaired { repair, note: None, with: None, spent }))? {
                    self.settle();
                }
            }
            (Question::Repair { repair }, Answer::No) => {
                self.tell(&format!("TAKEN AS NOT MADE: {repair}"));
                self.skip(Step::Repair(repair), None)?;
            }
            (Question::Close, answer @ (Answer::Yes | Answer::Unsure)) => {
                let (job, standing) = self.stand()?;
                let sure = answer == Answer::Yes && !repaired_causes(&job, &standing, self.base).is_empty();
                let verdict = if sure { Verdict::Confirmed } else { Verdict::Unsure };
                self.tell(&format!("TAKEN AS CLOSED, {}", verdict.word().to_uppercase()));
                if self.add(Event::Closed(closed(verdict, &job, &standing, self.base)))? {
                    let n = job.number;
                    self.say(&format!("the sheet for the customer: faultodds job show --sheet --job {n}\n"));
                    self.say(&format!("not meant? faultodds job undo --job {n}\n"));
                    return Ok(Goes::Over);
                }
            }
            (Question::HandOn, Answer::Yes) => {
                let (job, standing) = self.stand()?;
                self.tell("TAKEN AS HANDED ON");
                if self.add(Event::Closed(closed(Verdict::HandedOn, &job, &standing, self.base)))? {
                    return Ok(Goes::Over);
                }
            }
            (Question::Close, Answer::No) => {
                self.tell("TAKEN AS NOT YET");
                self.declined.insert(Step::Close);
                self.settle();
            }
            (Question::HandOn, _) => {
                self.tell("TAKEN AS NOT HANDED ON");
                self.declined.insert(Step::HandOn);
                return Ok(Goes::Over);
            }
            (Question::Choose { .. }, Answer::Step(step)) => {
                self.stack.pop();
                self.begin(&step)?;
            }
            (Question::Which { outcome, said, .. }, Answer::Suspect(suspect)) => {
                self.stack.pop();
                self.looked(suspect, outcome, said)?;
            }
            (Question::Sure(doubt), answer) => self.sure(doubt, answer == Answer::Yes)?,
            // The parser gives no other pairs.
            (question, _) => self.tell(&format!("answers: {}", question.takes(self.base))),
        }
        Ok(Goes::On)
    }

    fn sure(&mut self, doubt: Doubt, yes: bool) -> Result<(), Stop> {
        self.stack.pop();
        match doubt {
            Doubt::ListNumber { reading, outcome, told } => match (yes, self.question().cloned()) {
                (true, Some(Question::Reading { test, again, .. })) => {
                    self.tell(&format!("TAKEN AS {told}"));
                    self.outcome(&test, &reading, again, &outcome, None)?;
                }
                _ => {
                    let unit = self.base.reading(&reading).and_then(|(_, r)| r.measure.as_ref());
                    let unit = unit.map_or("its unit", |m| m.unit.as_str()).to_owned();
                    self.tell(&format!("NOT TAKEN; then type the number with its unit ({unit})"));
                }
            },
            Doubt::Cleared { codes } if yes => {
                self.tell(&format!("TAKEN AS CAME BACK: {}", codes.join(" ")));
                self.add(Event::Retested(Found { codes, ..Found::default() }))?;
            }
            Doubt::Cleared { codes } => {
                self.tell(&format!("TAKEN AS STILL STORED, NOT CLEARED: {}", codes.join(" ")));
                let text = still_stored(&codes);
                self.add(Event::Noted(Noted { text, about: None, spent: Default::default() }))?;
            }
        }
        Ok(())
    }

    fn outcome(
        &mut self,
        test: &str,
        reading: &str,
        again: bool,
        outcome: &str,
        note: Option<String>,
    ) -> Result<(), Stop> {
        let results = match results(&[format!("{reading}={outcome}")], self.base) {
            Ok(results) => results,
            Err(Stop::Failed(failure)) => {
                self.refuse(&failure);
                return Ok(());
            }
            Err(other) => return Err(other),
        };
        let found = Found { results, ..Found::default() };
        let (job, standing) = self.stand()?;
        // After a repair, what proves it is a re-test; what looks for another fault is a finding.
        let proves = job.visit().spans.len() > 1
            && code_proofs(&job, self.base).iter().any(|c| c.tests.iter().any(|t| t == test));
        if !self.add(if proves { Event::Retested(found) } else { Event::Found(found) })? {
            return Ok(());
        }
        if let Some(text) = note {
            let about = Some(reading.to_owned());
            self.add(Event::Noted(Noted { text, about, spent: Default::default() }))?;
        }
        let (job, _) = self.stand()?;
        let next = self.base.test(test).and_then(|t| next_reading(t, Some(reading), &job, &standing, again));
        match next {
            Some(next) => {
                self.stack.pop();
                let question = Question::Reading { test: test.to_owned(), reading: next, again };
                self.stack.push(Asked { question, begun: true });
            }
            None => {
                if let Some(test) = self.base.test(test) {
                    let text = screen::afterwards(test, self.base, &standing.network.vehicle, self.look);
                    self.say(&text);
                }
                self.settle();
                self.by_the_way()?;
            }
        }
        Ok(())
    }

    /// What a test has repaired by the way is stored as the repair that it is, once all its readings are there.
    fn by_the_way(&mut self) -> Result<(), Stop> {
        let (job, _) = self.stand()?;
        for (reading, repair) in made_by_the_way(&job, self.base) {
            self.tell(&format!("MADE WITH THE TEST: {repair}"));
            self.add(Event::Repaired(Repaired { repair, note: None, with: Some(reading), spent: Default::default() }))?;
        }
        Ok(())
    }
}

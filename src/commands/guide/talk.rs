//! The conversation as a machine of questions: a stack of what was asked and not answered yet, the present one on top.
//! A line goes in, text comes out; every answer is stored before the next question. Knows no terminal.
//!
//! Nothing that was begun is lost, because only an answer, a skip or a choice takes a question off the stack; a
//! command lays another one on top or none at all.

use super::answers::{Answer, Command, Heard, hear, step_called};
use super::circumstances::{Circumstance, Taken, suspects_called, topics};
use super::ending::{closed, repaired_causes};
use super::question::{Doubt, Question};
use super::record::{Advises, Record};
use super::why::why;
use crate::commands::Stop;
use crate::commands::advice::{Step, best_repair};
use crate::commands::job::still_stored;
use crate::commands::job_input::{known_repair, results};
use crate::evidence::{EvidenceError, Kind, codes_said, looks_said};
use crate::jobs::{
    Amended, Arranged, Change, Event, Found, Job, LookOutcome, Looked, Noted, Repaired, Skipped, Standing, Status,
    StoreError, Undone, Verdict, code_proofs, made_by_the_way, proof_tests,
};
use crate::knowledge::Base;
use crate::knowledge::base::Test;
use crate::screens::failure::Failure;
use crate::screens::text::{cut, harmless, paragraph, percent};
use crate::screens::{Look, guide as screen, job as job_screen, proof};
use std::collections::BTreeSet;

/// Whether there is more to hear.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Goes {
    /// The next line is wanted.
    On,
    /// The conversation is over.
    Over,
}

/// A question on the stack.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Asked {
    pub question: Question,
    /// Whether it was chosen or already answered in part, so that it is not dropped for a better proposal.
    pub begun: bool,
}

/// What `back` takes back, and the stack to which it goes back.
struct Past {
    event: u32,
    stack: Vec<Asked>,
}

/// A conversation about one job.
pub struct Talk<'a> {
    pub(super) base: &'a Base,
    record: &'a mut dyn Record,
    adviser: &'a dyn Advises,
    pub(super) look: Look,
    pub(super) stack: Vec<Asked>,
    past: Vec<Past>,
    /// Closing or handing on, answered with no: not proposed again before something is stored.
    declined: BTreeSet<Step>,
    year: i16,
    /// The last advice and what it was given for: the events and the skips.
    pub(super) advice: Vec<Step>,
    pub(super) because: Option<(Step, String)>,
    /// Cautions printed in full already.
    pub(super) cautioned: BTreeSet<String>,
    steps: usize,
    /// What stands on the screen, so that it is not printed again.
    shown: Option<Question>,
    /// Tests and repairs whose instructions stand above.
    instructed: BTreeSet<Step>,
    stand: Option<(Job, Standing)>,
    started: bool,
    out: String,
}

impl std::fmt::Debug for Talk<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Talk").field("stack", &self.stack).finish_non_exhaustive()
    }
}

impl<'a> Talk<'a> {
    /// A conversation that has not begun.
    pub fn new(base: &'a Base, record: &'a mut dyn Record, adviser: &'a dyn Advises, look: Look, year: i16) -> Self {
        Self {
            base,
            record,
            adviser,
            look,
            stack: Vec::new(),
            past: Vec::new(),
            declined: BTreeSet::new(),
            year,
            advice: Vec::new(),
            because: None,
            cautioned: BTreeSet::new(),
            steps: 0,
            shown: None,
            instructed: BTreeSet::new(),
            stand: None,
            started: false,
            out: String::new(),
        }
    }

    /// The text since the last call.
    pub fn told(&mut self) -> String {
        std::mem::take(&mut self.out)
    }

    /// The question that waits for an answer.
    #[must_use]
    pub fn question(&self) -> Option<&Question> {
        self.stack.last().map(|a| &a.question)
    }

    /// Asks: what is to be done as far as it is not on the screen yet, the answers, and the prompt.
    ///
    /// # Errors
    /// The job cannot be read or computed with.
    pub fn ask(&mut self) -> Result<Goes, Stop> {
        let (job, standing) = self.stand()?;
        if job.status != Status::Open {
            self.say(&format!(
                "job {} is closed; take it up again with: faultodds job reopen --job {}\n",
                job.number, job.number
            ));
            return Ok(Goes::Over);
        }
        if !self.started {
            self.started = true;
            if let Some(question) = unfinished(&job, &standing, self.base) {
                self.stack.push(Asked { question, begun: true });
            }
            let topics = topics(&job, &standing, self.base);
            if job.log.len() == 1 && !topics.is_empty() {
                self.stack.push(Asked { question: Question::Start { topics }, begun: true });
            }
        }
        if self.stack.is_empty() {
            self.propose(&job, &standing)?;
        }
        let Some(question) = self.question().cloned() else { return Ok(Goes::Over) };
        if self.shown.as_ref() != Some(&question) {
            self.show(&question, &job, &standing);
            self.shown = Some(question.clone());
        }
        let prompt = question.prompt(self.base);
        self.say(&prompt);
        Ok(Goes::On)
    }

    fn propose(&mut self, job: &Job, standing: &Standing) -> Result<(), Stop> {
        let advice = self.adviser.advise(self.base, job, standing, &self.left_out(job))?;
        self.because = advice.steps.first().cloned().zip(advice.because);
        self.advice = advice.steps;
        let text = screen::state(job, standing, self.base, self.look);
        self.say(&text);
        if let Some(step) = self.advice.first().cloned()
            && let Some(question) = self.question_of(&step, job, standing, false)
        {
            self.stack.push(Asked { question, begun: false });
        }
        Ok(())
    }

    /// Steps that are not to be proposed.
    fn left_out(&self, job: &Job) -> BTreeSet<Step> {
        skipped_steps(job, self.base).into_iter().chain(self.declined.iter().cloned()).collect()
    }

    /// The question that a step begins with; none for a test of which nothing can be read on this car.
    fn question_of(&self, step: &Step, job: &Job, standing: &Standing, again: bool) -> Option<Question> {
        match step {
            Step::Test(id) => {
                let test = self.base.test(id)?;
                let reading = next_reading(test, None, job, standing, again);
                // All have outcomes: whoever asks for the test wants to take them again.
                let (reading, again) = match reading {
                    Some(reading) => (Some(reading), again),
                    None => (next_reading(test, None, job, standing, true), true),
                };
                Some(Question::Reading { test: id.clone(), reading: reading?, again })
            }
            Step::Repair(id) => Some(Question::Repair { repair: id.clone() }),
            Step::Close => Some(Question::Close),
            Step::HandOn => Some(Question::HandOn),
        }
    }

    fn show(&mut self, question: &Question, job: &Job, standing: &Standing) {
        let instructed = question.step().is_none_or(|s| !self.instructed.insert(s));
        let text = match question {
            Question::Reading { test, reading, .. } => {
                let mut text = String::new();
                if !instructed && let Some(test) = self.base.test(test) {
                    self.steps += 1;
                    text = screen::test(
                        test,
                        self.steps,
                        &mut self.cautioned,
                        self.base,
                        &standing.network.vehicle,
                        self.look,
                    );
                }
                if let Some((_, reading)) = self.base.reading(reading) {
                    let choices = super::question::options(reading);
                    let names: Vec<&str> = choices.iter().map(|c| c.name.as_str()).collect();
                    text.push_str(&screen::reading_list(reading, &names, self.look));
                }
                text
            }
            Question::Repair { repair } => match self.base.repair(repair) {
                Some((_, found)) if !instructed => {
                    self.steps += 1;
                    let clears = found.removes.iter().map(|s| standing.now(s)).sum::<f64>().min(1.0);
                    screen::repair(
                        found,
                        self.steps,
                        clears,
                        &mut self.cautioned,
                        self.base,
                        &standing.network.vehicle,
                        self.look,
                    )
                }
                Some((_, found)) => {
                    let mut text = String::from("\n");
                    paragraph(&mut text, "", &format!("repair [{}]: {}.", found.id, found.does), self.look.width);
                    text
                }
                None => String::new(),
            },
            Question::Close => {
                let causes = repaired_causes(job, standing, self.base);
                let names: Vec<String> = causes.iter().map(|c| self.base.suspect_name(c)).collect();
                let cause = if names.is_empty() { "none confirmed".to_owned() } else { names.join("; ") };
                let fixed = standing
                    .fixed
                    .map_or(String::new(), |f| format!(" The car is fixed with probability {}.", percent(f)));
                let mut text = String::from("\n");
                let words = format!("The job can be closed.{fixed} Cause: {cause}.");
                paragraph(&mut text, "", &words, self.look.width);
                text
            }
            Question::HandOn => {
                let mut text = String::from("\n");
                let words = "Nothing is left that is worth doing with these tools. The job can be handed on.";
                paragraph(&mut text, "", words, self.look.width);
                text
            }
            Question::Start { topics } => screen::start(topics, self.look),
            Question::Which { said, list, .. } => screen::which(said, &self.suspects_named(list), self.look),
            Question::Choose { list } => screen::others(&self.named(list), self.look),
            Question::Sure(doubt) => {
                let mut text = String::from("\n");
                paragraph(&mut text, "", &in_doubt(doubt, self.base), self.look.width);
                text
            }
        };
        self.say(&text);
    }

    fn named(&self, list: &[Step]) -> Vec<(String, String)> {
        let name = |step: &Step| match step {
            Step::Test(id) => (id.clone(), self.base.test(id).map_or_else(|| id.clone(), |t| t.name.clone())),
            Step::Repair(id) => {
                let does = self.base.repair(id).map_or_else(|| id.clone(), |(_, r)| r.does.clone());
                (id.clone(), format!("repair: {does}"))
            }
            Step::Close => ("close".to_owned(), "close the job".to_owned()),
            Step::HandOn => ("hand on".to_owned(), "hand the job on".to_owned()),
        };
        list.iter().map(name).collect()
    }

    fn suspects_named(&self, list: &[String]) -> Vec<(String, String)> {
        list.iter().map(|s| (s.clone(), self.base.suspect_name(s))).collect()
    }

    /// Takes a line at the present question.
    ///
    /// # Errors
    /// The job cannot be stored or computed with.
    pub fn take(&mut self, line: &str) -> Result<Goes, Stop> {
        let Some(question) = self.question().cloned() else { return Ok(Goes::Over) };
        match hear(&question, line, self.base) {
            Heard::Nothing if matches!(question, Question::Start { .. }) => {
                self.tell("TAKEN AS LEFT OPEN; it can be said at any prompt");
                self.settle();
            }
            Heard::Nothing => {
                let takes = question.takes(self.base);
                self.tell(&format!("nothing was typed. Answers: {takes}"));
            }
            Heard::Refused(failure) => self.refuse(&failure),
            Heard::Doubt(doubt) => self.stack.push(Asked { question: Question::Sure(doubt), begun: true }),
            Heard::Answer(answer) => return self.answer(question, answer),
            Heard::Command(command) => return self.command(&question, command),
        }
        Ok(Goes::On)
    }

    fn answer(&mut self, question: Question, answer: Answer) -> Result<Goes, Stop> {
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
            (Question::HandOn, _) => return Ok(Goes::Over),
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

    /// The question on top is answered: it goes, and with it proposals beneath that nobody has begun.
    fn settle(&mut self) {
        if let Some(asked) = self.stack.pop()
            && let Some(step) = asked.question.step()
        {
            self.instructed.remove(&step);
        }
        self.stack.retain(|a| a.begun);
        self.shown = None;
    }

    /// Stores that a step was not done, and why.
    fn skip(&mut self, step: Step, why: Option<String>) -> Result<(), Stop> {
        match step {
            Step::Test(step) | Step::Repair(step) => {
                if self.add(Event::Skipped(Skipped { step, why }))? {
                    self.settle();
                }
            }
            step => {
                self.declined.insert(step);
                self.settle();
            }
        }
        Ok(())
    }

    /// Lays the question of a step that the user wants on top.
    fn begin(&mut self, step: &Step) -> Result<(), Stop> {
        let (job, standing) = self.stand()?;
        self.stack.retain(|a| a.begun);
        match self.question_of(step, &job, &standing, false) {
            Some(question) => {
                // Asked for twice it is still one question.
                self.stack.retain(|a| a.question.step().as_ref() != Some(step));
                self.instructed.remove(step);
                self.stack.push(Asked { question, begun: true });
            }
            None => self.tell("this test can tell nothing on such a car, so it is not begun"),
        }
        Ok(())
    }

    fn command(&mut self, question: &Question, command: Command) -> Result<Goes, Stop> {
        match command {
            Command::Help => self.say(screen::HELP),
            Command::Stop => return Ok(Goes::Over),
            Command::Skip(why) => self.skip_said(question, why)?,
            Command::Back if question.aside() => {
                self.stack.pop();
                self.tell("back at the question before");
                self.shown = None;
            }
            Command::Back => self.back()?,
            Command::Why => self.why(question)?,
            Command::How => {
                if let Some(step) = question.step() {
                    self.instructed.remove(&step);
                }
                self.shown = None;
            }
            Command::Cautions => {
                let step = question.step();
                let step = match &step {
                    Some(Step::Test(id)) => Some(screen::Step::Test(id)),
                    Some(Step::Repair(id)) => Some(screen::Step::Repair(id)),
                    _ => None,
                };
                let (_, standing) = self.stand()?;
                let text = screen::cautions_of(step, self.base, &standing.network.vehicle, self.look);
                self.say(&text);
            }
            Command::Other => {
                let list = self.others()?;
                self.stack.push(Asked { question: Question::Choose { list }, begun: true });
            }
            Command::Proof => {
                let (job, standing) = self.stand()?;
                let tests = proof_tests(&standing, &job, self.base)?;
                let text = proof::proof(&code_proofs(&job, self.base), &tests, self.base, self.look);
                self.say(&text);
            }
            Command::Where => {
                let (job, standing) = self.stand()?;
                let text = screen::state(&job, &standing, self.base, self.look);
                self.say(&text);
            }
            Command::Note(text) => {
                let about = match question {
                    Question::Reading { reading, .. } => Some(reading.clone()),
                    _ => None,
                };
                let on = about.as_ref().map_or(String::new(), |r| format!(" on {r}"));
                self.tell(&format!("TAKEN AS NOTE{on}: {text}"));
                self.add(Event::Noted(Noted { text, about, spent: Default::default() }))?;
            }
            Command::Said(said) => self.said(question, said)?,
            Command::Look(outcome, words) => self.look_for(outcome, &words)?,
            Command::Code(words) => self.code(&words)?,
            Command::Test(id) => match step_called(&id, self.base) {
                Some(step @ Step::Test(_)) => self.begin(&step)?,
                _ => {
                    let known = self.base.tests.iter().map(|t| t.id.as_str());
                    self.refuse(&EvidenceError::unknown(Kind::Test, &id, known).into());
                }
            },
            Command::Repair(id) => match known_repair(&id, self.base) {
                Ok(()) => self.begin(&Step::Repair(id))?,
                Err(Stop::Failed(failure)) => self.refuse(&failure),
                Err(other) => return Err(other),
            },
            Command::Close => self.begin(&Step::Close)?,
        }
        Ok(Goes::On)
    }

    fn skip_said(&mut self, question: &Question, why: Option<String>) -> Result<(), Stop> {
        let Some(step) = question.step() else {
            self.stack.pop();
            self.shown = None;
            self.tell("left out; back at the question before");
            return Ok(());
        };
        let (id, name) = self.named(std::slice::from_ref(&step)).remove(0);
        self.tell(&format!("TAKEN AS SKIPPED: {name} [{id}]"));
        self.skip(step, why)
    }

    /// Takes over what was said of the car, the tools or the limit.
    fn said(&mut self, question: &Question, said: Vec<Circumstance>) -> Result<(), Stop> {
        let (job, _) = self.stand()?;
        let taken = match Taken::of(&said, &job.car, self.base, self.year) {
            Ok(taken) => taken,
            Err(Stop::Failed(failure)) => {
                self.refuse(&failure);
                return Ok(());
            }
            Err(other) => return Err(other),
        };
        self.tell(&format!("TAKEN AS {}", taken.told.to_uppercase()));
        if let Some(car) = taken.car {
            self.add(Event::Amended(Amended { car: Some(car), ..Amended::default() }))?;
        }
        if taken.arranged != Arranged::default() {
            self.add(Event::Arranged(taken.arranged.clone()))?;
        }
        if matches!(question, Question::Start { .. }) {
            self.settle();
            return Ok(());
        }
        // What can no longer be done is not asked on; what nobody has begun is thought over.
        let lacks = |a: &Asked| match &a.question {
            Question::Reading { test, .. } => {
                self.base.test(test).is_some_and(|t| t.tools.iter().any(|tool| taken.arranged.without.contains(tool)))
            }
            _ => false,
        };
        if self.stack.last().is_some_and(lacks) {
            self.tell("this step needs it, so it is left");
            self.settle();
        } else if self.stack.last().is_some_and(|a| !a.begun) {
            self.settle();
        }
        Ok(())
    }

    /// Finds the suspect that was seen; what fits several is asked.
    fn look_for(&mut self, outcome: LookOutcome, words: &str) -> Result<(), Stop> {
        let id = words.trim().to_lowercase();
        if self.base.suspect(&id).is_some() {
            return self.looked(id, outcome, words.to_owned());
        }
        let (_, standing) = self.stand()?;
        let list = suspects_called(words, &standing, self.base)?;
        if list.is_empty() {
            let failure = Failure::new(format!("no suspect answers \"{}\"", cut(&harmless(words), 60)));
            self.refuse(
                &failure.hint("say part and fault, such as: found purge line cracked").hint("or keep it: note WORDS"),
            );
            return Ok(());
        }
        let said = words.to_owned();
        self.stack.push(Asked { question: Question::Which { said, outcome, list }, begun: true });
        Ok(())
    }

    fn looked(&mut self, suspect: String, outcome: LookOutcome, said: String) -> Result<(), Stop> {
        let (found, sound) = match outcome {
            LookOutcome::Sound => (Vec::new(), vec![suspect.clone()]),
            LookOutcome::Found | LookOutcome::Probably => (vec![suspect.clone()], Vec::new()),
        };
        // What lies inside cannot be seen, and saying so is no evidence.
        if let Err(error) = looks_said(&found, &sound, self.base) {
            self.refuse(&error.into());
            return Ok(());
        }
        let name = self.base.suspect_name(&suspect);
        self.tell(&format!("TAKEN AS {}: {name} [{suspect}]", outcome.word().to_uppercase()));
        let words = (said != suspect).then_some(said);
        let looks = vec![Looked { suspect, outcome, words }];
        self.add(Event::Found(Found { looks, ..Found::default() }))?;
        Ok(())
    }

    fn code(&mut self, words: &str) -> Result<(), Stop> {
        let codes = match codes_said(&[words.to_owned()], self.base) {
            Ok(said) => {
                for stranger in &said.strangers {
                    self.tell(&stranger.in_words());
                }
                said.all
            }
            Err(error) => {
                self.refuse(&error.into());
                return Ok(());
            }
        };
        let (job, _) = self.stand()?;
        if job.visit().spans.len() > 1 {
            // After a repair a code counts as come back only if it was cleared.
            self.stack.push(Asked { question: Question::Sure(Doubt::Cleared { codes }), begun: true });
            return Ok(());
        }
        self.tell(&format!("TAKEN AS CODE READ: {}", codes.join(" ")));
        self.add(Event::Found(Found { codes, ..Found::default() }))?;
        Ok(())
    }

    fn others(&mut self) -> Result<Vec<Step>, Stop> {
        let (job, standing) = self.stand()?;
        let advice = self.adviser.advise(self.base, &job, &standing, &self.left_out(&job))?;
        let mut list: Vec<Step> = Vec::new();
        let repair = best_repair(self.base, &job, &standing).map(|(id, _)| Step::Repair(id));
        for step in advice.steps.into_iter().chain(repair).chain(skipped_steps(&job, self.base)) {
            if matches!(step, Step::Test(_) | Step::Repair(_)) && !list.contains(&step) {
                list.push(step);
            }
        }
        Ok(list)
    }

    fn back(&mut self) -> Result<(), Stop> {
        let Some(past) = self.past.pop() else {
            self.tell("nothing was answered in this conversation; earlier events are undone with: faultodds job undo");
            return Ok(());
        };
        let event = past.event;
        match self.record.add(Event::Undone(Undone { event })) {
            Ok(_) => {
                self.stand = None;
                self.tell(&format!("UNDONE: event {event}; the same question again"));
            }
            Err(StoreError::Refused(refused)) => {
                self.tell(&format!("not undone: {refused}"));
                return Ok(());
            }
            Err(other) => return Err(other.into()),
        }
        self.stack = past.stack;
        self.shown = None;
        Ok(())
    }

    fn why(&mut self, question: &Question) -> Result<(), Stop> {
        let (job, standing) = self.stand()?;
        let step = question.step().or_else(|| self.stack.iter().rev().find_map(|a| a.question.step()));
        let because = self.because.as_ref().filter(|(s, _)| Some(s) == step.as_ref()).map(|(_, b)| b.as_str());
        let text = why(step.as_ref(), because, &job, &standing, self.base, self.look)?;
        self.say(&text);
        Ok(())
    }

    /// Stores an event and says what it changed. Answers whether it was stored.
    fn add(&mut self, event: Event) -> Result<bool, Stop> {
        let changed = match self.record.add(event) {
            Ok(changed) => changed,
            Err(StoreError::Refused(refused)) => {
                self.tell(&format!("not stored: {refused}"));
                return Ok(false);
            }
            Err(other) => return Err(other.into()),
        };
        self.past.push(Past { event: changed.event, stack: self.stack.clone() });
        self.declined.clear();
        let before = match self.stand.take() {
            Some((job, standing)) if job.log.len() == changed.before.log.len() => standing,
            _ => Standing::of(&changed.before, self.base)?,
        };
        let after = Standing::of(&changed.after, self.base)?;
        self.say(&format!("stored as event {} of job {}\n", changed.event, changed.after.number));
        let text = job_screen::moved_most(&Change::between(&before, &after), self.base, self.look);
        self.say(&text);
        self.stand = Some((changed.after, after));
        Ok(true)
    }

    /// The job and where it stands; computed again only when something was stored, here or by another program.
    fn stand(&mut self) -> Result<(Job, Standing), Stop> {
        let job = self.record.job()?;
        match &self.stand {
            Some((known, standing)) if known.log.len() == job.log.len() => Ok((job, standing.clone())),
            _ => {
                let standing = Standing::of(&job, self.base)?;
                self.stand = Some((job.clone(), standing.clone()));
                Ok((job, standing))
            }
        }
    }

    fn say(&mut self, text: &str) {
        self.out.push_str(text);
    }

    /// One paragraph.
    fn tell(&mut self, text: &str) {
        paragraph(&mut self.out, "", text, self.look.width);
    }

    fn refuse(&mut self, failure: &Failure) {
        let text = failure.screen(self.look.width);
        self.out.push_str(&text);
    }
}

/// Steps that were skipped on the job and exist in this base.
fn skipped_steps(job: &Job, base: &Base) -> Vec<Step> {
    job.terms.skipped.iter().filter_map(|s| step_called(&s.step, base)).collect()
}

/// The reading that is asked next: the first after `after` that this car has and, unless they are taken again, that has
/// no outcome since the last repair.
fn next_reading(test: &Test, after: Option<&str>, job: &Job, standing: &Standing, again: bool) -> Option<String> {
    let from = after.map_or(0, |a| test.readings.iter().position(|r| r.id == a).map_or(0, |i| i + 1));
    let done = |id: &str| job.present().results.iter().any(|d| d.reading == id);
    let askable = |id: &str| standing.network.finding(id).is_some();
    // Without a repetition, what was passed over earlier is asked as well.
    let from = if again { from } else { 0 };
    test.readings[from..].iter().find(|r| askable(&r.id) && (again || !done(&r.id))).map(|r| r.id.clone())
}

/// The test that the last event left half done: it goes on with the readings that are missing.
fn unfinished(job: &Job, standing: &Standing, base: &Base) -> Option<Question> {
    let last = job.log.iter().rev().find(|e| e.holds && !matches!(e.event, Event::Noted(_) | Event::Undone(_)))?;
    let (Event::Found(f) | Event::Retested(f)) = &last.event else { return None };
    let (test, _) = base.reading(&f.results.last()?.reading)?;
    let reading = next_reading(test, None, job, standing, false)?;
    Some(Question::Reading { test: test.id.clone(), reading, again: false })
}

fn in_doubt(doubt: &Doubt, base: &Base) -> String {
    match doubt {
        Doubt::ListNumber { reading, told, .. } => {
            let unit =
                base.reading(reading).and_then(|(_, r)| r.measure.as_ref()).map_or("a unit", |m| m.unit.as_str());
            format!("A number without a unit can be the number in the list, {told}, or what you read, in {unit}.")
        }
        Doubt::Cleared { codes } => format!(
            "{} counts as come back only if the codes were cleared after the repair; otherwise it is the old one.",
            codes.join(" ")
        ),
    }
}

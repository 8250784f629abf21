//! The conversation as a machine of questions: a stack of what was asked and not answered yet, the present one on top.
//! A line goes in, text comes out; every answer is stored before the next question. Knows no terminal.
//!
//! Nothing that was begun is lost, because only an answer, a skip or a choice takes a question off the stack; a
//! command lays another one on top or none at all.

use super::answers::{Heard, hear};
use super::circumstances::topics;
use super::question::Question;
use super::record::{Advises, Record};
use super::steps::{next_reading, skipped_steps, unfinished};
use crate::Stop;
use crate::advice::Step;
use jobs::{Change, Event, Job, Skipped, Standing, Status, StoreError, Undone};
use knowledge::Base;
use screens::failure::Failure;
use screens::text::paragraph;
use screens::{Look, guide as screen, job as job_screen};
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
    /// Events that one line stored, in order.
    events: Vec<u32>,
    /// What it declined.
    declined: Option<Step>,
    stack: Vec<Asked>,
}

/// A conversation about one job.
pub struct Talk<'a> {
    pub(super) base: &'a Base,
    record: &'a mut dyn Record,
    pub(super) adviser: &'a dyn Advises,
    pub(super) look: Look,
    pub(super) stack: Vec<Asked>,
    past: Vec<Past>,
    /// Events that the present line has stored.
    stored: Vec<u32>,
    /// Closing or handing on, answered with no: not proposed again before something is stored.
    pub(super) declined: BTreeSet<Step>,
    pub(super) year: i16,
    /// The last advice and what it was given for: the events and the skips.
    pub(super) advice: Vec<Step>,
    pub(super) because: Option<(Step, String)>,
    /// Cautions printed in full already.
    pub(super) cautioned: BTreeSet<String>,
    pub(super) steps: usize,
    /// What stands on the screen, so that it is not printed again.
    pub(super) shown: Option<Question>,
    /// Tests and repairs whose instructions stand above.
    pub(super) instructed: BTreeSet<Step>,
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
            stored: Vec::new(),
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

    /// The job as it was when it was last looked at.
    #[must_use]
    pub fn job(&self) -> Option<&Job> {
        self.stand.as_ref().map(|(job, _)| job)
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
            let nothing_yet = job.log.iter().all(|e| matches!(e.event, Event::Opened(_) | Event::Arranged(_)));
            if nothing_yet && !topics.is_empty() {
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
        // A test of which nothing can be read on this car is passed over: the talk ends with an answer, never for want of a question.
        let question = self.advice.iter().find_map(|step| self.question_of(step, job, standing, false));
        if let Some(question) = question {
            self.stack.push(Asked { question, begun: false });
        }
        Ok(())
    }

    /// Steps that are not to be proposed.
    pub(super) fn left_out(&self, job: &Job) -> BTreeSet<Step> {
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

    /// Takes a line at the present question.
    ///
    /// # Errors
    /// The job cannot be stored or computed with.
    pub fn take(&mut self, line: &str) -> Result<Goes, Stop> {
        // What only stood before the question is not asked again when the answer is taken back.
        let stack: Vec<Asked> = self.stack.iter().filter(|a| !a.question.aside()).cloned().collect();
        let declined = self.declined.clone();
        self.stored.clear();
        let goes = self.taken(line)?;
        let declined = self.declined.difference(&declined).next().cloned();
        if !self.stored.is_empty() || declined.is_some() {
            let events = std::mem::take(&mut self.stored);
            self.past.push(Past { events, declined, stack });
        }
        Ok(goes)
    }

    fn taken(&mut self, line: &str) -> Result<Goes, Stop> {
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

    /// The question on top is answered: it goes, and with it proposals beneath that nobody has begun.
    pub(super) fn settle(&mut self) {
        if let Some(asked) = self.stack.pop()
            && let Some(step) = asked.question.step()
        {
            self.instructed.remove(&step);
        }
        self.stack.retain(|a| a.begun);
        self.shown = None;
    }

    /// Stores that a step was not done, and why.
    pub(super) fn skip(&mut self, step: Step, why: Option<String>) -> Result<(), Stop> {
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
    pub(super) fn begin(&mut self, step: &Step) -> Result<(), Stop> {
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

    pub(super) fn back(&mut self) -> Result<(), Stop> {
        let Some(past) = self.past.pop() else {
            self.tell("nothing was answered in this conversation; earlier events are undone with: faultodds job undo");
            return Ok(());
        };
        for event in past.events.iter().rev().copied() {
            match self.record.add(Event::Undone(Undone { event })) {
                Ok(_) => {
                    self.stand = None;
                    self.tell(&format!("UNDONE: event {event}"));
                }
                Err(StoreError::Refused(refused)) => {
                    self.tell(&format!("not undone: {refused}"));
                    return Ok(());
                }
                Err(other) => return Err(other.into()),
            }
        }
        if let Some(step) = past.declined {
            self.declined.remove(&step);
            self.tell("UNDONE: what was put off");
        }
        self.tell("the same question again");
        self.stack = past.stack;
        self.shown = None;
        Ok(())
    }

    /// Stores an event and says what it changed. Answers whether it was stored.
    pub(super) fn add(&mut self, event: Event) -> Result<bool, Stop> {
        let changed = match self.record.add(event) {
            Ok(changed) => changed,
            Err(StoreError::Refused(refused)) => {
                self.tell(&format!("not stored: {refused}"));
                return Ok(false);
            }
            Err(other) => return Err(other.into()),
        };
        self.stored.push(changed.event);
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
    pub(super) fn stand(&mut self) -> Result<(Job, Standing), Stop> {
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

    pub(super) fn say(&mut self, text: &str) {
        self.out.push_str(text);
    }

    /// One paragraph.
    pub(super) fn tell(&mut self, text: &str) {
        paragraph(&mut self.out, "", text, self.look.width);
    }

    pub(super) fn refuse(&mut self, failure: &Failure) {
        let text = failure.screen(self.look.width);
        self.out.push_str(&text);
    }
}

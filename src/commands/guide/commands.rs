//! What can be said at any question: each command of the conversation, acting on the machine in [`super::talk`].

use super::answers::{Command, step_called};
use super::circumstances::{Circumstance, Taken, suspects_called};
use super::question::{Doubt, Question};
use super::steps::skipped_steps;
use super::talk::{Asked, Goes, Talk};
use super::why::why;
use crate::Stop;
use crate::advice::{Step, best_repair};
use crate::job_input::known_repair;
use evidence::{EvidenceError, Kind, codes_said, looks_said};
use jobs::{Amended, Arranged, Event, Found, LookOutcome, Looked, Noted, code_proofs, proof_tests};
use screens::failure::Failure;
use screens::text::{cut, harmless};
use screens::{guide as screen, proof};

impl Talk<'_> {
    pub(super) fn command(&mut self, question: &Question, command: Command) -> Result<Goes, Stop> {
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
        self.tell(&format!("TAKEN AS SKIPPED, as far as it was not done: {name} [{id}]"));
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
            // Thought over; where the same step comes out, its instructions stand above already.
            self.stack.pop();
            self.shown = None;
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

    pub(super) fn looked(&mut self, suspect: String, outcome: LookOutcome, said: String) -> Result<(), Stop> {
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

    fn why(&mut self, question: &Question) -> Result<(), Stop> {
        let (job, standing) = self.stand()?;
        let step = question.step().or_else(|| self.stack.iter().rev().find_map(|a| a.question.step()));
        let because = self.because.as_ref().filter(|(s, _)| Some(s) == step.as_ref()).map(|(_, b)| b.as_str());
        let text = why(step.as_ref(), because, &job, &standing, self.base, self.look)?;
        self.say(&text);
        Ok(())
    }
}

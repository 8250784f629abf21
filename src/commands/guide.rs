//! `guide`: the job as a conversation on plain lines. Every answer is stored before the next question; the end of input
//! is a way to stop like any other.

use super::advice::{Adviser, Step, best_repair};
use super::job::told_waiting;
use super::job_input::{known_repair, opened, results, store, uid, which};
use super::planned::shop;
use super::{Ending, Io, Loaded, Stop};
use crate::cli::GroupArgs;
use crate::cli::job::{DescriptionArgs, GuideArgs};
use crate::evidence::codes_said;
use crate::jobs::{
    Access, Change, Closed, Event, Found, Job, Noted, Repaired, Spent, Standing, Status, Store, StoreError, Taken,
    Undone, Verdict, code_proofs, proof_tests,
};
use crate::knowledge::Base;
use crate::knowledge::base::{Reading, Test};
use crate::screens::text::{paragraph, percent};
use crate::screens::{guide as screen, job as job_screen, proof};
use std::collections::BTreeSet;
use std::path::Path;

/// Runs `guide`.
///
/// # Errors
/// [`Stop`] tells why the conversation could not begin or go on; what was answered before is stored.
pub fn run(args: &GuideArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let loaded = Loaded::new(kb, io)?;
    let shop = shop(&args.shop, &loaded.base)?;
    let opening = match args.codes.is_empty() && args.car.symptom.is_empty() {
        true => None,
        false => {
            let GroupArgs { make, model, engine } = args.group.clone();
            let about = DescriptionArgs { make, model, engine, ..DescriptionArgs::default() };
            Some(opened(&args.codes, &args.car, &about, &loaded.base, io)?)
        }
    };
    let mut store = store(&args.store, Access::Write)?;
    let number = match opening {
        Some(opening) => store.open_job(&uid(io), io.now.timestamp(), opening)?.number,
        None => which(&store, args.which.job)?,
    };
    let base = loaded.for_job(&store.job(number)?);
    let adviser = Adviser { shop };
    let mut talk = Talk {
        base: &base,
        store: &mut store,
        number,
        io,
        skipped: BTreeSet::new(),
        steps: 0,
        answers: Vec::new(),
        because: None,
    };
    talk.say(screen::HELP.lines().next().unwrap_or_default())?;
    talk.say(" Type ? for help.\n")?;
    talk.converse(&adviser)?;
    if talk.store.job(number)?.status == Status::Open {
        talk.say(&format!("stored up to here; go on with: faultodds guide --job {number}\n"))?;
    }
    told_waiting(&store, io)?;
    Ok(Ending::Done)
}

/// A conversation about one job.
struct Talk<'a> {
    base: &'a Base,
    store: &'a mut Store,
    number: i64,
    io: &'a mut Io,
    skipped: BTreeSet<Step>,
    steps: usize,
    /// Events stored in this conversation, so that `back` never undoes what was there before.
    answers: Vec<u32>,
    /// Why the adviser put its first step first.
    because: Option<(Step, String)>,
}

/// How one question ended.
enum Turn {
    /// Propose anew.
    Again,
    /// Take that step, chosen by the user.
    Take(Step),
    /// Leave.
    Leave,
}

/// A line that is an answer, or nothing more to hear.
enum Line {
    Words(String),
    End,
}

impl Talk<'_> {
    fn converse(&mut self, adviser: &Adviser) -> Result<(), Stop> {
        let mut chosen = unfinished(&self.stand()?.0, self.base);
        loop {
            let (job, standing) = self.stand()?;
            if job.status != Status::Open {
                self.say(&format!(
                    "job {} is closed; take it up again with: faultodds job reopen --job {}\n",
                    job.number, job.number
                ))?;
                return Ok(());
            }
            let advice = adviser.advise(self.base, &job, &standing, &self.skipped)?;
            let steps = advice.steps;
            self.because = steps.first().cloned().zip(advice.because);
            let Some(step) = chosen.take().or_else(|| steps.first().cloned()) else { return Ok(()) };
            self.say(&screen::state(&job, &standing, self.base, self.io.look))?;
            let turn = match &step {
                Step::Test(id) => self.test(id, &steps)?,
                Step::Repair(id) => self.repair(id, &standing, &steps)?,
                Step::Close => self.close(&steps)?,
                Step::HandOn => self.nothing_left(&steps)?,
            };
            match turn {
                Turn::Again => {}
                Turn::Take(step) => chosen = Some(step),
                Turn::Leave => return Ok(()),
            }
        }
    }

    fn test(&mut self, id: &str, steps: &[Step]) -> Result<Turn, Stop> {
        let base = self.base;
        let Some(test) = base.test(id) else { return Ok(Turn::Again) };
        self.steps += 1;
        let (job, _) = self.stand()?;
        let text = screen::test(test, self.steps, base, &job.car.vehicle(), self.io.look);
        self.say(&text)?;
        loop {
            let (job, standing) = self.stand()?;
            let done = |r: &&Reading| job.present().results.iter().any(|d| d.reading == r.id);
            let askable = |r: &&Reading| standing.network.finding(&r.id).is_some();
            let Some(reading) = test.readings.iter().filter(askable).find(|r| !done(r)) else { return Ok(Turn::Again) };
            let text = screen::reading(reading, self.io.look);
            self.say(&text)?;
            let prompt = match reading.levels.as_slice() {
                levels if levels.len() > 2 => format!("{}? ", levels.join(", ")),
                _ => "normal or abnormal? ".to_owned(),
            };
            match self.ask(&prompt, &Step::Test(id.to_owned()), steps)? {
                Heard::Turn(turn) => return Ok(turn),
                Heard::Repeat => {}
                Heard::Answer(words) => self.outcome(test, reading, &words)?,
            }
        }
    }

    /// Stores the outcome if it is one, and says what it changed.
    fn outcome(&mut self, test: &Test, reading: &Reading, words: &str) -> Result<(), Stop> {
        let said = match words.to_lowercase().as_str() {
            "n" | "p" | "y" | "yes" => "pass".to_owned(),
            "a" | "f" | "b" => "fail".to_owned(),
            "u" | "?" => "unclear".to_owned(),
            _ => words.to_owned(),
        };
        let given = match results(&[format!("{}={said}", reading.id)], self.base) {
            Ok(given) => given,
            Err(Stop::Failed(failure)) => {
                let look = self.io.look;
                return self.say(&failure.screen(look.width));
            }
            Err(other) => return Err(other),
        };
        let results: Vec<Taken> = given;
        let found = Found { results, ..Found::default() };
        let (job, _) = self.stand()?;
        // After a repair, what proves it is a re-test; what looks for another fault is a finding.
        let proves =
            job.visit().spans.len() > 1 && code_proofs(&job, self.base).iter().any(|c| c.tests.contains(&test.id));
        self.add(if proves { Event::Retested(found) } else { Event::Found(found) })
    }

    fn repair(&mut self, id: &str, standing: &Standing, steps: &[Step]) -> Result<Turn, Stop> {
        let base = self.base;
        let Some((_, repair)) = base.repair(id) else { return Ok(Turn::Again) };
        self.steps += 1;
        let clears = repair.removes.iter().map(|s| standing.now(s)).sum::<f64>().min(1.0);
        let text = screen::repair(repair, self.steps, clears, base, &standing.network.vehicle, self.io.look);
        self.say(&text)?;
        loop {
            match self.ask("done? y [MINUTES [COST]], skip, other: ", &Step::Repair(id.to_owned()), steps)? {
                Heard::Turn(turn) => return Ok(turn),
                Heard::Repeat => {}
                Heard::Answer(words) => {
                    let mut words = words.split_whitespace();
                    match words.next().map(str::to_lowercase).as_deref() {
                        Some("y" | "yes" | "done" | "ok") => {
                            let numbers: Option<Vec<f64>> = words.map(|w| w.parse().ok()).collect();
                            let Some(numbers) = numbers.filter(|n| n.len() <= 2) else {
                                self.say(
                                    "after y comes how many minutes it took and what was spent, as plain numbers\n",
                                )?;
                                continue;
                            };
                            let spent = Spent { minutes: numbers.first().copied(), cost: numbers.get(1).copied() };
                            self.add(Event::Repaired(Repaired { repair: id.to_owned(), note: None, spent }))?;
                            return Ok(Turn::Again);
                        }
                        Some("n" | "no") => {
                            self.skipped.insert(Step::Repair(id.to_owned()));
                            return Ok(Turn::Again);
                        }
                        _ => self.say("y when the repair is done, n or skip when not; ? for help\n")?,
                    }
                }
            }
        }
    }

    fn close(&mut self, steps: &[Step]) -> Result<Turn, Stop> {
        let (job, standing) = self.stand()?;
        let causes = repaired_causes(&job, &standing, self.base);
        let names: Vec<String> = causes.iter().map(|c| self.base.suspect_name(c)).collect();
        let cause = if names.is_empty() { "no cause confirmed".to_owned() } else { names.join("; ") };
        let fixed =
            standing.fixed.map_or(String::new(), |f| format!(" The car is fixed with probability {}.", percent(f)));
        self.say(&format!("\nThe job can be closed.{fixed} Cause: {cause}.\n"))?;
        loop {
            match self.ask("close the job? y, unsure, or n to go on: ", &Step::Close, steps)? {
                Heard::Turn(turn) => return Ok(turn),
                Heard::Repeat => {}
                Heard::Answer(words) => {
                    let verdict = match words.to_lowercase().as_str() {
                        "y" | "yes" if !causes.is_empty() => Verdict::Confirmed,
                        "unsure" | "u" | "y" | "yes" => Verdict::Unsure,
                        "n" | "no" => {
                            self.skipped.insert(Step::Close);
                            return Ok(Turn::Again);
                        }
                        _ => {
                            self.say("y, unsure or n; ? for help\n")?;
                            continue;
                        }
                    };
                    let how = proved_by(&job, self.base);
                    let closed = Closed { verdict, causes: causes.clone(), how, spent: Spent::default() };
                    self.add(Event::Closed(closed))?;
                    let text = format!("the sheet for the customer: faultodds job show {} --sheet\n", self.number);
                    self.say(&text)?;
                    return Ok(Turn::Leave);
                }
            }
        }
    }

    fn nothing_left(&mut self, steps: &[Step]) -> Result<Turn, Stop> {
        self.say("\nNothing is left that is worth doing with these tools. The job can be handed on.\n")?;
        loop {
            match self.ask("hand it on? y or n: ", &Step::HandOn, steps)? {
                Heard::Turn(turn) => return Ok(turn),
                Heard::Repeat => {}
                Heard::Answer(words) if matches!(words.to_lowercase().as_str(), "y" | "yes") => {
                    let closed =
                        Closed { verdict: Verdict::HandedOn, causes: Vec::new(), how: None, spent: Spent::default() };
                    self.add(Event::Closed(closed))?;
                    return Ok(Turn::Leave);
                }
                Heard::Answer(_) => return Ok(Turn::Leave),
            }
        }
    }
}

/// What a line at a question was.
enum Heard {
    /// An answer to the question itself.
    Answer(String),
    /// It was dealt with; ask again.
    Repeat,
    /// The question is over.
    Turn(Turn),
}

impl Talk<'_> {
    /// Asks, and deals with everything that can be said at any question.
    fn ask(&mut self, prompt: &str, step: &Step, steps: &[Step]) -> Result<Heard, Stop> {
        self.say(prompt)?;
        self.io.out.flush()?;
        let Line::Words(line) = self.line()? else {
            self.say("\n")?;
            return Ok(Heard::Turn(Turn::Leave));
        };
        if !self.io.interactive {
            // In a script the answers do not show by themselves, and the record of the conversation should hold them.
            let echo = crate::screens::text::harmless(&line);
            self.say(&format!("{echo}\n"))?;
        }
        let (word, rest) = line.split_once(char::is_whitespace).unwrap_or((line.as_str(), ""));
        let rest = rest.trim();
        Ok(match word.to_lowercase().as_str() {
            "" => Heard::Repeat,
            "?" | "help" => {
                self.say(screen::HELP)?;
                Heard::Repeat
            }
            "stop" | "quit" | "exit" => Heard::Turn(Turn::Leave),
            "skip" => {
                self.skipped.insert(step.clone());
                Heard::Turn(Turn::Again)
            }
            "back" => {
                self.back()?;
                Heard::Turn(Turn::Again)
            }
            "why" => {
                self.why(step)?;
                Heard::Repeat
            }
            "other" => self.other(steps)?,
            "proof" => {
                let (job, standing) = self.stand()?;
                let tests = proof_tests(&standing, &job, self.base)?;
                let text = proof::proof(&code_proofs(&job, self.base), &tests, self.base, self.io.look);
                self.say(&text)?;
                Heard::Repeat
            }
            "note" if !rest.is_empty() => {
                self.add(Event::Noted(Noted { text: rest.to_owned(), spent: Spent::default() }))?;
                Heard::Repeat
            }
            "repair" if !rest.is_empty() => match known_repair(rest, self.base) {
                Ok(()) => Heard::Turn(Turn::Take(Step::Repair(rest.to_owned()))),
                Err(stop) => self.refused(stop)?,
            },
            "code" if !rest.is_empty() => match codes_said(&[rest.to_owned()], self.base) {
                Ok(codes) => {
                    self.add(Event::Retested(Found { codes, ..Found::default() }))?;
                    Heard::Turn(Turn::Again)
                }
                Err(error) => self.refused(error.into())?,
            },
            "close" => Heard::Turn(Turn::Take(Step::Close)),
            _ => Heard::Answer(line),
        })
    }

    fn other(&mut self, steps: &[Step]) -> Result<Heard, Stop> {
        let (job, standing) = self.stand()?;
        let mut list: Vec<(Step, (String, String))> = Vec::new();
        let repair = best_repair(self.base, &job, &standing).map(|(id, _)| Step::Repair(id));
        for step in steps.iter().cloned().chain(repair) {
            let shown = match &step {
                Step::Test(id) => self.base.test(id).map(|t| (id.clone(), t.name.clone())),
                Step::Repair(id) => self.base.repair(id).map(|(_, r)| (id.clone(), format!("repair: {}", r.does))),
                Step::Close | Step::HandOn => None,
            };
            if let Some(shown) = shown.filter(|s| !list.iter().any(|(_, l)| l.0 == s.0)) {
                list.push((step, shown));
            }
        }
        let shown: Vec<(String, String)> = list.iter().map(|(_, s)| s.clone()).collect();
        let text = screen::others(&shown, self.io.look);
        self.say(&text)?;
        self.say("which? ")?;
        self.io.out.flush()?;
        let Line::Words(line) = self.line()? else { return Ok(Heard::Turn(Turn::Leave)) };
        if !self.io.interactive {
            let echo = crate::screens::text::harmless(&line);
            self.say(&format!("{echo}\n"))?;
        }
        let by_number = line.parse::<usize>().ok().and_then(|n| list.get(n.wrapping_sub(1))).map(|(s, _)| s.clone());
        let by_id = || {
            let test = self.base.test(&line).map(|t| Step::Test(t.id.clone()));
            test.or_else(|| self.base.repair(&line).map(|(_, r)| Step::Repair(r.id.clone())))
        };
        match by_number.or_else(by_id) {
            Some(step) => Ok(Heard::Turn(Turn::Take(step))),
            None => match line.to_lowercase().as_str() {
                "" => Ok(Heard::Repeat),
                "stop" | "quit" | "exit" => Ok(Heard::Turn(Turn::Leave)),
                // Nothing was chosen yet, so there is nothing to undo but the wish to choose.
                "back" => Ok(Heard::Repeat),
                _ => {
                    self.say("no such step: a number of the list, the id of a test or repair, or Enter\n")?;
                    Ok(Heard::Repeat)
                }
            },
        }
    }

    fn back(&mut self) -> Result<(), Stop> {
        let Some(&event) = self.answers.last() else {
            return self
                .say("nothing was answered in this conversation; undo earlier events with: faultodds job undo\n");
        };
        let now = jiff::Timestamp::now();
        match self.store.add(self.number, now, Event::Undone(Undone { event })) {
            Ok(_) => {
                self.answers.pop();
                self.say(&format!("event {event} is undone\n"))
            }
            Err(StoreError::Refused(refused)) => self.say(&format!("{refused}\n")),
            Err(other) => Err(other.into()),
        }
    }

    fn why(&mut self, step: &Step) -> Result<(), Stop> {
        let (job, standing) = self.stand()?;
        let text = match step {
            Step::Test(id) => self.base.test(id).map_or("", |t| t.why.as_str()),
            Step::Repair(_) => "The faults that this repair removes are the most likely ones by now.",
            Step::Close => "The probability that the car is fixed is high enough.",
            Step::HandOn => {
                "No step here is worth more than it costs, or all that could tell more were done or skipped."
            }
        };
        let mut text = {
            let mut wrapped = String::new();
            paragraph(&mut wrapped, "", text, self.io.look.width);
            if let Some((_, because)) = self.because.as_ref().filter(|(s, _)| s == step) {
                paragraph(&mut wrapped, "", because, self.io.look.width);
            }
            wrapped
        };
        if let Some(last) = job
            .log
            .iter()
            .rev()
            .find(|e| e.holds && e.number > 1 && !matches!(e.event, Event::Noted(_) | Event::Undone(_)))
        {
            let before = Standing::of(&job.upto(last.number - 1), self.base)?;
            let after = Standing::of(&job.upto(last.number), self.base)?;
            paragraph(&mut text, "last, ", &job_screen::in_words(&last.event, self.base), self.io.look.width);
            text.push_str(&job_screen::moved(&Change::between(&before, &after), self.base, self.io.look));
        }
        job_screen::leaders(&mut text, &standing, self.base, 8, self.io.look);
        self.say(&text)
    }

    fn refused(&mut self, stop: Stop) -> Result<Heard, Stop> {
        match stop {
            Stop::Failed(failure) => {
                let width = self.io.look.width;
                self.say(&failure.screen(width))?;
                Ok(Heard::Repeat)
            }
            other => Err(other),
        }
    }

    /// Stores an event and then says what it changed.
    fn add(&mut self, event: Event) -> Result<(), Stop> {
        let changed = match self.store.add(self.number, jiff::Timestamp::now(), event) {
            Ok(changed) => changed,
            Err(StoreError::Refused(refused)) => return self.say(&format!("not stored: {refused}\n")),
            Err(other) => return Err(other.into()),
        };
        self.answers.push(changed.event);
        let before = Standing::of(&changed.before, self.base)?;
        let after = Standing::of(&changed.after, self.base)?;
        let text = job_screen::moved(&Change::between(&before, &after), self.base, self.io.look);
        self.say(&format!("stored as event {}\n{text}", changed.event))
    }

    fn stand(&self) -> Result<(Job, Standing), Stop> {
        let job = self.store.job(self.number)?;
        let standing = Standing::of(&job, self.base)?;
        Ok((job, standing))
    }

    /// The next line without its end and outer blanks. Bytes that are no text are replaced, not refused.
    fn line(&mut self) -> Result<Line, Stop> {
        let mut bytes = Vec::new();
        let read = std::io::BufRead::read_until(&mut self.io.input, b'\n', &mut bytes)?;
        if read == 0 {
            return Ok(Line::End);
        }
        Ok(Line::Words(String::from_utf8_lossy(&bytes).trim().to_owned()))
    }

    fn say(&mut self, text: &str) -> Result<(), Stop> {
        Ok(self.io.show(text)?)
    }
}

/// The test that the last event left half done: it goes on with the readings that are missing.
fn unfinished(job: &Job, base: &Base) -> Option<Step> {
    let last = job.log.iter().rev().find(|e| e.holds && !matches!(e.event, Event::Noted(_) | Event::Undone(_)))?;
    let (Event::Found(f) | Event::Retested(f)) = &last.event else { return None };
    let (test, _) = base.reading(&f.results.last()?.reading)?;
    let done = |id: &str| job.present().results.iter().any(|r| r.reading == id);
    test.readings.iter().any(|r| !done(&r.id)).then(|| Step::Test(test.id.clone()))
}

/// Of the suspects that the repairs of this stay removed, those that were probably there.
fn repaired_causes(job: &Job, standing: &Standing, base: &Base) -> Vec<String> {
    let mut causes: Vec<(String, f64)> = Vec::new();
    for (_, repair) in job.visit().spans.iter().filter_map(|s| s.repair.as_ref()) {
        let Some((_, found)) = base.repair(repair) else { continue };
        for suspect in &found.removes {
            let p = standing.network.suspect(suspect).map_or(0.0, |s| standing.posterior.at_start[s]);
            if p >= 0.5 && !causes.iter().any(|(c, _)| c == suspect) {
                causes.push((suspect.clone(), p));
            }
        }
    }
    causes.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    causes.into_iter().map(|(c, _)| c).collect()
}

/// The re-tests that came out normal since the last repair, as words for the record.
fn proved_by(job: &Job, base: &Base) -> Option<String> {
    let passed: BTreeSet<&str> = job
        .present()
        .results
        .iter()
        .filter(|r| r.outcome == "pass")
        .filter_map(|r| r.reading.split(':').next())
        .collect();
    let names: Vec<&str> = passed.iter().filter_map(|t| base.test(t)).map(|t| t.name.as_str()).collect();
    (!names.is_empty()).then(|| format!("after the repair normal: {}", names.join("; ")))
}

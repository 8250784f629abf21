//! The one parser of the conversation: from a line at a question to an answer, a command, a doubt or a refusal. It
//! knows no job and stores nothing, and it drops nothing: a line that it cannot place as a whole is refused.

use super::circumstances::{Circumstance, circumstances};
use super::question::{Doubt, Question, options};
use crate::advice::Step;
use evidence::Outcome;
use jobs::{LookOutcome, Spent};
use knowledge::Base;
use knowledge::base::Reading;
use screens::failure::Failure;

/// What a line was.
#[derive(Clone, Debug, PartialEq)]
pub enum Heard {
    /// An empty line.
    Nothing,
    /// An answer to the question.
    Answer(Answer),
    /// Something that can be said at any question.
    Command(Command),
    /// It can mean two things.
    Doubt(Doubt),
    /// Nothing of this: why.
    Refused(Failure),
}

/// An answer.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// A reading's outcome.
    Outcome {
        /// As stored.
        outcome: String,
        /// In capitals, to be told back.
        told: String,
        /// Words that hang on it.
        note: Option<String>,
    },
    /// The repair was made.
    Made(Spent),
    /// Yes.
    Yes,
    /// No.
    No,
    /// The job is closed without being sure of its cause.
    Unsure,
    /// That step.
    Step(Step),
    /// That suspect.
    Suspect(String),
}

/// What can be said at any question.
#[derive(Clone, Debug, PartialEq)]
pub enum Command {
    /// All that can be typed.
    Help,
    /// Leave; the job goes on later.
    Stop,
    /// This step cannot be done, and why.
    Skip(Option<String>),
    /// Take the last answer back.
    Back,
    /// Why this step.
    Why,
    /// The step's instructions once more.
    How,
    /// Its cautions in full.
    Cautions,
    /// Choose another step.
    Other,
    /// How the repair can be proved.
    Proof,
    /// Where the job stands.
    Where,
    /// Free words.
    Note(String),
    /// What is known of the car, the tools, the limit.
    Said(Vec<Circumstance>),
    /// Something was seen, or looked at and sound; in words.
    Look(LookOutcome, String),
    /// Codes read now.
    Code(String),
    /// A test to be done now.
    Test(String),
    /// A repair that was made or is made now.
    Repair(String),
    /// Close the job.
    Close,
}

/// Reads a line at a question.
#[must_use]
pub fn hear(question: &Question, line: &str, base: &Base) -> Heard {
    let line = line.trim();
    if line.is_empty() {
        return Heard::Nothing;
    }
    // A level that is called like a command is still a level.
    if let Question::Reading { reading, .. } = question
        && let Some((_, reading)) = base.reading(reading)
        && let Some(heard) = named_in_full(reading, line)
    {
        return heard;
    }
    if let Some(heard) = command(line) {
        return heard;
    }
    let heard = answer(question, line, base);
    match heard {
        // What is no answer may still be something known of the car or the tools.
        Heard::Refused(_) => match circumstances(line, base) {
            Some(said) => Heard::Command(Command::Said(said)),
            None => heard,
        },
        heard => heard,
    }
}

fn answer(question: &Question, line: &str, base: &Base) -> Heard {
    match question {
        Question::Reading { reading, .. } => match base.reading(reading) {
            Some((_, reading)) => outcome(reading, line, question, base),
            None => not_taken(line, question, base),
        },
        Question::Repair { .. } => made(line, question, base),
        Question::Start { .. } => not_taken(line, question, base),
        Question::Which { list, .. } => match numbered(line).and_then(|n| list.get(n)) {
            Some(suspect) => Heard::Answer(Answer::Suspect(suspect.clone())),
            None => not_taken(line, question, base),
        },
        Question::Choose { list } => chosen(line, list, question, base),
        Question::Close | Question::HandOn | Question::Sure(_) => match line.to_lowercase().as_str() {
            "y" | "yes" => Heard::Answer(Answer::Yes),
            "n" | "no" => Heard::Answer(Answer::No),
            "unsure" if *question == Question::Close => Heard::Answer(Answer::Unsure),
            _ => not_taken(line, question, base),
        },
    }
}

fn refused(why: impl Into<String>) -> Heard {
    Heard::Refused(Failure::new(why))
}

fn not_taken(line: &str, question: &Question, base: &Base) -> Heard {
    let shown = screens::text::cut(&screens::text::harmless(line), 40);
    let why = match line.to_lowercase().as_str() {
        "y" | "yes" | "n" | "no" => format!("`{shown}` could mean either here, so it is not taken"),
        _ => format!("`{shown}` is no answer here"),
    };
    let failure = Failure::new(why).hint(format!("answers: {}", question.takes(base)));
    Heard::Refused(failure.hint("? lists what else can be typed"))
}

/// Commands. One that takes no words and was given some is refused, so that nothing typed is lost.
fn command(line: &str) -> Option<Heard> {
    let (word, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
    let (word, rest) = (word.to_lowercase(), rest.trim());
    let plain = match word.as_str() {
        "?" | "help" => Some(Command::Help),
        "stop" | "quit" | "exit" => Some(Command::Stop),
        "back" => Some(Command::Back),
        "why" => Some(Command::Why),
        "how" => Some(Command::How),
        "cautions" => Some(Command::Cautions),
        "other" => Some(Command::Other),
        "proof" => Some(Command::Proof),
        "where" => Some(Command::Where),
        "close" => Some(Command::Close),
        _ => None,
    };
    if let Some(command) = plain {
        if rest.is_empty() {
            return Some(Heard::Command(command));
        }
        let failure = Failure::new(format!("`{word}` stands alone; nothing was done"));
        return Some(Heard::Refused(failure.hint(format!("type `{word}`, or `note {rest}` to keep the words"))));
    }
    let needs = |what: &str, example: &str| refused(format!("`{word}` needs {what}, such as: {example}"));
    let rest_or = |with: fn(String) -> Command, what: &str, example: &str| match rest.is_empty() {
        true => needs(what, example),
        false => Heard::Command(with(rest.to_owned())),
    };
    Some(match word.as_str() {
        "skip" => Heard::Command(Command::Skip((!rest.is_empty()).then(|| rest.to_owned()))),
        "note" => rest_or(Command::Note, "words", "note seal brittle"),
        "found" => rest_or(
            |w| match w.to_lowercase().strip_prefix("probably ") {
                Some(rest) => Command::Look(LookOutcome::Probably, w[w.len() - rest.len()..].to_owned()),
                None => Command::Look(LookOutcome::Found, w),
            },
            "what was seen",
            "found purge line cracked",
        ),
        "sound" => rest_or(|w| Command::Look(LookOutcome::Sound, w), "what is sound", "sound filler neck"),
        "code" | "codes" => rest_or(Command::Code, "a code", "code P0446"),
        "test" => rest_or(Command::Test, "the id of a test", "test cap-leak-test"),
        "repair" => rest_or(Command::Repair, "the id of a repair", "repair filler-cap/reseat"),
        _ => return None,
    })
}

/// The words of an answer, and a note that hangs on it: `2 note seal brittle`.
fn with_note(line: &str) -> (&str, Option<&str>) {
    let lower = line.to_ascii_lowercase();
    match lower.find(" note ") {
        Some(at) => (line[..at].trim(), Some(line[at + " note ".len()..].trim()).filter(|n| !n.is_empty())),
        None => (line, None),
    }
}

fn strip_prefix_of_any_case<'a>(text: &'a str, prefix: &str) -> Option<&'a str> {
    text.get(..prefix.len()).filter(|t| t.eq_ignore_ascii_case(prefix)).map(|_| text[prefix.len()..].trim())
}

fn plain(text: &str) -> String {
    text.to_lowercase().replace(['-', '_'], " ").split_whitespace().collect::<Vec<_>>().join(" ")
}

fn taken(outcome: &str, told: &str, note: Option<&str>) -> Heard {
    let answer =
        Answer::Outcome { outcome: outcome.to_owned(), told: told.to_uppercase(), note: note.map(str::to_owned) };
    Heard::Answer(answer)
}

fn named_in_full(reading: &Reading, line: &str) -> Option<Heard> {
    let (said, note) = with_note(line);
    let all = options(reading);
    let choice = all.iter().find(|c| plain(&c.name) == plain(said))?;
    Some(taken(&choice.outcome, &choice.name, note))
}

/// An outcome: the number in the list, a unique beginning of a level's name, a plain word for good and bad, or a
/// number with its unit.
fn outcome(reading: &Reading, line: &str, question: &Question, base: &Base) -> Heard {
    // What another shop told is an outcome of its own weight.
    let told = ["told ", "second-hand ", "last shop says "];
    if let Some(rest) = told.iter().find_map(|w| strip_prefix_of_any_case(line, w)) {
        return match named_in_full(reading, rest).unwrap_or_else(|| outcome(reading, rest, question, base)) {
            Heard::Answer(Answer::Outcome { outcome, told, note }) if outcome != "unclear" => {
                let outcome = format!("second-hand {outcome}");
                Heard::Answer(Answer::Outcome { outcome, told: format!("TOLD BY OTHERS, {told}"), note })
            }
            Heard::Refused(failure) => Heard::Refused(failure),
            _ => not_taken(line, question, base),
        };
    }
    let (said, note) = with_note(line);
    let all = options(reading);
    let small = plain(said);
    let marked = said.strip_prefix('#').unwrap_or(said);
    let number = marked.trim_end_matches(['.', ')']).parse::<usize>().ok();
    if let Some(number) = number {
        let Some(choice) = number.checked_sub(1).and_then(|i| all.get(i)) else {
            let failure = Failure::new(format!("{number} is not in the list"));
            return Heard::Refused(failure.hint(format!("answers: {}", question.takes(base))));
        };
        // Where a single number is what the gauge shows, a bare one may be the gauge's with its unit forgotten.
        let scalar = reading.measure.as_ref().is_some_and(|m| m.over_s.is_none() && m.start.is_none());
        if scalar && !said.starts_with('#') {
            return Heard::Doubt(Doubt::ListNumber {
                reading: reading.id.clone(),
                outcome: choice.outcome.clone(),
                told: choice.name.to_uppercase(),
            });
        }
        return taken(&choice.outcome, &choice.name, note);
    }
    if ["y", "yes", "n", "no"].contains(&small.as_str()) {
        return not_taken(line, question, base);
    }
    let first = &all[0];
    match small.as_str() {
        "pass" | "ok" | "good" => return taken(&first.outcome, &first.name, note),
        // With more than two levels this says that it is bad, and not how bad.
        "fail" | "bad" if reading.levels.len() == 2 => return taken(&all[1].outcome, &all[1].name, note),
        "fail" | "bad" => return taken("fail", &format!("not {}", first.name), note),
        _ => {}
    }
    let begins: Vec<&str> =
        all.iter().map(|c| c.name.as_str()).filter(|name| plain(name).starts_with(&small)).collect();
    match begins.as_slice() {
        [one] => {
            let choice = all.iter().find(|c| c.name == *one).unwrap_or(first);
            return taken(&choice.outcome, &choice.name, note);
        }
        [] => {}
        several => {
            let failure = Failure::new(format!("`{said}` begins {}", several.join(" and ")));
            return Heard::Refused(failure.hint("type one letter more, or the number"));
        }
    }
    match said.parse::<Outcome>() {
        Ok(measured @ Outcome::Measured(_)) => match measured.likelihood(reading) {
            Ok(_) if reading.measure.is_some() => {
                let note = note.map(str::to_owned);
                // Capitals would make other units of some.
                Heard::Answer(Answer::Outcome { outcome: said.to_owned(), told: said.to_owned(), note })
            }
            Ok(_) => not_taken(line, question, base),
            Err(_) if reading.measure.is_none() => not_taken(line, question, base),
            Err(error) => {
                let failure = Failure::from(error);
                Heard::Refused(failure.hint(format!("answers: {}", question.takes(base))))
            }
        },
        _ => not_taken(line, question, base),
    }
}

fn made(line: &str, question: &Question, base: &Base) -> Heard {
    let mut words = line.split_whitespace();
    match words.next().map(str::to_lowercase).as_deref() {
        Some("y" | "yes" | "done") => {
            let numbers: Option<Vec<f64>> = words.map(amount).collect();
            match numbers.filter(|n| n.len() <= 2) {
                Some(n) => Heard::Answer(Answer::Made(Spent { minutes: n.first().copied(), cost: n.get(1).copied() })),
                None => refused("after y come the minutes it took and what was spent, as plain numbers: y 20 35"),
            }
        }
        Some("n" | "no") if words.next().is_none() => Heard::Answer(Answer::No),
        _ => not_taken(line, question, base),
    }
}

/// A plain amount; what is no number, or none that can be meant, is nothing.
fn amount(word: &str) -> Option<f64> {
    let number = word.replace(',', ".").parse::<f64>().ok()?;
    (number.is_finite() && (0.0..=1e6).contains(&number)).then_some(number)
}

/// The place in a list of a number typed, from 0.
fn numbered(line: &str) -> Option<usize> {
    line.trim_start_matches('#').trim_end_matches(['.', ')']).parse::<usize>().ok()?.checked_sub(1)
}

fn chosen(line: &str, list: &[Step], question: &Question, base: &Base) -> Heard {
    let number = line.trim_end_matches(['.', ')']).parse::<usize>().ok();
    let step = match number {
        Some(n) => n.checked_sub(1).and_then(|i| list.get(i)).cloned(),
        None => step_called(line, base),
    };
    step.map_or_else(|| not_taken(line, question, base), |step| Heard::Answer(Answer::Step(step)))
}

/// The test or repair of that id.
#[must_use]
pub fn step_called(id: &str, base: &Base) -> Option<Step> {
    let id = id.trim().to_lowercase();
    let test = base.test(&id).map(|t| Step::Test(t.id.clone()));
    test.or_else(|| base.repair(&id).map(|(_, r)| Step::Repair(r.id.clone())))
}

#[cfg(test)]
mod tests;

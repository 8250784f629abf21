//! A random walk of slips: jobs from code to close, typed with a slip at one entry in five, must end with the record that
//! was meant. Whoever types reads what was told back, and takes it back with `back` when it is not what was meant.
//!
//! The long form: `cargo test --release --test at_the_car -- --ignored thousand_walks --nocapture`.

use faultodds::commands::advice::{Advice, Step};
use faultodds::commands::guide::question::{Doubt, Question, options};
use faultodds::commands::guide::record::Advises;
use faultodds::commands::guide::talk::{Goes, Talk};
use faultodds::jobs::{Event, Found, Job, JobError, Opened, Standing, Verdict};
use faultodds::knowledge::Base;
use faultodds::screens::Look;
use faultodds::shipped;
use std::collections::BTreeSet;

/// A linear congruential generator (Knuth's MMIX constants).
struct Chance(u64);

impl Chance {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) % n as u64) as usize
    }

    fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    fn of<'a, T>(&mut self, list: &'a [T]) -> &'a T {
        &list[self.below(list.len())]
    }
}

/// Proposes without planning, so that a walk takes no time: some tests of the complaint, then a repair, then the end.
struct Plain;

impl Advises for Plain {
    fn advise(
        &self,
        base: &Base,
        job: &Job,
        standing: &Standing,
        skipped: &BTreeSet<Step>,
    ) -> Result<Advice, JobError> {
        let leader = standing.ranked()[0].0;
        let leader = &standing.network.suspects[leader].id;
        let done = |id: &str| {
            job.visit().spans.iter().flat_map(|s| &s.results).any(|r| r.reading.split(':').next() == Some(id))
        };
        let tests_done = base.tests.iter().filter(|t| done(&t.id)).count();
        let mut steps: Vec<Step> = Vec::new();
        if standing.epoch() > 0 {
            steps.push(Step::Close);
        }
        if tests_done < 3 {
            let tests = base
                .tests
                .iter()
                .filter(|t| !done(&t.id) && t.readings.iter().any(|r| r.detects.iter().any(|l| l.suspect == *leader)));
            steps.extend(tests.map(|t| Step::Test(t.id.clone())));
        }
        let repair = base.repairs().find(|(_, r)| r.removes.contains(leader)).or_else(|| base.repairs().next());
        steps.extend(repair.map(|(_, r)| Step::Repair(r.id.clone())));
        steps.push(Step::HandOn);
        steps.retain(|s| !skipped.contains(s));
        if steps.is_empty() {
            steps.push(Step::HandOn);
        }
        Ok(Advice { steps, because: None })
    }
}

/// What the record must hold, in order.
#[derive(Clone, Debug, PartialEq)]
enum Meant {
    Outcome(String, String),
    /// With minutes and cost as typed.
    Repair(String, Option<f64>, Option<f64>),
    Skip(String),
    Code(String),
    Note(String),
    Closed(Verdict),
}

fn recorded(job: &Job) -> Vec<Meant> {
    let mut out = Vec::new();
    for e in job.log.iter().filter(|e| e.holds) {
        match &e.event {
            Event::Found(f) | Event::Retested(f) => {
                out.extend(f.results.iter().map(|r| Meant::Outcome(r.reading.clone(), r.outcome.clone())));
                out.extend(f.codes.iter().map(|c| Meant::Code(c.clone())));
            }
            // What the test itself has done follows from its outcome.
            Event::Repaired(r) if r.with.is_none() => {
                out.push(Meant::Repair(r.repair.clone(), r.spent.minutes, r.spent.cost));
            }
            Event::Skipped(s) => out.push(Meant::Skip(s.step.clone())),
            Event::Noted(n) => out.push(Meant::Note(n.text.clone())),
            Event::Closed(c) => out.push(Meant::Closed(c.verdict)),
            _ => {}
        }
    }
    out
}

/// What a walk saw, for the report.
#[derive(Debug, Default)]
struct Tally {
    entries: usize,
    slips: usize,
    refused: usize,
    taken_back: usize,
    /// Slips of letters in a word that were taken for another answer.
    mistaken_words: usize,
}

/// One slip of the fingers in what was to be typed.
fn slipped(text: &str, chance: &mut Chance) -> String {
    if text.is_empty() {
        return (*chance.of(&["y", "n", "1", "2", "x"])).to_owned();
    }
    let mut letters: Vec<char> = text.chars().collect();
    let at = chance.below(letters.len().max(1));
    match chance.below(7) {
        0 if letters.len() > 1 => {
            letters.remove(at);
        }
        1 => letters.insert(at, letters.get(at).copied().unwrap_or('x')),
        2 if letters.len() > 1 => {
            let other = (at + 1) % letters.len();
            letters.swap(at, other);
        }
        3 => letters[at] = *chance.of(&['q', 'w', 's', 'a', 'z', '1', '2', '3', '4', 'n', 'y', 'o', ' ']),
        4 => return (*chance.of(&["y", "n", "yes", "no", "Y", "N"])).to_owned(),
        5 => return (*chance.of(&["1", "2", "3", "4", "0", "22"])).to_owned(),
        _ => return String::new(),
    }
    letters.into_iter().collect()
}

/// What is meant at a question, and how it is typed.
fn meant(question: &Question, base: &Base, chance: &mut Chance) -> (Option<Meant>, String) {
    match question {
        Question::Reading { reading, test, .. } => {
            if chance.one_in(25) {
                return (Some(Meant::Skip(test.clone())), "skip".to_owned());
            }
            let (_, found) = base.reading(reading).unwrap();
            let all = options(found);
            let n = if chance.below(10) < 6 { 0 } else { chance.below(all.len()) };
            let typed = match chance.below(3) {
                0 => format!("#{}", n + 1),
                1 => all[n].name.clone(),
                _ => beginning(&all.iter().map(|c| c.name.as_str()).collect::<Vec<_>>(), n),
            };
            (Some(Meant::Outcome(reading.clone(), all[n].outcome.clone())), typed)
        }
        Question::Repair { repair } => {
            let spent = [("y", None, None), ("yes 20", Some(20.0), None), ("y 12 30", Some(12.0), Some(30.0))];
            let (typed, minutes, cost) = *chance.of(&spent);
            (Some(Meant::Repair(repair.clone(), minutes, cost)), typed.to_owned())
        }
        Question::Close => (Some(Meant::Closed(Verdict::Unsure)), "unsure".to_owned()),
        Question::HandOn => (Some(Meant::Closed(Verdict::HandedOn)), "y".to_owned()),
        Question::Start { .. } => (None, String::new()),
        Question::Sure(_) | Question::Choose { .. } | Question::Which { .. } => (None, "back".to_owned()),
    }
}

/// The shortest beginning that no other level has, and that is no yes or no.
fn beginning(names: &[&str], n: usize) -> String {
    let letters = names[n].chars().count();
    for len in 1..letters {
        let short: String = names[n].chars().take(len).collect();
        let one = names.iter().filter(|o| o.to_lowercase().starts_with(&short.to_lowercase())).count() == 1;
        if one
            && !["n", "no", "y", "ye", "yes"].contains(&short.trim().to_lowercase().as_str())
            && !short.ends_with(' ')
        {
            return short;
        }
    }
    names[n].to_owned()
}

/// One job from code to close.
fn one_job(base: &Base, code: &str, chance: &mut Chance, tally: &mut Tally) {
    let found = Found { codes: vec![code.to_owned()], codes_complete: true, ..Found::default() };
    let mut job = Job::opened(1, "walk", jiff::Timestamp::UNIX_EPOCH, Opened { found, ..Opened::default() });
    let mut wanted: Vec<Meant> = Vec::new();
    let mut words = 0;
    {
        let mut talk = Talk::new(base, &mut job, &Plain, Look::new(80), 2026);
        for _ in 0..400 {
            if talk.ask().unwrap() == Goes::Over {
                break;
            }
            talk.told();
            let question = talk.question().unwrap().clone();
            tally.entries += 1;
            // Now and then something else comes first; the question must stand there afterwards.
            if chance.one_in(12) && !question.aside() && !matches!(question, Question::Start { .. }) {
                words += 1;
                let note = format!("remark {words}");
                talk.take(&format!("note {note}")).unwrap();
                wanted.push(Meant::Note(note));
                talk.ask().unwrap();
                talk.told();
                assert_eq!(talk.question(), Some(&question), "a note has moved the question");
            }
            let (meaning, typed) = meant(&question, base, chance);
            let slip = chance.one_in(5);
            let line = if slip { slipped(&typed, chance) } else { typed.clone() };
            tally.slips += usize::from(slip);
            let before = wanted.len();
            if say(&mut talk, &question, meaning.as_ref(), &line, base, tally) {
                wanted.extend(meaning);
            } else {
                // It was refused or taken back: the same question again, typed with care this time.
                let _goes = talk.ask().unwrap();
                talk.told();
                assert_eq!(talk.question(), Some(&question), "after `{line}` another question stands there");
                if say(&mut talk, &question, meaning.as_ref(), &typed, base, tally) {
                    wanted.extend(meaning);
                } else {
                    panic!("`{typed}` is not taken at {question:?}");
                }
            }
            if matches!(wanted[before..].last(), Some(Meant::Closed(_))) {
                break;
            }
        }
    }
    assert_eq!(recorded(&job), wanted, "a wrong record");
    assert!(matches!(wanted.last(), Some(Meant::Closed(_))), "the job did not come to its end: {wanted:?}");
}

/// Types a line and reads what comes back. Answers whether it was taken as meant; what was taken otherwise is taken back.
fn say(
    talk: &mut Talk<'_>,
    question: &Question,
    meaning: Option<&Meant>,
    line: &str,
    base: &Base,
    tally: &mut Tally,
) -> bool {
    talk.take(line).unwrap();
    let mut told = talk.told();
    // Where it could mean two things, the person says which.
    while let Some(Question::Sure(doubt)) = talk.question().cloned() {
        let yes = match (&doubt, meaning) {
            (Doubt::ListNumber { outcome, .. }, Some(Meant::Outcome(_, meant))) => outcome == meant,
            _ => false,
        };
        talk.take(if yes { "y" } else { "n" }).unwrap();
        told.push_str(&talk.told());
    }
    let flat = told.split_whitespace().collect::<Vec<_>>().join(" ");
    let taken = flat.split("TAKEN AS ").nth(1);
    let want = match (question, meaning) {
        (Question::Reading { .. }, Some(Meant::Outcome(reading, outcome))) => {
            let (_, found) = base.reading(reading).unwrap();
            let name = options(found).into_iter().find(|c| c.outcome == *outcome).unwrap().name.to_uppercase();
            format!("{name}: {} stored", found.name)
        }
        (_, Some(Meant::Skip(_))) => "SKIPPED".to_owned(),
        (_, Some(Meant::Repair(repair, minutes, cost))) => {
            let mut want = format!("REPAIR MADE: {repair}");
            want.push_str(&minutes.map_or(String::new(), |m| format!(", {m} min")));
            want.push_str(&cost.map_or(String::new(), |c| format!(", {c:.2} spent")));
            format!("{want} stored")
        }
        (_, Some(Meant::Closed(Verdict::HandedOn))) => "HANDED ON".to_owned(),
        (_, Some(Meant::Closed(_))) => "CLOSED, UNSURE".to_owned(),
        _ => "LEFT OPEN".to_owned(),
    };
    let Some(taken) = taken else {
        tally.refused += 1;
        return false;
    };
    if taken.starts_with(&want) {
        return true;
    }
    let word = line.trim().chars().count() >= 3 && line.chars().any(char::is_alphabetic);
    if word && matches!(question, Question::Reading { .. }) && !taken.starts_with("NOTE") {
        tally.mistaken_words += 1;
    }
    tally.taken_back += 1;
    // Some words lead on to another question of their own; leaving it comes back here.
    for _ in 0..3 {
        if talk.ask().unwrap() == Goes::On && talk.question().is_some_and(Question::aside) {
            talk.take("back").unwrap();
        }
    }
    talk.told();
    talk.take("back").unwrap();
    talk.told();
    false
}

fn walks(which: std::ops::Range<usize>, jobs: usize) -> Tally {
    let base = shipped::base().unwrap();
    let codes = ["P0455", "P0442", "P0441", "P0443", "P0496", "P0401", "P0420", "P0480", "P0410"];
    let mut tally = Tally::default();
    for walk in which.clone() {
        let mut chance = Chance(walk as u64 * 7919 + 17);
        for _ in 0..jobs {
            let code = *chance.of(&codes);
            one_job(&base, code, &mut chance, &mut tally);
        }
        if (walk + 1) % 50 == 0 {
            println!("up to walk {} of {}: {tally:?}", walk + 1, which.end);
        }
    }
    println!("walks {which:?} of {jobs} jobs: {tally:?}");
    assert_eq!(tally.mistaken_words, 0, "a slip in a word was taken for another word: {tally:?}");
    tally
}

#[test]
fn slips_end_with_the_record_that_was_meant_or_with_a_question() {
    let tally = walks(0..2, 20);
    assert!(tally.slips * 8 > tally.entries && tally.refused > 0 && tally.taken_back > 0, "{tally:?}");
}

#[test]
#[ignore = "hours; run in release. FROM_WALK goes on where an earlier run ended"]
fn thousand_walks_of_twenty_jobs() {
    let from = std::env::var("FROM_WALK").map_or(0, |n| n.parse().expect("a number"));
    walks(from..1000, 20);
}

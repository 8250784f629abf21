//! `job`: every change is one event, stored before anything is said about it; then what it did to the suspects.

use super::base::of_job;
use super::car_said::{own_words, tell_taken};
use super::job_input::{
    add_own_words, arranged, describe, event_that_says, known_monitor, known_repair, known_suspect, looks, opened,
    passed, results, spent, store, told_strangers, uid, verdict, which, which_told,
};
use super::job_store::{check, import, list, tell_known, tell_left_out, told_waiting};
use super::job_told::{Made, made_already, told_again, told_replaced, told_unproved};
use super::symptoms::{found_said, symptoms_said};
use super::{Ending, Io, Loaded, Stop};
use cli::car::CaptureArgs;
use cli::job::{CloseArgs, JobArgs, JobCommand, RetestArgs, RetractArgs, ShowArgs};
use cli::shared::StoreArgs;
use evidence::{EvidenceError, Kind, Taken, codes_said};
use jobs::store::Vins;
use jobs::{
    Access, Amended, Change, Closed, Event, Found, Job, JobError, Noted, Refused, Reopened, Repaired, Retracted,
    Skipped, Spent, Standing, Store, StoreError, Undone, Verdict, code_proofs, made_by_the_way, parse_freeze,
    proof_tests,
};
use knowledge::Base;
use screens::failure::Failure;
use screens::{job as screen, job_json, proof, sheet, workshop};
use std::io::{Read, Write as _};
use std::path::Path;

/// Runs `job`.
///
/// # Errors
/// [`Stop`] tells why it could not be done; then nothing was stored.
pub fn run(args: &JobArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    match &args.command {
        JobCommand::Show(a) => show(a, a.number.or(args.which.job), &args.store, kb, io),
        JobCommand::List(a) => list(a, &args.store, io),
        JobCommand::Check { rebuild } => check(*rebuild, &args.store, io),
        JobCommand::Use { number } => {
            let Some(number) = number.or(args.which.job) else {
                return Err(Failure::new("no job is named").hint("for example: faultodds job use --job 12").into());
            };
            let mut store = store(&args.store, Access::Write)?;
            store.set_current(number)?;
            io.show(&format!("current: {}\n", screen::which_line(&store.job(number)?)))?;
            Ok(Ending::Done)
        }
        JobCommand::Backup { file } => {
            let store = store(&args.store, Access::Read)?;
            if let Some(folder) = file.parent().filter(|f| !f.as_os_str().is_empty() && !f.is_dir()) {
                let failure = Failure::new(format!("there is no folder {}", folder.display()));
                return Err(failure.hint("make it first, or name another file").into());
            }
            store.back_up(file)?;
            let (jobs, events) = store.size()?;
            io.show(&format!("{} holds {jobs} jobs with {events} events\n", file.display()))?;
            Ok(Ending::Done)
        }
        JobCommand::Export { numbers, no_vin } => {
            let store = store(&args.store, Access::Read)?;
            let only = (!numbers.is_empty()).then_some(numbers.as_slice());
            let vins = if *no_vin { Vins::LeaveOut } else { Vins::Keep };
            let done = store.export(&mut io.out, only, vins)?;
            tell_left_out(&done, io)
        }
        JobCommand::Import { file } => import(file.as_deref(), &args.store, io),
        JobCommand::Move { what, to } => moved(what, *to, args, kb, io),
        other => change(other, args, kb, io),
    }
}

/// The commands that add an event.
fn change(command: &JobCommand, args: &JobArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let at = &args.store;
    let loaded = Loaded::new(kb, io)?;
    let base = &loaded.base;
    let now = io.now.timestamp();
    if let JobCommand::Open(a) = command {
        let (mut opening, car_number) = opened(&a.codes, &a.car, &a.capture, &a.description, base, io)?;
        opening.tried.clone_from(&a.tried);
        let mut store = store(at, Access::Write)?;
        let job = store.open_job(&uid(io), now, opening)?;
        told_waiting(&store, io)?;
        if job.present().says_nothing() {
            let text = "no code and no symptom is on it yet, so it says nothing; add what is seen with: faultodds job record \
                        --code P0455";
            io.note(text)?;
        }
        tell_known(&mut store, job.number, car_number.as_deref(), a.capture.recognise, io)?;
        let base = &*loaded.for_job(&job);
        match Standing::of(&job, base) {
            Ok(standing) => io.show(&screen::opened(&job, &standing, base, io.look))?,
            Err(error) => stored_without_standing(job.number, 1, error, io)?,
        }
        return Ok(Ending::Done);
    }
    let repaired = match command {
        JobCommand::Record(a) if a.capture.capture.is_some() => {
            let store = store(at, Access::Read)?;
            store.job(which(&store, args.which.job)?)?.visit().spans.len() > 1
        }
        _ => false,
    };
    let event = event(command, repaired, base, io)?;
    let mut store = store(at, Access::Write)?;
    let number = which_told(&store, args.which.job, io)?;
    let mut already = None;
    let changed = store.change(number, now, |job| {
        let event = event.on(job, base, io)?;
        already = made_already(job, &event);
        Ok(match &already {
            Some(Made::ByTheWay { note }) => Event::Noted(note.clone()),
            _ => event,
        })
    })?;
    if matches!(command, JobCommand::Reopen(_)) {
        store.set_current(number)?;
    }
    told_waiting(&store, io)?;
    let base = &*loaded.for_job(&changed.after);
    let after = match Standing::of(&changed.after, base) {
        Ok(after) => after,
        Err(error) => {
            stored_without_standing(number, changed.event, error, io)?;
            return Ok(Ending::Done);
        }
    };
    let change = Standing::of(&changed.before, base).ok().map(|before| Change::between(&before, &after));
    io.show(&screen::stored(&changed, change.as_ref(), &after, base, io.look))?;
    told_again(&changed, io)?;
    told_replaced(&changed, io)?;
    if matches!(command, JobCommand::Retest(_)) && after.epoch() == 0 {
        io.note("no repair is on this job, so this is taken for what the car shows now and proves none")?;
    }
    if let JobCommand::Reopen(a) = command
        && a.comeback
        && changed.after.present().says_nothing()
    {
        let number = changed.after.number;
        io.note(&format!(
            "with what did it come back? faultodds job record --job {number} --code P0455, or --symptom"
        ))?;
    }
    if let Some(made) = already {
        io.note(made.in_words())?;
    }
    told_unproved(&changed, &after, base, io)?;
    if matches!(command, JobCommand::Record(_) | JobCommand::Retest(_)) {
        by_the_way(&mut store, &changed.after, base, io)?;
    }
    Ok(Ending::Done)
}

/// What a test has repaired by the way is stored as the repair that it is.
fn by_the_way(store: &mut Store, job: &Job, base: &Base, io: &mut Io) -> Result<(), Stop> {
    for (reading, repair) in made_by_the_way(job, base) {
        let made = Repaired { repair, note: None, with: Some(reading), spent: Spent::default() };
        let changed = store.add(job.number, io.now.timestamp(), Event::Repaired(made))?;
        let (before, after) = (Standing::of(&changed.before, base), Standing::of(&changed.after, base));
        if let (Ok(before), Ok(after)) = (before, after) {
            let change = Change::between(&before, &after);
            io.show("\n")?;
            io.show(&screen::stored(&changed, Some(&change), &after, base, io.look))?;
        }
    }
    Ok(())
}

/// The record comes first: an event that inference cannot digest is stored all the same, and that is said.
fn stored_without_standing(number: i64, event: u32, error: JobError, io: &mut Io) -> Result<(), Stop> {
    io.show(&format!("job {number}, event {event} is stored\n"))?;
    if let Stop::Failed(failure) = Stop::from(error) {
        io.err.write_all(failure.screen(io.look.width).as_bytes())?;
    }
    Ok(())
}

/// An event that is ready, or one that depends on the job it goes onto.
enum Planned {
    Ready(Box<Event>),
    Undo,
    Retract(RetractArgs),
    Amend(cli::job::AmendArgs),
}

impl Planned {
    fn on(self, job: &Job, base: &Base, io: &Io) -> Result<Event, StoreError> {
        let number = job.number;
        Ok(match self {
            Self::Ready(event) => *event,
            Self::Undo => {
                let event = job.last_undoable().ok_or(Refused::NothingToUndo { number })?;
                Event::Undone(Undone { event })
            }
            Self::Retract(a) => match a.what.trim_start_matches('#').parse::<u32>() {
                Ok(event) => Event::Retracted(Retracted { event, what: None, why: a.why }),
                Err(_) => {
                    let what = word_as_recorded(&a.what);
                    let missing = Refused::NotSaid { event: 0, what: what.clone() };
                    let event = event_that_says(job, &what).ok_or(missing)?;
                    Event::Retracted(Retracted { event, what: Some(what), why: a.why })
                }
            },
            Self::Amend(a) => {
                let mut car = job.car.clone();
                // The words were read once before, so they are known to be good.
                let _good = describe(&mut car, &a.vehicle, &a.description, base, io);
                let freeze = parse_freeze(&a.description.freeze).unwrap_or_default();
                Event::Amended(Amended {
                    car: (car != job.car).then_some(car),
                    reference: a.description.reference,
                    freeze: (!freeze.is_empty()).then_some(freeze),
                })
            }
        })
    }
}

/// Adds what a capture says and tells it back. What was stored for good before a repair says nothing after it.
fn own_words_told(
    found: &mut Found,
    capture: &CaptureArgs,
    repaired: bool,
    base: &Base,
    io: &mut Io,
) -> Result<bool, Stop> {
    let taken = if repaired { Taken::AfterRepair } else { Taken::AtFirst };
    let Some(own) = own_words(capture, false, taken, base, io)? else { return Ok(false) };
    add_own_words(found, &own);
    tell_taken(Some(&own), base, io)?;
    Ok(true)
}

fn event(command: &JobCommand, repaired: bool, base: &Base, io: &mut Io) -> Result<Planned, Stop> {
    let ready = |event| Ok(Planned::Ready(Box::new(event)));
    match command {
        JobCommand::Record(a) => {
            let mut found = Found {
                codes: told_strangers(codes_said(&a.code, base)?, io)?,
                codes_complete: false,
                symptoms: symptoms_said(&a.symptom, base, io)?,
                no_symptoms: symptoms_said(&a.no_symptom, base, io)?,
                results: results(&a.results, base)?,
                looks: looks(&found_said(&a.found, base, io)?, &a.sound, a.note.as_ref(), base)?,
                spent: spent(&a.spent),
                ..Found::default()
            };
            own_words_told(&mut found, &a.capture, repaired, base, io)?;
            ready(Event::Found(found))
        }
        JobCommand::Retest(a) if a.not_cleared => {
            let codes = told_strangers(codes_said(&a.codes, base)?, io)?;
            let text = still_stored(&codes);
            ready(Event::Noted(Noted { text, about: None, spent: spent(&a.spent) }))
        }
        JobCommand::Retest(a) => ready(Event::Retested(retest(a, base, io)?)),
        JobCommand::Repair(a) => {
            known_repair(&a.repair, base)?;
            let event = Repaired { repair: a.repair.clone(), note: a.note.clone(), with: None, spent: spent(&a.spent) };
            ready(Event::Repaired(event))
        }
        JobCommand::Note(a) => {
            let mut text = a.text.clone();
            if text == "-" {
                text.clear();
                io.input.read_to_string(&mut text)?;
            }
            if let Some(reading) = &a.on
                && base.reading(reading).is_none()
            {
                let all = base.tests.iter().flat_map(|t| &t.readings).map(|r| r.id.as_str());
                return Err(EvidenceError::unknown(Kind::Reading, reading, all).into());
            }
            ready(Event::Noted(Noted { text, about: a.on.clone(), spent: spent(&a.spent) }))
        }
        JobCommand::Close(a) => ready(Event::Closed(close(a, base)?)),
        JobCommand::Reopen(a) => {
            let codes = told_strangers(codes_said(&a.codes, base)?, io)?;
            let found = Found {
                codes_complete: a.comeback && !codes.is_empty(),
                codes,
                symptoms: symptoms_said(&a.symptom, base, io)?,
                ..Found::default()
            };
            ready(Event::Reopened(Reopened { comeback: a.comeback, why: a.why.clone(), found }))
        }
        JobCommand::Set(a) => ready(Event::Arranged(arranged(a, base)?)),
        JobCommand::Skip { step, why } => {
            if base.test(step).is_none() && base.repair(step).is_none() {
                let tests = base.tests.iter().map(|t| t.id.as_str());
                let all = tests.chain(base.repairs().map(|(_, r)| r.id.as_str()));
                return Err(EvidenceError::unknown(Kind::Step, step, all).into());
            }
            ready(Event::Skipped(Skipped { step: step.clone(), why: why.clone() }))
        }
        JobCommand::Undo => Ok(Planned::Undo),
        JobCommand::Retract(a) => Ok(Planned::Retract(RetractArgs { what: a.what.clone(), why: a.why.clone() })),
        JobCommand::Amend(a) => {
            describe(&mut Default::default(), &a.vehicle, &a.description, base, io)?;
            parse_freeze(&a.description.freeze).map_err(|e| Failure::new(e.to_string()))?;
            let given = cli::job::AmendArgs { vehicle: a.vehicle.clone(), description: a.description.clone() };
            Ok(Planned::Amend(given))
        }
        _ => Err(Failure::new("this command changes no job").into()),
    }
}

fn retest(a: &RetestArgs, base: &Base, io: &mut Io) -> Result<Found, Stop> {
    let codes = told_strangers(codes_said(&a.codes, base)?, io)?;
    let passed = passed(&a.passed, base)?;
    for monitor in &a.not_run {
        known_monitor(monitor, base)?;
    }
    if let Some(both) = passed.iter().find(|p| a.not_run.contains(&p.monitor)) {
        return Err(Failure::new(format!("{} is said to have passed and not to have run", both.monitor)).into());
    }
    let mut found = Found {
        codes,
        codes_complete: a.ran,
        results: results(&a.result, base)?,
        passed,
        not_run: a.not_run.clone(),
        spent: spent(&a.spent),
        ..Found::default()
    };
    let said = own_words_told(&mut found, &a.capture, true, base, io)?;
    if said {
        return Ok(found);
    }
    if found.codes.is_empty() && !a.ran && a.result.is_empty() && found.passed.is_empty() && a.not_run.is_empty() {
        return Err(Failure::new("nothing was retested")
            .hint("name the codes that came back, the outcome of a re-test with --result TEST=OUTCOME,")
            .hint("say with --ran that all checks have run to their end and stored nothing, or of each check with")
            .hint("--passed MONITOR and --not-run MONITOR")
            .into());
    }
    Ok(found)
}

fn close(a: &CloseArgs, base: &Base) -> Result<Closed, Stop> {
    for cause in &a.cause {
        known_suspect(cause, base)?;
    }
    let verdict = match (a.verdict, a.cause.is_empty()) {
        (Some(word), _) => verdict(word),
        (None, false) => Verdict::Confirmed,
        (None, true) => {
            return Err(Failure::new("a job is closed with what was at fault, or with why that is not known")
                .hint("--cause PART/MODE for a confirmed cause; otherwise --as unsure, handed-on or not-found")
                .into());
        }
    };
    if verdict == Verdict::Confirmed && a.cause.is_empty() {
        return Err(Failure::new("a confirmed cause must be named").hint("add --cause PART/MODE").into());
    }
    if matches!(verdict, Verdict::NotFound) && !a.cause.is_empty() {
        return Err(Failure::new("a job cannot end with a cause and with none found").into());
    }
    Ok(Closed { verdict, causes: a.cause.clone(), how: a.how.clone(), spent: spent(&a.spent) })
}

/// What stands in the record for codes that nobody cleared.
pub fn still_stored(codes: &[String]) -> String {
    format!("{} still stored; not cleared since the repair, so it says nothing", codes.join(" "))
}

/// Moves one thing that was recorded on the wrong job, all or nothing.
fn moved(what: &str, to: i64, args: &JobArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let loaded = Loaded::new(kb, io)?;
    let mut store = store(&args.store, Access::Write)?;
    let from = which_told(&store, args.which.job, io)?;
    if from == to {
        return Err(Failure::new(format!("job {to} is where it is already")).into());
    }
    let what = word_as_recorded(what);
    let (left, arrived) = store.move_word(from, to, io.now.timestamp(), &what)?;
    told_waiting(&store, io)?;
    for changed in [left, arrived] {
        let base = &*loaded.for_job(&changed.after);
        match Standing::of(&changed.after, base) {
            Ok(after) => {
                let change = Standing::of(&changed.before, base).ok().map(|before| Change::between(&before, &after));
                io.show(&screen::stored(&changed, change.as_ref(), &after, base, io.look))?;
            }
            Err(error) => stored_without_standing(changed.after.number, changed.event, error, io)?,
        }
    }
    Ok(Ending::Done)
}

fn show(a: &ShowArgs, given: Option<i64>, at: &StoreArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let loaded = Loaded::new(kb, io)?;
    let store = store(at, Access::Read)?;
    let job = store.job(which_told(&store, given, io)?)?;
    loaded.tell_groups(&of_job(&job), io)?;
    let base = &*loaded.for_job(&job);
    let standing = Standing::of(&job, base)?;
    if a.json {
        io.show_json(&job_json::show(&job, &standing))?;
    } else if a.sheet {
        io.show(&sheet::sheet(&job, &standing, base, &io.now, io.look))?;
    } else if a.workshop {
        let story = workshop::story(&job, base);
        io.show(&workshop::workshop(&job, &standing, &story, base, &io.now, io.look))?;
    } else {
        io.show(&screen::show(&job, &standing, base, a.top, &io.now, io.look))?;
        if a.proof {
            let tests = proof_tests(&standing, &job, base)?;
            io.show(&proof::proof(&code_proofs(&job, base), &tests, base, io.look))?;
        }
    }
    Ok(Ending::Done)
}

/// A code in capitals, anything else as it is.
fn word_as_recorded(what: &str) -> String {
    let what = what.trim();
    if what.starts_with(['P', 'p']) && what.len() == 5 { what.to_uppercase() } else { what.to_owned() }
}

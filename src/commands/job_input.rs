//! From the words of `job` and `guide` to events: the store, the job meant, the car, findings. Asks nothing of the base
//! that it does not answer, and stores nothing.

use super::car_said::{check_tools, own_words, tell_taken};
use super::symptoms::{found_said, symptoms_said};
use super::{Io, Stop};
use cli::CarArgs;
use cli::car::FirstCaptureArgs;
use cli::job::{DescriptionArgs, SetArgs, SpentArgs, VerdictWord};
use cli::shared::StoreArgs;
use evidence::{
    CarSaid, CodesSaid, EvidenceError, Kind, Look, Taken as When, codes_said, looks_said, parse_vehicle, results_said,
    unknown_repair, unknown_suspect,
};
use jobs::store::Filter;
use jobs::{
    Access, Arranged, Car, Event, Found, Freeze, Job, JobError, Looked, Opened, Passed, Reported, Spent, Store,
    StoreError, Taken, Verdict, parse_freeze, place,
};
use knowledge::Base;
use knowledge::base::Vehicle;
use screens::failure::Failure;
use std::hash::{BuildHasher, Hasher, RandomState};

impl From<StoreError> for Stop {
    fn from(error: StoreError) -> Self {
        // A reader that went away while jobs were being written out is nobody's failure.
        if let StoreError::Stream { source, .. } = &error
            && source.kind() == std::io::ErrorKind::BrokenPipe
        {
            return Self::Output(std::io::ErrorKind::BrokenPipe.into());
        }
        let failure = Failure::new(error.to_string());
        Self::Failed(match &error {
            StoreError::Missing { .. } => failure.hint("open the first job with: faultodds job open P0455"),
            StoreError::NoCurrent => failure
                .hint("name one with --job NUMBER, or make one current with: faultodds job use NUMBER")
                .hint("the first job is opened with: faultodds job open P0455"),
            StoreError::NoJob { .. } => failure.hint("see what there is with: faultodds job list"),
            StoreError::NotAStore { .. } => failure.hint("give another file with --db FILE"),
            StoreError::Newer { .. } => failure.hint("use the later version, or another file with --db FILE"),
            StoreError::CutShort { .. } | StoreError::Damaged { .. } => failure.hint(
                "go back to a copy made with `faultodds job backup`, and keep this file for whoever can look into it",
            ),
            StoreError::ReadOnly { .. } | StoreError::CannotOpen { .. } | StoreError::Folder { .. } => {
                failure.hint("jobs can be kept elsewhere with --db FILE or the variable FAULTODDS_DB")
            }
            StoreError::Full { .. } => failure.hint("make room and say it again; what was acknowledged before is safe"),
            _ => failure,
        })
    }
}

impl From<JobError> for Stop {
    fn from(error: JobError) -> Self {
        match error {
            JobError::Evidence(error) => error.into(),
            JobError::Inference { error: inference::InferenceError::Impossible { findings: at }, findings } => {
                let names: Vec<&str> = at.iter().filter_map(|i| findings.get(*i)).map(String::as_str).collect();
                Failure::new(format!("these findings cannot all be true: {}", names.join(", ")))
                    .hint("take the wrong one back with: faultodds job retract READING")
                    .into()
            }
            other => Failure::new(other.to_string()).hint("take back findings that speak of the same thing").into(),
        }
    }
}

/// Opens the store that the command means.
///
/// # Errors
/// Everything that can be wrong with it.
pub fn store(args: &StoreArgs, access: Access) -> Result<Store, Stop> {
    let path = place(args.db.as_deref()).ok_or_else(|| {
        Failure::new("this system names no folder for data").hint("say where jobs are kept with --db FILE")
    })?;
    Ok(Store::open(&path, access)?)
}

/// The number given, or the current job's.
///
/// # Errors
/// No job is current.
pub fn which(store: &Store, given: Option<i64>) -> Result<i64, Stop> {
    match given {
        Some(number) => Ok(number),
        None => store.current()?.ok_or_else(|| StoreError::NoCurrent.into()),
    }
}

/// The same; when several jobs are open and none was named, says on the error stream which it took.
///
/// # Errors
/// As [`which`].
pub fn which_told(store: &Store, given: Option<i64>, io: &mut Io) -> Result<i64, Stop> {
    let number = which(store, given)?;
    if given.is_none() {
        let open = Filter { open: Some(true), ..Filter::default() };
        let total = store.list(&open, 0)?.total;
        if total > 1 {
            let line = screens::job::which_line(&store.job(number)?);
            let text = format!("{total} jobs are open; taken: {line}; another one with --job NUMBER");
            io.note(&text)?;
        }
    }
    Ok(number)
}

/// All codes said; those that the base does not know are told on the error stream and kept.
///
/// # Errors
/// When the stream cannot be written.
pub fn told_strangers(said: CodesSaid, io: &mut Io) -> Result<Vec<String>, Stop> {
    for stranger in &said.strangers {
        io.note(&stranger.in_words())?;
    }
    Ok(said.all)
}

/// An id that no other job has: 128 bits from the keys that the system gave this process, mixed with the time.
pub fn uid(io: &Io) -> String {
    let half = || {
        let mut hasher = RandomState::new().build_hasher();
        hasher.write_i128(io.now.timestamp().as_nanosecond());
        hasher.write_u32(std::process::id());
        hasher.finish()
    };
    format!("{:016x}{:016x}", half(), half())
}

/// A new job's opening.
///
/// # Errors
/// A word that the base does not know.
pub fn opened(
    codes: &[String],
    car: &CarArgs,
    first: &FirstCaptureArgs,
    about: &DescriptionArgs,
    base: &Base,
    io: &mut Io,
) -> Result<(Opened, Option<String>), Stop> {
    let codes = told_strangers(codes_said(codes, base)?, io)?;
    let mut described = Car::default();
    describe(&mut described, &car.vehicle, about, base, io)?;
    let mut freeze = parse_freeze(&about.freeze).map_err(|e| Failure::new(e.to_string()))?;
    for repair in &car.already {
        known_repair(repair, base)?;
    }
    let mut found = Found {
        codes_complete: !car.codes_incomplete && !codes.is_empty(),
        codes,
        symptoms: symptoms_said(&car.symptom, base, io)?,
        no_symptoms: symptoms_said(&car.no_symptom, base, io)?,
        results: results(&car.result, base)?,
        looks: looks(&found_said(&car.found, base, io)?, &car.sound, None, base)?,
        ..Found::default()
    };
    let taken = if car.already.is_empty() { When::AtFirst } else { When::AfterRepair };
    let mut number = about.vin.clone();
    if let Some(own) = own_words(&first.capture, first.recognise, taken, base, io)? {
        number = own.number.as_ref().map(|n| n.secret().to_owned()).or(number);
        add_own_words(&mut found, &own);
        let mut vehicle = described.vehicle();
        own.into_vehicle(&mut vehicle, base);
        described.set_vehicle(vehicle);
        if freeze.is_empty() {
            freeze = frozen(&own);
        }
        tell_taken(Some(&own), base, io)?;
    }
    let opened = Opened {
        car: described,
        reference: about.reference.clone(),
        found,
        already: car.already.clone(),
        tried: None,
        freeze,
    };
    Ok((opened, number))
}

/// Puts what the car said of itself beside what a person said; a person's own outcome of a reading stands.
pub fn add_own_words(found: &mut Found, own: &CarSaid) {
    for code in own.codes.iter().chain(own.pending_only.iter().filter(|c| own.strangers.contains(c))) {
        if !found.codes.contains(code) {
            found.codes.push(code.clone());
        }
    }
    found.codes_complete = own.codes_complete;
    found.not_run.extend(own.not_run.iter().filter(|m| !found.passed.iter().any(|p| p.monitor == **m)).cloned());
    found.reported = own
        .results
        .iter()
        .map(|r| Reported { monitor: r.monitor.clone(), likelihoods: r.likelihood.clone(), words: r.words.clone() })
        .collect();
    for answer in &own.readings {
        if !found.results.iter().any(|r| r.reading == answer.reading) {
            found.results.push(Taken { reading: answer.reading.clone(), outcome: answer.outcome.to_string() });
        }
    }
}

/// What was frozen with the first code that the base knows.
fn frozen(own: &CarSaid) -> Freeze {
    let Some(frozen) = &own.frozen else { return Freeze::default() };
    Freeze {
        code: frozen.code.map(|c| c.to_string()),
        fuel_percent: frozen.value("fuel-level"),
        ambient_c: frozen.value("ambient-temperature").or_else(|| frozen.value("intake-temperature")),
        coolant_c: frozen.value("coolant-temperature"),
        speed_kmh: frozen.value("road-speed"),
        when: None,
    }
}

/// Takes what was said about the car over into its description.
///
/// # Errors
/// A word that the base does not know.
pub fn describe(car: &mut Car, vehicle: &[String], about: &DescriptionArgs, base: &Base, io: &Io) -> Result<(), Stop> {
    for (slot, given) in [
        (&mut car.make, &about.make),
        (&mut car.model, &about.model),
        (&mut car.engine, &about.engine),
        (&mut car.vin, &about.vin),
    ] {
        if given.is_some() {
            slot.clone_from(given);
        }
    }
    let said = parse_vehicle(vehicle, base, io.now.year())?;
    if about.year.is_some() {
        car.year = about.year;
        // An age that was said holds; otherwise it follows from the model year.
        car.age = Some(f64::from((i32::from(io.now.year()) - about.year.unwrap_or_default()).clamp(0, 100)));
    }
    merge(car, said, base);
    Ok(())
}

/// What was said of the vehicle takes the place of what was known of the same thing.
pub fn merge(car: &mut Car, said: Vehicle, base: &Base) {
    let mut known = car.vehicle();
    known.age = said.age.or(known.age);
    known.mileage_km = said.mileage_km.or(known.mileage_km);
    if !said.climates.is_empty() {
        known.climates = said.climates;
    }
    for option in said.equipment {
        if let Some((choice, _)) = base.equipment_option(&option) {
            known.equipment.retain(|e| !choice.options.iter().any(|o| o.id == *e));
        }
        known.equipment.push(option);
    }
    for word in said.circumstances {
        if !known.circumstances.contains(&word) {
            known.circumstances.push(word);
        }
    }
    car.set_vehicle(known);
}

/// Outcomes as typed. They are stored in the words of the outcome itself.
///
/// # Errors
/// An unknown test or reading, or an outcome that it does not have.
pub fn results(words: &[String], base: &Base) -> Result<Vec<Taken>, Stop> {
    let said = results_said(words, base)?;
    for (i, (reading, outcome)) in said.iter().enumerate() {
        if let Some((_, other)) = said[..i].iter().find(|(r, o)| r == reading && o != outcome) {
            let (one, other) = (other.to_string(), outcome.to_string());
            return Err(EvidenceError::Contradiction { what: reading.clone(), one, other }.into());
        }
    }
    Ok(said.into_iter().map(|(reading, outcome)| Taken { reading, outcome: outcome.to_string() }).collect())
}

/// A repair of the base.
///
/// # Errors
/// One that the base does not know.
pub fn known_repair(repair: &str, base: &Base) -> Result<(), Stop> {
    if base.repair(repair).is_some() {
        return Ok(());
    }
    Err(unknown_repair(repair, base).into())
}

/// A suspect of the base, "cause not listed here" included.
///
/// # Errors
/// One that the base does not know.
pub fn known_suspect(id: &str, base: &Base) -> Result<(), Stop> {
    let listed = base.suspect(id).is_some();
    let not_listed = network::is_not_listed(id) && base.suspect_name(id) != id;
    if listed || not_listed {
        return Ok(());
    }
    if let Some(part) = base.part(id).filter(|p| !p.suspects.is_empty()) {
        let modes: Vec<&str> = part.suspects.iter().map(|s| s.id.as_str()).collect();
        let why = format!("say which of its faults it was: {}", modes.join(", "));
        return Err(EvidenceError::Unusable { what: id.to_owned(), why }.into());
    }
    Err(unknown_suspect(id, base).into())
}

/// A check of the engine computer.
///
/// # Errors
/// One that the base does not know.
pub fn known_monitor(id: &str, base: &Base) -> Result<(), Stop> {
    if base.monitor(id).is_some() {
        return Ok(());
    }
    Err(EvidenceError::unknown(Kind::Entry, id, base.monitors.iter().map(|m| m.id.as_str())).into())
}

/// Checks that passed: `leak-check`, `leak-check=2/2`.
///
/// # Errors
/// An unknown check, or numbers that are none.
pub fn passed(words: &[String], base: &Base) -> Result<Vec<Passed>, Stop> {
    let one = |word: &String| {
        let (monitor, times) = word.split_once('=').map_or((word.as_str(), None), |(m, t)| (m, Some(t)));
        known_monitor(monitor, base)?;
        let times = times.map(|t| {
            let (n, of) = t.split_once(['/', 'o']).map(|(n, of)| (n.trim(), of.trim_start_matches('f').trim()))?;
            let (n, of): (u32, u32) = (n.parse().ok()?, of.parse().ok()?);
            (n <= of && of > 0).then_some((n, of))
        });
        match times {
            Some(None) => Err(Failure::new(format!("`{word}`: how often it passed is written 2/2")).into()),
            // Less than all of them is a check that has failed once, or is not through.
            Some(Some((n, of))) if n < of => {
                let failure = Failure::new(format!("`{word}`: {n} of {of} is not passed yet"));
                Err(failure
                    .hint("a check that failed a time is told by its code; one not through with --not-run")
                    .into())
            }
            times => Ok(Passed { monitor: monitor.to_owned(), times: times.flatten() }),
        }
    };
    words.iter().map(one).collect()
}

/// Suspects that were looked at.
///
/// # Errors
/// An unknown suspect, or one that cannot be seen.
pub fn looks(found: &[String], sound: &[String], note: Option<&String>, base: &Base) -> Result<Vec<Looked>, Stop> {
    let said = looks_said(found, sound, base)?;
    let looked = |(suspect, look): (String, Look)| Looked { suspect, outcome: look.into(), words: note.cloned() };
    Ok(said.into_iter().map(looked).collect())
}

/// Tools, limit and shop file.
///
/// # Errors
/// A tool that the base does not know, or one that is said to be at hand and not to be.
pub fn arranged(a: &SetArgs, base: &Base) -> Result<Arranged, Stop> {
    let all: Vec<String> = a.tools.iter().flatten().chain(&a.with).chain(&a.without).cloned().collect();
    let all: Vec<String> = all.into_iter().filter(|t| !t.is_empty()).collect();
    check_tools(&all, base)?;
    if let Some(both) = a.with.iter().find(|t| a.without.contains(t)) {
        return Err(Failure::new(format!("{both} is said to be at hand and not to be")).into());
    }
    let tools = a.tools.clone().map(|t| t.into_iter().filter(|t| !t.is_empty()).collect());
    Ok(Arranged {
        tools,
        with: a.with.clone(),
        without: a.without.clone(),
        limit: a.limit,
        shop: a.shop.clone(),
        overlay: None,
    })
}

/// Minutes and money.
pub fn spent(args: &SpentArgs) -> Spent {
    Spent { minutes: args.minutes, cost: args.cost }
}

/// The verdict of a word.
pub fn verdict(word: VerdictWord) -> Verdict {
    match word {
        VerdictWord::Confirmed => Verdict::Confirmed,
        VerdictWord::Unsure => Verdict::Unsure,
        VerdictWord::HandedOn => Verdict::HandedOn,
        VerdictWord::NotFound => Verdict::NotFound,
    }
}

/// The last event that says this and still holds: for retracting by words instead of numbers.
pub fn event_that_says(job: &Job, what: &str) -> Option<u32> {
    let says = |event: &Event| event.found().is_some_and(|f| f.says(what));
    let gone = |n: u32| job.is_retracted(n, None) || job.is_retracted(n, Some(what));
    job.log.iter().rev().find(|e| e.holds && says(&e.event) && !gone(e.number)).map(|e| e.number)
}

//! `rank`: suspects for the codes on the line or for a job. Nothing is stored.

use super::base::of_job;
use super::job_input::store;
use super::symptoms::{found_said, symptoms_said};
use super::{Ending, Io, Loaded, Stop};
use crate::cli::car::CaptureArgs;
use crate::cli::{CarArgs, RankArgs};
use crate::evidence::{
    CarSaid, Epoch, EvidenceError, History, Kind, MonitorResult, Stranger, Taken, Told, car_said, codes_said,
    looks_said, parse_vehicle, renewed_said, results_said,
};
use crate::inference::Prepared;
use crate::jobs::{Access, Job, Standing};
use crate::knowledge::base::{Base, Vehicle};
use crate::network::Network;
use crate::network::build::build;
use crate::planning::Shop;
use crate::ranking::{Wanted, first_checks, rank};
use crate::screens::failure::{self, Failure};
use crate::screens::{car_taken, json, rank::RankScreen};
use std::borrow::Cow;
use std::collections::BTreeSet;
use std::path::Path;

pub(super) fn run(args: &RankArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let loaded = Loaded::new(kb, io)?;
    let asked = match args.which.job {
        Some(number) => Asked::of_job(number, args, &loaded, io)?,
        None => Asked::said(args, &loaded, io)?,
    };
    let base = &*asked.base;
    if asked.nothing_wrong {
        return nothing_wrong(&asked, args.json, io);
    }
    let (network, told) = (&asked.network, &asked.told);
    // A number read off a gauge is shown with what it weighs.
    let weights = args.why || told.what.iter().any(|w| w.number.is_some());
    let wanted = Wanted { weights, every_interval: args.json };
    let (ranking, checks) = rayon::join(
        || rank(network, told, wanted),
        || {
            let mut prepared = Prepared::new(network, &told.evidence)?;
            first_checks(base, network, &mut prepared, &asked.done, asked.tools.as_deref())
        },
    );
    let refused = |e| failure::inference(&e, network);
    let (ranking, checks) = (ranking.map_err(refused)?, checks.map_err(refused)?);
    if args.json {
        let mut value = json::rank(base, network, told, &ranking, &checks);
        if let Some(own) = &asked.own_words {
            value["car"] = car_taken::value(own);
        }
        io.show_json(&value)?;
    } else {
        let screen = RankScreen {
            base,
            network,
            told,
            job: asked.job.as_ref(),
            codes: &asked.codes,
            strangers: &asked.strangers,
            ranking: &ranking,
            checks: &checks,
            top: args.top.map(|t| t.max(1)),
            long: args.long,
            why: args.why,
        };
        let text = screen.text(io.look);
        tell_taken(asked.own_words.as_ref(), base, io)?;
        io.show(&text)?;
    }
    Ok(Ending::Done)
}

/// Tells back what was taken from a capture, if there was one.
pub(super) fn tell_taken(own: Option<&CarSaid>, base: &Base, io: &mut Io) -> Result<(), Stop> {
    if let Some(own) = own {
        let text = car_taken::text(own, base, io.look);
        io.show(&text)?;
    }
    Ok(())
}

/// The answer to a capture in which nothing speaks for a fault.
fn nothing_wrong(asked: &Asked<'_>, as_json: bool, io: &mut Io) -> Result<Ending, Stop> {
    if as_json {
        let own = asked.own_words.as_ref().map(car_taken::value);
        io.show_json(&serde_json::json!({"schema": "faultodds.rank/1", "suspects": [], "evidence": [], "car": own}))?;
    } else {
        tell_taken(asked.own_words.as_ref(), &asked.base, io)?;
        io.show("Nothing in it speaks for a fault: add what is noticed with --symptom.\n")?;
    }
    Ok(Ending::No)
}

/// What is asked: the car on the line, or a job.
struct Asked<'a> {
    base: Cow<'a, Base>,
    network: Network,
    told: Told,
    job: Option<Job>,
    codes: Vec<String>,
    strangers: Vec<Stranger>,
    /// Readings that have outcomes.
    done: BTreeSet<String>,
    tools: Option<Vec<String>>,
    /// What the car said of itself, where a capture was given.
    own_words: Option<CarSaid>,
    /// A capture is all there is, and nothing in it speaks for a fault.
    nothing_wrong: bool,
}

impl<'a> Asked<'a> {
    fn said(args: &RankArgs, loaded: &'a Loaded, io: &mut Io) -> Result<Self, Stop> {
        let base = loaded.for_car(&args.group);
        loaded.tell_groups(&args.group, io)?;
        let car = Car::said(&args.codes, &args.car, &args.capture, &base, io)?;
        let present = car.history.epochs.last();
        if present.is_none_or(|e| !e.says_anything()) && car.own_words.is_none() {
            let failure =
                Failure::new("no code, no symptom and no result is given, so there is nothing to reason from");
            return Err(failure
                .hint("for example: faultodds rank P0455")
                .hint("or for a job: faultodds rank --job 12")
                .into());
        }
        if let Some(tools) = &args.tools {
            check_tools(tools, &base)?;
        }
        let network = build(&base, &car.vehicle);
        let told = car.history.tell(&base, &network)?;
        let done = present.into_iter().flat_map(|e| &e.results).map(|r| r.0.clone()).collect();
        let nothing_wrong = car.nothing_wrong();
        let (codes, strangers, tools, own_words) = (car.codes, car.strangers, args.tools.clone(), car.own_words);
        Ok(Self { base, network, told, job: None, codes, strangers, done, tools, own_words, nothing_wrong })
    }

    fn of_job(number: i64, args: &RankArgs, loaded: &'a Loaded, io: &mut Io) -> Result<Self, Stop> {
        let car = &args.car;
        let said = !args.codes.is_empty() || args.capture.capture.is_some();
        if said || !car.symptom.is_empty() || !car.result.is_empty() || !car.vehicle.is_empty() {
            let failure = Failure::new("a job and findings are given; only one of them can be meant");
            return Err(failure.hint("record findings on the job with: faultodds job record").into());
        }
        let job = store(&args.store, Access::Read)?.job(number)?;
        loaded.tell_groups(&of_job(&job), io)?;
        let base = loaded.for_job(&job);
        let standing = Standing::of(&job, &base)?;
        let all: Vec<String> = job.codes().into_iter().map(str::to_owned).collect();
        let said = codes_said(&all, &base)?;
        if let Some(tools) = &args.tools {
            check_tools(tools, &base)?;
        }
        let own = || job.terms.shop(Shop::default(), &base).tools.map(|t| t.into_iter().collect());
        let tools = args.tools.clone().or_else(own);
        let done = job.present().results.iter().map(|r| r.reading.clone()).collect();
        let (network, told) = (standing.network, standing.told);
        let (codes, strangers, own_words) = (said.known, said.strangers, None);
        Ok(Self { base, network, told, job: Some(job), codes, strangers, done, tools, own_words, nothing_wrong: false })
    }
}

/// The car as said on the command line.
#[derive(Debug)]
pub(super) struct Car {
    pub vehicle: Vehicle,
    pub codes: Vec<String>,
    pub strangers: Vec<Stranger>,
    pub history: History,
    /// What the car said of itself, where a capture was given.
    pub own_words: Option<CarSaid>,
}

impl Car {
    /// Reads codes and what is known of the car.
    pub fn said(
        codes: &[String],
        args: &CarArgs,
        capture: &CaptureArgs,
        base: &Base,
        io: &mut Io,
    ) -> Result<Self, Stop> {
        let said = codes_said(codes, base)?;
        // With something else to reason from, strangers alone do no harm.
        let nothing_else = args.symptom.is_empty() && args.result.is_empty() && capture.capture.is_none();
        let said = if nothing_else { said.some_known()? } else { said };
        let (codes, strangers) = (said.known, said.strangers);
        let mut vehicle = parse_vehicle(&args.vehicle, base, io.today.year())?;
        let mut already = Vec::new();
        for repair in &args.already {
            already.push(repair_said(repair, base)?);
        }
        let mut present = Epoch {
            codes_complete: !args.codes_incomplete && !codes.is_empty(),
            codes,
            symptoms: symptoms_said(&args.symptom, base, io)?,
            no_symptoms: symptoms_said(&args.no_symptom, base, io)?,
            results: results_said(&args.result, base)?,
            looks: looks_said(&found_said(&args.found, base, io)?, &args.sound, base)?,
            ..Epoch::default()
        };
        let taken = if already.is_empty() { Taken::AtFirst } else { Taken::AfterRepair };
        let own_words = own_words(capture, taken, base, io)?;
        if let Some(own) = &own_words {
            own.into_epoch(&mut present, base);
            own.into_vehicle(&mut vehicle, base);
            present.codes_complete &= !args.codes_incomplete;
        }
        let codes = present.codes.clone();
        let history = History::visit(already, present);
        let vehicle = history.settle(base, &vehicle);
        Ok(Self { vehicle, codes, strangers, history, own_words })
    }

    /// Whether a capture is all there is, and holds nothing that speaks for a fault.
    fn nothing_wrong(&self) -> bool {
        let (Some(own), Some(present)) = (&self.own_words, self.history.epochs.last()) else { return false };
        let answered = |reading: &String| own.readings.iter().any(|a| a.reading == *reading);
        present.codes.is_empty()
            && present.symptoms.is_empty()
            && present.looks.is_empty()
            && !present.monitor_results.iter().any(MonitorResult::failed)
            && present.results.iter().all(|(r, _)| answered(r))
    }
}

/// What a capture says as evidence.
pub(super) fn own_words(
    capture: &CaptureArgs,
    taken: Taken,
    base: &Base,
    io: &mut Io,
) -> Result<Option<CarSaid>, Stop> {
    let Some(file) = &capture.capture else { return Ok(None) };
    let report = super::car::capture(file, io, crate::car::Wanted::default())?;
    if report.is_empty() {
        let failure = Failure::new(format!("{}: no control unit answers in this capture", file.display()));
        return Err(failure.hint(format!("look at it with: faultodds car read {}", file.display())).into());
    }
    Ok(Some(car_said(&report, base, taken)))
}

/// A repair by its id; a part with only one repair stands for it.
pub(super) fn repair_said(said: &str, base: &Base) -> Result<String, EvidenceError> {
    let (id, how) = renewed_said(said)?;
    let id = id.to_lowercase();
    let with = |repair: &str| how.as_ref().map_or_else(|| repair.to_owned(), |how| format!("{repair}={how}"));
    if let Some((_, repair)) = base.repair(&id) {
        return Ok(with(&repair.id));
    }
    if let Some(part) = base.part(&id) {
        if let [only] = part.repairs.as_slice() {
            return Ok(with(&only.id));
        }
        let why =
            format!("say which repair: {}", part.repairs.iter().map(|r| r.id.as_str()).collect::<Vec<_>>().join(", "));
        return Err(EvidenceError::Unusable { what: id, why });
    }
    Err(EvidenceError::unknown(Kind::Repair, &id, base.repairs().map(|(_, r)| r.id.as_str())))
}

/// Refuses tools that the base does not know.
pub(super) fn check_tools(tools: &[String], base: &Base) -> Result<(), EvidenceError> {
    match tools.iter().find(|t| base.tool(t).is_none()) {
        Some(unknown) => Err(EvidenceError::unknown(Kind::Tool, unknown, base.tools.iter().map(|t| t.id.as_str()))),
        None => Ok(()),
    }
}

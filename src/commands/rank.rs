//! `rank`: suspects for the codes on the line or for a job. Nothing is stored.

use super::base::of_job;
use super::job_input::store;
use super::symptoms::{found_said, symptoms_said};
use super::{Ending, Io, Loaded, Stop};
use crate::cli::{CarArgs, RankArgs};
use crate::evidence::{
    Epoch, EvidenceError, History, Kind, Stranger, Told, codes_said, looks_said, parse_vehicle, results_said,
};
use crate::inference::Prepared;
use crate::jobs::{Access, Job, Standing};
use crate::knowledge::base::{Base, Vehicle};
use crate::network::Network;
use crate::network::build::build;
use crate::planning::Shop;
use crate::ranking::{Wanted, first_checks, rank};
use crate::screens::failure::{self, Failure};
use crate::screens::{json, rank::RankScreen};
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
        io.show_json(&json::rank(base, network, told, &ranking, &checks))?;
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
        io.show(&text)?;
    }
    Ok(Ending::Done)
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
}

impl<'a> Asked<'a> {
    fn said(args: &RankArgs, loaded: &'a Loaded, io: &mut Io) -> Result<Self, Stop> {
        let base = loaded.for_car(&args.group);
        loaded.tell_groups(&args.group, io)?;
        let car = Car::said(&args.codes, &args.car, &base, io)?;
        let present = car.history.epochs.last();
        if present.is_none_or(|e| !e.says_anything()) {
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
        let (codes, strangers, tools) = (car.codes, car.strangers, args.tools.clone());
        Ok(Self { base, network, told, job: None, codes, strangers, done, tools })
    }

    fn of_job(number: i64, args: &RankArgs, loaded: &'a Loaded, io: &mut Io) -> Result<Self, Stop> {
        let car = &args.car;
        if !args.codes.is_empty() || !car.symptom.is_empty() || !car.result.is_empty() || !car.vehicle.is_empty() {
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
        Ok(Self { base, network, told, job: Some(job), codes: said.known, strangers: said.strangers, done, tools })
    }
}

/// The car as said on the command line.
#[derive(Debug)]
pub(super) struct Car {
    pub vehicle: Vehicle,
    pub codes: Vec<String>,
    pub strangers: Vec<Stranger>,
    pub history: History,
}

impl Car {
    /// Reads codes and what is known of the car.
    pub fn said(codes: &[String], args: &CarArgs, base: &Base, io: &mut Io) -> Result<Self, Stop> {
        let said = codes_said(codes, base)?;
        // With something else to reason from, strangers alone do no harm.
        let nothing_else = args.symptom.is_empty() && args.result.is_empty();
        let said = if nothing_else { said.some_known()? } else { said };
        let (codes, strangers) = (said.known, said.strangers);
        let vehicle = parse_vehicle(&args.vehicle, base, io.today.year())?;
        let mut already = Vec::new();
        for repair in &args.already {
            already.push(repair_said(repair, base)?);
        }
        let present = Epoch {
            codes: codes.clone(),
            codes_complete: !args.codes_incomplete && !codes.is_empty(),
            symptoms: symptoms_said(&args.symptom, base, io)?,
            no_symptoms: symptoms_said(&args.no_symptom, base, io)?,
            results: results_said(&args.result, base)?,
            looks: looks_said(&found_said(&args.found, base, io)?, &args.sound, base)?,
            ..Epoch::default()
        };
        let history = History::visit(already, present);
        let vehicle = history.settle(base, &vehicle);
        Ok(Self { vehicle, codes, strangers, history })
    }
}

/// A repair by its id; a part with only one repair stands for it.
pub(super) fn repair_said(said: &str, base: &Base) -> Result<String, EvidenceError> {
    let id = said.trim().to_lowercase();
    if let Some((_, repair)) = base.repair(&id) {
        return Ok(repair.id.clone());
    }
    if let Some(part) = base.part(&id) {
        if let [only] = part.repairs.as_slice() {
            return Ok(only.id.clone());
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

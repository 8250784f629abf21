//! `rank`: suspects for the codes on the line. Nothing is stored.

use super::symptoms::symptoms_said;
use super::{Ending, Io, Loaded, Stop};
use crate::cli::{CarArgs, RankArgs};
use crate::evidence::{Epoch, EvidenceError, History, Kind, codes_said, looks_said, parse_vehicle, results_said};
use crate::inference::Prepared;
use crate::knowledge::base::{Base, Vehicle};
use crate::network::build::build;
use crate::ranking::{Wanted, first_checks, rank};
use crate::screens::failure::{self, Failure};
use crate::screens::{json, rank::RankScreen};
use std::collections::BTreeSet;
use std::path::Path;

pub(super) fn run(args: &RankArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let loaded = Loaded::new(kb, io)?;
    let base = &*loaded.for_car(&args.group);
    loaded.tell_groups(&args.group, io)?;
    let car = Car::said(&args.codes, &args.car, base, io)?;
    if car.history.epochs.last().is_none_or(|e| !e.says_anything()) {
        let failure = Failure::new("no code, no symptom and no result is given, so there is nothing to reason from");
        return Err(failure.hint("for example: faultodds rank P0455").into());
    }
    if let Some(tools) = &args.tools {
        check_tools(tools, base)?;
    }
    let network = build(base, &car.vehicle);
    let told = car.history.tell(base, &network)?;
    let done: BTreeSet<String> =
        car.history.epochs.last().into_iter().flat_map(|e| &e.results).map(|r| r.0.clone()).collect();
    // A number read off a gauge is shown with what it weighs.
    let weights = args.why || told.what.iter().any(|w| w.number.is_some());
    let wanted = Wanted { weights, every_interval: args.json };
    let (ranking, checks) = rayon::join(
        || rank(&network, &told, wanted),
        || {
            let mut prepared = Prepared::new(&network, &told.evidence)?;
            first_checks(base, &network, &mut prepared, &done, args.tools.as_deref())
        },
    );
    let refused = |e| failure::inference(&e, &network);
    let (ranking, checks) = (ranking.map_err(refused)?, checks.map_err(refused)?);
    if args.json {
        io.show_json(&json::rank(base, &network, &told, &ranking, &checks))?;
    } else {
        let screen = RankScreen {
            base,
            network: &network,
            told: &told,
            codes: &car.codes,
            ranking: &ranking,
            checks: &checks,
            top: args.top.max(1),
            why: args.why,
        };
        let text = screen.text(io.look);
        io.show(&text)?;
    }
    Ok(Ending::Done)
}

/// The car as said on the command line.
#[derive(Debug)]
pub(super) struct Car {
    pub vehicle: Vehicle,
    pub codes: Vec<String>,
    pub history: History,
}

impl Car {
    /// Reads codes and what is known of the car.
    pub fn said(codes: &[String], args: &CarArgs, base: &Base, io: &mut Io) -> Result<Self, Stop> {
        let codes = codes_said(codes, base)?;
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
            looks: looks_said(&args.found, &args.sound, base)?,
            repairs: Vec::new(),
        };
        let history = History::visit(already, present);
        let vehicle = history.settle(base, &vehicle);
        Ok(Self { vehicle, codes, history })
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

//! `worth`: what a tool would save, by planning every code of the mix with it and without it.

use super::planned::shop;
use super::rank::check_tools;
use super::{Ending, Io, Loaded, Stop};
use crate::cli::plan::WorthArgs;
use crate::evidence::{Epoch, History, codes_said, parse_vehicle};
use crate::knowledge::base::Base;
use crate::network::{Network, build::build};
use crate::planning::{Detail, Effort, PlanError, Question, Shop, plan, pose};
use crate::screens::failure::{self, Failure};
use crate::screens::worth::{Gain, WorthScreen};
use rayon::prelude::*;
use std::path::Path;

/// A plan that is good enough to compare two shops by, for many codes in a row.
const DETAIL: Detail = Detail { lump: 0.02, full: 0.03, ahead: 0.01, trim: 0.001, depth: 40, work: 10_000_000 };

pub(super) fn run(args: &WorthArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let loaded = Loaded::new(kb, io)?;
    let base = &loaded.base;
    let shop = shop(&args.shop, base)?;
    check_tools(std::slice::from_ref(&args.tool), base)?;
    let vehicle = parse_vehicle(&args.vehicle, base, io.today.year())?;
    let network = build(base, &vehicle);
    let mix = mix(&args.codes, base)?;
    let (with, without) = (shop.with_tool(base, &args.tool), shop.without_tool(base, &args.tool));
    let gains: Result<Vec<Option<Gain>>, PlanError> = mix
        .into_par_iter()
        .map(|(code, jobs)| {
            let both = (cost(base, &network, &code, &with)?, cost(base, &network, &code, &without)?);
            let (Some(with), Some(without)) = both else { return Ok(None) };
            Ok(Some(Gain { code, jobs, with, without }))
        })
        .collect();
    let gains = gains.map_err(|PlanError::Inference(e)| failure::inference(&e, &network))?;
    let gains: Vec<Gain> = gains.into_iter().flatten().collect();
    if gains.is_empty() {
        return Err(Failure::new("none of these codes can be stored on such a vehicle").into());
    }
    let screen = WorthScreen { base, shop: &shop, tool: &args.tool, gains: &gains, uniform: args.codes.is_empty() };
    if args.json {
        io.show_json(&screen.json())?;
    } else {
        io.show(&screen.text(io.look))?;
    }
    Ok(if screen.saving() > 0.0 { Ending::Done } else { Ending::No })
}

/// Codes with their number of jobs; all codes alike when none is said.
fn mix(said: &[String], base: &Base) -> Result<Vec<(String, f64)>, Stop> {
    if said.is_empty() {
        return Ok(base.codes.iter().map(|c| (c.id.clone(), 1.0)).collect());
    }
    let mut out = Vec::new();
    for word in said {
        let (code, jobs) = word.split_once('=').unwrap_or((word, "1"));
        let jobs: f64 = jobs
            .trim()
            .parse()
            .ok()
            .filter(|j: &f64| j.is_finite() && *j > 0.0)
            .ok_or_else(|| Failure::new(format!("--codes {word}: after `=` comes a number of jobs above 0")))?;
        for code in codes_said(&[code.to_owned()], base)? {
            out.push((code, jobs));
        }
    }
    Ok(out)
}

/// Expected cost of the job with this code alone; nothing when such a vehicle cannot store it.
fn cost(base: &Base, network: &Network, code: &str, shop: &Shop) -> Result<Option<f64>, PlanError> {
    let present = Epoch { codes: vec![code.to_owned()], codes_complete: true, ..Epoch::default() };
    let Ok(told) = History::visit(Vec::new(), present).tell(base, network) else { return Ok(None) };
    let question = Question { min_mass: 2e-5, ..Question::thorough(base, network, &told.evidence, shop) };
    let posed = pose(&question)?;
    Ok(Some(plan(&posed, &Effort::quick(), &DETAIL).expected().cost(shop.aim)))
}

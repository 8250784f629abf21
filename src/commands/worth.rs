//! `worth`: what a tool would save, by planning every code of the mix with it and without it.

use super::car_said::check_tools;
use super::learn_input::{each_recorded, past_counted, past_store};
use super::planned::shop;
use super::{Ending, Io, Loaded, Stop};
use cli::plan::WorthArgs;
use cli::shared::{PastStoreArgs, StoreArgs};
use evidence::{Epoch, History, codes_said, parse_vehicle};
use indicatif::ProgressBar;
use inference::InferenceError;
use knowledge::base::Base;
use learning::job::ClosedJob;
use network::{Network, build::build};
use planning::{Detail, Effort, Node, Plan, PlanError, Posed, Question, Shop, Step, plan, pose};
use rayon::prelude::*;
use screens::failure::{self, Failure};
use screens::worth::{Gain, Over, WorthScreen};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// A plan that is good enough to compare two shops by, for many codes in a row.
const DETAIL: Detail =
    Detail { lump: 0.02, full: 0.3, ahead: 0.1, near: 0.003, trim: 0.001, depth: 40, work: 10_000_000 };

pub(super) fn run(args: &WorthArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let loaded = Loaded::new(kb, io)?;
    let base = &loaded.base;
    let shop = shop(&args.shop, base)?;
    check_tools(std::slice::from_ref(&args.tool), base)?;
    let vehicle = parse_vehicle(&args.vehicle, base, io.today.year())?;
    let network = build(base, &vehicle);
    if args.own_jobs {
        // Tells damage; the store itself is read where the mix is made.
        past_counted(&args.past, io)?;
    }
    let (mix, left_out) =
        if args.own_jobs { own_mix(&args.past, &args.jobs, base)? } else { (mix(&args.codes, base)?, 0.0) };
    let (with, without) = (shop.with_tool(base, &args.tool), shop.without_tool(base, &args.tool));
    let bar = if io.interactive { ProgressBar::new(2 * mix.len() as u64) } else { ProgressBar::hidden() };
    let gains = gains(base, &network, mix, (&with, &without), &|| bar.inc(1))?;
    bar.finish_and_clear();
    if gains.is_empty() {
        return Err(Failure::new("none of these codes can be stored on such a vehicle").into());
    }
    let over = match (args.own_jobs, args.codes.is_empty()) {
        (true, _) => Over::OwnJobs { left_out },
        (false, true) => Over::AllCodes,
        (false, false) => Over::Given,
    };
    let screen = WorthScreen { base, shop: &shop, tool: &args.tool, gains: &gains, over };
    if args.json {
        io.show_json(&screen.json())?;
    } else {
        io.show(&screen.text(io.look))?;
    }
    Ok(if screen.saving() > 0.0 { Ending::Done } else { Ending::No })
}

/// Plans every set of codes with a tool and without it; those that such a vehicle cannot store are left out. `told` is
/// called after each plan.
fn gains(
    base: &Base,
    network: &Network,
    mix: Mix,
    (with, without): (&Shop, &Shop),
    told: &(dyn Fn() + Sync),
) -> Result<Vec<Gain>, Stop> {
    let with = costs(base, network, &mix, with, told)?;
    let without = costs(base, network, &mix, without, told)?;
    let mut out = Vec::new();
    for (((codes, jobs), with), without) in mix.into_iter().zip(with).zip(without) {
        if let (Some(with), Some(without)) = (with, without) {
            out.push(Gain { code: codes.join(" "), jobs, with, without });
        }
    }
    Ok(out)
}

/// Expected cost of the job with each of these sets of codes in that shop; nothing for those that such a vehicle cannot
/// store. `told` is called after each.
pub(super) fn costs(
    base: &Base,
    network: &Network,
    mix: &Mix,
    shop: &Shop,
    told: &(dyn Fn() + Sync),
) -> Result<Vec<Option<f64>>, Stop> {
    let costs: Result<Vec<Option<f64>>, PlanError> = mix
        .par_iter()
        .map(|(codes, _)| {
            let cost = cost(base, network, codes, shop);
            told();
            cost
        })
        .collect();
    costs.map_err(|PlanError::Inference(e)| failure::inference(&e, network).into())
}

/// Sets of codes with their numbers of jobs.
pub(super) type Mix = Vec<(Vec<String>, f64)>;

/// Codes with their number of jobs; all codes alike when none is said.
fn mix(said: &[String], base: &Base) -> Result<Mix, Stop> {
    if said.is_empty() {
        return Ok(base.codes.iter().map(|c| (vec![c.id.clone()], 1.0)).collect());
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
        for code in codes_said(&[code.to_owned()], base)?.known_only()? {
            out.push((vec![code], jobs));
        }
    }
    Ok(out)
}

/// Sets of codes of own jobs planned for at most; the rarer ones are left out and counted.
const MOST_SETS: usize = 60;

/// The sets of codes of the shop's closed jobs, the most common, and the share of jobs that have others.
pub(super) fn own_mix(past: &PastStoreArgs, jobs: &StoreArgs, base: &Base) -> Result<(Mix, f64), Stop> {
    let mut sets: BTreeMap<Vec<String>, f64> = BTreeMap::new();
    let mut add = |job: &ClosedJob| {
        let known: BTreeSet<String> = job.codes.iter().filter(|c| base.code(c).is_some()).cloned().collect();
        if !known.is_empty() {
            *sets.entry(known.into_iter().collect()).or_default() += 1.0;
        }
    };
    if let Some(store) = past_store(past)? {
        store.each(&mut add)?;
    }
    each_recorded(jobs, base, &mut add)?;
    let all: f64 = sets.values().sum();
    if all <= 0.0 {
        return Err(Failure::new("there are no closed jobs with codes that this base knows")
            .hint("bring them in with `faultodds past import`, or say the codes with --codes")
            .into());
    }
    let mut mix: Mix = sets.into_iter().collect();
    mix.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    mix.truncate(MOST_SETS);
    let kept: f64 = mix.iter().map(|m| m.1).sum();
    Ok((mix, 1.0 - kept / all))
}

/// In how many of these jobs each tool is used by the plans of that shop.
pub(super) fn tools_used(
    base: &Base,
    network: &Network,
    mix: &Mix,
    shop: &Shop,
) -> Result<BTreeMap<String, f64>, Stop> {
    let each: Result<Vec<BTreeMap<String, f64>>, PlanError> = mix
        .par_iter()
        .map(|(codes, jobs)| {
            let mut uses = BTreeMap::new();
            if let Some((posed, plan)) = planned(base, network, codes, shop)?
                && let Some(root) = &plan.root
            {
                count_tools(base, &posed, root, *jobs, &mut uses);
            }
            Ok(uses)
        })
        .collect();
    let mut all = BTreeMap::new();
    for (tool, n) in each.map_err(|PlanError::Inference(e)| failure::inference(&e, network))?.into_iter().flatten() {
        *all.entry(tool).or_default() += n;
    }
    Ok(all)
}

fn count_tools(base: &Base, posed: &Posed, node: &Node, jobs: f64, uses: &mut BTreeMap<String, f64>) {
    if matches!(node.step, Step::Test(_))
        && let Some(test) = base.test(posed.problem.id(node.step))
    {
        for tool in &test.tools {
            *uses.entry(tool.clone()).or_default() += jobs * node.mass;
        }
    }
    for then in node.branches.iter().filter_map(|b| b.then.as_ref()) {
        count_tools(base, posed, then, jobs, uses);
    }
}

/// Expected cost of the job with these codes; nothing when such a vehicle cannot store them.
fn cost(base: &Base, network: &Network, codes: &[String], shop: &Shop) -> Result<Option<f64>, PlanError> {
    Ok(planned(base, network, codes, shop)?.map(|(_, plan)| plan.expected().cost(shop.aim)))
}

/// The plan for these codes with its problem; nothing when such a vehicle cannot store them.
fn planned(base: &Base, network: &Network, codes: &[String], shop: &Shop) -> Result<Option<(Posed, Plan)>, PlanError> {
    let present = Epoch { codes: codes.to_vec(), codes_complete: true, ..Epoch::default() };
    let Ok(told) = History::visit(Vec::new(), present).tell(base, network) else { return Ok(None) };
    let question = Question { min_mass: 2e-5, ..Question::thorough(base, network, &told.evidence, shop) };
    let posed = match pose(&question) {
        Err(PlanError::Inference(InferenceError::Impossible { .. })) => return Ok(None),
        posed => posed?,
    };
    let plan = plan(&posed, &Effort::quick(), &DETAIL);
    Ok(Some((posed, plan)))
}

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
use planning::{Detail, Effort, Node, Plan, PlanError, Posed, Question, Shop, plan, pose};
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
    if args.price.is_some_and(|p| !(p.is_finite() && p >= 0.0)) {
        return Err(Failure::new("--price is an amount of 0 or more").into());
    }
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
    let gains = gains(base, &network, mix, (&args.tool, &with, &without), &|| bar.inc(1))?;
    bar.finish_and_clear();
    if gains.is_empty() {
        return Err(Failure::new("none of these codes can be stored on such a vehicle").into());
    }
    let over = match (args.own_jobs, args.codes.is_empty()) {
        (true, _) => Over::OwnJobs { left_out },
        (false, true) => Over::AllCodes,
        (false, false) => Over::Given,
    };
    let screen = WorthScreen { base, shop: &with, tool: &args.tool, price: args.price, gains: &gains, over };
    if args.json {
        io.show_json(&screen.json())?;
    } else {
        io.show(&screen.text(io.look))?;
    }
    Ok(if screen.saving() > 0.0 { Ending::Done } else { Ending::No })
}

/// Plans every set of codes with a tool and, where that plan may use it, without it; those that such a vehicle cannot store are
/// left out. `told` is called after each.
fn gains(
    base: &Base,
    network: &Network,
    mix: Mix,
    (tool, with, without): (&str, &Shop, &Shop),
    told: &(dyn Fn() + Sync),
) -> Result<Vec<Gain>, Stop> {
    let with = planned_jobs(base, network, &mix, with, told)?;
    let without = less_a_tool(base, network, &mix, &with, (tool, without), told)?;
    let mut out = Vec::new();
    for (((codes, jobs), with), without) in mix.into_iter().zip(with).zip(without) {
        if let (Some(with), Some(without)) = (with, without) {
            out.push(Gain { code: codes.join(" "), jobs, with: with.cost, without });
        }
    }
    Ok(out)
}

/// What the plan of a job comes to.
pub(super) struct PlannedJob {
    /// Its expected cost.
    pub cost: f64,
    /// Tools that any of its steps may use, with the share of such jobs in which a test uses them: none where only a repair may,
    /// which needs one of several that raise the vehicle.
    pub uses: BTreeMap<String, f64>,
}

/// The plan of the job with each of these sets of codes in that shop; nothing for those that such a vehicle cannot store.
/// `told` is called after each.
pub(super) fn planned_jobs(
    base: &Base,
    network: &Network,
    mix: &Mix,
    shop: &Shop,
    told: &(dyn Fn() + Sync),
) -> Result<Vec<Option<PlannedJob>>, Stop> {
    each(mix, network, |_, codes| {
        let job = planned(base, network, codes, shop)?.map(|(posed, plan)| {
            let mut uses = BTreeMap::new();
            plan.root.iter().for_each(|root| count_tools(base, &posed, root, &mut uses));
            PlannedJob { cost: plan.expected().cost(shop.aim), uses }
        });
        told();
        Ok(job)
    })
}

/// Expected costs of the same jobs in the shop without a tool. A plan that never uses the tool can be made without it, and
/// none costs less, so that only the others are planned anew.
pub(super) fn less_a_tool(
    base: &Base,
    network: &Network,
    mix: &Mix,
    with: &[Option<PlannedJob>],
    (tool, without): (&str, &Shop),
    told: &(dyn Fn() + Sync),
) -> Result<Vec<Option<f64>>, Stop> {
    each(mix, network, |i, codes| {
        let cost = match &with[i] {
            Some(job) if job.uses.contains_key(tool) => {
                planned(base, network, codes, without)?.map(|(_, plan)| plan.expected().cost(without.aim))
            }
            same => same.as_ref().map(|job| job.cost),
        };
        told();
        Ok(cost)
    })
}

/// One answer for each set of codes, made side by side.
fn each<T: Send>(
    mix: &Mix,
    network: &Network,
    one: impl Fn(usize, &[String]) -> Result<T, PlanError> + Sync,
) -> Result<Vec<T>, Stop> {
    let all: Result<Vec<T>, PlanError> = mix.par_iter().enumerate().map(|(i, (codes, _))| one(i, codes)).collect();
    all.map_err(|PlanError::Inference(e)| failure::inference(&e, network).into())
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

fn count_tools(base: &Base, posed: &Posed, node: &Node, uses: &mut BTreeMap<String, f64>) {
    let id = posed.problem.id(node.step);
    if let Some(test) = base.test(id) {
        test.tools.iter().for_each(|tool| *uses.entry(tool.clone()).or_default() += node.mass);
    } else if node.step.repair().is_some()
        && let Some((_, repair)) = base.repair(id)
    {
        let none = Shop { tools: Some(BTreeSet::new()), ..Shop::default() };
        none.missing_under(base, repair).into_iter().for_each(|tool| *uses.entry(tool.to_owned()).or_default() += 0.0);
    }
    node.branches.iter().filter_map(|b| b.then.as_ref()).for_each(|then| count_tools(base, posed, then, uses));
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

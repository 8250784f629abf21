//! `past report`: the shop's page. The figures come from the library; here they are asked for.

use super::base::Loaded;
use super::car_said::check_tools;
use super::learn_input::{each_recorded, past_counted, past_store, replaying};
use super::planned::shop;
use super::worth::{Mix, less_a_tool, own_mix, planned_jobs};
use super::{Ending, Io, Stop};
use cli::pages::PastReportArgs;
use cli::shared::PastStoreArgs;
use indicatif::{ProgressBar, ProgressStyle};
use jobs::store::Filter;
use jobs::{Access, Store, StoreError, place};
use knowledge::Base;
use knowledge::base::Vehicle;
use learning::counts::Counter;
use learning::fit::fit;
use learning::job::ClosedJob;
use learning::replay::{Options, TOO_FEW, replay};
use learning::scores::bootstrap;
use learning::year::Year;
use network::{Network, build::build};
use pages::shop::{Comebacks, ShopPage, ToolSaves};
use planning::Shop;
use screens::next::unit;
use shop::is_example;
use std::collections::BTreeMap;
use std::io::Write as _;
use std::path::Path;

/// Most jobs that are replayed, the latest; how often is learned anew. `SCORE` is the command that prints the same.
const MOST: usize = 20_000;
const REFITS: usize = 5;
const SCORE: &str = "faultodds score --refits 5 --plans 0";
/// Sets of codes planned for with each tool, the most common; tools shown, and those of a shop that lacks none.
const SETS: usize = 8;
const TOOLS: usize = 3;
const OWN_TOOLS: usize = 2;
/// Seed of `tune`, so that its figures are the same.
const SEED: u64 = 1;

pub(super) fn run(args: &PastReportArgs, past: &PastStoreArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    io.overlay = None;
    let base = &Loaded::new(kb, io)?.base;
    let shop = &shop(&args.shop, base)?;
    check_tools(&args.tool, base)?;
    let mut jobs: Vec<ClosedJob> = Vec::new();
    if let Some((store, _)) = past_counted(past, io)? {
        store.each_by_date(&mut |job| jobs.push(job.clone()))?;
    }
    if !args.past_only {
        each_recorded(&args.jobs, base, &mut |job| jobs.push(job.clone()))?;
    }
    if jobs.is_empty() {
        writeln!(io.err, "there are no closed jobs; bring jobs in with: faultodds past import FILE --mapping FILE")?;
        return Ok(Ending::No);
    }
    jobs.sort_by_key(|j| j.date);
    let year = Year::of(&jobs, shop.labour_rate);
    let mut counter = Counter::default();
    jobs.iter().for_each(|job| counter.add(job));
    let learned = fit(base, &counter.finish(), SEED);
    let latest = &jobs[jobs.len().saturating_sub(MOST)..];
    let options = Options { refits: REFITS, plans: 0, ..Options::default() };
    let (bar, progress) = replaying();
    let replayed = replay(base, latest, shop, options, &progress);
    bar.finish_and_clear();
    let page = ShopPage {
        base,
        year: &year,
        replayed: (replayed.scored >= TOO_FEW).then_some(&replayed),
        learned: &learned,
        tools: &tools(args, past, base, shop)?,
        saved_in: unit(shop),
        comebacks: comebacks(args, past)?,
        rate: shop.labour_rate,
        command: &asked(args),
        currency: &shop.currency,
        example: is_example(args.shop.shop.as_deref()) && args.shop.rate.is_none(),
        day: io.today.to_string(),
        score: SCORE,
    };
    if args.json {
        io.show_json(&page.json())?
    } else {
        io.show(&page.html())?
    }
    Ok(Ending::Done)
}

/// What tools would have saved on the shop's own jobs.
fn tools(args: &PastReportArgs, past: &PastStoreArgs, base: &Base, shop: &Shop) -> Result<Vec<ToolSaves>, Stop> {
    let network = build(base, &Vehicle::default());
    // Without a code that the base knows there is nothing to plan for, and that is no failure of a page.
    let Ok((mut mix, _)) = own_mix(past, &args.jobs, base) else { return Ok(Vec::new()) };
    mix.truncate(SETS);
    let wanted = if args.tool.is_empty() { telling(base, &network, &mix, shop)? } else { args.tool.clone() };
    let mut out = Vec::new();
    if wanted.is_empty() {
        return Ok(out);
    }
    // The shop as it is is one side of every comparison.
    let bar = ProgressBar::new(((wanted.len() + 1) * mix.len()) as u64);
    if let Ok(style) = ProgressStyle::with_template("planning with and without tools [{bar:30}] {percent} % {eta} left")
    {
        bar.set_style(style);
    }
    let told = || bar.inc(1);
    let now = planned_jobs(base, &network, &mix, shop, &told)?;
    for tool in wanted {
        let there = shop.tools.as_ref().is_none_or(|have| have.contains(&tool));
        let other = if there {
            less_a_tool(base, &network, &mix, &now, (&tool, &shop.without_tool(base, &tool)), &told)?
        } else {
            let with = planned_jobs(base, &network, &mix, &shop.with_tool(base, &tool), &told)?;
            with.into_iter().map(|job| job.map(|j| j.cost)).collect()
        };
        let mut saved: Vec<f64> = Vec::new();
        for ((now, other), (_, jobs)) in now.iter().zip(&other).zip(&mix) {
            let (Some(now), Some(other)) = (now, other) else { continue };
            let saves = if there { other - now.cost } else { now.cost - other };
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count of jobs")]
            saved.extend(std::iter::repeat_n(saves, *jobs as usize));
        }
        if !saved.is_empty() {
            // In an order of their own, so that neighbours in the list of codes are not drawn together.
            let stride = (1..saved.len()).find(|s| gcd(*s, saved.len()) == 1 && *s > saved.len() / 3).unwrap_or(1);
            let mixed: Vec<f64> = (0..saved.len()).map(|i| saved[i * stride % saved.len()]).collect();
            out.push(ToolSaves { tool, there, each: bootstrap(&mixed, 2_000, SEED, 0.90), jobs: saved.len() });
        }
    }
    bar.finish_and_clear();
    out.sort_by(|a, b| b.each.mean.total_cmp(&a.each.mean).then_with(|| a.tool.cmp(&b.tool)));
    Ok(out)
}

fn gcd(a: usize, b: usize) -> usize {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// The tools that the shop has not and that a shop with all of them would use most for these jobs; where it lacks none
/// that is used, the most used of its dear ones.
fn telling(base: &Base, network: &Network, mix: &Mix, shop: &Shop) -> Result<Vec<String>, Stop> {
    let all = Shop { tools: None, ..shop.clone() };
    let mut uses: BTreeMap<String, f64> = BTreeMap::new();
    for (job, (_, jobs)) in planned_jobs(base, network, mix, &all, &|| ())?.iter().zip(mix) {
        for (tool, share) in job.iter().flat_map(|j| &j.uses).filter(|u| *u.1 > 0.0) {
            *uses.entry(tool.clone()).or_default() += jobs * share;
        }
    }
    let has = |tool: &str| shop.tools.as_ref().is_none_or(|have| have.contains(tool));
    let price = |tool: &str| base.tool(tool).map_or(0.0, |t| t.price.get());
    let mut lacking: Vec<(String, f64)> = uses.iter().filter(|u| !has(u.0)).map(|(t, n)| (t.clone(), *n)).collect();
    let most = if lacking.is_empty() { OWN_TOOLS } else { TOOLS };
    if lacking.is_empty() {
        lacking = uses.iter().map(|(t, n)| (t.clone(), n * price(t))).collect();
    }
    lacking.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    Ok(lacking.into_iter().take(most).map(|t| t.0).collect())
}

/// The command that prints the same figures.
fn asked(args: &PastReportArgs) -> String {
    let mut words = "faultodds past report --json".to_owned();
    let mut add = |name: &str, value: String| {
        let plain = value.chars().all(|c| c.is_ascii_alphanumeric() || "-_./,".contains(c));
        let value = if plain { value } else { format!("'{}'", value.replace('\'', "'\\''")) };
        words.push_str(&format!(" --{name} {value}"));
    };
    args.tool.iter().for_each(|t| add("tool", t.clone()));
    if let Some(path) = &args.shop.shop {
        add("shop", path.display().to_string());
    }
    if let Some(tools) = &args.shop.tools {
        add("tools", tools.join(","));
    }
    args.shop.without.iter().for_each(|t| add("without", t.clone()));
    if let Some(rate) = args.shop.rate {
        add("rate", rate.to_string());
    }
    if let Some(cost) = args.shop.hand_on {
        add("hand-on", cost.to_string());
    }
    for (said, flag) in [(args.shop.minutes_only, " --minutes-only"), (args.past_only, " --past-only")] {
        words.push_str(if said { flag } else { "" });
    }
    words
}

/// How many closed jobs came back.
fn comebacks(args: &PastReportArgs, past: &PastStoreArgs) -> Result<Comebacks, Stop> {
    let mut out = Comebacks::default();
    if let Some(store) = past_store(past)? {
        out.past = store.comebacks()?;
    }
    if args.past_only {
        return Ok(out);
    }
    let Some(path) = place(args.jobs.db.as_deref()) else { return Ok(out) };
    let store = match Store::open(&path, Access::Read) {
        Ok(store) => store,
        Err(StoreError::Missing { .. }) => return Ok(out),
        Err(error) => return Err(error.into()),
    };
    for row in store.list(&Filter::default(), 10_000_000)?.rows {
        let visits = store.job(row.number)?.visits.len();
        let closed = row.closed_at.is_some() || visits > 1;
        out.closed += usize::from(closed);
        out.back += usize::from(visits > 1);
    }
    Ok(out)
}

//! `rank`: suspects for the codes on the line or for a job. Nothing is stored.

use super::base::of_job;
use super::car_said::{Car, check_tools, tell_taken};
use super::job_input::store;
use super::{Ending, Io, Loaded, Stop};
use cli::{RankArgs, RankForm};
use evidence::{CarSaid, Stranger, Told, codes_said};
use inference::Prepared;
use jobs::{Access, Job, Standing};
use knowledge::base::Base;
use network::Network;
use network::build::build;
use pages::bars::{self, Bar, Bars};
use planning::Shop;
use ranking::{Ranking, Wanted, first_checks, rank};
use screens::failure::{self, Failure};
use screens::{car_taken, job::which_line, json, rank::RankScreen};
use std::borrow::Cow;
use std::collections::BTreeSet;
use std::mem::ManuallyDrop;
use std::path::Path;

/// Whether the line itself says something of a car.
fn says_findings(args: &RankArgs) -> bool {
    let car = &args.car;
    let said = !args.codes.is_empty() || args.capture.capture.is_some();
    said || !car.symptom.is_empty() || !car.result.is_empty() || !car.vehicle.is_empty()
}

pub(super) fn run(args: &RankArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let loaded = Loaded::new(kb, io)?;
    let job = if says_findings(args) { args.which.typed() } else { args.which.job };
    let asked = match job {
        Some(number) => Asked::of_job(number, args, &loaded, io)?,
        None => Asked::said(args, &loaded, io)?,
    };
    // Taken apart by nobody, like the base.
    let asked = ManuallyDrop::new(asked);
    let base = &*asked.base;
    if asked.nothing_wrong {
        return nothing_wrong(&asked, args.json, io);
    }
    let (network, told) = (&asked.network, &asked.told);
    // A number read off a gauge is shown with what it weighs.
    let weights = args.why || told.what.iter().any(|w| w.number.is_some());
    let wanted = Wanted { weights, every_interval: args.json };
    let refused = |e| failure::inference(&e, network);
    let prepared = Prepared::new(network, &told.evidence).map_err(refused)?;
    let mut own = prepared.clone();
    let (ranking, checks) = rayon::join(
        || rank(network, told, prepared, wanted),
        || first_checks(base, network, &mut own, &asked.done, asked.tools.as_deref()),
    );
    let (ranking, checks) = (ranking.map_err(refused)?, checks.map_err(refused)?);
    if args.json {
        let mut value = json::rank(base, network, told, &ranking, &checks);
        if let Some(own) = &asked.own_words {
            value["car"] = car_taken::value(own);
        }
        io.show_json(&value)?;
    } else if args.form == RankForm::Svg {
        io.show(&bars::svg(&drawn(&asked, &ranking, args.top)))?;
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

/// Suspects of a drawing, and the least probability that is drawn.
const DRAWN: usize = 12;
const LEAST_DRAWN: f64 = 0.005;

/// The leading suspects as bars.
fn drawn(asked: &Asked<'_>, ranking: &Ranking, top: Option<usize>) -> Bars {
    let of = |s: &ranking::Standing| Bar {
        name: asked.base.suspect_name(&asked.network.suspects[s.suspect].id),
        share: s.probability,
        interval: s.interval,
    };
    let shown = ranking.standings.iter().filter(|s| top.is_some() || s.probability >= LEAST_DRAWN);
    let about = asked.job.as_ref().map(which_line).unwrap_or_else(|| asked.codes.join(" "));
    let words = if about.is_empty() { String::new() } else { format!(" for {about}") };
    Bars {
        title: format!("Suspects{words}"),
        notes: vec![
            "Bar: how probable it is that this is at fault. Line across it: nine times in ten the odds lie in there, for \
             the numbers behind them are judgement. Several can be at fault at once."
                .to_owned(),
        ],
        bars: shown.take(top.unwrap_or(DRAWN).max(1)).map(of).collect(),
    }
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
        if says_findings(args) {
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

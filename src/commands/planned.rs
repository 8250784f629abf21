//! What the planning commands share: whose car, which shop, and the decision problem.

use super::base::{Loaded, of_job};
use super::car_said::{Car, check_tools};
use super::job_input::{store, which};
use super::{Io, Stop};
use crate::advice::{AfterRepair, after_repair};
use cli::plan::SubjectArgs;
use cli::shared::ShopArgs;
use evidence::{CarSaid, Told};
use jobs::{Access, Job, Standing};
use knowledge::base::Base;
use network::{Network, build::build};
use planning::{Aim, PlanError, Posed, Question, Quote, Shop, pose};
use screens::car_taken;
use screens::failure::{self, Failure};
use screens::job::headline;
use screens::limit::Limit;
use shop::{ShopError, load};
use std::path::PathBuf;

/// Whose car it is about.
#[derive(Debug)]
pub(super) struct Subject {
    /// Its network.
    pub network: Network,
    /// What is known.
    pub told: Told,
    /// The codes, for headings.
    pub codes: Vec<String>,
    /// What the car said of itself, where a capture was given.
    pub own_words: Option<CarSaid>,
    /// The job that it is about, if it is one.
    job: Option<(Job, Standing)>,
}

impl Subject {
    /// The car on the line, or the current job.
    pub fn said(args: &SubjectArgs, loaded: &Loaded, io: &mut Io) -> Result<Self, Stop> {
        let base = &loaded.base;
        let said = [&args.codes, &args.car.symptom, &args.car.result, &args.car.found, &args.car.sound];
        let nothing = args.capture.capture.is_none() && said.iter().all(|list| list.is_empty());
        let described = args.group.make.is_some() || args.group.engine.is_some();
        if args.which.typed().is_some() || nothing {
            if !nothing || described {
                let failure = Failure::new("a job and codes are given; only one of them can be meant");
                return Err(failure.hint("leave out the codes to plan for the job").into());
            }
            let store = store(&args.store, Access::Read).map_err(|stop| no_job(stop, args))?;
            let number = which(&store, args.which.job).map_err(|stop| no_job(stop, args))?;
            let job = store.job(number)?;
            loaded.tell_groups(&of_job(&job), io)?;
            let standing = Standing::of(&job, &loaded.for_job(&job))?;
            return Ok(Self {
                network: standing.network.clone(),
                told: standing.told.clone(),
                codes: job.codes().into_iter().map(str::to_owned).collect(),
                own_words: None,
                job: Some((job, standing)),
            });
        }
        let car = Car::said(&args.codes, &args.car, &args.capture, base, io)?;
        loaded.tell_groups(&args.group, io)?;
        let network = build(&loaded.for_car(&args.group), &car.vehicle);
        let told = car.history.tell(base, &network)?;
        Ok(Self { network, told, codes: car.codes, own_words: car.own_words, job: None })
    }

    /// The shop that is reckoned with: for a job its shop file and its tools, and what the line says instead.
    pub fn shop(&self, args: &ShopArgs, base: &Base) -> Result<Shop, Stop> {
        let Some((job, _)) = &self.job else { return shop(args, base) };
        let ours = load(self.shop_file(args).as_deref(), base).map_err(told)?;
        said_on_the_line(job.terms.shop(ours, base), args, base)
    }

    /// The shop file on the line, else that of the job.
    pub fn shop_file(&self, args: &ShopArgs) -> Option<PathBuf> {
        let of_job = || self.job.as_ref().and_then(|(job, _)| job.terms.shop.as_ref().map(PathBuf::from));
        args.shop.clone().or_else(of_job)
    }

    /// Tells whose job it is, and back what was taken from a capture, if there was one.
    pub fn tell(&self, base: &Base, io: &mut Io) -> Result<(), Stop> {
        if let Some((job, _)) = &self.job {
            let mut text = String::new();
            headline(&mut text, job, io.look);
            io.show(&text)?;
        }
        if let Some(own) = &self.own_words {
            let text = car_taken::text(own, base, io.look);
            io.show(&text)?;
        }
        Ok(())
    }

    /// The job that it is about, if it is one.
    pub fn job(&self) -> Option<&Job> {
        self.job.as_ref().map(|(job, _)| job)
    }

    /// What the customer will pay at most, as said on the line or for the job, and what it is good for.
    pub fn limit(&self, said: Option<f64>, shop: &Shop, quote: &Quote) -> Option<Limit> {
        let job = self.job();
        let whole = said.or_else(|| job?.terms.limit)?;
        let spent = job.map_or(0.0, |j| shop.spend(j.minutes, j.cost).money);
        Some(Limit { whole, spent, cured: quote.cured_for((whole - spent).max(0.0)) })
    }

    /// What a repair that was made on the job asks for.
    pub fn after_repair(&self, base: &Base, shop: &Shop) -> Result<Option<AfterRepair>, Stop> {
        let Some((job, standing)) = &self.job else { return Ok(None) };
        Ok(after_repair(base, job, standing, shop)?)
    }

    /// The decision problem.
    pub fn pose(&self, question: Question<'_>) -> Result<Posed, Stop> {
        let posed = pose(&Question { silent: &self.told.silent, ..question });
        posed.map_err(|PlanError::Inference(e)| failure::inference(&e, &self.network).into())
    }
}

/// Without a job and without a code there is nothing to plan for; say both ways.
fn no_job(stop: Stop, args: &SubjectArgs) -> Stop {
    match stop {
        Stop::Failed(f) if args.which.job.is_none() => {
            Stop::Failed(f.hint("or say the codes behind the command, such as P0455"))
        }
        other => other,
    }
}

/// The shop: its file, and what the line says instead.
pub(super) fn shop(args: &ShopArgs, base: &Base) -> Result<Shop, Stop> {
    said_on_the_line(load(args.shop.as_deref(), base).map_err(told)?, args, base)
}

fn said_on_the_line(mut shop: Shop, args: &ShopArgs, base: &Base) -> Result<Shop, Stop> {
    if let Some(tools) = &args.tools {
        let tools: Vec<String> = tools.iter().map(|t| t.trim().to_owned()).filter(|t| !t.is_empty()).collect();
        check_tools(&tools, base)?;
        shop.tools = Some(tools.into_iter().collect());
    }
    check_tools(&args.without, base)?;
    for tool in &args.without {
        shop = shop.without_tool(base, tool);
    }
    let amount = |name: &str, n: f64| {
        let good = n.is_finite() && (0.0..=1e6).contains(&n);
        if good { Ok(n) } else { Err(Failure::new(format!("{name} {n}: it must be between 0 and 1000000"))) }
    };
    if let Some(rate) = args.rate {
        shop.labour_rate = amount("--rate", rate)?;
    }
    if let Some(cost) = args.hand_on {
        shop.hand_on_cost = amount("--hand-on", cost)?;
    }
    if args.minutes_only {
        shop.aim = Aim::Minutes;
    }
    Ok(shop)
}

pub(super) fn told(error: ShopError) -> Failure {
    let failure = Failure::new(error.to_string());
    match error {
        ShopError::Wrong { hint: Some(hint), .. } => failure.hint(hint),
        _ => failure,
    }
}

//! `quote`: what diagnosis and repair will cost, from the plan, checked by simulation when asked.

use super::planned::Subject;
use super::{Ending, Io, Loaded, Stop};
use cli::plan::QuoteArgs;
use planning::{Detail, Effort, Question, plan, quote, simulate};
use screens::failure::Failure;
use screens::quote::{Checked, QuoteScreen};
use std::path::Path;

/// Simulated cars at most.
const MOST_CARS: usize = 1_000_000;
/// Cars drawn at most to find those that fit the evidence: about a minute.
const MOST_DRAWN: u64 = 400_000_000;
/// The same question gives the same answer.
const SEED: u64 = 20_260_101;

pub(super) fn run(args: &QuoteArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    if let Some(bad) = args.within.iter().find(|m| !m.is_finite() || **m < 0.0) {
        return Err(Failure::new(format!("--within {bad}: it takes minutes, 0 or more")).into());
    }
    if let Some(bad) = args.limit.filter(|m| !m.is_finite() || *m <= 0.0) {
        return Err(Failure::new(format!("--limit {bad}: it takes an amount above 0")).into());
    }
    let loaded = Loaded::new(kb, io)?;
    let base = &loaded.base;
    let subject = Subject::said(&args.subject, &loaded, io)?;
    let shop = subject.shop(&args.shop, base)?;
    let evidence = &subject.told.evidence;
    let posed = subject.pose(Question::thorough(base, &subject.network, evidence, &shop))?;
    let whole = plan(&posed, &Effort::quick(), &Detail::quick());
    let answer = quote(&whole);
    let mut checked = None;
    if let Some(cars) = args.check {
        if !(2..=MOST_CARS).contains(&cars) {
            return Err(Failure::new(format!("--check {cars}: it takes 2 to {MOST_CARS} cars")).into());
        }
        let found = simulate::draw(&subject.network, evidence, &posed, cars, MOST_DRAWN, SEED);
        if found.cars.len() < 2 {
            let failure = Failure::new(format!("of {} simulated cars none fits these findings", found.drawn));
            return Err(failure.hint("findings this rare cannot be checked by simulation; leave out --check").into());
        }
        let worked = simulate::work(&subject.network, &posed, &whole, &found.cars, SEED);
        let (mean, error) = worked.mean(shop.aim);
        let expected = whole.expected().cost(shop.aim);
        checked = Some(Checked { cars: found.cars.len(), asked: cars, mean, error, expected });
    }
    let screen = QuoteScreen {
        base,
        shop: &shop,
        posed: &posed,
        quote: &answer,
        codes: &subject.codes,
        within: &args.within,
        limit: subject.limit(args.limit, &shop, &answer),
        cut_short: whole.cut_short,
        checked,
    };
    if args.json {
        io.show_json(&screen.json())?;
    } else {
        subject.tell(base, io)?;
        io.show(&screen.text(io.look))?;
    }
    let failed = checked.is_some_and(|c| !c.agrees());
    Ok(if whole.root.is_none() || failed { Ending::No } else { Ending::Done })
}

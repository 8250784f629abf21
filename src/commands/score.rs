//! `score`: would learning have helped on jobs that it had not seen?

use super::learn_input::{each_recorded, past_counted, replaying};
use super::planned::shop;
use super::{Ending, Io, Loaded, Stop};
use cli::learn::ScoreArgs;
use learning::replay::{Options, Verdict, replay};
use screens::failure::Failure;
use screens::{reliability, score as screen};
use std::path::Path;

/// Most jobs that are replayed: the latest ones. Each takes a posterior or two.
const MOST: usize = 50_000;

/// Runs `score`.
///
/// # Errors
/// [`Stop`] tells why it could not be done.
pub(super) fn run(args: &ScoreArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    if !(0.0..1.0).contains(&args.first) {
        return Err(Failure::new(format!("--first {}: the share must be at least 0 and below 1", args.first)).into());
    }
    // The forecasts are the base as it is, and what would have been learned at each time.
    io.overlay = None;
    let base = Loaded::new(kb, io)?.base;
    let shop = shop(&args.shop, base)?;
    let (mut jobs, mut left_out) = (Vec::new(), 0);
    if let Some((store, _)) = past_counted(&args.store, io)? {
        store.each_by_date(&mut |job| {
            // They come in the order of their dates, so that the earlier half can go when there are too many.
            if jobs.len() == 2 * MOST {
                left_out += MOST;
                jobs.drain(..MOST);
            }
            jobs.push(job.clone());
        })?;
    }
    if !args.past_only {
        each_recorded(&args.jobs, base, &mut |job| jobs.push(job.clone()))?;
    }
    jobs.sort_by_key(|j| j.date);
    let more = jobs.len().saturating_sub(MOST);
    left_out += more;
    jobs.drain(..more);
    let (bar, progress) = replaying();
    let options = Options { first: args.first, plans: args.plans, refits: args.refits, ..Options::default() };
    let replayed = replay(base, &jobs, &shop, options, &progress);
    bar.finish_and_clear();
    if let Some(path) = &args.svg {
        let svg = reliability::svg(&replayed.calibration);
        std::fs::write(path, svg).map_err(|e| Failure::new(format!("{}: {e}", path.display())))?;
    }
    if args.json {
        io.show_json(&screen::json(&replayed, left_out, &shop.currency))?;
    } else {
        io.show(&screen::text(&replayed, left_out, &shop.currency, io.look))?;
    }
    Ok(if replayed.verdict() == Verdict::Better { Ending::Done } else { Ending::No })
}

//! What `job` does with the store as a whole: its list, whether it is whole, jobs brought in.

use super::job_input::{store, verdict};
use super::{Ending, Io, Stop};
use cli::job::ListArgs;
use cli::shared::StoreArgs;
use jobs::store::{Exported, Filter, NOTABLE_WAIT};
use jobs::{Access, Store};
use screens::failure::Failure;
use screens::text::harmless;
use screens::{job_json, job_list};
use std::io::{BufRead, BufReader, Write as _};
use std::path::Path;

/// `job list`.
pub(super) fn list(a: &ListArgs, at: &StoreArgs, io: &mut Io) -> Result<Ending, Stop> {
    let zone = io.now.time_zone().clone();
    let start = |day: jiff::civil::Date| {
        let zoned = day.to_zoned_datetime(zone.clone());
        zoned.map(|z| z.timestamp()).map_err(|e| Failure::new(format!("{day}: {e}")))
    };
    let next = |day: jiff::civil::Date| day.tomorrow().map_err(|e| Failure::new(format!("{day}: {e}")));
    let filter = Filter {
        open: if a.open { Some(true) } else { a.closed.then_some(false) },
        verdict: a.verdict.map(verdict),
        code: a.code.as_ref().map(|c| c.trim().to_uppercase()),
        cause: a.cause.clone(),
        repair: a.repair.clone(),
        since: a.since.map(start).transpose()?,
        until: a.until.map(|d| next(d).and_then(start)).transpose()?,
        words: a.words.clone(),
    };
    let page = match store(at, Access::Read) {
        Ok(store) => store.list(&filter, a.most)?,
        // No store yet is no failure of a list: there are simply no jobs.
        Err(Stop::Failed(_)) if jobs::place(at.db.as_deref()).is_some_and(|p| !p.exists()) => {
            jobs::store::Page { rows: Vec::new(), total: 0, counted_all: true }
        }
        Err(other) => return Err(other),
    };
    if a.json {
        io.show_json(&job_json::list(&page))?;
    } else {
        io.show(&job_list::list(&page, &io.now, io.look))?;
    }
    Ok(if page.total == 0 { Ending::No } else { Ending::Done })
}

/// `job check`.
pub(super) fn check(rebuild: bool, at: &StoreArgs, io: &mut Io) -> Result<Ending, Stop> {
    let mut store = store(at, if rebuild { Access::Write } else { Access::Read })?;
    if rebuild {
        store.rebuild_lists()?;
    }
    let trouble = store.check()?;
    if trouble.is_empty() {
        let (jobs, events) = store.size()?;
        io.show(&format!("{}: {jobs} jobs, {events} events, all whole\n", store.path().display()))?;
        let later = store.sealed_later()?;
        if later > 0 {
            let what = if later == 1 { "event comes" } else { "events come" };
            let text = format!(
                "{later} {what} from a store without digests and got theirs when it was brought forward: changes since \
                 then are seen, changes before are not"
            );
            io.note(&text)?;
        }
        return Ok(Ending::Done);
    }
    for t in &trouble {
        io.show(&format!("{}\n", harmless(&t.0)))?;
    }
    Ok(Ending::No)
}

/// Says which jobs an export left out, and why; the answer is no then.
pub(super) fn tell_left_out(done: &Exported, io: &mut Io) -> Result<Ending, Stop> {
    for t in &done.trouble {
        io.note(&harmless(&t.0))?;
    }
    if !done.left_out.is_empty() {
        let numbers: Vec<String> = done.left_out.iter().map(i64::to_string).collect();
        let (written, left_out) = (done.written, numbers.join(", "));
        io.note(&format!("{written} jobs were written; left out, since they are not what was stored: {left_out}"))?;
    }
    Ok(if done.trouble.is_empty() { Ending::Done } else { Ending::No })
}

/// `job import`.
pub(super) fn import(file: Option<&Path>, at: &StoreArgs, io: &mut Io) -> Result<Ending, Stop> {
    let mut lines: Box<dyn BufRead> = match file {
        Some(path) => {
            let opened = knowledge::bounded::open_regular(path);
            Box::new(BufReader::new(opened.map_err(|e| Failure::new(format!("{}: {e}", path.display())))?))
        }
        None => std::mem::replace(&mut io.input, Box::new(std::io::empty())),
    };
    let mut store = store(at, Access::Write)?;
    let done = store.import(&mut lines)?;
    told_waiting(&store, io)?;
    io.show(&format!(
        "{} new jobs, {} with more events than before, {} known already\n",
        done.new, done.longer, done.known
    ))?;
    Ok(Ending::Done)
}

/// Says when another program made this one wait.
pub fn told_waiting(store: &Store, io: &mut Io) -> Result<(), Stop> {
    if store.waited() >= NOTABLE_WAIT {
        writeln!(io.err, "waited {:.1} s for another program that was writing", store.waited().as_secs_f64())?;
    }
    Ok(())
}

/// Notes which car a new job is about and tells the other jobs on it; whether the number was asked for and not there is told too.
///
/// # Errors
/// The store cannot be written or read.
pub fn tell_known(store: &mut Store, job: i64, number: Option<&str>, asked: bool, io: &mut Io) -> Result<(), Stop> {
    let Some(number) = number else {
        if asked {
            io.note("the capture holds no identification number, so whether this car was here before cannot be told")?;
        }
        return Ok(());
    };
    let others = store.recognise(job, number)?;
    if asked && others.is_empty() {
        io.note("no other job is known to be on this car")?;
    }
    for other in others {
        let known = store.job(other)?;
        let day = known.log.first().map_or_else(String::new, |e| {
            e.at.to_zoned_datetime(io.now.time_zone().clone()).strftime(", %Y-%m-%d").to_string()
        });
        io.note(&format!("this car was here before: job {other}{day}; see it with: faultodds job show --job {other}"))?;
    }
    Ok(())
}

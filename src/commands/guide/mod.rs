//! `guide`: the job as a conversation on plain lines. Every answer is stored before the next question; the end of input
//! is a way to stop like any other. Opens the job and carries lines to and fro; what they mean is settled in [`talk`].

mod answering;
pub mod answers;
mod circumstances;
mod commands;
mod ending;
pub mod question;
pub mod record;
mod showing;
mod steps;
pub mod talk;
mod why;

use super::advice::Adviser;
use super::job_input::{opened, store, uid, which_told};
use super::job_store::{tell_known, told_waiting};
use super::planned::shop;
use super::{Ending, Io, Loaded, Stop, io};
use cli::GroupArgs;
use cli::guide::GuideArgs;
use cli::job::DescriptionArgs;
use jobs::{Access, Arranged, Event, Job, Status, Store};
use record::{Record, Stored};
use screens::Look;
use screens::guide as screen;
use screens::job::which_line;
use screens::text::{harmless, paragraph};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use talk::{Goes, Talk};

/// Runs `guide`.
///
/// # Errors
/// [`Stop`] tells why the conversation could not begin or go on; what was answered before is stored.
pub fn run(args: &GuideArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let new = !args.codes.is_empty() || !args.car.symptom.is_empty() || args.capture.capture.capture.is_some();
    // A job goes on with the files that it was begun with, until others are named.
    let mut shop_args = args.shop.clone();
    let resumed = match new {
        true => None,
        false => {
            let store = store(&args.store, Access::Write)?;
            let number = which_told(&store, args.which.job, io)?;
            let terms = store.job(number)?.terms;
            io.overlay = io.overlay.take().or_else(|| terms.overlay.map(PathBuf::from));
            shop_args.shop = shop_args.shop.or_else(|| terms.shop.map(PathBuf::from));
            Some(number)
        }
    };
    let loaded = Loaded::new(kb, io)?;
    let shop = shop(&shop_args, loaded.base)?;
    let opening = match new {
        false => None,
        true => {
            let GroupArgs { make, model, engine } = args.group.clone();
            let about = DescriptionArgs { make, model, engine, ..DescriptionArgs::default() };
            Some(opened(&args.codes, &args.car, &args.capture, &about, loaded.base, io)?)
        }
    };
    let mut store = store(&args.store, Access::Write)?;
    let number = match (opening, resumed) {
        (Some((opening, car_number)), _) => {
            let number = store.open_job(&uid(io), io.now.timestamp(), opening)?.number;
            tell_known(&mut store, number, car_number.as_deref(), args.capture.recognise, io)?;
            number
        }
        (None, Some(number)) => number,
        (None, None) => which_told(&store, args.which.job, io)?,
    };
    keep(&mut store, number, args, io)?;
    // Whoever comes back without a number comes back to the car of this conversation.
    store.set_current(number)?;
    let base = loaded.for_job(&store.job(number)?);
    let adviser = Adviser { shop };
    let back = Arc::new(Mutex::new(String::new()));
    if io.interactive {
        io::on_interrupt(&back);
    }
    let mut record = Stored { store: &mut store, number };
    let mut hello = String::new();
    paragraph(&mut hello, "", screen::HELLO, io.look.width);
    io.show(&hello)?;
    let look = io.look;
    converse(&mut Talk::new(&base, &mut record, &adviser, look, io.now.year()), &back, io)?;
    let job = record.job()?;
    if job.status == Status::Open {
        io.show(&go_on(&job, io.look))?;
    }
    told_waiting(&store, io)?;
    Ok(Ending::Done)
}

/// Keeps with the job the files and tools that were named on the line, as far as they are news to it.
fn keep(store: &mut Store, number: i64, args: &GuideArgs, io: &Io) -> Result<(), Stop> {
    let job = store.job(number)?;
    let whole = |path: &PathBuf| std::path::absolute(path).unwrap_or_else(|_| path.clone()).display().to_string();
    let (shop, overlay) = (args.shop.shop.as_ref().map(whole), io.overlay.as_ref().map(whole));
    let known = |tool: &&String| !job.terms.without.contains(*tool);
    let tools = args.shop.tools.clone().map(|t| t.iter().map(|t| t.trim().to_owned()).collect::<Vec<_>>());
    let arranged = Arranged {
        tools: tools.filter(|t| job.terms.tools.as_ref() != Some(&t.iter().cloned().collect())),
        without: args.shop.without.iter().filter(known).cloned().collect(),
        shop: shop.filter(|s| job.terms.shop.as_ref() != Some(s)),
        overlay: overlay.filter(|o| job.terms.overlay.as_ref() != Some(o)),
        ..Arranged::default()
    };
    if arranged != Arranged::default() && job.status == Status::Open {
        store.add(number, io.now.timestamp(), Event::Arranged(arranged))?;
    }
    Ok(())
}

/// How to come back, and to which job.
fn go_on(job: &Job, look: Look) -> String {
    let mut text = String::new();
    paragraph(&mut text, "", &format!("stored up to here: {}; go on with:", which_line(job)), look.width);
    text.push_str(&format!("faultodds guide --job {}\n", job.number));
    text
}

fn converse(talk: &mut Talk<'_>, back: &Mutex<String>, io: &mut Io) -> Result<(), Stop> {
    loop {
        let goes = talk.ask()?;
        if let (Some(job), Ok(mut words)) = (talk.job(), back.lock()) {
            *words = format!("\n{}", go_on(job, io.look));
        }
        io.show(&talk.told())?;
        io.out.flush()?;
        if goes == Goes::Over {
            return Ok(());
        }
        let Some(line) = line(io)? else {
            io.show("\n")?;
            return Ok(());
        };
        if !io.interactive {
            // In a script the answers do not show by themselves, and the record of the conversation should hold them.
            io.show(&format!("{}\n", harmless(&line)))?;
        }
        let goes = talk.take(&line)?;
        io.show(&talk.told())?;
        if goes == Goes::Over {
            return Ok(());
        }
    }
}

/// The next line without its end and outer blanks; none at the end of input. Bytes that are no text are replaced, not
/// refused.
fn line(io: &mut Io) -> Result<Option<String>, Stop> {
    let mut bytes = Vec::new();
    let read = std::io::BufRead::read_until(&mut io.input, b'\n', &mut bytes)?;
    Ok((read > 0).then(|| String::from_utf8_lossy(&bytes).trim().to_owned()))
}

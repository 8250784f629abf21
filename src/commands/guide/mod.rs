//! `guide`: the job as a conversation on plain lines. Every answer is stored before the next question; the end of input
//! is a way to stop like any other. Opens the job and carries lines to and fro; what they mean is settled in [`talk`].

pub mod answers;
mod circumstances;
mod ending;
pub mod question;
pub mod record;
pub mod talk;
mod why;

use super::advice::Adviser;
use super::job::told_waiting;
use super::job_input::{opened, store, uid, which_told};
use super::planned::shop;
use super::{Ending, Io, Loaded, Stop, io};
use crate::cli::GroupArgs;
use crate::cli::job::{DescriptionArgs, GuideArgs};
use crate::jobs::{Access, Job, Status};
use crate::screens::guide as screen;
use crate::screens::job::which_line;
use crate::screens::text::{harmless, paragraph};
use record::{Record, Stored};
use std::path::Path;
use talk::{Goes, Talk};

/// Runs `guide`.
///
/// # Errors
/// [`Stop`] tells why the conversation could not begin or go on; what was answered before is stored.
pub fn run(args: &GuideArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let loaded = Loaded::new(kb, io)?;
    let shop = shop(&args.shop, &loaded.base)?;
    let opening = match args.codes.is_empty() && args.car.symptom.is_empty() {
        true => None,
        false => {
            let GroupArgs { make, model, engine } = args.group.clone();
            let about = DescriptionArgs { make, model, engine, ..DescriptionArgs::default() };
            Some(opened(&args.codes, &args.car, &about, &loaded.base, io)?)
        }
    };
    let mut store = store(&args.store, Access::Write)?;
    let number = match opening {
        Some(opening) => store.open_job(&uid(io), io.now.timestamp(), opening)?.number,
        None => which_told(&store, args.which.job, io)?,
    };
    // Whoever comes back without a number comes back to the car of this conversation.
    store.set_current(number)?;
    let base = loaded.for_job(&store.job(number)?);
    let adviser = Adviser { shop };
    if io.interactive {
        io::on_interrupt(format!("\n{}\n", go_on(&store.job(number)?)));
    }
    let mut record = Stored { store: &mut store, number };
    let mut hello = String::new();
    paragraph(&mut hello, "", screen::HELLO, io.look.width);
    io.show(&hello)?;
    let look = io.look;
    converse(&mut Talk::new(&base, &mut record, &adviser, look, io.now.year()), io)?;
    let job = record.job()?;
    if job.status == Status::Open {
        let mut text = String::new();
        paragraph(&mut text, "", &go_on(&job), io.look.width);
        io.show(&text)?;
    }
    told_waiting(&store, io)?;
    Ok(Ending::Done)
}

/// How to come back, and to which job.
fn go_on(job: &Job) -> String {
    format!("stored up to here: {}; go on with: faultodds guide --job {}", which_line(job), job.number)
}

fn converse(talk: &mut Talk<'_>, io: &mut Io) -> Result<(), Stop> {
    loop {
        let goes = talk.ask()?;
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

//! Jobs as JSON lines, out and in, without loss: one line a job with all its events.

use super::super::error::StoreError;
use super::super::event::Event;
use super::super::job::Job;
use super::super::plain_json::escaped;
use super::check::{self, Trouble};
use super::write::{add_event, new_job};
use super::{Store, Tx, load, summary};
use jiff::Timestamp;
use rusqlite::OptionalExtension;
use serde::{Deserialize, Serialize};
use std::io::{BufRead, Read as _, Write};

/// Shape of a line.
const SCHEMA: &str = "faultodds.job/2";
/// The shape before it, which lacks some kinds of events and is read as it is.
const EARLIER: &str = "faultodds.job/1";

/// The longest line that is read, in bytes: a job of some ten thousand events. What is handed in may have no end.
const LONGEST: u64 = 16 << 20;

/// Whether vehicle identification numbers go out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Vins {
    /// As stored.
    Keep,
    /// Left out, also where one is repeated in a note.
    LeaveOut,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    schema: String,
    uid: String,
    events: Vec<LineEvent>,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct LineEvent {
    number: u32,
    at: Timestamp,
    event: Event,
}

/// What an export did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Exported {
    /// How many jobs were written, each as it was stored.
    pub written: usize,
    /// Numbers of the jobs that are not what was stored, and were not written.
    pub left_out: Vec<i64>,
    /// What is wrong with them, and with the list of jobs. Empty when the export is whole.
    pub trouble: Vec<Trouble>,
}

/// What an import did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Imported {
    /// Jobs that were new.
    pub new: usize,
    /// Jobs that were known and have more events now.
    pub longer: usize,
    /// Jobs that were known with all these events.
    pub known: usize,
}

impl Store {
    /// Writes jobs, all of them or those of the numbers given, in the order of their numbers. A job that is not what was stored
    /// is left out and told.
    ///
    /// # Errors
    /// A number that is no job, a store that cannot be read, or the stream cannot be written.
    pub fn export(&self, out: &mut dyn Write, only: Option<&[i64]>, vins: Vins) -> Result<Exported, StoreError> {
        // One snapshot, however long it takes and whatever others write meanwhile.
        let snapshot = self.connection.unchecked_transaction().map_err(|e| self.failed(e))?;
        let mut done = Exported::default();
        let numbers: Vec<i64> = match only {
            Some(numbers) => numbers.to_vec(),
            None => check::numbers(&snapshot, &mut done.trouble).map_err(|e| self.failed(e))?,
        };
        let stream = |source| StoreError::Stream { what: "writing the export", source };
        for number in &numbers {
            match self.whole_job(&snapshot, *number)? {
                Ok(job) => {
                    let line = serde_json::to_string(&line(&job, vins)).map_err(|e| stream(e.into()))?;
                    out.write_all(escaped(&line).as_bytes()).and_then(|()| out.write_all(b"\n")).map_err(stream)?;
                    done.written += 1;
                }
                Err(trouble) => {
                    done.left_out.push(*number);
                    done.trouble.extend(trouble);
                }
            }
        }
        out.flush().map_err(stream)?;
        Ok(done)
    }

    /// Reads jobs: new ones are added under the next free numbers, known ones (by uid) get the events they lack.
    /// All or nothing.
    ///
    /// # Errors
    /// The first line that cannot be used: not JSON of this shape, events that do not follow from each other, or a
    /// job that has gone another way in this store.
    pub fn import(&mut self, lines: &mut dyn BufRead) -> Result<Imported, StoreError> {
        self.write(|tx| {
            let mut done = Imported::default();
            let mut text = String::new();
            for number in 1.. {
                text.clear();
                let stream = |source| StoreError::Stream { what: "reading the import", source };
                if (&mut *lines).take(LONGEST).read_line(&mut text).map_err(stream)? == 0 {
                    break;
                }
                if text.len() as u64 >= LONGEST {
                    let what = format!("the line is longer than {LONGEST} bytes");
                    return Err(StoreError::Import { line: number, what });
                }
                if !text.trim().is_empty() {
                    import_line(tx, &text, number, &mut done)?;
                }
            }
            Ok(done)
        })
    }
}

fn import_line(tx: &Tx<'_>, text: &str, line: usize, done: &mut Imported) -> Result<(), StoreError> {
    let bad = |what: String| StoreError::Import { line, what };
    let read: Line = serde_json::from_str(text).map_err(|e| bad(format!("this is not a job: {e}")))?;
    if read.schema != SCHEMA && read.schema != EARLIER {
        return Err(bad(format!("the shape is `{}`, not `{SCHEMA}`", read.schema)));
    }
    if read.uid.is_empty() || read.events.iter().zip(1..).any(|(e, n)| e.number != n) {
        return Err(bad("the uid is empty or the events are not numbered from 1 without gaps".to_owned()));
    }
    let mut events = Vec::new();
    for e in read.events {
        let event = e.event.tidy().map_err(|why| bad(why.to_string()))?;
        events.push((e.at, event));
    }
    let known: Option<i64> = tx
        .sql()
        .prepare_cached("SELECT number FROM job WHERE uid = ?1")
        .and_then(|mut s| s.query_row([&read.uid], |r| r.get(0)).optional())
        .map_err(|e| tx.failed(e))?;
    let (number, had) = match known {
        None => (new_job(tx, &read.uid)?, 0),
        Some(number) => {
            let job = load(tx.sql(), tx.path, number)?;
            let both = job.log.len().min(events.len());
            if !same(&job, &events[..both]) {
                return Err(bad(format!("job {} has gone another way in this store, as job {number}", read.uid)));
            }
            (number, both)
        }
    };
    let job = Job::fold(number, &read.uid, events).map_err(|(n, why)| bad(format!("event {n}: {why}")))?;
    match known {
        None => done.new += 1,
        Some(_) if had < job.log.len() => done.longer += 1,
        Some(_) => {
            done.known += 1;
            return Ok(());
        }
    }
    for entry in &job.log[had..] {
        add_event(tx, number, entry.number, entry.at, &entry.event)?;
    }
    match known {
        None => summary::write(tx, &job),
        // A known job keeps its vehicle number where the import lacks it, so it is read as it stands now.
        Some(_) => summary::write(tx, &load(tx.sql(), tx.path, number)?),
    }
}

/// Whether the events given are the first ones of the job, vehicle numbers aside.
fn same(job: &Job, events: &[(Timestamp, Event)]) -> bool {
    let vins = vins(job);
    job.log.iter().zip(events).all(|(entry, (at, event))| {
        entry.at.as_millisecond() == at.as_millisecond()
            && (entry.event == *event || without(&entry.event, &vins) == without(event, &vins))
    })
}

fn line(job: &Job, vins_wanted: Vins) -> Line {
    let vins = vins(job);
    let events = job
        .log
        .iter()
        .map(|e| LineEvent {
            number: e.number,
            at: e.at,
            event: if vins_wanted == Vins::Keep { e.event.clone() } else { without(&e.event, &vins) },
        })
        .collect();
    Line { schema: SCHEMA.to_owned(), uid: job.uid.clone(), events }
}

/// All vehicle numbers that were ever given on the job.
fn vins(job: &Job) -> Vec<String> {
    let cars = job.log.iter().filter_map(|e| match &e.event {
        Event::Opened(o) => Some(&o.car),
        Event::Amended(a) => a.car.as_ref(),
        _ => None,
    });
    cars.filter_map(|c| c.vin.clone()).collect()
}

/// What stands in texts where a vehicle number was.
const LEFT_OUT: &str = "[VIN left out]";

/// The event without vehicle numbers: none in the car, and none in any text.
fn without(event: &Event, vins: &[String]) -> Event {
    let mut event = event.clone();
    match &mut event {
        Event::Opened(o) => o.car.vin = None,
        Event::Amended(a) => {
            if let Some(car) = &mut a.car {
                car.vin = None;
            }
        }
        _ => {}
    }
    // Shorter ones are no vehicle numbers, and replacing them would tear texts apart.
    let vins: Vec<&String> = vins.iter().filter(|v| v.is_ascii() && v.len() >= 6).collect();
    if vins.is_empty() {
        return event;
    }
    let Ok(mut value) = serde_json::to_value(&event) else { return event };
    blank_out(&mut value, &vins);
    serde_json::from_value(value).unwrap_or(event)
}

fn blank_out(value: &mut serde_json::Value, vins: &[&String]) {
    match value {
        serde_json::Value::String(text) => {
            for vin in vins {
                let (vin, mut from) = (vin.to_ascii_uppercase(), 0);
                while let Some(at) = text[from..].to_ascii_uppercase().find(&vin) {
                    text.replace_range(from + at..from + at + vin.len(), LEFT_OUT);
                    from += at + LEFT_OUT.len();
                }
            }
        }
        serde_json::Value::Array(list) => list.iter_mut().for_each(|v| blank_out(v, vins)),
        serde_json::Value::Object(map) => map.values_mut().for_each(|v| blank_out(v, vins)),
        _ => {}
    }
}

//! The kept past jobs as learning sees them, one at a time, whatever their number.

use super::error::PastError;
use super::store::{Store, beliefs};
use crate::job::{Cause, ClosedJob};
use knowledge::base::Vehicle;
use rusqlite::Row;
use std::sync::mpsc::sync_channel;

/// Jobs that are handed on together, and how many such batches wait at most.
const BATCH: usize = 1024;
const WAITING: usize = 3;

/// What is counted comes first; the day, the mileage and the minutes of the whole job are asked of a job alone.
const COUNTED: &str = "key, make, model, engine, age, codes, state, cause, repair, repair_minutes, parts";
const MORE: &str = ", date, km, minutes";

impl Store {
    /// Hands every job that learning can use to `take`, in the order of the keys: memory does not grow with them.
    /// Jobs that are held or left out are not handed on. One thread reads, `take` runs in another.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn each(&self, take: &mut (dyn FnMut(&ClosedJob) + Send)) -> Result<(), PastError> {
        self.walk(MORE, "ORDER BY key", take)
    }

    /// The same without the day, the mileage and the minutes of the whole job, which nobody counts: they are left out of the jobs.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn each_to_count(&self, take: &mut (dyn FnMut(&ClosedJob) + Send)) -> Result<(), PastError> {
        self.walk("", "ORDER BY key", take)
    }

    /// The same in the order of the dates, for replaying them.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn each_by_date(&self, take: &mut (dyn FnMut(&ClosedJob) + Send)) -> Result<(), PastError> {
        self.walk(MORE, "ORDER BY date, row, key", take)
    }

    fn walk(&self, more: &str, order: &str, take: &mut (dyn FnMut(&ClosedJob) + Send)) -> Result<(), PastError> {
        let sql = format!("SELECT {COUNTED}{more} FROM past WHERE state NOT IN ('held', 'left-out') {order}");
        let mut query = self.connection.prepare(&sql)?;
        let mut results =
            self.connection.prepare("SELECT reading, level FROM past_result WHERE key = ?1 ORDER BY reading")?;
        let any: bool = self.connection.query_row("SELECT EXISTS (SELECT 1 FROM past_result)", [], |r| r.get(0))?;
        let mut rows = query.query([])?;
        std::thread::scope(|threads| {
            let (to, from) = sync_channel::<Vec<ClosedJob>>(WAITING);
            threads.spawn(move || from.iter().flatten().for_each(|job| take(&job)));
            let mut batch = Vec::with_capacity(BATCH);
            while let Some(row) = rows.next()? {
                let mut job = job(row, !more.is_empty())?;
                if any {
                    let found = results.query_map([row.get::<_, i64>(0)?], |r| Ok((r.get(0)?, r.get(1)?)))?;
                    job.results = found.collect::<Result<_, _>>()?;
                }
                batch.push(job);
                if batch.len() == BATCH && to.send(std::mem::replace(&mut batch, Vec::with_capacity(BATCH))).is_err() {
                    // The other thread ends only with its work or with a panic, which the scope hands on.
                    break;
                }
            }
            let _ = to.send(batch);
            Ok(())
        })
    }
}

fn job(row: &Row<'_>, whole: bool) -> rusqlite::Result<ClosedJob> {
    let text = |i: usize| row.get::<_, Option<String>>(i);
    let date = if whole { row.get_ref(11)?.as_str()?.parse().ok() } else { None };
    let mut job = ClosedJob::on(date.unwrap_or(jiff::civil::Date::ZERO));
    (job.make, job.model, job.engine) = (text(1)?, text(2)?, text(3)?);
    job.vehicle = Vehicle { age: row.get(4)?, ..Vehicle::default() };
    job.codes = row.get_ref(5)?.as_str()?.split(' ').map(str::to_owned).collect();
    let cause = row.get_ref(7)?.as_str()?;
    job.cause = match row.get_ref(6)?.as_str()? {
        "found" => Cause::Found(cause.to_owned()),
        "several" => Cause::Several(cause.split(" + ").map(str::to_owned).collect()),
        "no-fault" => Cause::NoFault,
        _ => Cause::Unsure(beliefs(cause)),
    };
    job.repair = text(8)?;
    (job.repair_minutes, job.parts_cost) = (row.get(9)?, row.get(10)?);
    if whole {
        (job.vehicle.mileage_km, job.minutes) = (row.get(12)?, row.get(13)?);
    }
    Ok(job)
}

//! The past jobs as two plain tables for SQL engines, as CSV parted by shop and year: what learning counts and nothing else. No
//! customer, plate, job number, day or free text is in them.

use super::error::PastError;
use super::store::Store;
use crate::counts::{candidates_as_word, results_as_word};
use crate::job::{Cause, ClosedJob, age_band, plain};
use crate::spread::Histogram;
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

/// Columns of `jobs`. Shop and year are the names of the folders.
///
/// * `job`: a number that joins it with its results, and nothing else;
/// * `make`, `model`, `engine`: in lower case, blanks single; `age`: band of years;
/// * `codes`: sorted, joined by a blank;
/// * `state`: `found`, `pair`, `unsure` or `no-fault`; `one`, `two`: the causes in order, of unsure jobs the candidates in `one`;
/// * `shown`: results of unsure jobs as one word;
/// * `repair`; `minutes`, `price`: number of the bin of 2 %, round(ln(amount) / 0.02).
pub const JOBS: [&str; 13] =
    ["job", "make", "model", "engine", "age", "codes", "state", "one", "two", "shown", "repair", "minutes", "price"];

/// Columns of `results`: the readings of jobs whose cause was found.
pub const RESULTS: [&str; 3] = ["job", "reading", "level"];

/// A name that a shop may go under: a letter, then letters, digits and dashes, in lower case. It is a folder's name and part of a
/// group's.
#[must_use]
pub fn is_shop_name(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_lowercase())
        && name.len() <= 60
        && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
}

/// The writers of one year.
struct Year {
    jobs: csv::Writer<File>,
    results: csv::Writer<File>,
}

/// Writes the tables into a folder that is new or empty. Returns how many jobs there are.
///
/// # Errors
/// When the folder holds something, or cannot be written, or the store cannot be read.
pub fn export(store: &Store, folder: &Path, shop: &str) -> Result<u64, PastError> {
    let fault = |path: &Path| {
        let path = path.to_owned();
        move |error: io::Error| PastError::File { path, error }
    };
    fs::create_dir_all(folder).map_err(fault(folder))?;
    if fs::read_dir(folder).map_err(fault(folder))?.next().is_some() {
        let error = io::Error::other("the folder is not empty; tables of another time would be counted too");
        return Err(PastError::File { path: folder.to_owned(), error });
    }
    let mut years: BTreeMap<i16, Year> = BTreeMap::new();
    let (mut n, mut trouble) = (0_u64, None);
    store.each(&mut |job| {
        if trouble.is_some() {
            return;
        }
        n += 1;
        let year = job.date.year();
        let written = match years.entry(year) {
            std::collections::btree_map::Entry::Occupied(e) => Ok(e.into_mut()),
            std::collections::btree_map::Entry::Vacant(e) => open(folder, shop, year).map(|y| e.insert(y)),
        };
        trouble = written.and_then(|y| write(y, n, job).map_err(io::Error::other)).err();
    })?;
    for y in years.values_mut() {
        trouble = trouble.or(y.jobs.flush().err()).or(y.results.flush().err());
    }
    match trouble {
        Some(error) => Err(PastError::File { path: folder.to_owned(), error }),
        None => Ok(n),
    }
}

fn open(folder: &Path, shop: &str, year: i16) -> io::Result<Year> {
    let table = |name: &str, columns: &[&str]| {
        let place: PathBuf = folder.join(name).join(format!("shop={shop}")).join(format!("year={year}"));
        fs::create_dir_all(&place)?;
        let mut out = csv::Writer::from_path(place.join(format!("{name}.csv"))).map_err(io::Error::other)?;
        out.write_record(columns).map_err(io::Error::other)?;
        Ok::<_, io::Error>(out)
    };
    Ok(Year { jobs: table("jobs", &JOBS)?, results: table("results", &RESULTS)? })
}

fn write(to: &mut Year, number: u64, job: &ClosedJob) -> Result<(), csv::Error> {
    let number = number.to_string();
    let (state, one, two, shown) = match &job.cause {
        Cause::Found(id) => ("found", id.clone(), String::new(), String::new()),
        Cause::Several(all) => {
            let mut all = all.clone();
            all.sort();
            let mut all = all.into_iter();
            ("pair", all.next().unwrap_or_default(), all.next().unwrap_or_default(), String::new())
        }
        Cause::Unsure(c) => ("unsure", candidates_as_word(c), String::new(), results_as_word(&job.results)),
        Cause::NoFault => ("no-fault", String::new(), String::new(), String::new()),
    };
    let name = |n: &Option<String>| n.as_deref().map(plain).unwrap_or_default();
    let bin = |amount: Option<f64>| {
        job.repair.as_ref().and(amount).and_then(Histogram::bin).map(|b| b.to_string()).unwrap_or_default()
    };
    // A model without its make is none.
    let model = job.make.as_ref().map(|_| name(&job.model)).unwrap_or_default();
    to.jobs.write_record([
        number.as_str(),
        &name(&job.make),
        &model,
        &name(&job.engine),
        job.vehicle.age.map_or("", age_band),
        &job.pattern(),
        state,
        &one,
        &two,
        &shown,
        job.repair.as_deref().unwrap_or_default(),
        &bin(job.repair_minutes),
        &bin(job.parts_cost),
    ])?;
    if state == "found" {
        for (reading, level) in &job.results {
            to.results.write_record([number.as_str(), reading, level])?;
        }
    }
    Ok(())
}

//! `past`: closed jobs of the past, from a spreadsheet to the store.

use super::learn_input::{Matcher, each_recorded, past_place, past_store};
use super::search::index;
use super::{Ending, Io, Loaded, Stop};
use crate::cli::learn::{ImportArgs, PastArgs, PastCommand};
use crate::cli::shared::PastStoreArgs;
use crate::learning::counts::Counter;
use crate::learning::model::Model;
use crate::learning::past::{self, Mapping, PastError, Report, Request, Store, draft, import, review, rows::Row};
use crate::screens::failure::Failure;
use crate::screens::past as screen;
use indicatif::{ProgressBar, ProgressStyle};
use std::fs;
use std::io::Write as _;
use std::path::Path;

/// Runs `past`.
///
/// # Errors
/// [`Stop`] tells why it could not be done; then nothing was kept.
pub(super) fn run(args: &PastArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    match &args.command {
        PastCommand::Map { file } => map(file, io),
        PastCommand::Import(a) => bring_in(a, &args.store, kb, io),
        PastCommand::Held => {
            let held = match past_store(&args.store)? {
                Some(store) => store.held()?,
                None => Vec::new(),
            };
            io.show(&review::to_yaml(&held))?;
            Ok(if held.is_empty() { Ending::No } else { Ending::Done })
        }
        PastCommand::Decide { file } => decide(file, &args.store, kb, io),
        PastCommand::Counts { sql: true, .. } => {
            io.show(past::store::COUNTS_SQL)?;
            Ok(Ending::Done)
        }
        PastCommand::Counts { jobs, past_only, .. } => {
            let base = Loaded::new(kb, io)?.base;
            let mut counter = Counter::default();
            if let Some(store) = past_store(&args.store)? {
                store.each(&mut |job| counter.add(job))?;
            }
            if !past_only {
                each_recorded(jobs, &base, &mut |job| counter.add(job))?;
            }
            let text = counter.finish().to_json().map_err(|e| Failure::new(e.to_string()))?;
            io.show(&(text + "\n"))?;
            Ok(Ending::Done)
        }
        PastCommand::Report(a) => super::past_report::run(a, &args.store, kb, io),
        PastCommand::Show { json } => show(*json, &args.store, io),
        PastCommand::Clear { yes } => {
            if !yes {
                let failure = Failure::new("this takes out all past jobs and all decisions about causes");
                return Err(failure.hint("say it with --yes").into());
            }
            let n = match past_store(&args.store)? {
                Some(_) => Store::open(&past_place(&args.store)?)?.clear()?,
                None => 0,
            };
            io.show(&format!("{n} past jobs taken out\n"))?;
            Ok(Ending::Done)
        }
    }
}

/// How much of a spreadsheet is looked at for a mapping: 300 rows with pages of notes are a few megabytes.
const MOST_MAPPED: u64 = 64 << 20;

fn map(file: &Path, io: &mut Io) -> Result<Ending, Stop> {
    let (header, mut rows, ..) = past::sheet::open(file, None, None, MOST_MAPPED)?;
    let (mut row, mut sample) = (Row::default(), Vec::new());
    while sample.len() < 300 && rows.next(&mut row)? {
        if !row.is_blank() && !row.too_long {
            sample.push(row.cells().map(str::to_owned).collect::<Vec<_>>());
        }
    }
    if sample.len() < 300 && fs::metadata(file).is_ok_and(|m| m.len() > MOST_MAPPED) {
        writeln!(io.err, "only the first {} MB of {} were looked at", MOST_MAPPED >> 20, file.display())?;
    }
    io.show(&draft::draft(&header, &sample).to_yaml())?;
    Ok(Ending::Done)
}

pub(super) fn read(path: &Path) -> Result<String, Failure> {
    crate::knowledge::bounded::read_text(path).map_err(|e| Failure::new(format!("{}: {e}", path.display())))
}

/// Says of which file the lines are.
fn in_file(error: PastError, path: &Path) -> PastError {
    match error {
        PastError::Written { told } => {
            PastError::Written { told: told.into_iter().map(|t| format!("{}, {t}", path.display())).collect() }
        }
        other => other,
    }
}

fn bring_in(a: &ImportArgs, at: &PastStoreArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let base = Loaded::new(kb, io)?.base;
    let mapping = Mapping::from_yaml(&read(&a.mapping)?).map_err(|error| in_file(error, &a.mapping))?;
    let index = index(&base, io)?;
    let matcher = Matcher::new(&base, &index)?;
    let size = fs::metadata(&a.file).map_or(0, |m| m.len());
    let bar = if io.interactive { ProgressBar::new(size) } else { ProgressBar::hidden() };
    if let Ok(style) = ProgressStyle::with_template("{bytes} of {total_bytes} [{bar:30}] {eta} left") {
        bar.set_style(style);
    }
    let mut progress = |bytes: u64| {
        bar.set_position(bytes);
        true
    };
    let request = Request {
        base: &base,
        mapping: &mapping,
        matcher: &matcher,
        today: io.today,
        dry_run: a.dry_run,
        progress: &mut progress,
    };
    // A dry run on a machine without a store leaves none behind.
    let place = past_place(at)?;
    let mut store = if a.dry_run && !place.exists() { Store::in_memory()? } else { Store::open(&place)? };
    let report = import(&mut store, &a.file, request)?;
    bar.finish_and_clear();
    if let Some(path) = &a.refused {
        write_refused(path, &report).map_err(|e| Failure::new(format!("{}: {e}", path.display())))?;
    }
    if a.json {
        io.show_json(&screen::json(&report))?;
    } else {
        io.show(&screen::text(&report, io.look))?;
    }
    Ok(if report.kept + report.held + report.known > 0 { Ending::Done } else { Ending::No })
}

fn write_refused(path: &Path, report: &Report) -> Result<(), csv::Error> {
    let mut out = csv::Writer::from_path(path)?;
    out.write_record(["row", "line", "what", "reason"])?;
    for (what, remarks) in [("refused", &report.refusals), ("cell left out", &report.left_out)] {
        for r in remarks {
            out.write_record([&r.row.to_string(), &r.line.to_string(), what, &r.reason])?;
        }
    }
    out.flush()?;
    Ok(())
}

fn decide(file: &Path, at: &PastStoreArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let base = Loaded::new(kb, io)?.base;
    let decisions = review::from_yaml(&read(file)?, &base).map_err(|error| in_file(error, file))?;
    let model = Model::new(&base);
    let mut store = Store::open(&past_place(at)?)?;
    let changed = store.decide(&decisions, &|codes| past::import::not_listed(&model, codes))?;
    let left = store.held()?.len();
    let n = decisions.len();
    io.show(&format!("{n} decisions taken over; {changed} jobs changed; {left} wordings still held\n"))?;
    Ok(Ending::Done)
}

fn show(json: bool, at: &PastStoreArgs, io: &mut Io) -> Result<Ending, Stop> {
    let states = match past_store(at)? {
        Some(store) => store.states()?,
        None => Vec::new(),
    };
    if json {
        let states: serde_json::Map<String, serde_json::Value> =
            states.iter().map(|(s, n)| (s.clone(), (*n).into())).collect();
        io.show_json(&serde_json::json!({"schema": "faultodds.past/1", "jobs": states}))?;
    } else {
        io.show(&screen::states(&states))?;
    }
    if states.is_empty() && !json {
        writeln!(io.err, "bring jobs in with: faultodds past import FILE --mapping FILE")?;
    }
    Ok(if states.is_empty() { Ending::No } else { Ending::Done })
}

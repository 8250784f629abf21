//! `tune`: from closed jobs to an overlay. The base itself is never written.

use super::learn_input::{beside, each_recorded, past_counted, past_store};
use super::past::read;
use super::{Ending, Io, Loaded, Stop};
use cli::learn::TuneArgs;
use learning::counts::{Counter, Counts};
use learning::fit::fit;
use learning::overlay::Overlay;
use screens::failure::Failure;
use screens::tune as screen;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

/// Seed of the draws: the same jobs give the same overlay.
const SEED: u64 = 1;

/// Runs `tune`.
///
/// # Errors
/// [`Stop`] tells why it could not be done; then nothing was written.
pub(super) fn run(args: &TuneArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    // What is learned is laid over the base as it is, not over an earlier overlay.
    io.overlay = None;
    let base = Loaded::new(kb, io)?.base;
    let mut counts = Counts::default();
    let (mut past, mut recorded) = (0, 0);
    if args.counts.is_empty() {
        let mut counter = Counter::default();
        if let Some((store, _)) = past_counted(&args.store, io)? {
            store.each_to_count(&mut |job| {
                past += 1;
                counter.add(job);
            })?;
        }
        if !args.past_only {
            recorded = each_recorded(&args.jobs, base, &mut |job| counter.add(job))?;
        }
        counts = counter.finish();
    }
    for path in &args.counts {
        let told = Counts::from_json(&read(path)?).map_err(|e| Failure::new(format!("{}: {e}", path.display())))?;
        counts.merge(&told);
    }
    if counts.jobs() <= 0.0 {
        let message = "there are no closed jobs to learn from\n";
        if args.json {
            io.show_json(&serde_json::json!({"schema": "faultodds.tune/1", "jobs": 0, "numbers": []}))?;
        } else {
            io.show(message)?;
        }
        return Ok(Ending::No);
    }
    let mut learned = fit(base, &counts, SEED);
    // Of other shops only what is common is used here.
    learned.groups.retain(|g| g.by != "shop" || args.shop.as_ref() == Some(&g.value));
    let mut overlay = Overlay::of(base, &learned, &io.today.to_string());
    overlay.shop = args.shop.clone().unwrap_or_default();
    let mut why = BTreeMap::new();
    if let (true, Some(store)) = (args.why > 0 && args.counts.is_empty(), past_store(&args.store)?) {
        why = store.behind(args.why)?;
    }
    let mut written = None;
    if !args.dry_run {
        let place = beside(args.out.as_deref(), "overlay.yaml").ok_or_else(|| {
            Failure::new("this system names no folder for data").hint("say where to write with --out FILE")
        })?;
        write(&place, &overlay.to_yaml()).map_err(|e| Failure::new(format!("{}: {e}", place.display())))?;
        written = Some(place);
    }
    if args.json {
        io.show_json(&screen::json(&learned, &overlay, &why))?;
    } else {
        let place = written.as_ref().map(|p| p.display().to_string());
        let of = (args.counts.is_empty()).then_some((past, recorded));
        let shown = screen::Shown { written: place.as_deref(), top: args.top, why: &why, of };
        io.show(&screen::text(base, &learned, &overlay, &shown, io.look))?;
    }
    Ok(Ending::Done)
}

/// Writes beside the place and moves it there, so that a killed process leaves the old file or the new one.
fn write(place: &Path, text: &str) -> std::io::Result<()> {
    if let Some(folder) = place.parent().filter(|f| !f.as_os_str().is_empty()) {
        fs::create_dir_all(folder)?;
    }
    let mut name = place.file_name().unwrap_or_default().to_owned();
    name.push(".new");
    let beside = place.with_file_name(name);
    fs::write(&beside, text)?;
    fs::rename(&beside, place)
}

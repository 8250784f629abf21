//! `past`: closed jobs of the past, from a spreadsheet to the store.

use super::learn_input::{Matcher, each_recorded, past_counted, past_place, past_store};
use super::search::index;
use super::{Ending, Io, Loaded, Stop};
use cli::learn::{ImportArgs, PastArgs, PastCommand};
use cli::shared::PastStoreArgs;
use indicatif::{ProgressBar, ProgressStyle};
use knowledge::near::{did_you_mean, near};
use learning::counts::Counter;
use learning::job::ClosedJob;
use learning::model::Model;
use learning::past::wordings::{Shown, Wording};
use learning::past::{self, Mapping, PastError, Report, Request, Store, draft, import, review, rows::Row};
use screens::failure::Failure;
use screens::past as screen;
use screens::text::harmless;
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
            let base = Loaded::new(kb, io)?.base;
            let held = wordings(&args.store, true, 3)?;
            io.show(&review::to_yaml(&held, base))?;
            Ok(if held.is_empty() { Ending::No } else { Ending::Done })
        }
        PastCommand::Words { top, edit, json } => words(*top, *edit, *json, &args.store, kb, io),
        PastCommand::Decide { file, words, cause } => {
            let given = match (file, words, cause) {
                (Some(file), ..) => Given::File(file),
                (None, Some(words), Some(cause)) => Given::Words(words, cause),
                _ => return Err(Failure::new("say a FILE, or --words and --cause").into()),
            };
            decide(&given, &args.store, kb, io)
        }
        PastCommand::Counts { sql: true, .. } => {
            io.show(past::store::COUNTS_SQL)?;
            Ok(Ending::Done)
        }
        PastCommand::Counts { jobs, past_only, least, shop, .. } => {
            let shop = shop.as_deref().map(shop_name).transpose()?;
            let base = Loaded::new(kb, io)?.base;
            let mut counter = Counter::default();
            let mut count = |job: &ClosedJob| match &shop {
                None => counter.add(job),
                Some(shop) => counter.add(&ClosedJob { shop: Some(shop.clone()), ..job.clone() }),
            };
            let mut whole = true;
            if let Some((store, is_whole)) = past_counted(&args.store, io)? {
                store.each_to_count(&mut count)?;
                whole = is_whole;
            }
            if !past_only {
                each_recorded(jobs, base, &mut count)?;
            }
            let counts = counter.finish().lumped(*least);
            let text = counts.to_json().map_err(|e| Failure::new(e.to_string()))?;
            io.show(&(text + "\n"))?;
            Ok(if whole { Ending::Done } else { Ending::No })
        }
        PastCommand::Report(a) => super::past_report::run(a, &args.store, kb, io),
        PastCommand::Export { folder, shop } => {
            let shop = shop_name(shop)?;
            let Some((store, whole)) = past_counted(&args.store, io)? else {
                writeln!(io.err, "there are no past jobs")?;
                return Ok(Ending::No);
            };
            let n = past::export::export(&store, folder, &shop)?;
            let told = format!(
                "{n} jobs written to {}: `jobs` and `results`, by shop and year\ncount them with the statement of: faultodds past counts --sql\n",
                harmless(&folder.display().to_string())
            );
            io.show(&told)?;
            Ok(if n > 0 && whole { Ending::Done } else { Ending::No })
        }
        PastCommand::Check => check(&args.store, io),
        PastCommand::Forget { import, yes } => forget(*import, *yes, &args.store, kb, io),
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
    let past::sheet::Opened { header, mut rows, above, .. } =
        past::sheet::open(file, past::sheet::Known::default(), MOST_MAPPED)?;
    let (mut row, mut sample) = (Row::default(), Vec::new());
    while sample.len() < 300 && rows.next(&mut row)? {
        if !row.is_blank() && !row.too_long {
            sample.push(row.cells().map(str::to_owned).collect::<Vec<_>>());
        }
    }
    if sample.len() < 300 && fs::metadata(file).is_ok_and(|m| m.len() > MOST_MAPPED) {
        writeln!(io.err, "only the first {} MB of {} were looked at", MOST_MAPPED >> 20, file.display())?;
    }
    if above > 0 {
        writeln!(io.err, "the header was taken from row {}; what stands above it is passed over", above + 1)?;
    }
    io.show(&draft::draft(&header, &sample).to_yaml())?;
    Ok(Ending::Done)
}

pub(super) fn read(path: &Path) -> Result<String, Failure> {
    knowledge::bounded::read_text(path).map_err(|e| Failure::new(format!("{}: {e}", path.display())))
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
    let Some(mapped) = &a.mapping else {
        let failure = Failure::new("which column is what must be said with --mapping FILE");
        return Err(failure
            .hint(format!("draft one, then read it over: faultodds past map {} > mapping.yaml", a.file.display()))
            .into());
    };
    let base = Loaded::new(kb, io)?.base;
    let mapping = Mapping::from_yaml(&read(mapped)?).map_err(|error| in_file(error, mapped))?;
    let index = index(base, io)?;
    let matcher = Matcher::new(base, &index)?;
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
        base,
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
    out.write_record(["row", "line", "job", "what", "reason"])?;
    for (what, remarks) in [("refused", &report.refusals), ("cell left out", &report.left_out)] {
        for r in remarks {
            out.write_record([&r.row.to_string(), &r.line.to_string(), &r.job, what, &r.reason])?;
        }
    }
    out.flush()?;
    Ok(())
}

/// Wordings with some of their jobs.
fn wordings(at: &PastStoreArgs, only_held: bool, jobs: usize) -> Result<Vec<(Wording, Vec<Shown>)>, Stop> {
    let Some(store) = past_store(at)? else { return Ok(Vec::new()) };
    let mut held = store.held_jobs(jobs)?;
    let with_jobs = |w: Wording| {
        let jobs = if w.state == "held" { held.remove(&w.words).unwrap_or_default() } else { Vec::new() };
        (w, jobs)
    };
    Ok(store.wordings(only_held)?.into_iter().map(with_jobs).collect())
}

fn words(
    top: usize,
    edit: bool,
    json: bool,
    at: &PastStoreArgs,
    kb: Option<&Path>,
    io: &mut Io,
) -> Result<Ending, Stop> {
    let base = Loaded::new(kb, io)?.base;
    let all = wordings(at, false, 3)?;
    let nothing = all.is_empty();
    if json {
        io.show_json(&screen::words_json(&all, base))?;
    } else if edit {
        // A wording that means different things on different jobs stands once.
        let mut seen = std::collections::BTreeSet::new();
        let once: Vec<_> =
            all.into_iter().filter(|(w, _)| !w.words.is_empty() && seen.insert(w.words.clone())).collect();
        io.show(&review::to_yaml(&once, base))?;
    } else {
        io.show(&screen::words(&all, base, if top == 0 { usize::MAX } else { top }, io.look))?;
    }
    Ok(if nothing { Ending::No } else { Ending::Done })
}

/// Decisions as they are given.
enum Given<'a> {
    File(&'a Path),
    Words(&'a str, &'a str),
}

/// Wordings of no job that are named one by one.
const MOST_STRANGE: usize = 5;

fn decide(given: &Given<'_>, at: &PastStoreArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let base = Loaded::new(kb, io)?.base;
    let told = match given {
        Given::File(file) => review::from_yaml(&read(file)?, base).map_err(|error| in_file(error, file))?,
        Given::Words(words, cause) => {
            if let Some(why) = review::unknown(cause, base).into_iter().find(|_| *cause != "?") {
                return Err(Failure::new(why).into());
            }
            let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
            vec![(words, Some((*cause).to_owned()).filter(|c| c != "?"))]
        }
    };
    let model = Model::new(base);
    let index = index(base, io)?;
    let matcher = Matcher::new(base, &index)?;
    let mut store = Store::open(&past_place(at)?)?;
    // A line that was left as it was printed decides nothing.
    let mut now: std::collections::HashMap<String, (String, bool)> = std::collections::HashMap::new();
    for w in store.wordings(false)? {
        now.entry(w.words.clone()).or_insert_with(|| (review::label(&w, base), w.decided.is_some()));
    }
    let changes: Vec<(String, Option<String>)> = told
        .into_iter()
        .filter(|(words, cause)| match (now.get(words), cause) {
            (Some((label, _)), Some(cause)) => label != cause,
            (Some((_, decided)), None) => *decided,
            (None, cause) => cause.is_some(),
        })
        .collect();
    let changed = store.decide(&changes, &matcher, &model)?;
    let left = store.wordings(true)?.len();
    let count = |n: usize, what: &str| format!("{n} {what}{}", if n == 1 { "" } else { "s" });
    let back = changes.iter().filter(|(_, cause)| cause.is_none()).count();
    let taken = changes.len() - back;
    let back = if back > 0 { format!("{} taken back; ", count(back, "decision")) } else { String::new() };
    io.show(&format!(
        "{} taken over; {back}{} changed; {} still held\n",
        count(taken, "decision"),
        count(usize::try_from(changed).unwrap_or(usize::MAX), "job"),
        count(left, "wording")
    ))?;
    for (words, _) in
        changes.iter().filter(|(words, cause)| cause.is_some() && !now.contains_key(words)).take(MOST_STRANGE)
    {
        let close = did_you_mean(&near(words, now.keys().map(String::as_str), 2));
        let close = close.map_or_else(String::new, |hint| format!("; {hint}"));
        io.note(&harmless(&format!("no past job says `{words}`: the decision waits for one that does{close}")))?;
    }
    Ok(Ending::Done)
}

fn shop_name(name: &str) -> Result<String, Failure> {
    if past::export::is_shop_name(name) {
        return Ok(name.to_owned());
    }
    let failure = Failure::new(format!("`{}` cannot be the name of a shop here", harmless(name)));
    Err(failure.hint("a letter, then letters, digits and dashes, all small: north-street"))
}

fn forget(import: i64, yes: bool, at: &PastStoreArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let imports = match past_store(at)? {
        Some(store) => store.imports()?,
        None => Vec::new(),
    };
    let Some(which) = imports.iter().find(|i| i.number == import) else {
        let failure = Failure::new(format!("there is no import {import}"));
        return Err(failure.hint("they are listed by: faultodds past show").into());
    };
    if !yes {
        let told = format!("this takes out the {} jobs of import {import}, {}", which.jobs, harmless(&which.file));
        return Err(Failure::new(told).hint("say it with --yes").into());
    }
    let base = Loaded::new(kb, io)?.base;
    let index = index(base, io)?;
    let matcher = Matcher::new(base, &index)?;
    let n = Store::open(&past_place(at)?)?.take_out(import, &matcher, &Model::new(base))?;
    io.show(&format!("{n} past jobs taken out; decisions about words stay\n"))?;
    Ok(Ending::Done)
}

fn check(at: &PastStoreArgs, io: &mut Io) -> Result<Ending, Stop> {
    let Some(store) = past_store(at)? else {
        writeln!(io.err, "there are no past jobs")?;
        return Ok(Ending::Done);
    };
    let trouble = store.check()?;
    if !trouble.is_empty() {
        for t in &trouble {
            io.show(&format!("{}\n", harmless(&t.to_string())))?;
        }
        return Ok(Ending::No);
    }
    let jobs: u64 = store.states()?.iter().map(|(_, n)| n).sum();
    let place = past_place(at)?;
    io.show(&format!("{}: {jobs} past jobs, all whole\n", harmless(&place.display().to_string())))?;
    let later = store.sealed_later()?;
    if later > 0 {
        let text = format!(
            "{later} imports and decisions come from a store without digests and got theirs when it was brought forward: \
             changes since then are seen, changes before are not"
        );
        io.note(&text)?;
    }
    Ok(Ending::Done)
}

fn show(json: bool, at: &PastStoreArgs, io: &mut Io) -> Result<Ending, Stop> {
    let (states, imports) = match past_store(at)? {
        Some(store) => (store.states()?, store.imports()?),
        None => (Vec::new(), Vec::new()),
    };
    if json {
        let states: serde_json::Map<String, serde_json::Value> =
            states.iter().map(|(s, n)| (s.clone(), (*n).into())).collect();
        let imports: Vec<serde_json::Value> = imports
            .iter()
            .map(|i| serde_json::json!({"import": i.number, "file": i.file, "date": i.date, "jobs": i.jobs}))
            .collect();
        io.show_json(&serde_json::json!({"schema": "faultodds.past/1", "jobs": states, "imports": imports}))?;
    } else {
        io.show(&screen::states(&states, &imports))?;
    }
    if states.is_empty() && !json {
        writeln!(io.err, "bring jobs in with: faultodds past import FILE --mapping FILE")?;
    }
    Ok(if states.is_empty() { Ending::No } else { Ending::Done })
}

//! How well and how fast is learned? `cargo bench --bench learning` for all; `-- coverage`, `-- claims`, `-- harm` or `-- ROWS` for
//! one part, which is how peaks of memory are measured: they are those of the whole process.
//!
//! Coverage: 100 worlds are drawn from the shipped beliefs, 2,000 jobs from each; of the 90 % intervals, 85 to 95 %
//! should hold the truth. Claims: in 200 worlds whose truth is the shipped base, learning should be called better no
//! more often than chance puts a 90 % interval above 0. Speed: a spreadsheet of 1,000,000 rows, made here, is brought in
//! and learned from.

use faultodds::learning::counts::Counter;
use faultodds::learning::fit::fit;
use faultodds::learning::job::{Cause, ClosedJob};
use faultodds::learning::overlay::Overlay;
use faultodds::learning::past::{Mapping, Request, Store, WordMatcher, import};
use faultodds::learning::replay::{Measure, Options, Verdict, replay};
use faultodds::learning::scores::{Mean, bootstrap};
use faultodds::learning::strength::Strengths;
use faultodds::learning::trial::gains;
use faultodds::learning::world::{Manner, World, coverage};
use faultodds::planning::Shop;
use faultodds::shipped;
use jiff::ToSpan as _;
use rayon::prelude::*;
use std::error::Error;
use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::time::Instant;

const MAPPING: &str = "schema: faultodds.mapping/1\ncolumns:\n  - {field: job, column: job}\n  - {field: date, column: date}\n  - {field: make, column: make}\n  - {field: model, column: model}\n  - {field: year, column: year}\n  - {field: mileage, column: km}\n  - {field: codes, column: codes}\n  - {field: cause, column: cause}\n  - {field: repair_time, column: minutes}\n  - {field: parts, column: parts}\ndates: ymd\ndecimal: \".\"\nmileage_unit: km\ntime_unit: min\n";

fn main() -> Result<(), Box<dyn Error>> {
    // Cargo passes `--bench` along; anything that is a number is the number of rows.
    let rows: Option<usize> = std::env::args().find_map(|a| a.parse().ok());
    let asked = |part: &str| std::env::args().any(|a| a == part);
    let all = rows.is_none() && !["coverage", "claims", "harm"].iter().any(|p| asked(p));
    let mut out = std::io::stdout();
    if all || rows.is_some() {
        large(rows.unwrap_or(1_000_000), &mut out)?;
    }
    if all || asked("coverage") {
        worlds(&mut out)?;
    }
    if all || asked("claims") {
        claims(&mut out)?;
    }
    if all || asked("harm") {
        harm(worlds_asked().unwrap_or(200), &mut out)?;
    }
    Ok(())
}

/// `--worlds=N`: fewer worlds, for a look.
fn worlds_asked() -> Option<u64> {
    std::env::args().find_map(|a| a.strip_prefix("--worlds=")?.parse().ok())
}

/// Does learning hurt where the base is right, and how much of the gain is left where it is not? Forecasts of 1,000 later jobs
/// after 300, 1,000 and 3,000, with the strength of the base learned and, beside it, with the shipped weights as they stand.
fn harm(worlds: u64, out: &mut impl Write) -> Result<(), Box<dyn Error>> {
    let base = shipped::base()?;
    let manner = |doubt| Manner { doubt, unsure: 0.1, noted: 0.0 };
    writeln!(
        out,
        "gain in log score over the shipped base on 1,000 later jobs, nats a job, {worlds} worlds a line; `worse`: the"
    )?;
    writeln!(
        out,
        "90 % interval of the gain lies below 0; `as shipped`: learned with the shipped weights as they stand"
    )?;
    writeln!(
        out,
        "worlds                        jobs    learned  worse better  as shipped  worse better  kept   seconds"
    )?;
    for (name, doubt) in
        [("equal to the base", None), ("drawn from its beliefs", Some(1.0)), ("that differ more", Some(4.0))]
    {
        // `--only=equal`, `--only=drawn`, `--only=differ`: one kind of worlds.
        let only = std::env::args().find_map(|a| a.strip_prefix("--only=").map(str::to_owned));
        if only.is_some_and(|o| !name.contains(&o)) {
            continue;
        }
        // `--after=300`: after so many jobs alone.
        let after = std::env::args().find_map(|a| a.strip_prefix("--after=")?.parse::<usize>().ok());
        for n in after.map_or(vec![300, 1_000, 3_000], |n| vec![n]) {
            let started = Instant::now();
            let all: Vec<[Mean; 2]> = (0..worlds)
                .into_par_iter()
                .filter_map(|seed| {
                    let mut world = match doubt {
                        None => World::of(base.clone(), Vec::new(), 9_000 + seed),
                        Some(d) => World::draw(&base, manner(d), 9_000 + seed).ok()?,
                    };
                    let jobs: Vec<ClosedJob> = (0..n + 1_000).map(|_| world.job(manner(1.0))).collect();
                    let (earlier, later) = jobs.split_at(n);
                    let all = gains(&base, earlier, later, &[Strengths::default(), Strengths::shipped()]);
                    Some([0, 1].map(|k| bootstrap(&all[k], 1_000, seed, 0.90)))
                })
                .collect();
            let mean = |k: usize| all.iter().map(|m| m[k].mean).sum::<f64>() / all.len() as f64;
            let worse = |k: usize| all.iter().filter(|m| m[k].high < 0.0).count();
            let better = |k: usize| all.iter().filter(|m| m[k].low > 0.0).count();
            let kept = if doubt.is_some() { format!("{:.1} %", 100.0 * mean(0) / mean(1)) } else { String::new() };
            writeln!(
                out,
                "{name:<28}{n:>6} {:>+10.4} {:>6} {:>6} {:>+11.4} {:>6} {:>6}  {kept:>7} {:>7.0}",
                mean(0),
                worse(0),
                better(0),
                mean(1),
                worse(1),
                better(1),
                started.elapsed().as_secs_f64()
            )?;
        }
    }
    Ok(())
}

fn claims(out: &mut impl Write) -> Result<(), Box<dyn Error>> {
    const WORLDS: u64 = 200;
    const WITH_PLANS: u64 = 60;
    let base = shipped::base()?;
    let manner = Manner { doubt: 1.0, unsure: 0.1, noted: 0.0 };
    let started = Instant::now();
    let told: Vec<(Verdict, Vec<bool>, Vec<bool>)> = (0..WORLDS)
        .into_par_iter()
        .map(|seed| {
            let mut world = World::of(base.clone(), Vec::new(), 5_000 + seed);
            let start = jiff::civil::date(2020, 1, 2);
            let jobs: Vec<ClosedJob> = (0..400_i64)
                .map(|i| ClosedJob { date: start.saturating_add((i / 2).days()), ..world.job(manner) })
                .collect();
            // Plans are dear: only some of the worlds have them, but then enough to be told from chance.
            let plans = if seed < WITH_PLANS { 40 } else { 0 };
            let options = Options { refits: 4, draws: 1_000, plans, ..Options::default() };
            let r = replay(&base, &jobs, &Shop::default(), options, &|_| ());
            let gains: Vec<_> = r.measures().iter().map(|(m, _)| r.gain(1, 0, *m)).collect();
            let (above, below) = gains.iter().map(|g| (g.low > 0.0, g.high < 0.0)).unzip();
            (r.verdict(), above, below)
        })
        .collect();
    let count = |v: Verdict| told.iter().filter(|t| t.0 == v).count();
    writeln!(
        out,
        "claims in {WORLDS} worlds equal to the base, 400 jobs each, {:.0} s: {} called better, {} worse",
        started.elapsed().as_secs_f64(),
        count(Verdict::Better),
        count(Verdict::Worse)
    )?;
    for (k, (_, name)) in Measure::ALL.iter().enumerate() {
        let with: Vec<_> = told.iter().filter(|t| t.1.len() > k).collect();
        let (above, below) = (with.iter().filter(|t| t.1[k]).count(), with.iter().filter(|t| t.2[k]).count());
        writeln!(out, "  {name:<13} interval above 0 in {above}, below 0 in {below} of {}", with.len())?;
    }
    Ok(())
}

fn worlds(out: &mut impl Write) -> Result<(), Box<dyn Error>> {
    let base = shipped::base()?;
    let manner = Manner { doubt: 1.0, unsure: 0.15, noted: 0.02 };
    let started = Instant::now();
    let all: Vec<[(usize, usize); 4]> = (0..100_u64)
        .into_par_iter()
        .filter_map(|seed| {
            let mut world = World::draw(&base, manner, seed).ok()?;
            let mut counter = Counter::default();
            (0..2_000).for_each(|_| counter.add(&world.job(manner)));
            Some(coverage(&world, &fit(&base, &counter.finish(), seed).numbers, 1.0))
        })
        .collect();
    writeln!(
        out,
        "coverage of 90 % intervals, {} worlds of 2,000 jobs, {:.1} s",
        all.len(),
        started.elapsed().as_secs_f64()
    )?;
    for (k, what) in ["prevalence", "sets", "detects", "false alarms"].iter().enumerate() {
        let (held, n) = all.iter().fold((0, 0), |(h, n), c| (h + c[k].0, n + c[k].1));
        writeln!(out, "  {what:<13} {:5.1} % of {n}", 100.0 * held as f64 / n as f64)?;
    }
    Ok(())
}

fn large(rows: usize, out: &mut impl Write) -> Result<(), Box<dyn Error>> {
    let base = shipped::base()?;
    let folder = std::env::temp_dir().join(format!("faultodds-bench-{}", std::process::id()));
    fs::create_dir_all(&folder)?;
    let (csv, db) = (folder.join("past.csv"), folder.join("past.db"));
    let started = Instant::now();
    write_csv(rows, &csv)?;
    writeln!(
        out,
        "{rows} rows made: {:.1} s, {} MB",
        started.elapsed().as_secs_f64(),
        fs::metadata(&csv)?.len() / 1_000_000
    )?;
    let (mapping, matcher) = (Mapping::from_yaml(MAPPING)?, WordMatcher::new(&base));
    let started = Instant::now();
    let mut store = Store::open(&db)?;
    let today = jiff::civil::date(2026, 1, 1);
    let request =
        Request { base: &base, mapping: &mapping, matcher: &matcher, today, dry_run: false, progress: &mut |_| true };
    let report = import(&mut store, &csv, request)?;
    writeln!(
        out,
        "brought in: {:.1} s, peak {} MB; {} kept, {} held, {} refused",
        started.elapsed().as_secs_f64(),
        peak(),
        report.kept,
        report.held,
        report.refused
    )?;
    let started = Instant::now();
    let request =
        Request { base: &base, mapping: &mapping, matcher: &matcher, today, dry_run: false, progress: &mut |_| true };
    let again = import(&mut store, &csv, request)?;
    writeln!(out, "brought in again: {:.1} s; {} known", started.elapsed().as_secs_f64(), again.known)?;
    let started = Instant::now();
    let mut counter = Counter::default();
    store.each_to_count(&mut |job| counter.add(job))?;
    let counted = started.elapsed();
    let counts = counter.finish();
    let learned = fit(&base, &counts, 1);
    let overlay = Overlay::of(&base, &learned, "bench");
    writeln!(
        out,
        "learned: {:.1} s ({:.1} s counting), peak {} MB; {} numbers from {} rows of counts",
        started.elapsed().as_secs_f64(),
        counted.as_secs_f64(),
        peak(),
        overlay.rows.len(),
        counts.rows().count()
    )?;
    fs::remove_dir_all(&folder)?;
    Ok(())
}

fn write_csv(rows: usize, path: &std::path::Path) -> Result<(), Box<dyn Error>> {
    let base = shipped::base()?;
    let manner = Manner { doubt: 4.0, unsure: 0.1, noted: 0.0 };
    let mut world = World::draw(&base, manner, 9).map_err(|t| format!("{t:?}"))?;
    let mut out = BufWriter::new(File::create(path)?);
    writeln!(out, "job,date,make,model,year,km,codes,cause,minutes,parts")?;
    for i in 0..rows {
        let job = world.job(manner);
        let cause = match &job.cause {
            Cause::Found(id) => base.suspect_name(id),
            _ => "not found".to_owned(),
        };
        let (make, model, u) = (i % 7, i % 40, world.unit());
        let (year, km) = (2005 + i % 15, 20_000.0 + 200_000.0 * u);
        writeln!(
            out,
            "{i},2024-{:02}-{:02},make {make},model {model},{year},{km:.0},{},\"{cause}\",{:.0},{:.2}",
            1 + i % 12,
            1 + i % 28,
            job.codes.join(" "),
            20.0 + 60.0 * u,
            10.0 + 90.0 * u
        )?;
    }
    out.flush()?;
    Ok(())
}

/// Largest memory of this process so far, in MB; 0 where the system does not say.
fn peak() -> u64 {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|l| l.starts_with("VmHWM:")).unwrap_or_default();
    line.split_whitespace().nth(1).and_then(|kb| kb.parse::<u64>().ok()).unwrap_or(0) / 1000
}

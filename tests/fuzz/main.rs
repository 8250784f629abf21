//! Hostile input: every reader is given inputs changed by lot, and every stored file is damaged by lot. Each gives an answer
//! or refuses; nothing panics, nothing hangs, nothing is lost without a word.
//!
//! `corpus/READER/` holds what the changes start from, beside the files that the project has anyway; an input that once did
//! harm is kept there. An input whose answer is of a kind not met before joins the pool, so that the search goes on from it.
//! The long run: `FUZZ_INPUTS=10000000 cargo test --release --test fuzz -- --ignored --nocapture`; of damaged stores alone
//! `FUZZ_STORES=10000 cargo test --release --test fuzz -- --ignored --nocapture damaged`. What they found: `bench/README.md`.

mod mutate;
mod readers;
mod stores;

use mutate::{Chance, changed};
use readers::{Reader, Seen};
use std::collections::HashSet;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};

/// One input may take this long, however busy the machine is; the usual is a thousandth.
const LONGEST: Duration = Duration::from_secs(30);
/// Inputs kept in a pool.
const MOST_KEPT: usize = 600;

/// Gives the reader so many inputs. Every fault is told with the input that caused it.
fn run(reader: &mut Reader<'_>, inputs: usize, seed: u64) -> usize {
    let mut pool = reader.corpus();
    assert!(!pool.is_empty(), "{} has nothing to start from", reader.name);
    let mut kinds = HashSet::new();
    let mut chance = Chance(seed);
    for n in 0..pool.len() + inputs {
        let input = if n < pool.len() && n < inputs { pool[n].clone() } else { changed(&pool, &mut chance) };
        let started = Instant::now();
        let seen = catch_unwind(AssertUnwindSafe(|| (reader.read)(&input)));
        let shown = || String::from_utf8_lossy(&input).into_owned();
        match seen {
            Err(_) => panic!("{}: panics at input {n} of seed {seed}: {:?}", reader.name, shown()),
            Ok(Seen::Wrong(why)) => panic!("{}: {why}: {:?}", reader.name, shown()),
            Ok(Seen::Fine(answer)) => {
                if kinds.insert(kind(&answer)) && pool.len() < MOST_KEPT {
                    pool.push(input.clone());
                }
            }
        }
        assert!(started.elapsed() < LONGEST, "{}: {:?} took {:?}", reader.name, shown(), started.elapsed());
    }
    kinds.len()
}

/// The kind of an answer: its words without figures and what is quoted.
fn kind(answer: &str) -> u64 {
    let mut hasher = DefaultHasher::new();
    let mut quoted = false;
    for c in answer.chars().take(400) {
        quoted ^= matches!(c, '`' | '"');
        if !quoted && !c.is_ascii_digit() {
            c.hash(&mut hasher);
        }
    }
    hasher.finish()
}

#[test]
fn readers_answer_or_refuse_whatever_they_are_given() {
    let desk = readers::Desk::new();
    for reader in &mut readers::all(&desk) {
        run(reader, (30_000 / reader.cost).clamp(6, 300), 1);
    }
}

#[test]
#[ignore = "takes most of an hour: FUZZ_INPUTS=10000000 cargo test --release --test fuzz -- --ignored --nocapture"]
fn readers_answer_or_refuse_in_a_long_run() {
    let wanted = |name: &str, usual: u64| std::env::var(name).ok().and_then(|n| n.parse().ok()).unwrap_or(usual);
    let (inputs, seed) = (wanted("FUZZ_INPUTS", 1_000_000), wanted("FUZZ_SEED", 2));
    let desk = readers::Desk::new();
    let mut readers = readers::all(&desk);
    // A tenth of the inputs goes to all alike, so that no reader gets few; of the rest each gets what takes the same time.
    let alike = 0.1 / readers.len() as f64;
    let rates: f64 = readers.iter().map(|r| 1.0 / r.cost as f64).sum();
    let mut all = 0;
    for reader in &mut readers {
        let share = (inputs as f64 * (alike + 0.9 / rates / reader.cost as f64)).ceil() as usize;
        let started = Instant::now();
        let kinds = run(reader, share, seed);
        all += share;
        let took = started.elapsed().as_secs_f64();
        let each = 1e6 * took / share as f64;
        println!("{:12} {share:9} inputs, {kinds:6} kinds of answers, {took:5.0} s, {each:6.0} µs each", reader.name);
    }
    println!("{all} inputs in all; the most memory at one time {} MiB", memory() >> 10);
    assert!(memory() < 256 << 10, "more than 256 MiB");
}

/// The most memory this process has had, in KiB, where the system tells.
fn memory() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    line.and_then(|l| l.split_whitespace().next()?.parse().ok()).unwrap_or(0)
}

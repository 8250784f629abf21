//! Stored files damaged by lot: bits turned, pieces cut off, blanked or put elsewhere. The program refuses, or its check tells,
//! or what it reads is what was stored.

use super::mutate::Chance;
use faultodds::jobs::store::Vins;
use faultodds::jobs::{Access, Store};
use faultodds::learning::model::Model;
use faultodds::learning::past;
use std::collections::HashSet;
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

/// A good store of some jobs, as bytes, and its export.
fn jobs(path: &Path) -> Vec<u8> {
    let lines = fs::read_to_string("tests/stores/form-2.jsonl").unwrap();
    let mut store = Store::open(path, Access::Write).unwrap();
    for copy in 0..6 {
        // Other uids, so that they are other jobs.
        let lines = lines.replace("\"uid\":\"", &format!("\"uid\":\"c{copy}"));
        assert_eq!(store.import(&mut lines.as_bytes()).unwrap().new, 3);
    }
    assert!(store.check().unwrap().is_empty());
    drop(store);
    fs::read(path).unwrap()
}

/// One or a few places of the file damaged.
fn damaged(good: &[u8], chance: &mut Chance) -> Vec<u8> {
    let mut out = good.to_vec();
    let at = chance.below(out.len());
    match chance.below(8) {
        0 => out.truncate(at),
        1 => {
            let end = (at + 1 + chance.below(5000)).min(out.len());
            out[at..end].fill(0);
        }
        2 => {
            // A page where another belongs.
            let (from, to) = (chance.below(out.len() / 4096) * 4096, chance.below(out.len() / 4096) * 4096);
            out.copy_within(from..from + 4096, to);
        }
        // Mostly single bits: the file's head and the heads of pages are a small part of it.
        _ => {
            for _ in 0..=chance.below(3) {
                let at = match chance.below(4) {
                    0 => chance.below(100),
                    1 => chance.below(out.len() / 4096) * 4096 + chance.below(40),
                    _ => chance.below(out.len()),
                };
                out[at] ^= 1 << chance.below(8);
            }
        }
    }
    out
}

/// What is exported, and whether anything was told beside it.
fn export(store: &Store) -> Result<(Vec<u8>, bool), String> {
    let mut out = Vec::new();
    let done = store.export(&mut out, None, Vins::Keep).map_err(|e| e.to_string())?;
    assert!(done.left_out.is_empty() || !done.trouble.is_empty());
    Ok((out, done.trouble.is_empty()))
}

/// How the damaged stores ended: refused, told by the check, or right. Anything else is a fault.
fn job_stores(n: usize, seed: u64) -> [usize; 3] {
    let folder = tempfile::tempdir().unwrap();
    let good = jobs(&folder.path().join("good.db"));
    let (want, whole) = export(&Store::open(&folder.path().join("good.db"), Access::Read).unwrap()).unwrap();
    assert!(whole);
    let lines: HashSet<&[u8]> = want.split(|b| *b == b'\n').collect();
    let path = folder.path().join("jobs.db");
    let mut chance = Chance(seed);
    let mut ended = [0; 3];
    for i in 0..n {
        for name in ["jobs.db", "jobs.db-wal", "jobs.db-shm", "jobs.db-journal"] {
            let _ = fs::remove_file(folder.path().join(name));
        }
        let bytes = damaged(&good, &mut chance);
        fs::write(&path, &bytes).unwrap();
        let read = || {
            let Ok(store) = Store::open(&path, Access::Read) else { return 0 };
            // What a person would look at first: no panic, whatever the file says.
            for number in 1..=3 {
                let _ = store.job(number);
            }
            let got = export(&store);
            // Each line that goes out is one that was stored, and that one is missing is told, whether anyone asks the check or not.
            if let Ok((got, whole)) = &got
                && (*whole && *got != want || !got.split(|b| *b == b'\n').all(|line| lines.contains(line)))
            {
                return 5;
            }
            match (store.check(), got) {
                (Err(_), _) => 0,
                (Ok(told), _) if !told.is_empty() => 1,
                (Ok(_), Ok((got, _))) if got == want => 2,
                (Ok(_), got) => 3 + usize::from(got.is_err()),
            }
        };
        let how = catch_unwind(AssertUnwindSafe(read)).unwrap_or_else(|_| panic!("store {i} of seed {seed}: panics"));
        if how > 2 {
            let places: Vec<usize> =
                (0..bytes.len().min(good.len())).filter(|i| bytes[*i] != good[*i]).take(9).collect();
            panic!(
                "store {i} of seed {seed} ({how}): called whole, and it is not what was stored; changed at {places:?} of {}",
                bytes.len()
            );
        }
        ended[how] += 1;
    }
    ended
}

/// All that the store of past jobs holds, table by table.
fn rows(path: &Path) -> rusqlite::Result<String> {
    let connection = rusqlite::Connection::open(path)?;
    let mut out = String::new();
    for sql in [
        "SELECT * FROM past ORDER BY key",
        "SELECT * FROM past_result ORDER BY key, reading",
        "SELECT * FROM decision ORDER BY words",
        "SELECT * FROM import ORDER BY number",
    ] {
        let mut query = connection.prepare(sql)?;
        let columns = query.column_count();
        let mut rows = query.query([])?;
        while let Some(row) = rows.next()? {
            for i in 0..columns {
                out.push_str(&format!("{:?} ", row.get_ref(i)?));
            }
            out.push('\n');
        }
    }
    Ok(out)
}

/// The store of past jobs: two imports and a decision in it, then damage. How the damaged ones ended: refused, told by the check,
/// or right. Anything else is a fault.
fn past_stores(n: usize, seed: u64) -> [usize; 3] {
    let folder = tempfile::tempdir().unwrap();
    let good = folder.path().join("good.db");
    let base = faultodds::shipped::base().unwrap();
    let matcher = past::WordMatcher::new(&base);
    let mapping = past::Mapping::from_yaml(&fs::read_to_string("data-demo/clean-mapping.yaml").unwrap()).unwrap();
    let demo = fs::read_to_string("data-demo/clean.csv").unwrap();
    let (header, jobs) = demo.split_once('\n').unwrap();
    let jobs: Vec<&str> = jobs.lines().take(200).collect();
    let mut store = past::Store::open(&good).unwrap();
    for half in jobs.chunks(100) {
        let file = folder.path().join("past.csv");
        fs::write(&file, format!("{header}\n{}\n", half.join("\n"))).unwrap();
        let request = past::Request {
            base: &base,
            mapping: &mapping,
            matcher: &matcher,
            today: jiff::civil::date(2026, 11, 27),
            dry_run: false,
            progress: &mut |_| true,
        };
        assert!(past::import(&mut store, &file, request).unwrap().import.is_some());
    }
    let words = store.wordings(false).unwrap().swap_remove(0).words;
    store.decide(&[(words, Some("unsure".to_owned()))], &matcher, &Model::new(&base)).unwrap();
    assert!(store.check().unwrap().is_empty());
    drop(store);
    let want = rows(&good).unwrap();
    let good = fs::read(&good).unwrap();
    let path = folder.path().join("past.db");
    let mut chance = Chance(seed);
    let mut ended = [0; 3];
    for i in 0..n {
        for name in ["past.db", "past.db-wal", "past.db-shm", "past.db-journal"] {
            let _ = fs::remove_file(folder.path().join(name));
        }
        // A file that is cut to nothing is a new store, which holds nothing.
        let bytes = Some(damaged(&good, &mut chance)).filter(|b| !b.is_empty()).unwrap_or_else(|| vec![0]);
        fs::write(&path, bytes).unwrap();
        let read = || {
            let Ok(Some(store)) = past::Store::open_to_read(&path) else { return 0 };
            let _ = (store.states(), store.wordings(true), store.each_by_date(&mut |_| {}));
            let told = match store.check() {
                Err(_) => 0,
                Ok(told) if !told.is_empty() => 1,
                Ok(_) => 2,
            };
            // Whoever counts asks for the digests alone: with what they find nothing is counted unawares.
            let counted = store.broken().is_ok_and(|told| told.is_empty());
            drop(store);
            if let Ok(store) = past::Store::open(&path) {
                let _ = store.states();
            }
            match rows(&path) {
                Ok(got) if got == want => told,
                _ if told == 2 => 3,
                Ok(got) if counted && !got.is_empty() => 4,
                _ => told,
            }
        };
        let how = catch_unwind(AssertUnwindSafe(read)).unwrap_or_else(|_| panic!("store {i} of seed {seed}: panics"));
        assert!(how < 3, "past store {i} of seed {seed} ({how}): called whole, and it is not what was stored");
        ended[how] += 1;
    }
    ended
}

#[test]
fn a_damaged_store_is_refused_told_or_right() {
    let [refused, told, right] = job_stores(100, 3);
    assert!(refused > 5 && told > 5, "{refused} refused, {told} told, {right} right");
    let [refused, told, right] = past_stores(60, 4);
    assert!(refused > 3 && told > 3, "{refused} refused, {told} told, {right} right");
}

#[test]
#[ignore = "takes minutes: FUZZ_STORES=10000 cargo test --release --test fuzz -- --ignored --nocapture damaged"]
fn many_damaged_stores_are_refused_told_or_right() {
    let wanted = |name: &str, usual: u64| std::env::var(name).ok().and_then(|n| n.parse().ok()).unwrap_or(usual);
    let (stores, seed) = (wanted("FUZZ_STORES", 10_000) as usize, wanted("FUZZ_SEED", 5));
    let [refused, told, right] = job_stores(stores, seed);
    println!(
        "{stores} damaged stores of jobs: {refused} refused, {told} told by the check, {right} read as they were stored"
    );
    let [refused, told, right] = past_stores(stores, seed + 1);
    println!(
        "{stores} damaged stores of past jobs: {refused} refused, {told} told by the check, {right} read as they were stored"
    );
}

/// What is handed in may have no end: a line without one is refused before it fills the memory, and nothing is kept.
#[test]
fn a_line_without_end_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(&folder.path().join("jobs.db"), Access::Write).unwrap();
    let refused = store.import(&mut std::io::BufReader::new(std::io::repeat(b' '))).unwrap_err();
    assert!(refused.to_string().contains("longer than"), "{refused}");
    assert_eq!(store.size().unwrap(), (0, 0));
}

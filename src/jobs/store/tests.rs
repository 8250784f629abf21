//! The store against files that are not what they should be, other writers, and texts that mean no good.

use super::super::event::{Closed, Event, Noted, Opened, Undone, Verdict};
use super::super::found::{Found, Spent, Taken};
use super::super::{Car, StoreError};
use super::*;
use proptest::prelude::*;
use std::fs;
use tempfile::TempDir;

fn at(second: i64) -> Timestamp {
    Timestamp::from_millisecond(1_700_000_000_000 + second * 1000 + 123).unwrap()
}

fn note(text: &str) -> Event {
    Event::Noted(Noted { text: text.to_owned(), about: None, spent: Spent::default() })
}

fn opened(code: &str, reference: &str) -> Opened {
    Opened {
        car: Car {
            make: Some("Ostrava".into()),
            model: Some("Lind".into()),
            year: Some(2014),
            vin: Some("XX1ZZZ00000012345".into()),
            ..Car::default()
        },
        reference: Some(reference.to_owned()),
        found: Found { codes: vec![code.into()], codes_complete: true, ..Found::default() },
        ..Opened::default()
    }
}

fn fresh() -> (TempDir, Store) {
    let folder = TempDir::new().unwrap();
    let store = Store::open(&folder.path().join("deep/er/jobs.db"), Access::Write).unwrap();
    (folder, store)
}

fn open_error(path: &Path) -> StoreError {
    let before = fs::read(path).ok();
    let error = Store::open(path, Access::Write).unwrap_err();
    assert_eq!(fs::read(path).ok(), before, "the file was touched");
    error
}

#[test]
fn what_was_stored_comes_back_after_reopening() {
    let (_folder, mut store) = fresh();
    let job = store.open_job("u1", at(0), opened("P0455", "bay 3")).unwrap();
    let results = vec![Taken { reading: "cap-look-reseat:loose".into(), outcome: "fail".into() }];
    let found = Event::Found(Found { results, ..Found::default() });
    let changed = store.add(job.number, at(1), found).unwrap();
    assert_eq!((changed.before, changed.event), (job.clone(), 2));
    let path = store.path().to_owned();
    drop(store);
    let store = Store::open(&path, Access::Read).unwrap();
    assert_eq!(store.job(job.number).unwrap(), changed.after);
    assert_eq!(store.current().unwrap(), Some(job.number));
    assert_eq!(store.check().unwrap(), []);
}

#[test]
fn an_event_that_does_not_fit_leaves_no_trace() {
    let (_folder, mut store) = fresh();
    let job = store.open_job("u1", at(0), opened("P0455", "")).unwrap();
    assert!(store.open_job("u1", at(0), opened("P0455", "")).is_err(), "the uid is taken");
    assert!(matches!(store.add(job.number, at(1), Event::Undone(Undone { event: 1 })), Err(StoreError::Refused(_))));
    let nan =
        Event::Noted(Noted { text: "x".into(), about: None, spent: Spent { minutes: Some(f64::NAN), cost: None } });
    assert!(store.add(job.number, at(1), nan).is_err());
    assert!(matches!(store.add(99, at(1), note("x")), Err(StoreError::NoJob { number: 99 })));
    assert!(matches!(store.set_current(99), Err(StoreError::NoJob { number: 99 })));
    assert_eq!(store.size().unwrap(), (1, 1));
}

#[test]
fn the_log_cannot_be_changed_even_by_hand() {
    let (_folder, mut store) = fresh();
    store.open_job("u1", at(0), opened("P0455", "")).unwrap();
    for sql in [
        "UPDATE event SET at = 0",
        "DELETE FROM event",
        "INSERT INTO event VALUES (1, 3, 0, '{}')",
        "INSERT INTO event VALUES (2, 1, 0, '{}')",
    ] {
        assert!(store.connection.execute(sql, []).is_err(), "{sql}");
    }
}

#[test]
fn files_that_are_no_store_are_refused_and_left_alone() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("x.db");
    fs::write(&path, "Dear customer,\n".repeat(100)).unwrap();
    assert!(matches!(open_error(&path), StoreError::NotAStore { .. }));
    fs::write(&path, "short").unwrap();
    assert!(matches!(open_error(&path), StoreError::NotAStore { .. }));
    assert!(matches!(Store::open(folder.path(), Access::Write), Err(StoreError::NotAStore { .. })));
    let other = folder.path().join("other.db");
    Connection::open(&other).unwrap().execute_batch("CREATE TABLE songs(title)").unwrap();
    assert!(matches!(open_error(&other), StoreError::NotAStore { .. }));
    let absent = folder.path().join("absent.db");
    assert!(matches!(Store::open(&absent, Access::Read), Err(StoreError::Missing { .. })));
    assert!(!absent.exists());
}

#[test]
fn a_store_from_the_future_is_refused_and_left_alone() {
    let (_folder, mut store) = fresh();
    store.open_job("u1", at(0), opened("P0455", "")).unwrap();
    store.connection.execute_batch("PRAGMA user_version = 99").unwrap();
    let path = store.path().to_owned();
    drop(store);
    assert!(matches!(open_error(&path), StoreError::Newer { found: 99, .. }));
}

#[test]
fn a_cut_or_damaged_file_is_told_and_left_alone() {
    let (_folder, mut store) = fresh();
    let job = store.open_job("u1", at(0), opened("P0455", "")).unwrap();
    for i in 0..200 {
        store.add(job.number, at(i), note(&"x".repeat(200))).unwrap();
    }
    let path = store.path().to_owned();
    drop(store);
    let whole = fs::read(&path).unwrap();
    for keep in [whole.len() - 1, whole.len() / 2, 4096, 100, 50] {
        fs::write(&path, &whole[..keep]).unwrap();
        assert!(matches!(open_error(&path), StoreError::CutShort { .. }), "{keep} bytes");
    }
    let mut torn = whole.clone();
    torn[4096..].fill(0x5a);
    fs::write(&path, &torn).unwrap();
    let told = Store::open(&path, Access::Read).and_then(|s| s.job(job.number));
    assert!(matches!(told, Err(StoreError::Damaged { .. })), "{told:?}");
    fs::write(&path, &whole).unwrap();
    assert_eq!(Store::open(&path, Access::Read).unwrap().check().unwrap(), []);
}

#[test]
fn the_check_finds_a_list_line_that_does_not_follow_and_rebuilding_heals_it() {
    let (_folder, mut store) = fresh();
    store.open_job("u1", at(0), opened("P0455", "")).unwrap();
    store.connection.execute("UPDATE summary SET codes = 'P0442'", []).unwrap();
    assert_eq!(store.check().unwrap().len(), 1);
    store.rebuild_lists().unwrap();
    assert_eq!(store.check().unwrap(), []);
}

#[test]
fn an_older_store_is_brought_forward_with_all_its_jobs() {
    let (folder, mut store) = fresh();
    let job = store.open_job("u1", at(0), opened("P0455", "bay 3")).unwrap();
    let path = folder.path().join("old.db");
    {
        // The first form of the store, filled by hand with the same events.
        let old = Connection::open(&path).unwrap();
        bring_forward(&old, &STEPS[..1]).unwrap();
        let text = serde_json::to_string(&job.log[0].event).unwrap();
        old.execute("INSERT INTO job(number, uid) VALUES (1, 'u1')", []).unwrap();
        old.execute("INSERT INTO event VALUES (1, 1, ?1, ?2)", (job.log[0].at.as_millisecond(), text)).unwrap();
    }
    let brought = Store::open(&path, Access::Read).unwrap();
    assert_eq!(brought.job(1).unwrap(), job);
    assert_eq!(brought.list(&Filter::default(), 10).unwrap(), store.list(&Filter::default(), 10).unwrap());
    assert_eq!(brought.check().unwrap(), []);
}

#[test]
fn a_full_disk_is_told_and_nothing_is_half_stored() {
    let (_folder, mut store) = fresh();
    let job = store.open_job("u1", at(0), opened("P0455", "")).unwrap();
    let pages: i64 = store.connection.query_row("PRAGMA page_count", [], |r| r.get(0)).unwrap();
    let _: i64 =
        store.connection.query_row(&format!("PRAGMA max_page_count = {}", pages + 2), [], |r| r.get(0)).unwrap();
    let mut stored = 0;
    let full = (0..200).find_map(|i| match store.add(job.number, at(i), note(&"y".repeat(500))) {
        Ok(_) => {
            stored += 1;
            None
        }
        Err(e) => Some(e),
    });
    assert!(matches!(full, Some(StoreError::Full { .. })), "{full:?}");
    assert_eq!(store.size().unwrap(), (1, 1 + stored));
    assert_eq!(store.check().unwrap(), []);
}

#[test]
fn eight_writers_at_once_lose_nothing_and_double_nothing() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("jobs.db");
    const EACH: i64 = 25;
    std::thread::scope(|scope| {
        for writer in 0..8_i64 {
            let path = &path;
            scope.spawn(move || {
                // All of them find no store and make it.
                let mut store = Store::open(path, Access::Write).unwrap();
                let own = store.open_job(&format!("u{writer}"), at(0), opened("P0455", "")).unwrap().number;
                for i in 0..EACH {
                    store.add(own, at(i), note(&format!("{writer}/{i}"))).unwrap();
                    // And all of them write onto one job too.
                    store.add(1, at(i), note(&format!("shared {writer}/{i}"))).unwrap();
                }
            });
        }
    });
    let store = Store::open(&path, Access::Read).unwrap();
    let mut texts: Vec<String> = (1..=8)
        .flat_map(|n| store.job(n).unwrap().log)
        .filter_map(|e| if let Event::Noted(n) = e.event { Some(n.text) } else { None })
        .collect();
    texts.sort();
    let stored = texts.len();
    texts.dedup();
    assert_eq!((stored, texts.len()), (8 * 25 * 2, 8 * 25 * 2));
    assert_eq!(store.check().unwrap(), []);
}

#[test]
fn a_writer_that_waits_too_long_says_so() {
    let (_folder, mut store) = fresh();
    store.connection.busy_timeout(Duration::from_millis(30)).unwrap();
    let other = Connection::open(store.path()).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let error = store.open_job("u1", at(0), opened("P0455", "")).unwrap_err();
    assert!(matches!(error, StoreError::Busy { waited, .. } if waited >= Duration::from_millis(30)), "{error}");
    other.execute_batch("COMMIT").unwrap();
    store.open_job("u1", at(0), opened("P0455", "")).unwrap();
}

#[test]
fn lists_are_filtered_by_what_the_jobs_say() {
    let (_folder, mut store) = fresh();
    let first = store.open_job("a", at(0), opened("P0455", "Bay 3, 100%")).unwrap().number;
    let second = store.open_job("b", at(86_400), opened("P0442", "Bay 4")).unwrap().number;
    let causes = vec!["filler-cap/loose".to_owned()];
    let closed = Closed {
        verdict: Verdict::Confirmed,
        causes,
        how: None,
        spent: Spent { minutes: Some(12.5), cost: Some(20.0) },
    };
    store.add(first, at(90_000), Event::Closed(closed)).unwrap();
    let numbers = |f: Filter| -> Vec<i64> { store.list(&f, 10).unwrap().rows.iter().map(|r| r.number).collect() };
    let all = Filter::default();
    assert_eq!(numbers(all.clone()), [second, first]);
    assert_eq!(numbers(Filter { open: Some(true), ..all.clone() }), [second]);
    assert_eq!(numbers(Filter { verdict: Some(Verdict::Confirmed), ..all.clone() }), [first]);
    assert_eq!(numbers(Filter { code: Some("P0442".into()), ..all.clone() }), [second]);
    assert_eq!(numbers(Filter { cause: Some("filler-cap/loose".into()), ..all.clone() }), [first]);
    assert_eq!(numbers(Filter { since: Some(at(1)), ..all.clone() }), [second]);
    assert_eq!(numbers(Filter { until: Some(at(1)), ..all.clone() }), [first]);
    assert_eq!(numbers(Filter { words: Some("ostrava 100%".into()), ..all.clone() }), [first]);
    let page = store.list(&all, 1).unwrap();
    assert_eq!((page.rows.len(), page.total, page.counted_all), (1, 2, true));
    assert_eq!(
        numbers(Filter {
            code: Some("P0455".into()),
            cause: Some("filler-cap/loose".into()),
            open: Some(false),
            ..all.clone()
        }),
        [first]
    );
    assert!(
        numbers(Filter { code: Some("P0442".into()), cause: Some("filler-cap/loose".into()), ..all.clone() })
            .is_empty()
    );
    let row = &store.list(&Filter { open: Some(false), ..all }, 1).unwrap().rows[0];
    assert_eq!((row.minutes, row.cost, row.closed_at), (12.5, 20.0, Some(at(90_000))));
}

fn lines(store: &Store, vins: Vins) -> Vec<u8> {
    let mut out = Vec::new();
    store.export(&mut out, None, vins).unwrap();
    out
}

#[test]
fn export_and_import_lose_nothing_and_may_be_repeated() {
    let (_folder, mut store) = fresh();
    let job = store.open_job("a", at(0), opened("P0455", "x")).unwrap().number;
    store.add(job, at(1), note("VIN xx1zzz00000012345 is on the \u{1b}[31mdoor\nand\u{202e} the frame")).unwrap();
    let all = lines(&store, Vins::Keep);
    let (_other_folder, mut other) = fresh();
    assert_eq!(other.import(&mut all.as_slice()).unwrap(), Imported { new: 1, longer: 0, known: 0 });
    assert_eq!(lines(&other, Vins::Keep), all);
    assert_eq!(other.import(&mut all.as_slice()).unwrap(), Imported { new: 0, longer: 0, known: 1 });
    store.add(job, at(2), note("more")).unwrap();
    let longer = lines(&store, Vins::Keep);
    assert_eq!(other.import(&mut longer.as_slice()).unwrap(), Imported { new: 0, longer: 1, known: 0 });
    assert_eq!(other.import(&mut all.as_slice()).unwrap(), Imported { new: 0, longer: 0, known: 1 });
    assert_eq!(lines(&other, Vins::Keep), longer);
    // The same job gone two ways cannot be one.
    other.add(1, at(3), note("here")).unwrap();
    store.add(job, at(3), note("there")).unwrap();
    let error = other.import(&mut lines(&store, Vins::Keep).as_slice()).unwrap_err();
    assert!(error.to_string().contains("another way"), "{error}");
    assert_eq!(other.check().unwrap(), []);
}

#[test]
fn an_export_leaves_out_what_is_not_what_was_stored_and_says_so() {
    let whole = "DROP TRIGGER event_is_not_changed; DROP TRIGGER event_is_not_deleted; PRAGMA foreign_keys = OFF;";
    for (damage, left_out) in [
        ("UPDATE event SET event = replace(event, 'brittle', 'brittlf') WHERE job = 2", vec![2]),
        ("UPDATE event SET at = at + 1 WHERE job = 2 AND number = 2", vec![2]),
        ("UPDATE event SET event = '{' WHERE job = 2 AND number = 2", vec![2]),
        ("DELETE FROM event WHERE job = 2 AND number = 2", vec![2]),
        ("UPDATE job SET uid = 'd' WHERE number = 2", vec![2]),
        (
            "DELETE FROM event WHERE job = 3; DELETE FROM summary WHERE job = 3; DELETE FROM job WHERE number = 3",
            vec![],
        ),
    ] {
        let (_folder, mut store) = fresh();
        for (uid, n) in [("a", 1), ("b", 2), ("c", 3)] {
            assert_eq!(store.open_job(uid, at(0), opened("P0455", "x")).unwrap().number, n);
            store.add(n, at(1), note("seal brittle")).unwrap();
        }
        let good = lines(&store, Vins::Keep);
        let good = String::from_utf8(good).unwrap();
        store.connection.execute_batch(&format!("{whole} {damage}")).unwrap();
        let mut out = Vec::new();
        let done = store.export(&mut out, None, Vins::Keep).unwrap();
        assert_eq!(done.left_out, left_out, "{damage}");
        assert!(!done.trouble.is_empty(), "{damage}");
        let out = String::from_utf8(out).unwrap();
        assert_eq!((done.written, out.lines().count()), (2, 2), "{damage}");
        assert!(out.lines().all(|line| good.lines().any(|g| g == line)), "{damage}");
    }
}

#[test]
fn a_vehicle_number_can_be_left_out_everywhere() {
    let (_folder, mut store) = fresh();
    let job = store.open_job("a", at(0), opened("P0455", "x")).unwrap().number;
    store.add(job, at(1), note("VIN xx1zzz00000012345, twice: XX1ZZZ00000012345")).unwrap();
    let without = lines(&store, Vins::LeaveOut);
    assert!(!String::from_utf8(without.clone()).unwrap().to_uppercase().contains("XX1ZZZ00000012345"));
    assert!(String::from_utf8(lines(&store, Vins::Keep)).unwrap().contains("XX1ZZZ00000012345"));
    // Coming home it is known, and the store keeps what it had.
    assert_eq!(store.import(&mut without.as_slice()).unwrap().known, 1);
    assert_eq!(store.job(job).unwrap().car.vin.as_deref(), Some("XX1ZZZ00000012345"));
}

#[test]
fn a_bad_import_says_where_and_changes_nothing() {
    let (_folder, mut store) = fresh();
    store.open_job("a", at(0), opened("P0455", "x")).unwrap();
    let good = String::from_utf8(lines(&store, Vins::Keep)).unwrap();
    let (_other_folder, mut other) = fresh();
    for bad in [
        "{}".to_owned(),
        "not json".to_owned(),
        good.replace("faultodds.job/2", "faultodds.job/3").replace("\"a\"", "\"b\""),
        good.replace("\"a\"", "\"b\"").replace("\"number\":1", "\"number\":2"),
        good.replace("\"a\"", "\"b\"").replace("opened", "noted"),
    ] {
        let error = other.import(&mut format!("{good}\n{bad}\n").as_bytes()).unwrap_err();
        assert!(matches!(error, StoreError::Import { line: 3, .. }), "{error}");
        assert_eq!(other.size().unwrap(), (0, 0));
    }
}

#[test]
fn a_backup_is_a_whole_store_and_overwrites_nothing() {
    let (folder, mut store) = fresh();
    let job = store.open_job("a", at(0), opened("P0455", "x")).unwrap();
    let copy = folder.path().join("copy.db");
    store.back_up(&copy).unwrap();
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2, "nothing else is left behind");
    assert_eq!(Store::open(&copy, Access::Read).unwrap().job(1).unwrap(), job);
    assert!(matches!(store.back_up(&copy), Err(StoreError::Exists { .. })));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    #[test]
    fn any_text_is_stored_as_it_was_given(text in any::<String>(), reference in "\\PC{0,200}") {
        let (_folder, mut store) = fresh();
        let job = store.open_job("a", at(0), opened("P0455", &reference)).unwrap().number;
        if !text.is_empty() {
            store.add(job, at(1), note(&text)).unwrap();
            prop_assert_eq!(&store.job(job).unwrap().log[1].event, &note(&text));
        }
        prop_assert_eq!(store.job(job).unwrap().reference, Some(reference));
        let (_other_folder, mut other) = fresh();
        other.import(&mut lines(&store, Vins::Keep).as_slice()).unwrap();
        prop_assert_eq!(other.job(1).unwrap(), store.job(job).unwrap());
    }
}

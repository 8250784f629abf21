//! Bringing spreadsheets in: good ones, bad ones, twice, and what SQL counts in the store.

use super::*;
use crate::counts::{Counter, Kind};
use crate::job::ClosedJob;
use crate::model::Model;
use jiff::civil::date;
use knowledge::base::Base;
use std::path::Path;

const MAPPING: &str = "schema: faultodds.mapping/1\ncolumns:\n  - {field: job, column: No}\n  - {field: date, column: In}\n  - {field: codes, column: Codes}\n  - {field: cause, column: Found}\n  - {field: time, column: Hrs}\n  - {field: parts, column: Parts}\n  - {field: year, column: Year}\n  - {field: comeback_of, column: Back}\ndates: dmy\ndecimal: \".\"\nmileage_unit: mi\ntime_unit: h\nresults:\n  - {column: Smoke, reading: \"smoke-whole:filler\", levels: [{cell: \"no\", level: no smoke}, {cell: \"lots\", level: plume}]}\n";
const HEADER: &str = "No,In,Codes,Found,Hrs,Parts,Year,Back,Smoke\n";

fn base() -> Base {
    shipped::base().unwrap()
}

fn bring(store: &mut Store, bytes: &[u8], dry_run: bool) -> Result<Report, PastError> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("past.csv");
    std::fs::write(&path, bytes).unwrap();
    bring_file(store, &path, dry_run)
}

fn bring_file(store: &mut Store, path: &Path, dry_run: bool) -> Result<Report, PastError> {
    let (base, mapping) = (base(), Mapping::from_yaml(MAPPING).unwrap());
    let matcher = WordMatcher::new(&base);
    let request = Request {
        base: &base,
        mapping: &mapping,
        matcher: &matcher,
        today: date(2026, 1, 15),
        dry_run,
        progress: &mut |_| true,
    };
    import(store, path, request)
}

fn good() -> String {
    HEADER.to_owned()
        + "1,03/04/2021,P0442,purge valve leaks when shut,1.5,80.00,2012,,no\n"
        + "2,04/04/2021,P0455 P0442,\"filler cap, seal worn\",0:30,12,2009,,lots\n"
        + "3,05/04/2021,p0455,purge valve stuck open?,2,0,2015,,\n"
        + "4,06/04/2021,P0456,NFF,1,,2013,,\n"
        + "5,07/04/2021,P0456,the doings by the thing,1,,2013,,\n"
}

fn all(store: &Store) -> Vec<(String, i64)> {
    let mut query = store
        .connection
        .prepare("SELECT date || codes || state || cause || coalesce(minutes, -1), key FROM past ORDER BY key")
        .unwrap();
    query.query_map([], |r| Ok((r.get(0)?, r.get(1)?))).unwrap().collect::<Result<_, _>>().unwrap()
}

#[test]
fn every_row_is_kept_held_or_refused_and_coming_again_changes_nothing() {
    let mut store = Store::in_memory().unwrap();
    let r = bring(&mut store, good().as_bytes(), false).unwrap();
    assert_eq!((r.rows, r.kept, r.held, r.refused), (5, 4, 1, 0), "{r:?}");
    let before = all(&store);
    let again = bring(&mut store, good().as_bytes(), false).unwrap();
    assert_eq!((again.kept, again.held, again.known), (0, 0, 5), "{again:?}");
    assert_eq!(all(&store), before);
    // The same file in another dress is the same file.
    let utf16: Vec<u8> = [0xFF, 0xFE].into_iter().chain(good().encode_utf16().flat_map(u16::to_le_bytes)).collect();
    let dressed = bring(&mut store, &utf16, false).unwrap();
    assert_eq!((dressed.known, dressed.encoding.as_str()), (5, "UTF-16LE"));
    let other = bring(&mut store, good().replace(",1.5,", ",3.5,").as_bytes(), false).unwrap();
    assert_eq!((other.known, other.changed), (4, 1));
    assert_eq!(all(&store), before);
}

#[test]
fn a_dry_run_tells_the_same_and_keeps_nothing() {
    let mut store = Store::in_memory().unwrap();
    let dry = bring(&mut store, good().as_bytes(), true).unwrap();
    assert!(all(&store).is_empty() && dry.dry_run);
    let wet = bring(&mut store, good().as_bytes(), false).unwrap();
    assert_eq!(Report { dry_run: false, import: wet.import, ..dry }, wet);
}

#[test]
fn bad_rows_are_refused_with_reason_and_number() {
    let mut store = Store::in_memory().unwrap();
    let tomorrow = "6,01/02/2026,P0442,purge valve stuck open,1,1,2012,,\n";
    let bad = [
        ("31/02/2021,P0442,cap,1,1,2012,,", "not a date"),
        ("03/04/2021,none,cap,1,1,2012,,", "no trouble code"),
        ("03/04/2021,P0300,cap,1,1,2012,,", "P0300"),
        ("03/04/2021,P0442,cap,-1,1,2012,,", "negative"),
        ("03/04/2021,P0442,=cmd|' /C calc'!A0,1,1,2012,,", "formula"),
        ("03/04/2021,P0442,cap", "cut off"),
        ("03/04/2021,P0442,cap,1,1,2012,,,more", "too many"),
    ];
    let mut text = good() + tomorrow;
    for (i, (row, _)) in bad.iter().enumerate() {
        text += &format!("{},{row}\n", 100 + i);
    }
    text += "1,03/04/2021,P0442,cap loose,1,1,2012,,\n\n  \n";
    let r = bring(&mut store, text.as_bytes(), false).unwrap();
    assert_eq!((r.rows, r.kept + r.held, r.refused, r.blank), (14, 5, 9, 1), "{r:?}");
    assert!(r.refusals[0].row == 7 && r.refusals[0].reason.contains("future"), "{:?}", r.refusals);
    for (remark, (_, told)) in r.refusals[1..].iter().zip(bad) {
        let said = remark.reason.clone() + r.reasons.keys().find(|k| k.contains(told)).unwrap_or(&"");
        assert!(said.contains(told), "{remark:?} {told}");
    }
    assert_eq!(r.rows, r.kept + r.held + r.known + r.changed + r.refused);
}

#[test]
fn a_file_that_cannot_be_read_to_its_end_leaves_nothing() {
    let mut store = Store::in_memory().unwrap();
    let open_quote = good()
        + "6,03/04/2021,P0442,\"never closed,1,1,2012,,\n"
        + &"7,03/04/2021,P0442,cap,1,1,2012,,\n".repeat(60_000);
    let error = bring(&mut store, open_quote.as_bytes(), false).unwrap_err().to_string();
    assert!(error.contains("row 7") && error.contains("not closed"), "{error}");
    assert!(all(&store).is_empty());
    let missing = good().replace("Codes", "Kodes");
    let error = bring(&mut store, missing.as_bytes(), false).unwrap_err().to_string();
    assert!(error.contains("`Codes`") && error.contains("`Kodes`"), "{error}");
    assert!(bring(&mut store, b"", false).is_err());
    assert!(bring_file(&mut store, Path::new("/nowhere/past.csv"), false).is_err());
    // Cut in the middle of a row: the whole rows come in, the cut one is told.
    let cut = &good()[..good().len() - 20];
    let r = bring(&mut store, cut.as_bytes(), false).unwrap();
    assert_eq!((r.kept, r.refused), (4, 1));
}

#[test]
fn a_long_line_is_one_refused_row() {
    let mut store = Store::in_memory().unwrap();
    let text = good() + &"x".repeat(30_000_000) + "\n" + "6,03/04/2021,P0442,purge valve stuck open,1,1,2012,,\n";
    let r = bring(&mut store, text.as_bytes(), false).unwrap();
    assert_eq!((r.kept, r.held, r.refused), (5, 1, 1), "{r:?}");
}

#[test]
fn a_person_decides_what_is_held_and_changes_it() {
    let (mut store, base) = (Store::in_memory().unwrap(), base());
    let (matcher, model) = (WordMatcher::new(&base), Model::new(&base));
    bring(&mut store, good().as_bytes(), false).unwrap();
    let held = store.wordings(true).unwrap();
    assert_eq!((held.len(), held[0].words.as_str(), held[0].jobs), (1, "the doings by the thing", 1));
    let jobs = store.held_jobs(3).unwrap().remove(&held[0].words).unwrap();
    assert_eq!((jobs[0].job.as_str(), jobs[0].date.as_str(), jobs[0].codes.as_str()), ("5", "2021-04-07", "P0456"));
    let text = review::to_yaml(&[(held[0].clone(), jobs)], &base);
    let decisions = review::from_yaml(&text.replace("cause: \"?\"", "cause: vent-valve/stuck-open"), &base).unwrap();
    assert_eq!(store.decide(&decisions, &matcher, &model).unwrap(), 1);
    assert_eq!(store.decide(&decisions, &matcher, &model).unwrap(), 0);
    let shown = store.wordings(false).unwrap();
    let of = |words: &str| shown.iter().find(|w| w.words == words).unwrap();
    assert_eq!(of("the doings by the thing").decided.as_deref(), Some("vent-valve/stuck-open"));
    assert_eq!(of("purge valve leaks when shut").certainty, Some(1.0));
    // Later rows with the same words are decided too.
    let later = HEADER.to_owned() + "9,03/04/2021,P0442,the doings by  the thing,1,1,2012,,\n";
    let r = bring(&mut store, later.as_bytes(), false).unwrap();
    assert_eq!((r.kept, r.held), (1, 0));
    assert_eq!(store.wordings(true).unwrap().len(), 0);
    // Decided otherwise, for a part whose mode nobody wrote down; and taken back.
    let say = |cause: Option<&str>| vec![("the doings by the thing".to_owned(), cause.map(str::to_owned))];
    assert_eq!(store.decide(&say(Some("vent-valve")), &matcher, &model).unwrap(), 2);
    let open = store.wordings(false).unwrap().into_iter().find(|w| w.words == "the doings by the thing").unwrap();
    assert!(open.state == "unsure" && open.candidates.len() > 1, "{open:?}");
    assert_eq!(store.decide(&say(None), &matcher, &model).unwrap(), 2);
    assert_eq!(store.wordings(true).unwrap()[0].jobs, 2);
}

#[test]
fn one_import_is_taken_out_and_leaves_no_trace() {
    let (mut store, base) = (Store::in_memory().unwrap(), base());
    let (matcher, model) = (WordMatcher::new(&base), Model::new(&base));
    let first = bring(&mut store, good().as_bytes(), false).unwrap().import.unwrap();
    let before = all(&store);
    let more = HEADER.to_owned() + "6,03/05/2021,P0442,vent valve stuck open,1,1,2012,1,lots\n";
    let r = bring(&mut store, more.as_bytes(), false).unwrap();
    assert!(r.came_back == 1 && all(&store) != before);
    assert_eq!(bring(&mut store, more.as_bytes(), false).unwrap().import, None, "nothing new came");
    let imports = store.imports().unwrap();
    assert_eq!(imports.iter().map(|i| i.jobs).collect::<Vec<_>>(), [5, 1]);
    assert_eq!(store.take_out(r.import.unwrap(), &matcher, &model).unwrap(), 1);
    assert_eq!(all(&store), before, "the car that came back is cured again");
    assert_eq!(store.take_out(first, &matcher, &model).unwrap(), 5);
    assert!(all(&store).is_empty() && store.imports().unwrap().is_empty());
}

/// A title, local dates beside ISO dates and day numbers, and words that go on in the next row.
#[test]
fn sheets_come_as_they_are() {
    let mut store = Store::in_memory().unwrap();
    let text = "Two Bays: jobs of 2021,,,,,,,,\n\n".to_owned()
        + HEADER
        + "1,03/04/2021,P0442,purge valve leaks,1.5,80.00,2012,,no\n,,,when shut,,,,,\n"
        + "2,2021-04-04,P0455,filler cap seal worn,0:30,12,2009,,\n"
        + "3,44291,P0455,filler cap seal worn,0:30,12,2009,,\n\n4,soon,P0455,filler cap seal worn,0:30,12,2009,,\n";
    let r = bring(&mut store, text.as_bytes(), false).unwrap();
    assert_eq!((r.rows, r.kept, r.refused, r.wrapped, r.above), (4, 3, 1, 1, 2), "{r:?}");
    assert_eq!((r.refusals[0].row, r.refusals[0].line, r.refusals[0].job.as_str()), (9, 9, "4"));
    let told: Vec<String> = all(&store).into_iter().map(|(t, _)| t).collect();
    for expected in
        ["2021-04-03P0442foundpurge-valve/leaks", "2021-04-04P0455foundfiller-cap/", "2021-04-05P0455foundfiller-cap/"]
    {
        assert!(told.iter().any(|t| t.starts_with(expected)), "{expected}: {told:?}");
    }
}

#[test]
fn a_car_that_comes_back_makes_the_first_cause_unsure() {
    let mut store = Store::in_memory().unwrap();
    let text = good() + "6,03/05/2021,P0442,vent valve stuck open,1,1,2012,1,\n";
    let r = bring(&mut store, text.as_bytes(), false).unwrap();
    assert_eq!(r.came_back, 1);
    let state: String = store.connection.query_row("SELECT state FROM past WHERE job = '1'", [], |r| r.get(0)).unwrap();
    assert_eq!(state, "unsure");
}

/// The documented statement, on the exported tables, gives what the program counts, to the byte. Other engines are asked the same
/// in `tests/learning_engines.rs`.
#[test]
fn sqlite_counts_the_same_to_the_byte() {
    let mut store = Store::in_memory().unwrap();
    let more = "6,08/04/2022,P0455,filler cap seal worn + purge valve leaks when shut,1,5,2001,,\n\
                7,09/04/2022,P0455,purge valve stuck open or vent valve stuck open?,2,0,2015,,no\n\
                8,03/04/2022,P0442,purge valve leaks when shut,1.5,80.00,2012,,lots\n";
    bring(&mut store, (good() + more).as_bytes(), false).unwrap();
    let change = "UPDATE past SET make = ' Orlo', model = 'Finch  \u{c4}', engine = 'K4', repair_minutes = 30 WHERE row < 4;
        UPDATE past SET state = 'several', cause = 'vent-valve/stuck-open + filler-cap/seal-worn' WHERE row = 7;
        UPDATE past SET state = 'unsure', cause = 'purge-valve/stuck-open=0.50 vent-valve/stuck-open=0.50' WHERE row = 8;";
    store.connection.execute_batch(change).unwrap();
    let mut counter = Counter::default();
    store.each(&mut |job| counter.add(&ClosedJob { shop: Some("two-bays".into()), ..job.clone() })).unwrap();
    let counts = counter.finish();
    assert_eq!(counts.jobs(), 7.0, "the held one does not count");
    let folder = tempfile::tempdir().unwrap();
    assert_eq!(export::export(&store, folder.path(), "two-bays").unwrap(), 7);
    assert!(export::export(&store, folder.path(), "two-bays").is_err(), "not beside what is there");
    let engine = rusqlite::Connection::open_in_memory().unwrap();
    for (table, columns) in [("jobs", export::JOBS.as_slice()), ("results", export::RESULTS.as_slice())] {
        engine.execute_batch(&format!("CREATE TABLE {table} (shop, year, {})", columns.join(", "))).unwrap();
        for year in std::fs::read_dir(folder.path().join(table).join("shop=two-bays")).unwrap() {
            let year = year.unwrap().path();
            let number = year.file_name().unwrap().to_str().unwrap().trim_start_matches("year=").to_owned();
            let mut rows = csv::Reader::from_path(year.join(format!("{table}.csv"))).unwrap();
            assert_eq!(rows.headers().unwrap().iter().collect::<Vec<_>>(), columns);
            for row in rows.records() {
                let cells: Vec<Option<String>> = ["two-bays", &number]
                    .into_iter()
                    .chain(row.unwrap().iter())
                    .map(|c| Some(c.to_owned()).filter(|c| !c.is_empty()))
                    .collect();
                let marks = vec!["?"; cells.len()].join(", ");
                let insert = format!("INSERT INTO {table} VALUES ({marks})");
                engine.execute(&insert, rusqlite::params_from_iter(cells)).unwrap();
            }
        }
    }
    let mut query = engine.prepare(store::COUNTS_SQL).unwrap();
    let mut counted = crate::counts::Counts::default();
    let rows = query.query_map([], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?, r.get(4)?, r.get(5)?))).unwrap();
    for row in rows {
        let (kind, group, subject, object, level, n): (String, String, String, String, String, f64) = row.unwrap();
        let kind = serde_json::from_value(kind.into()).unwrap();
        counted.add(crate::counts::Key { kind, group, subject, object, level }, n);
    }
    assert_eq!(counted.to_json().unwrap(), counts.to_json().unwrap());
    let kinds: std::collections::BTreeSet<Kind> = counted.rows().map(|(k, _)| k.kind).collect();
    assert_eq!(kinds.len(), 8, "{kinds:?}");
}

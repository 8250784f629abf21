//! What spreadsheets bring along, from outside: every blunder is told with its row, and nothing is half brought in.

mod support;

use serde_json::Value;
use std::fs;
use std::io::Write as _;
use std::path::Path;
use support::{Desk, Ran, finish};

const HEADER: &str = "job,date,make,model,year,km,codes,cause,repair_minutes,parts\n";
const GOOD: &str = "1,2021-04-03,Orlo,Finch,2012,90000,P0442,purge valve leaks when shut,30,80.00\n\
                    2,2021-04-04,Orlo,Heron,2014,80000,P0455,filler cap seal worn,10,12.00\n";

impl Desk {
    fn import(&self, bytes: &[u8], mapping: &str) -> Ran {
        let file = self.path("past.csv");
        fs::write(&file, bytes).unwrap();
        self.run(&["past", "import", file.to_str().unwrap(), "--mapping", mapping, "--json"])
    }

    /// What became of the rows, with the neat mapping.
    fn told(&self, bytes: &[u8]) -> Value {
        let ran = self.import(bytes, &clean());
        serde_json::from_str(&ran.out).unwrap_or_else(|e| panic!("{e}: {} {}", ran.out, ran.err))
    }

    fn jobs(&self) -> u64 {
        let shown: Value = serde_json::from_str(&self.run(&["past", "show", "--json"]).out).unwrap();
        shown["jobs"].as_object().unwrap().values().map(|n| n.as_u64().unwrap()).sum()
    }
}

fn clean() -> String {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data-demo/clean-mapping.yaml").display().to_string()
}

#[test]
fn each_blunder_is_refused_with_its_row_and_reason_and_the_good_rows_stay() {
    for (row, kind) in [
        ("3,2021-04-05,Orlo,Finch", "cells missing"),
        ("3,2021-04-05,Orlo,Finch,2012,90000,P0442,cap, seal,10,5", "too many cells"),
        ("3,2121-04-05,Orlo,Finch,2012,90000,P0442,cap,10,5", "a date in the future"),
        ("3,2021-02-31,Orlo,Finch,2012,90000,P0442,cap,10,5", "no usable date"),
        ("3,05/04/2021,Orlo,Finch,2012,90000,P0442,cap,10,5", "no usable date"),
        ("3,2021-04-05,Orlo,Finch,2012,90000,P0442,cap,-10,5", "a negative number"),
        ("3,2021-04-05,Orlo,Finch,2012,90000,P0442,cap,10,-5", "a negative number"),
        ("3,2021-04-05,Orlo,Finch,2012,90000,P0442,=cmd|' /C calc'!A0,10,5", "a formula"),
        ("3,2021-04-05,Orlo,Finch,2012,90000,P0442,@SUM(1),10,5", "a formula"),
        ("3,2021-04-05,Orlo,Finch,2012,90000,P0442,cap,10,=1+1", "a formula"),
        ("3,2021-04-05,Orlo,Finch,2012,90000,,cap,10,5", "no trouble code"),
        ("3,2021-04-05,Orlo,Finch,2012,90000,P0301,cap,10,5", "no code of the base"),
        ("1,2021-04-05,Orlo,Finch,2012,90000,P0442,cap,10,5", "a job number twice"),
    ] {
        let desk = Desk::new();
        let told = desk.told(format!("{HEADER}{GOOD}{row}\n").as_bytes());
        assert_eq!((told["rows"].as_u64(), told["refused"].as_u64()), (Some(3), Some(1)), "{row}: {told}");
        assert_eq!(told["reasons"][kind].as_u64(), Some(1), "{row}: {told}");
        assert_eq!((told["refusals"][0]["row"].as_u64(), told["refusals"][0]["line"].as_u64()), (Some(4), Some(4)));
        assert_eq!(desk.jobs(), 2);
    }
}

#[test]
fn a_file_cut_anywhere_loses_no_more_than_its_last_row_and_says_so() {
    let whole = format!("{HEADER}{GOOD}3,2021-04-05,Orlo,Finch,2012,90000,P0442,\"filler cap, loose\",10,5.00\n");
    let start = HEADER.len() + GOOD.len();
    // Cut in each cell but the last, where a figure that lacks its end cannot be told from one that does not.
    for at in ((start + 1)..(whole.len() - 6)).step_by(6) {
        let desk = Desk::new();
        let told = desk.told(&whole.as_bytes()[..at]);
        assert_eq!(told["kept"].as_u64().unwrap() + told["held"].as_u64().unwrap(), 2, "{at}: {told}");
        assert_eq!((told["refused"].as_u64(), told["refusals"][0]["row"].as_u64()), (Some(1), Some(4)), "{at}: {told}");
        assert_eq!(desk.jobs(), 2);
    }
    // Cut before a cell of the header: a column is missing, and nothing is kept.
    let desk = Desk::new();
    let ran = desk.import(&whole.as_bytes()[..30], &clean());
    assert!(ran.code == 2 && ran.err.contains("no column"), "{}", ran.err);
    assert_eq!(desk.jobs(), 0);
    assert_eq!(desk.import(b"", &clean()).code, 2);
}

#[test]
fn every_dress_of_the_same_file_is_the_same_file() {
    let text = format!("{HEADER}{GOOD}3,2021-04-05,Orlo,Fünfer,2012,90000,P0442,filler cap loose,10,5.00\n");
    let latin: Vec<u8> = text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
    let little = || text.encode_utf16().flat_map(u16::to_le_bytes);
    let big = || text.encode_utf16().flat_map(u16::to_be_bytes);
    let mark = |mark: &[u8], rest: Vec<u8>| [mark, &rest].concat();
    let desk = Desk::new();
    assert_eq!(desk.told(text.as_bytes())["encoding"], "UTF-8");
    for (bytes, encoding) in [
        (mark(b"\xEF\xBB\xBF", text.clone().into_bytes()), "UTF-8"),
        (mark(b"\xFF\xFE", little().collect()), "UTF-16LE"),
        (mark(b"\xFE\xFF", big().collect()), "UTF-16BE"),
        (little().collect(), "UTF-16LE"),
        (latin, "windows-1252"),
        (text.replace('\n', "\r\n").into_bytes(), "UTF-8"),
        (text.replace(',', ";").into_bytes(), "UTF-8"),
        (text.replace(',', "\t").into_bytes(), "UTF-8"),
        (text.replace(',', "|").into_bytes(), "UTF-8"),
    ] {
        let told = desk.told(&bytes);
        assert_eq!((told["known"].as_u64(), &told["encoding"]), (Some(3), &Value::from(encoding)), "{told}");
    }
    assert_eq!(desk.jobs(), 3);
}

#[test]
fn the_order_of_dates_is_asked_or_declared_and_never_guessed() {
    let desk = Desk::new();
    let rows = GOOD.replace("2021-04-03", "03/04/2021").replace("2021-04-04", "04/05/2021");
    let text = format!("{HEADER}{rows}");
    let file = desk.path("past.csv");
    fs::write(&file, &text).unwrap();
    let draft = desk.run(&["past", "map", file.to_str().unwrap()]).out;
    assert!(draft.contains("dates: \"?\""), "both orders fit: {draft}");
    let mapping = desk.path("mapping.yaml");
    let write = |text: &str| fs::write(&mapping, text).unwrap();
    write(&draft.replace("mileage_unit: \"?\"", "mileage_unit: km").replace("time_unit: \"?\"", "time_unit: min"));
    let ran = desk.import(text.as_bytes(), mapping.to_str().unwrap());
    assert!(ran.code == 2 && ran.err.contains("order of dates"), "{}", ran.err);
    assert!(ran.err.contains("mapping.yaml"), "{}", ran.err);
    assert_eq!(desk.jobs(), 0);
    let neat = fs::read_to_string(clean()).unwrap();
    let seen = |order: &str| {
        let desk = Desk::new();
        write(&neat.replace("dates: ymd", &format!("dates: {order}")));
        let ran = desk.import(text.as_bytes(), mapping.to_str().unwrap());
        assert_eq!(ran.code, 0, "{}", ran.err);
        let store = rusqlite::Connection::open(desk.path("past.db")).unwrap();
        let mut dates = store.prepare("SELECT date FROM past ORDER BY row").unwrap();
        let dates: Vec<String> = dates.query_map([], |r| r.get(0)).unwrap().collect::<Result<_, _>>().unwrap();
        dates
    };
    assert_eq!(seen("dmy"), ["2021-04-03", "2021-05-04"]);
    assert_eq!(seen("mdy"), ["2021-03-04", "2021-04-05"]);
    // A day that only one order allows settles it in the draft.
    fs::write(&file, format!("{text}{}", GOOD.replace("2021-04-03", "25/06/2021").replace("2021-04-04", "26/06/2021")))
        .unwrap();
    assert!(desk.run(&["past", "map", file.to_str().unwrap()]).out.contains("dates: dmy"));
}

/// A file whose second row is one line of so many bytes, sparse on disk.
fn long_line(path: &Path, bytes: u64) {
    let mut file = fs::File::create(path).unwrap();
    file.write_all(format!("{HEADER}3,").as_bytes()).unwrap();
    file.set_len(bytes).unwrap();
    let mut file = fs::OpenOptions::new().append(true).open(path).unwrap();
    file.write_all(format!("\n{GOOD}").as_bytes()).unwrap();
}

/// In this much memory, so that keeping the line would fail.
fn import_within(desk: &Desk, file: &Path, kilobytes: u64) -> Ran {
    let mut command = std::process::Command::new("sh");
    command.env("FAULTODDS_PAST", desk.path("past.db")).env("FAULTODDS_DB", desk.path("jobs.db"));
    let line = format!("ulimit -v {kilobytes}; exec \"$0\" \"$@\"");
    command.args(["-c", &line, env!("CARGO_BIN_EXE_faultodds"), "past", "import"]).arg(file);
    finish(command.args(["--mapping", &clean(), "--json"]))
}

#[test]
#[cfg(target_os = "linux")]
fn a_line_of_many_megabytes_is_one_refused_row() {
    let desk = Desk::new();
    let file = desk.path("long.csv");
    long_line(&file, 20_000_000);
    let ran = import_within(&desk, &file, 4_000_000);
    let told: Value = serde_json::from_str(&ran.out).unwrap_or_else(|e| panic!("{e}: {}", ran.err));
    assert_eq!((told["refused"].as_u64(), told["reasons"]["longer than any row may be"].as_u64()), (Some(1), Some(1)));
    assert_eq!(desk.jobs(), 2);
}

#[test]
#[cfg(target_os = "linux")]
#[ignore = "reads 1 GB: cargo test --release --test learning_input -- --ignored"]
fn a_line_of_a_gigabyte_is_one_refused_row_in_little_memory() {
    let desk = Desk::new();
    let file = desk.path("long.csv");
    long_line(&file, 1_000_000_000);
    let ran = import_within(&desk, &file, 600_000);
    let told: Value = serde_json::from_str(&ran.out).unwrap_or_else(|e| panic!("{e}: {}", ran.err));
    assert_eq!((told["refused"].as_u64(), told["kept"].as_u64()), (Some(1), Some(2)));
    assert_eq!(desk.jobs(), 2);
}

/// What has no end is refused at once and in words, wherever a file is asked for.
#[cfg(unix)]
#[test]
fn a_device_is_no_file_to_read() {
    for args in [
        &["past", "map", "/dev/zero"][..],
        &["past", "import", "/dev/zero", "--mapping", "/dev/zero"],
        &["next", "P0455", "--shop", "/dev/zero"],
        &["rank", "P0455", "--overlay", "/dev/zero"],
    ] {
        let ran = finish(support::program().args(args));
        assert_eq!(ran.code, 2, "{args:?}: {}", ran.err);
        assert!(ran.err.contains("/dev"), "{args:?}: {}", ran.err);
    }
}

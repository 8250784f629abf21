//! The documented statement counts in other engines what the program counts, to the byte. An engine that is not installed is
//! skipped, and why is printed; `bench/engines.py` says what each needs. Its Python is `FAULTODDS_PYTHON`, or `python3`.

mod support;

use std::fs;
use std::path::Path;
use std::process::Command;
use support::Desk;

/// What the script ends with where the engine cannot be had.
const MISSING: i32 = 77;

fn asked(engine: &str) {
    let desk = Desk::new();
    let demo = |name: &str| Path::new(env!("CARGO_MANIFEST_DIR")).join("data-demo").join(name).display().to_string();
    let ran = desk.run(&["past", "import", &demo("past.csv"), "--mapping", &demo("past-mapping.yaml")]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let (tables, sql, counts) = (desk.path("tables"), desk.path("counts.sql"), desk.path("counts.json"));
    let ran = desk.run(&["past", "export", tables.to_str().unwrap(), "--as", "two-bays"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    fs::write(&sql, desk.run(&["past", "counts", "--sql"]).out).unwrap();
    let counted = desk.run(&["past", "counts", "--past-only", "--least", "1", "--as", "two-bays"]);
    assert!(counted.out.contains("shop:two-bays"), "{}", counted.err);
    fs::write(&counts, counted.out).unwrap();
    let python = std::env::var("FAULTODDS_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("bench/engines.py");
    let out = match Command::new(&python).arg(script).arg(engine).args([&tables, &sql, &counts]).output() {
        Ok(out) => out,
        Err(error) => {
            println!("skipped: {python} cannot be run: {error}");
            return;
        }
    };
    let (said, err) = (String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr));
    print!("{said}");
    match out.status.code() {
        Some(MISSING) => assert!(said.starts_with("skipped: "), "{said}"),
        code => assert!(code == Some(0) && said.contains("to the byte"), "{engine}: {said}{err}"),
    }
}

#[test]
fn sqlite_counts_what_the_program_counts() {
    asked("sqlite");
}

#[test]
fn duckdb_counts_what_the_program_counts() {
    asked("duckdb");
}

#[test]
fn postgresql_counts_what_the_program_counts() {
    asked("postgresql");
}

#[test]
fn spark_counts_what_the_program_counts() {
    asked("spark");
}

//! Checks against something outside the project. Each names its source beside the check, under one of four labels:
//!
//! - **published**: a document with its section and year;
//! - **reference library**: name, version, and the script in `make/` that made the values;
//! - **common practice**: a rule of the trade without a source;
//! - *from memory*: a published number recalled and not compared with its document.
//!
//! The suite needs only cargo. What the scripts in `make/` write is committed beside them.

mod car_segments;
mod car_values;
mod enumeration;
mod posterior;
mod practice;
mod prevalence;
mod published;
mod recount;
mod titles;
mod whole;

use std::path::{Path, PathBuf};

/// A file in `tests/outside`.
fn here(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside").join(name)
}

/// A committed JSON file.
fn json(name: &str) -> serde_json::Value {
    serde_json::from_str(&std::fs::read_to_string(here(name)).unwrap()).unwrap()
}

/// Output of the program, which must end well.
fn program(arguments: &[&str]) -> Vec<u8> {
    let done = std::process::Command::new(env!("CARGO_BIN_EXE_faultodds")).args(arguments).output().unwrap();
    let told = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "faultodds {}: {told}", arguments.join(" "));
    done.stdout
}

//! `search --in past` from outside: notes of jobs, causes of closed ones and of past jobs that were brought in, each told with where
//! it stands.

use rusqlite::Connection;
use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output, Stdio};

fn faultodds(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_faultodds"))
        .args(arguments)
        .env_remove("FAULTODDS_KB")
        .env_remove("FAULTODDS_JOB")
        .env("FAULTODDS_DB", folder.join("jobs.db"))
        .env("FAULTODDS_PAST", folder.join("past.db"))
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

fn done(folder: &Path, arguments: &[&str]) {
    let output = faultodds(folder, arguments);
    assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
}

fn hits(folder: &Path, words: &str) -> Vec<Value> {
    let output = faultodds(folder, &["search", words, "--in", "past", "--json"]);
    let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(answer["schema"], "faultodds.search-past/1");
    answer["hits"].as_array().unwrap().clone()
}

#[test]
fn nothing_kept_is_told_and_nothing_is_made() {
    let folder = tempfile::tempdir().unwrap();
    let output = faultodds(folder.path(), &["search", "cap", "--in", "past"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stdout).contains("no words of its own yet"));
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn entries_of_the_base_are_not_searched_with_the_shop_s_own_words() {
    let folder = tempfile::tempdir().unwrap();
    let output = faultodds(folder.path(), &["search", "cap", "--in", "past,symptoms"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("search them alone"));
}

#[test]
fn notes_and_causes_are_found_with_where_they_stand_and_what_was_taken_back_is_not() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    done(folder, &["job", "open", "P0442"]);
    done(folder, &["job", "note", "Hairline crack in the charcoal box, only seen with the liner out"]);
    done(folder, &["job", "note", "zebra stripes on the dipstick"]);
    done(folder, &["job", "undo"]);
    let found = hits(folder, "canister cracked");
    assert_eq!((found[0]["from"].as_str(), found[0]["job"].as_i64()), (Some("jobs"), Some(1)));
    assert!(found[0]["excerpt"]["text"].as_str().unwrap().starts_with("Hairline"));
    assert!(!found[0]["excerpt"]["marks"].as_array().unwrap().is_empty());
    assert!(hits(folder, "zebra").is_empty());

    drop(faultodds_past(folder));
    let found = hits(folder, "gas cap not tight");
    assert_eq!((found[0]["from"].as_str(), found[0]["jobs"].as_i64()), (Some("past"), Some(2)));
    assert_eq!((found[0]["day"].as_str(), found[0]["job"].as_str()), (Some("2024-05-03"), Some("77")));
    assert_eq!(found[0]["causes"][0], "filler-cap/loose");
    let shown = faultodds(folder, &["search", "fuel lid loose", "--in", "past"]);
    assert_eq!(shown.status.code(), Some(0));
    let text = String::from_utf8(shown.stdout).unwrap();
    assert!(
        text.contains("2 jobs, the last one of 2024-05-03 (77)") && text.contains("cause: filler-cap/loose"),
        "{text}"
    );
}

/// Two past jobs with the same words, and one of another kind.
fn faultodds_past(folder: &Path) -> Connection {
    drop(faultodds::learning::past::Store::open(&folder.join("past.db")).unwrap());
    let past = Connection::open(folder.join("past.db")).unwrap();
    past.execute_batch(
        "INSERT INTO past (key, content, row, job, date, codes, words, state, cause) VALUES
         (1, 1, 2, '12', '2023-01-02', 'P0455', 'cap left loose', 'found', 'filler-cap/loose'),
         (2, 2, 3, '77', '2024-05-03', 'P0455', 'cap left loose', 'found', 'filler-cap/loose'),
         (3, 3, 4, '78', '2024-06-03', 'P0401', 'passages cleaned', 'found', 'egr-passages/ports-blocked');",
    )
    .unwrap();
    past
}

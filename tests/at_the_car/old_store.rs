//! A store file of the first edition (`tests/stores/form-2.db`, written by that edition itself, with its own export
//! beside it) opens, comes forward and loses nothing.

use crate::desk::Desk;
use serde_json::Value;

#[test]
fn a_store_of_the_first_edition_opens_and_loses_nothing() {
    let desk = Desk::new();
    std::fs::copy("tests/stores/form-2.db", desk.db()).unwrap();
    let then: Vec<Value> = lines(&std::fs::read_to_string("tests/stores/form-2.jsonl").unwrap());
    let now: Vec<Value> = lines(&desk.done(&["job", "export"]));
    assert_eq!(then.len(), now.len());
    for (then, now) in then.iter().zip(&now) {
        assert_eq!((&then["uid"], &then["events"]), (&now["uid"], &now["events"]));
        assert_eq!(now["schema"], "faultodds.job/2");
    }
    assert!(desk.done(&["job", "check"]).contains("all whole"));
    for number in 1..=3 {
        desk.job(number);
        desk.done(&["job", "show", "--sheet", "--job", &number.to_string()]);
    }
    assert!(desk.done(&["job", "show"]).starts_with("job 2"), "the current job stays");
    // The list tells the car that has no name by what is known of it.
    assert!(desk.done(&["job", "list"]).contains("140000 km"));
    desk.done(&["job", "set", "--without", "smoke-machine"]);
    desk.done(&["job", "record", "purge-valve-hold=fail", "--found", "purge-valve/leaks"]);
    assert!(desk.done(&["job", "check"]).contains("all whole"));
}

#[test]
fn lines_of_the_first_edition_are_imported_whole() {
    let desk = Desk::new();
    let file = "tests/stores/form-2.jsonl";
    assert!(desk.done(&["job", "import", file]).contains("3 new jobs"));
    let then = lines(&std::fs::read_to_string(file).unwrap());
    let now = lines(&desk.done(&["job", "export"]));
    assert!(then.iter().zip(&now).all(|(a, b)| a["events"] == b["events"]));
}

fn lines(text: &str) -> Vec<Value> {
    text.lines().map(|l| serde_json::from_str(l).unwrap()).collect()
}

//! A store file of the first edition (`tests/stores/form-2.db`, written by that edition itself, with its own export
//! beside it) opens, comes forward and loses nothing.

use crate::desk::Desk;
use serde_json::Value;

/// Puts a store of an earlier form on the desk and holds what it exports now against what its own edition exported.
fn opened(form: &str) -> Desk {
    let desk = Desk::new();
    std::fs::copy(format!("tests/stores/{form}.db"), desk.db()).unwrap();
    let then: Vec<Value> = lines(&std::fs::read_to_string(format!("tests/stores/{form}.jsonl")).unwrap());
    let now: Vec<Value> = lines(&desk.done(&["job", "export"]));
    assert_eq!(then.len(), now.len());
    for (then, now) in then.iter().zip(&now) {
        assert_eq!((&then["uid"], &then["events"]), (&now["uid"], &now["events"]));
        assert_eq!(now["schema"], "faultodds.job/2");
    }
    assert!(desk.done(&["job", "check"]).contains("all whole"));
    desk
}

/// Before events had digests: they get them, the check says what that proves, and what is written from then on is sealed.
#[test]
fn a_store_without_digests_is_sealed_and_loses_nothing() {
    let desk = opened("form-3");
    assert!(desk.done(&["job", "show"]).starts_with("job 2"), "the current job stays");
    assert!(desk.done(&["job", "show", "--job", "1"]).contains("after each car wash; gr\u{fc}n"));
    assert!(desk.said(&["job", "check"]).contains("changes before are not"));
    desk.done(&["job", "note", "written after it was brought forward"]);
    assert!(desk.done(&["job", "check"]).contains("all whole"));
}

/// Before cars were recognised: the store comes forward, and from then on a car can be known.
#[test]
fn a_store_without_marks_comes_forward_and_loses_nothing() {
    let desk = opened("form-4");
    assert!(desk.done(&["job", "show"]).starts_with("job 2"), "the current job stays");
    assert!(desk.done(&["job", "show", "--job", "1"]).contains("after each car wash"));
    desk.done(&["job", "open", "P0455", "--vehicle", "hot,dusty"]);
    assert!(desk.done(&["job", "show"]).contains("dusty"));
    assert!(desk.done(&["job", "check"]).contains("all whole"));
}

/// One letter of an old note and of a new one changed on the disk: both are named by job and event.
#[test]
fn a_changed_letter_is_named_by_job_and_event() {
    for (text, wanted) in [
        ("after each car wash", "event 4 of job 1 is not what was stored"),
        ("sealed at once", "event 5 of job 3 is not what was stored"),
    ] {
        let desk = opened("form-3");
        desk.done(&["job", "note", "--job", "3", "sealed at once"]);
        desk.done(&["job", "note", "--job", "3", "and one after it"]);
        let mut bytes = std::fs::read(desk.db()).unwrap();
        let at = bytes.windows(text.len()).rposition(|w| w == text.as_bytes()).unwrap();
        bytes[at] ^= 1;
        std::fs::write(desk.db(), bytes).unwrap();
        let told = desk.typed(&["job", "check"], "");
        assert_eq!((told.status.code(), String::from_utf8_lossy(&told.stdout).trim()), (Some(1), wanted));
    }
}

#[test]
fn a_store_of_the_first_edition_opens_and_loses_nothing() {
    let desk = opened("form-2");
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

//! The customer's sheet: one page in plain words.

use crate::desk::Desk;

fn fixed_car() -> Desk {
    let desk = Desk::new();
    desk.done(&["job", "open", "P0455", "P0171", "--vehicle", "screw-cap,age=9", "--reference", "order 17"]);
    desk.done(&["job", "record", "cap-look-reseat:seal=fail"]);
    desk.done(&["job", "record", "cap-look-reseat:seal=pass"]);
    desk.done(&["job", "record", "cap-look-reseat:loose=fail", "--minutes", "3"]);
    desk.done(&["job", "note", "strap under the seal", "--on", "cap-look-reseat:loose"]);
    desk.done(&["job", "retest", "--result", "evap-service-run=pass", "--minutes", "12"]);
    desk.done(&["job", "close", "--cause", "filler-cap/loose"]);
    desk
}

#[test]
fn it_is_one_page_in_plain_words() {
    let desk = fixed_car();
    let sheet = desk.done(&["job", "show", "--sheet"]);
    assert!(sheet.lines().count() <= 50, "{sheet}");
    assert!(sheet.lines().all(|l| unicode_width::UnicodeWidthStr::width(l) <= 80), "{sheet}");
    for piece in [
        "What was found",
        "Cap as found: not as it should be (strap under the seal)",
        "What was done",
        "15 min",
        "How sure this is",
        "What is left",
        "P0171",
    ] {
        assert!(sheet.contains(piece), "`{piece}` is not in:\n{sheet}");
    }
    for piece in [
        "Cross-threaded",
        "cross-threaded",
        "CAUTION",
        "extinguisher",
        "Most likely now",
        "%",
        "abnormal",
        "Cap seal and the lip it sits on: not",
    ] {
        assert!(!sheet.contains(piece), "`{piece}` is in:\n{sheet}");
    }
    insta::assert_snapshot!("sheet of a fixed car", sheet.replace(&today(&sheet), "DAY"));
}

#[test]
fn the_workshop_sheet_holds_the_cautions_in_full_and_nothing_superseded() {
    let desk = fixed_car();
    let sheet = desk.done(&["job", "show", "--workshop"]);
    assert!(sheet.contains("extinguisher") && sheet.contains("ABNORMAL"), "{sheet}");
    assert_eq!(sheet.matches("cap seal and the lip it sits on").count(), 1, "{sheet}");
}

/// The day in the first line.
fn today(sheet: &str) -> String {
    sheet.lines().next().unwrap().rsplit(' ').next().unwrap().to_owned()
}

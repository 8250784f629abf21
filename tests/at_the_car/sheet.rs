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

/// The job, its sheet for the workshop and `rank` say one size of the leak while a leak is likely, and none once it is mended.
#[test]
fn the_size_of_the_leak_is_said_while_there_is_one() {
    let desk = Desk::new();
    desk.done(&["job", "open", "P0442", "--vehicle", "screw-cap,age=9"]);
    desk.done(&["job", "record", "smoke-flow-size=600 cc/min"]);
    let ranked: serde_json::Value = serde_json::from_str(&desk.done(&["rank", "--job", "1", "--json"])).unwrap();
    let shown: serde_json::Value = serde_json::from_str(&desk.done(&["job", "show", "--json"])).unwrap();
    assert_eq!(shown["leak_mm"], ranked["leak_mm"]);
    let mm = |at: usize| shown["leak_mm"][at].as_f64().unwrap();
    assert!(0.2 < mm(0) && mm(0) < mm(1) && mm(1) < 3.0, "{}", shown["leak_mm"]);
    let words = format!("Size of the leak: about {:.1} to {:.1} mm.", mm(0), mm(1));
    for args in [&["job", "show"][..], &["job", "show", "--workshop"], &["rank", "--job", "1"]] {
        let screen = desk.done(args);
        assert!(screen.contains(&words), "`{words}` is not in:\n{screen}");
    }
    let mended = fixed_car();
    let shown: serde_json::Value = serde_json::from_str(&mended.done(&["job", "show", "--json"])).unwrap();
    assert!(shown["leak_mm"].is_null());
    assert!(!mended.done(&["job", "show"]).contains("Size of the leak"));
}

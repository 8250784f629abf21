//! The shop's own file: shown, begun, checked, and kept with a job.

use crate::desk::{Desk, flat};

#[test]
fn money_is_an_example_until_the_shop_has_a_file() {
    let desk = Desk::new();
    let shown = flat(&desk.done(&["shop", "show"]));
    assert!(shown.contains("all of this is an example") && shown.contains("80.00 EUR an hour"), "{shown}");
    let file = desk.db().with_file_name("my-shop.yaml");
    let file = file.to_str().unwrap();
    assert!(desk.said(&["shop", "check", "--shop", file]).contains("shop start"));
    desk.done(&["shop", "start", "--shop", file]);
    assert!(desk.said(&["shop", "start", "--shop", file]).contains("left as it is"));
    assert!(desk.done(&["shop", "check", "--shop", file]).contains("all well"));
    assert!(!desk.done(&["shop", "show", "--shop", file]).contains("example"));
    std::fs::write(file, "labour_rate: -5\n").unwrap();
    assert!(desk.said(&["shop", "check", "--shop", file]).contains("my-shop.yaml:1:14"));
}

#[test]
fn a_job_goes_on_with_the_shop_file_and_tools_that_it_was_begun_with() {
    let desk = Desk::new();
    let file = desk.db().with_file_name("my-shop.yaml");
    let path = file.to_str().unwrap();
    desk.done(&["shop", "start", "--shop", path]);
    desk.talk(&["P0455", "--shop", path, "--without", "torch"], "\nstop\n");
    let job = desk.job(1);
    assert_eq!((job["terms"]["shop"].as_str(), job["terms"]["without"][0].as_str()), (Some(path), Some("torch")));
    // The file is read again on another day: one that is broken meanwhile is told, not passed over.
    std::fs::write(&file, "labour: 5\n").unwrap();
    let said = desk.said(&["guide"]);
    assert!(said.contains("my-shop.yaml") && said.contains("no field `labour`"), "{said}");
}

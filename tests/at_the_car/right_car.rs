//! Which car a screen or a command means is never left to memory.

use crate::desk::{Desk, flat, in_order};

fn two_cars() -> Desk {
    let desk = Desk::new();
    desk.done(&[
        "job",
        "open",
        "P0455",
        "--reference",
        "bay 3",
        "--make",
        "Aster",
        "--model",
        "Finch",
        "--year",
        "2017",
    ]);
    desk.done(&["job", "open", "P0442", "--vehicle", "age=12"]);
    desk
}

#[test]
fn every_job_screen_names_number_reference_and_car() {
    let desk = two_cars();
    let line = "job 1 · bay 3 · 2017 Aster Finch · P0455";
    for args in [
        &["job", "show", "--job", "1"][..],
        &["job", "record", "cap-look-reseat=pass", "--job", "1"],
        &["job", "note", "x", "--job", "1"],
        &["job", "use", "--job", "1"],
        &["rank", "--job", "1"],
        &["next", "--job", "1"],
        &["plan", "--job", "1"],
        &["quote", "--job", "1"],
    ] {
        assert!(flat(&desk.done(args)).contains(line), "{args:?}: {}", desk.done(args));
    }
    assert!(desk.talk(&["--job", "1"], "stop\n").contains(line));
    assert!(desk.talk(&["--job", "2"], "\nstop\n").contains("job 2 · 12 years old · P0442"));
}

#[test]
fn a_command_without_a_number_says_which_job_it_took() {
    let desk = two_cars();
    let said = desk.said(&["job", "note", "hello"]);
    assert!(said.contains("2 jobs are open; taken: job 2") && said.contains("--job NUMBER"), "{said}");
    assert_eq!(desk.said(&["job", "note", "hello", "--job", "1"]), "");
}

/// A job that the environment holds is for commands that name none; a question about another car is not refused.
#[test]
fn codes_on_the_line_outweigh_a_job_in_the_environment() {
    let desk = two_cars();
    let held = |args: &[&str]| desk.typed_in(&[("FAULTODDS_JOB", "1")], args, "");
    let text = |args: &[&str]| flat(&String::from_utf8(held(args).stdout).unwrap());
    assert!(text(&["rank"]).contains("job 1 ·") && text(&["quote"]).contains("job 1 ·"));
    for ask in [["rank", "P0496"], ["quote", "P0496"]] {
        let told = text(&ask);
        assert!(told.contains("P0496") && !told.contains("job 1 ·"), "{ask:?}: {told}");
    }
    let both = held(&["rank", "P0496", "--job", "2"]);
    assert!(!both.status.success() && String::from_utf8(both.stderr).unwrap().contains("only one of them"));
}

#[test]
fn guide_and_reopen_make_their_job_the_current_one() {
    let desk = two_cars();
    desk.talk(&["--job", "1"], "stop\n");
    assert!(desk.talk(&[], "stop\n").contains("job 1 · bay 3"));
    desk.done(&["job", "close", "--as", "unsure", "--job", "2"]);
    desk.done(&["job", "reopen", "--job", "2"]);
    assert!(desk.done(&["job", "show"]).starts_with("job 2"));
}

#[test]
fn leaving_says_how_to_come_back_and_to_which_job() {
    let desk = two_cars();
    let text = desk.talk(&["--job", "1"], "1\nstop\n");
    in_order(&text, &["stored up to here: job 1 · bay 3", "go on with: faultodds guide --job 1"]);
}

#[test]
fn a_reading_moves_to_the_job_it_belongs_to() {
    let desk = two_cars();
    desk.done(&["job", "record", "purge-valve-hold=fail", "--job", "2"]);
    let text = flat(&desk.done(&["job", "move", "purge-valve-hold:hold", "--to", "1", "--job", "2"]));
    in_order(
        &text,
        &[
            "job 2",
            "retracted from event 2: purge-valve-hold:hold: moved to job 1",
            "job 1 · bay 3",
            "found purge-valve-hold:hold=fail",
        ],
    );
    assert_eq!(desk.outcomes(1), ["purge-valve-hold:hold=fail"]);
    assert!(desk.done(&["job", "show", "--job", "1"]).contains("moved here from job 2"));
    let said = desk.said(&["job", "move", "purge-valve-hold:hold", "--to", "1", "--job", "2"]);
    assert!(said.contains("nothing on the job says"), "{said}");
}

#[test]
fn rows_of_the_list_can_be_told_apart() {
    let desk = Desk::new();
    desk.done(&["job", "open", "P0455"]);
    desk.done(&["job", "open", "P0455"]);
    desk.done(&["job", "note", "x"]);
    let list = desk.done(&["job", "list"]);
    let rows: Vec<&str> = list.lines().skip(1).map(|l| l.trim_start().split_once(' ').unwrap().1).collect();
    assert!(rows[0] != rows[1] && rows[0].contains("2 events"), "{list}");
}

#[test]
fn a_comeback_does_not_hold_for_settled_what_a_driver_can_do_again() {
    let desk = Desk::new();
    desk.done(&["job", "open", "P0455", "--vehicle", "screw-cap"]);
    desk.done(&["job", "repair", "filler-cap/reseat"]);
    desk.done(&["job", "close", "--cause", "filler-cap/loose"]);
    desk.done(&["job", "reopen", "--comeback", "P0455"]);
    let job = desk.job(1);
    assert_eq!(job["suspects"][0]["id"], "filler-cap/loose");
    // A part that was replaced stays settled.
    let desk = Desk::new();
    desk.done(&["job", "open", "P0443", "--vehicle", "screw-cap"]);
    desk.done(&["job", "repair", "purge-valve/replace"]);
    desk.done(&["job", "close", "--as", "unsure"]);
    desk.done(&["job", "reopen", "--comeback", "P0443"]);
    assert_eq!(desk.job(1)["epoch"], 1);
}

#[test]
fn checks_are_told_one_by_one() {
    let desk = Desk::new();
    desk.done(&["job", "open", "P0455", "P0420", "--vehicle", "screw-cap"]);
    desk.done(&["job", "repair", "filler-cap/reseat"]);
    let before = desk.job(1)["fixed"].as_f64().unwrap();
    let text = flat(&desk.done(&["job", "retest", "--passed", "leak-check=2/2", "--not-run", "catalyst-efficiency-1"]));
    assert!(text.contains("run and passed 2 of 2 times") && text.contains("not run"), "{text}");
    assert!(desk.job(1)["fixed"].as_f64().unwrap() > before);
    assert!(desk.done(&["job", "show", "--sheet"]).contains("2 of 2 times"));
    assert!(desk.said(&["job", "retest", "--passed", "leak-check=1/2"]).contains("not passed yet"));
}

/// What was said of tools and of the shop's file stays with the job; the line says otherwise for once.
#[test]
fn plans_for_a_job_use_its_tools_and_its_shop_file() {
    let desk = two_cars();
    let shop = desk.db().with_file_name("dear.yaml");
    std::fs::write(&shop, "labour_rate: 333\n").unwrap();
    let smoke = |args: &[&str]| desk.done(args).contains("\"id\": \"smoke-");
    let all: &[&str] = &["next", "--job", "1", "--json", "--top", "60"];
    assert!(smoke(all));
    desk.done(&["job", "set", "--job", "1", "--without", "smoke-machine"]);
    assert!(!smoke(all), "the job has no smoke machine");
    assert!(
        smoke(&[all, &["--tools", "smoke-machine,evap-adapters,scan-tool,torch,jack-stands"]].concat()),
        "but today it is here"
    );
    desk.done(&["job", "set", "--job", "1", "--shop", shop.to_str().unwrap()]);
    assert!(flat(&desk.done(&["next", "--job", "1"])).contains("at 333 "));
    assert!(flat(&desk.done(&["next", "--job", "1", "--rate", "44"])).contains("at 44 "));
}

//! The program from outside: exit codes, messages for bad input, JSON shapes, colour, widths and broken pipes, and the
//! main screens as snapshots. `INSTA_UPDATE=always cargo test --test cli` renews the snapshots.

mod support;

use faultodds::shipped;
use serde_json::Value;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::Stdio;
use support::{Ran, bad_kb, copy_folder, finish, lay_out, program, run, shipped_folder};
use unicode_width::UnicodeWidthStr;

/// The run could not be done: exit code 2, nothing on standard output, and the message says each of these things.
#[track_caller]
fn refused(args: &[&str], says: &[&str]) -> Ran {
    let ran = run(args);
    assert_eq!(ran.code, 2, "{args:?}: {} {}", ran.out, ran.err);
    assert!(ran.out.is_empty(), "{args:?} prints {}", ran.out);
    let flat = ran.err.split_whitespace().collect::<Vec<_>>().join(" ");
    for piece in says {
        assert!(flat.contains(piece), "{args:?} does not say `{piece}` but: {flat}");
    }
    ran
}

#[track_caller]
fn done(args: &[&str]) -> String {
    let ran = run(args);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{args:?}");
    ran.out
}

#[test]
fn what_is_no_code_of_the_base_is_told_and_never_led_to_another_code() {
    let ran = refused(&["rank", "P1456"], &["`P1456`", "maker's own"]);
    assert!(!ran.err.contains("did you mean"), "{}", ran.err);
    refused(&["rank", "P9999"], &["`P9999`", "0, 1, 2 or 3"]);
    refused(&["rank", "P0301"], &["`P0301`", "misfire"]);
    refused(&["rank", "P0455P0442"], &["run together", "P0455 P0442"]);
    refused(&["rank", "hello"], &["`HELLO`", "not a code", "such as P0455"]);
    refused(&["rank", "P045"], &["not a code"]);
    refused(&["rank", "p04o1"], &["`P04O1`", "not a code", "P0401"]);
    refused(&["rank", "PO455"], &["with digits", "P0455"]);
    refused(&["rank", "P04C0"], &["`P04C0`", "does not describe"]);
}

#[test]
fn nothing_to_reason_from_is_told() {
    for args in [&["rank"][..], &["rank", ""], &["rank", "  ", ""]] {
        refused(args, &["nothing to reason from", "rank P0455"]);
    }
}

#[test]
fn the_same_code_twice_is_one_code() {
    let once = done(&["rank", "P0455", "--json"]);
    assert_eq!(once, done(&["rank", "P0455", "p0455", "P 0455", "P0455,P0455", "--json"]));
}

#[test]
fn contradictions_are_refused() {
    let hold = "purge-valve-hold";
    let (pass, fail) = (format!("{hold}=pass"), format!("{hold}=fail"));
    refused(&["rank", "P0455", "--result", &pass, "--result", &fail], &["purge-valve-hold:hold", "pass", "fail"]);
    let smell = "fuel-smell-outside";
    refused(&["rank", "P0455", "--symptom", smell, "--no-symptom", smell], &[smell]);
    let ran = refused(&["rank", "P0455", "--vehicle", "screw-cap,capless"], &["screw-cap"]);
    assert!(ran.err.contains("capless"), "{}", ran.err);
}

#[test]
fn words_the_base_does_not_know_get_near_misses() {
    refused(&["rank", "P0455", "--already", "filler-cap/replcae-cap"], &["no repair", "did you mean", "filler-cap/"]);
    refused(&["rank", "P0455", "--already", "flux-capacitor/replace"], &["no repair `flux-capacitor/replace`"]);
    refused(&["rank", "P0455", "--symptom", "xyzzy"], &["xyzzy"]);
    let taken = run(&["rank", "P0455", "--symptom", "hard-start-after-refule", "--json"]);
    assert!(taken.code == 0 && taken.err.contains("hard-start-after-refuel"), "what a slip is taken for is told");
    refused(&["rank", "P0455", "--result", "purge-valve-hodl=pass"], &["did you mean", "purge-valve-hold"]);
    refused(&["rank", "P0455", "--result", "purge-valve-hold=purple"], &["no outcome `purple`", "pass, fail, unclear"]);
    refused(&["rank", "P0455", "--result", "purge-valve-hold"], &["TEST=OUTCOME"]);
    refused(&["rank", "P0455", "--result", "purge-valve-hold="], &["pass, fail, unclear"]);
    refused(&["rank", "P0455", "--tools", "smoke-machin"], &["did you mean", "smoke-machine"]);
    refused(&["rank", "P0455", "--vehicle", "slat"], &["`slat`", "did you mean", "salt"]);
    refused(&["kb", "show", "purge-valve-hodl"], &["did you mean", "purge-valve-hold"]);
    refused(&["kb", "list", "sympton"], &["did you mean", "symptoms"]);
    refused(&["kb", "schema", "sympton"], &["did you mean", "symptoms"]);
}

#[test]
fn wrong_use_is_exit_code_2_and_help_is_0() {
    for args in [&["rank", "P0455", "--frobnicate"][..], &["frobnicate"], &["kb"], &["rank", "P0455", "--top", "x"]] {
        assert_eq!(run(args).code, 2, "{args:?}");
    }
    for args in [&["--help"][..], &["--version"], &["rank", "--help"], &["kb", "check", "--help"]] {
        let ran = run(args);
        assert!(ran.code == 0 && !ran.out.is_empty() && ran.err.is_empty(), "{args:?}");
    }
}

#[cfg(unix)]
#[test]
fn an_argument_that_is_not_utf8_is_refused() {
    use std::os::unix::ffi::OsStrExt;
    let ran = finish(program().arg("rank").arg(std::ffi::OsStr::from_bytes(b"P04\xff55")));
    assert_eq!(ran.code, 2);
}

/// So many readings said to be abnormal at once; some speak of equipment that excludes other equipment.
fn all_failed(count: usize) -> Vec<String> {
    let base = shipped::base().unwrap();
    let mut args = vec!["rank".to_owned(), "P0455".to_owned(), "--json".to_owned()];
    for reading in base.tests.iter().flat_map(|t| &t.readings).take(count) {
        args.extend(["--result".to_owned(), format!("{}=fail", reading.id)]);
    }
    args
}

#[test]
fn forty_positive_findings_are_answered_or_refused_and_never_nonsense() {
    for count in [12, 40] {
        let ran = run(&all_failed(count));
        if ran.code == 2 {
            assert!(ran.err.contains("positive findings") || ran.err.contains("cannot all be true"), "{}", ran.err);
            continue;
        }
        assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{count}");
        let answer: Value = serde_json::from_str(&ran.out).unwrap();
        for suspect in answer["suspects"].as_array().unwrap() {
            let p = suspect["probability"].as_f64().unwrap();
            assert!((0.0..=1.0).contains(&p), "{suspect}");
        }
    }
}

#[test]
fn a_base_that_is_not_sound_is_refused_by_every_command_and_told_by_check() {
    let cases = [
        ("kb-missing-folder.yaml", "[kb-missing-folder]"),
        ("kb-not-utf8.yaml", "[kb-not-utf8]"),
        ("kb-too-large.yaml", "[kb-too-large]"),
        ("kb-alias.yaml", "[kb-alias]"),
    ];
    for (file, code) in cases {
        let folder = tempfile::tempdir().unwrap();
        lay_out(folder.path(), &bad_kb(file));
        let kb = folder.path().to_str().unwrap();
        let ran = run(&["kb", "check", "--kb", kb]);
        assert_eq!(ran.code, 1, "{file}: {}", ran.err);
        assert!(ran.out.contains(code), "{file}: {}", ran.out);
        refused(&["rank", "P0455", "--kb", kb], &[code, "see them all with"]);
        refused(&["kb", "list", "--kb", kb], &[code]);
    }
}

#[test]
fn an_alias_bomb_is_refused_at_once() {
    let mut text = "name: bomb\na0: &a0 [boom, boom, boom, boom, boom, boom, boom, boom, boom]\n".to_owned();
    for i in 1..12 {
        let inner = vec![format!("*a{}", i - 1); 9].join(", ");
        text.push_str(&format!("a{i}: &a{i} [{inner}]\n"));
    }
    let folder = tempfile::tempdir().unwrap();
    lay_out(folder.path(), &format!("#@ at demo/tools/bomb.yaml\n{text}"));
    let started = std::time::Instant::now();
    let ran = run(&["kb", "check", "--kb", folder.path().to_str().unwrap()]);
    assert_eq!(ran.code, 1);
    assert!(ran.out.contains("demo/tools/bomb.yaml"), "{}", ran.out);
    assert!(started.elapsed().as_secs() < 20);
}

#[test]
fn deep_nesting_and_control_characters_do_no_harm() {
    let deep = format!("name: {}{}\n", "[".repeat(50_000), "]".repeat(50_000));
    let folder = tempfile::tempdir().unwrap();
    lay_out(
        folder.path(),
        &format!("#@ at demo/tools/deep.yaml\n{deep}#@ at demo/tools/esc.yaml\nname: \u{202e}x\nwhta: 1\n"),
    );
    let ran = run(&["kb", "check", "--kb", folder.path().to_str().unwrap()]);
    assert_eq!(ran.code, 1);
    assert!(!ran.out.contains('\u{202e}'), "{}", ran.out);
    refused(&["rank", "P0455", "--symptom", "\u{1b}[31mred\u{7}"], &["no symptom"]);
    let ran = run(&["rank", "P0455", "--symptom", "\u{1b}[31mred\u{7}"]);
    assert!(!ran.err.contains('\u{1b}') && !ran.err.contains('\u{7}'), "{:?}", ran.err);
}

#[test]
fn a_folder_that_is_none_is_told() {
    refused(&["kb", "check", "--kb", "/nowhere/at/all"], &["/nowhere/at/all", "not a folder"]);
    refused(&["rank", "P0455", "--kb", "Cargo.toml"], &["not a folder"]);
    let empty = tempfile::tempdir().unwrap();
    let ran = run(&["kb", "check", "--kb", empty.path().to_str().unwrap()]);
    assert_eq!(ran.code, 1);
    assert!(ran.out.contains("is this the folder of a knowledge base?"), "{}", ran.out);
}

#[test]
fn the_shipped_base_passes_and_can_be_used_from_its_folder() {
    let kb = shipped_folder().to_str().unwrap();
    assert!(done(&["kb", "check", "--kb", kb]).contains("no problem"));
    assert_eq!(done(&["kb", "check", "--quiet"]), "");
    assert_eq!(done(&["rank", "P0441", "--json"]), done(&["rank", "P0441", "--json", "--kb", kb]));
    let ran = finish(program().args(["kb", "list"]).env("FAULTODDS_KB", "/nowhere"));
    assert_eq!(ran.code, 2, "the environment names the base too");
}

#[test]
fn every_json_answer_parses_and_names_its_schema() {
    let asked: [(&[&str], &str); 12] = [
        (&["rank", "P0455", "--json"], "faultodds.rank/1"),
        (&["rank", "P0455", "--already", "filler-cap", "--json"], ""),
        (&["kb", "check", "--json"], "faultodds.problems/1"),
        (&["kb", "show", "P0442", "--json"], "faultodds.entry/1"),
        (&["kb", "show", "purge-valve/leaks", "--json"], "faultodds.entry/1"),
        (&["kb", "show", "purge-valve-hold", "--json"], "faultodds.entry/1"),
        (&["kb", "list", "--json"], "faultodds.kb-kinds/1"),
        (&["kb", "list", "tests", "--json"], "faultodds.list/1"),
        (&["kb", "export", "--json"], "faultodds.network/2"),
        (&["kb", "export", "--vehicle", "age=9,salt"], "faultodds.network/2"),
        (&["kb", "diff", "shipped", "shipped", "--json"], "faultodds.diff/1"),
        (&["kb", "schema", "tests"], ""),
    ];
    for (args, schema) in asked {
        let ran = run(args);
        if schema.is_empty() && ran.code == 2 {
            continue;
        }
        assert_eq!(ran.code, 0, "{args:?} {}", ran.err);
        let value: Value = serde_json::from_str(&ran.out).unwrap_or_else(|e| panic!("{args:?}: {e}"));
        if !schema.is_empty() {
            assert_eq!(value["schema"], schema, "{args:?}");
        }
    }
}

#[test]
fn rank_gives_every_suspect_of_the_network_and_probabilities_that_are_some() {
    let ranked: Value = serde_json::from_str(&done(&["rank", "P0455", "P0441", "--json"])).unwrap();
    let network: Value = serde_json::from_str(&done(&["kb", "export", "--json"])).unwrap();
    let ids = |v: &Value| {
        let mut ids: Vec<String> =
            v["suspects"].as_array().unwrap().iter().map(|s| s["id"].as_str().unwrap().to_owned()).collect();
        ids.sort();
        ids
    };
    assert_eq!(ids(&ranked), ids(&network));
    let mut last = 1.0;
    for s in ranked["suspects"].as_array().unwrap() {
        let get = |k: &str| s[k].as_f64().unwrap();
        let (p, low, high) = (get("probability"), get("low"), get("high"));
        assert!(0.0 <= p && p <= last && last <= 1.0, "in order: {s}");
        assert!(0.0 <= low && low <= high && high <= 1.0, "{s}");
        last = p;
    }
    let said = ranked["evidence"].as_array().unwrap();
    assert_eq!(said.iter().find(|e| e["finding"] == "monitor:leak-check").unwrap()["level"], "P0455");
}

/// ln odds of a suspect in an answer of `rank --json`.
fn ln_odds(answer: &serde_json::Value, suspect: &str) -> f64 {
    let p = answer["suspects"].as_array().unwrap().iter().find(|s| s["id"] == suspect).unwrap()["probability"].clone();
    let p = p.as_f64().unwrap();
    (p / (1.0 - p)).ln()
}

/// What a repair of others is said to have done is the difference between the answers with and without it.
#[test]
fn what_was_already_done_is_among_the_reasons() {
    let asked = |more: &[&str]| -> serde_json::Value {
        serde_json::from_str(&done(&[&["rank", "P0455", "--json"], more].concat())).unwrap()
    };
    let without = asked(&[]);
    let mut before = f64::NEG_INFINITY;
    for (how, mark) in
        [("", "line end"), ("=last year", "(last year)"), ("=cheap", "(cheap)"), ("=second-hand", "(second-hand)")]
    {
        let said = format!("purge-valve/replace{how}");
        let with = asked(&["--already", &said]);
        let repair = &with["repairs"][0];
        assert_eq!(repair["repair"], said);
        for suspect in ["purge-valve/stuck-open", "purge-valve/leaks", "vent-valve/stuck-open"] {
            let change = ln_odds(&with, suspect) - ln_odds(&without, suspect);
            assert!((repair["ln_odds"][suspect].as_f64().unwrap() - change).abs() < 1e-9, "{said} {suspect}");
        }
        // The older or the poorer the part, the less it acquits.
        let change = repair["ln_odds"]["purge-valve/stuck-open"].as_f64().unwrap();
        assert!(change > before && change < -0.4, "{said} {change}");
        before = change;
        for form in [&["--why"][..], &["--why", "--long"]] {
            let shown = done(&[&["rank", "P0455", "--already", &said, "--width", "80"], form].concat());
            let told = shown.split_once("already done: ").unwrap().1.split_once("already done: ").unwrap().1;
            let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
            let factor = if how.is_empty() { "÷16".to_owned() } else { format!("÷{:.1}", (-change).exp()) };
            assert!(told.contains(&format!("purge valve, stuck open {factor}")) && told.contains(mark), "{told}");
        }
    }
    let idle = done(&["rank", "P0455", "--vehicle", "capless", "--already", "filler-cap/replace-cap", "--why"]);
    assert!(idle.split_whitespace().collect::<Vec<_>>().join(" ").contains("it removes no suspect of this car"));
}

#[test]
fn two_runs_answer_alike() {
    let args = ["rank", "P0455", "P0441", "--why", "--vehicle", "age=12,140000km,salt"];
    assert_eq!(done(&args), done(&args));
}

const SCREENS: [&[&str]; 10] = [
    &["rank", "P0455"],
    &["rank", "P0457", "--why", "--vehicle", "age=12,140000km,salt", "--result", "cap-look-reseat=pass"],
    &["rank", "P0455", "--why", "--already", "purge-valve/replace=last year"],
    &["kb", "show", "P0442"],
    &["kb", "show", "purge-valve"],
    &["kb", "show", "purge-valve/leaks"],
    &["kb", "show", "smoke-whole"],
    &["kb", "show", "leak-check"],
    &["kb", "list", "suspects"],
    &["kb", "list"],
];

#[test]
fn colour_only_where_it_is_wanted() {
    for args in SCREENS {
        assert!(!done(args).contains('\u{1b}'), "{args:?}: no terminal, no colour");
        let with = |extra: &[&str]| run(&[args, extra].concat()).out;
        assert!(with(&["--color", "always"]).contains('\u{1b}'), "{args:?}: --color always");
        assert!(!with(&["--color", "never"]).contains('\u{1b}'), "{args:?}: --color never");
    }
    let ran = finish(program().args(["rank", "P0455", "--color", "always"]).env("NO_COLOR", "1"));
    assert!(ran.out.contains('\u{1b}'), "what is typed outranks NO_COLOR");
    let ran = finish(program().args(["rank", "P0455"]).env("NO_COLOR", "1").env("CLICOLOR_FORCE", "0"));
    assert!(!ran.out.contains('\u{1b}'));
    assert!(!run(&["rank", "P9999"]).err.contains('\u{1b}'));
    let json = run(&["rank", "P0455", "--json", "--color", "always"]).out;
    assert!(!json.contains('\u{1b}'), "JSON is never coloured");
}

#[test]
fn no_line_is_wider_than_the_terminal() {
    let planned: [&[&str]; 4] =
        [&["next", "P0401"], &["next", "P0443", "--minutes-only"], &["plan", "P0443"], &["quote", "P0443"]];
    for args in SCREENS.into_iter().chain(planned) {
        for width in [60, 80, 140] {
            let out = done(&[args, &["--width", &width.to_string()][..]].concat());
            for line in out.lines() {
                assert!(line.width() <= width, "{args:?} at {width}: {} columns: {line}", line.width());
            }
        }
    }
}

#[test]
fn every_entry_can_be_shown_within_80_columns() {
    let base = shipped::base().unwrap();
    let mut ids: Vec<&str> = Vec::new();
    // Some of every kind; all of them would take minutes, since each is a program start.
    ids.extend(base.codes.iter().step_by(5).map(|e| e.id.as_str()));
    ids.extend(base.tests.iter().step_by(5).map(|e| e.id.as_str()));
    ids.extend(base.parts.iter().step_by(5).map(|e| e.id.as_str()));
    ids.extend(base.symptoms.iter().step_by(9).map(|e| e.id.as_str()));
    ids.extend(base.monitors.iter().step_by(4).map(|e| e.id.as_str()));
    ids.extend(base.suspects().step_by(15).map(|(_, s)| s.id.as_str()));
    ids.extend(base.tools.iter().step_by(9).map(|e| e.id.as_str()));
    ids.extend(base.setups.iter().step_by(4).map(|e| e.id.as_str()));
    ids.extend(base.cautions.iter().step_by(4).map(|e| e.id.as_str()));
    ids.extend(base.sources.iter().step_by(4).map(|e| e.id.as_str()));
    ids.extend(base.factors.iter().step_by(4).map(|e| e.id.as_str()));
    for id in ids {
        for line in done(&["kb", "show", id, "--width", "80"]).lines() {
            assert!(line.width() <= 80, "{id}: {} columns: {line}", line.width());
        }
    }
}

#[test]
fn a_test_prints_its_cautions_before_its_steps() {
    let out = done(&["kb", "show", "smoke-whole"]);
    let at = |what: &str| out.find(what).unwrap_or_else(|| panic!("{what} is not in {out}"));
    assert!(at("local rules") < at("\n    1. ") && at("Low pressure only") < at("\n    1. "), "{out}");
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    for args in [&["kb", "export", "--json"][..], &["kb", "list", "suspects"], &["kb", "schema"]] {
        let mut child = program().args(args).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        let mut first = String::new();
        BufReader::with_capacity(16, child.stdout.take().unwrap()).read_line(&mut first).unwrap();
        let output = child.wait_with_output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{args:?} {}", String::from_utf8_lossy(&output.stderr));
        assert!(output.stderr.is_empty(), "{args:?}");
    }
}

#[test]
fn diff_names_the_change_and_answers_no() {
    let folder = tempfile::tempdir().unwrap();
    copy_folder(shipped_folder(), folder.path());
    let changed = folder.path().to_str().unwrap();
    assert!(done(&["kb", "diff", "shipped", changed]).contains("say the same"));
    edit(&folder.path().join("evap/tests/purge-valve-hold.yaml"), "minutes: 8", "minutes: 9");
    edit(&folder.path().join("evap/parts/service-port.yaml"), "prior: 0.0030", "prior: 0.0040");
    std::fs::remove_file(folder.path().join("evap/cases/cap-code-alone.yaml")).unwrap();
    let ran = run(&["kb", "diff", "shipped", changed]);
    assert_eq!(ran.code, 1, "{}", ran.err);
    for piece in
        ["purge-valve-hold", "service-port/core-leaks", "0.003", "0.004", "cap-code-alone", "only in the older base"]
    {
        assert!(ran.out.contains(piece), "{piece}: {}", ran.out);
    }
    let ran = run(&["kb", "diff", "shipped", changed, "--json"]);
    let told: Value = serde_json::from_str(&ran.out).unwrap();
    let hold: Vec<&Value> = told["differences"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|d| d["at"].as_str().unwrap().contains("purge-valve-hold"))
        .collect();
    assert_eq!(hold.len(), 1, "{hold:?}");
    assert_eq!((hold[0]["old"].as_f64(), hold[0]["new"].as_f64()), (Some(8.0), Some(9.0)));
    refused(&["kb", "diff", "shipped", "/nowhere"], &["/nowhere"]);
}

fn edit(path: &Path, old: &str, new: &str) {
    let text = std::fs::read_to_string(path).unwrap();
    assert!(text.contains(old), "{} no longer holds `{old}`", path.display());
    std::fs::write(path, text.replacen(old, new, 1)).unwrap();
}

#[test]
fn completions_and_man_pages_are_made() {
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        assert!(done(&["completions", shell]).contains("faultodds"), "{shell}");
    }
    let folder = tempfile::tempdir().unwrap();
    done(&["man-pages", folder.path().to_str().unwrap()]);
    assert!(folder.path().join("faultodds.1").is_file() && folder.path().join("faultodds-rank.1").is_file());
}

#[test]
fn screens_look_as_they_looked() {
    let screens: [(&str, &[&str]); 4] = [
        ("rank P0455", &["rank", "P0455"]),
        ("rank P0455 P0441 why", &["rank", "P0455", "P0441", "--why"]),
        ("rank P0457", &["rank", "P0457"]),
        ("kb show purge-valve-hold", &["kb", "show", "purge-valve-hold"]),
    ];
    for (name, args) in screens {
        insta::assert_snapshot!(name, done(&[args, &["--width", "80"][..]].concat()));
    }
    let folder = tempfile::tempdir().unwrap();
    let changes: String = ["unknown-suspect", "probability", "missing-caution", "not-utf8"]
        .map(|code| bad_kb(&format!("kb-{code}.yaml")))
        .concat();
    lay_out(folder.path(), &changes);
    let kb = folder.path().to_str().unwrap();
    let ran = run(&["kb", "check", "--kb", kb, "--width", "80"]);
    assert_eq!(ran.code, 1);
    insta::assert_snapshot!("kb check of a bad base", ran.out.replace(kb, "KB"));
}

#[test]
fn an_entry_is_shown_as_it_is_on_a_car_and_in_a_job() {
    let any = done(&["kb", "show", "cap-leak-test"]);
    let vented = done(&["kb", "show", "cap-leak-test", "--vehicle", "vented-tank"]);
    assert!(any.contains("If the car has sealed tank") && !vented.contains("If the car has sealed tank"), "{vented}");
    let capless = done(&["kb", "show", "cap-leak-test", "--vehicle", "capless"]);
    assert!(capless.contains("not for this car"), "{capless}");
    let suspect = done(&["kb", "show", "filler-cap/loose", "--vehicle", "capless"]);
    assert!(suspect.contains("(this car has not)"), "{suspect}");
    refused(&["kb", "show", "P0455", "--vehicle", "sealed-tnak"], &["did you mean"]);

    let folder = tempfile::tempdir().unwrap();
    let store = folder.path().join("jobs.sqlite");
    let db = store.to_str().unwrap();
    done(&["job", "open", "P0455", "--vehicle", "screw-cap", "--db", db]);
    let shown = done(&["kb", "show", "filler-cap/loose", "--job", "1", "--db", db]);
    let ranked: Value = serde_json::from_str(&done(&["rank", "--job", "1", "--db", db, "--json"])).unwrap();
    let suspects = ranked["suspects"].as_array().unwrap();
    let loose = suspects.iter().find(|s| s["id"] == "filler-cap/loose").unwrap()["probability"].as_f64().unwrap();
    let told = shown.lines().last().unwrap();
    assert!(told.trim_start().starts_with(&format!("{:.0} %", loose * 100.0)), "{told} {loose}");
    refused(
        &["kb", "show", "P0455", "--job", "1", "--vehicle", "diesel", "--db", db],
        &["only one of them", "faultodds job amend"],
    );
}

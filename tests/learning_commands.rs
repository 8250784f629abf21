//! `past`, `tune`, `score` and `--overlay` from outside, on the demo shop: from a spreadsheet to a verdict.

mod support;

use serde_json::Value;
use std::fs;
use std::path::Path;
use support::Desk;

impl Desk {
    fn json(&self, args: &[&str]) -> Value {
        serde_json::from_str(&self.run(args).out).unwrap()
    }

    fn with_jobs() -> Self {
        let shop = Self::new();
        let r = shop.run(&["past", "import", &demo("past.csv"), "--mapping", &demo("past-mapping.yaml")]);
        assert_eq!(r.code, 0, "{}", r.err);
        shop
    }
}

fn demo(name: &str) -> String {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data-demo").join(name).display().to_string()
}

#[test]
fn the_demo_comes_in_once_and_a_dry_run_leaves_nothing() {
    let shop = Desk::new();
    let args = ["past", "import", &demo("past.csv"), "--mapping", &demo("past-mapping.yaml"), "--json"];
    let dry = shop.json(&[&args[..], &["--dry-run"]].concat());
    assert!(!shop.path("past.db").exists(), "a dry run makes no store");
    let first = shop.json(&args);
    assert_eq!(dry["kept"], first["kept"]);
    let sum: u64 = ["kept", "held", "known", "changed", "refused"].iter().map(|k| first[k].as_u64().unwrap()).sum();
    assert_eq!(sum, first["rows"].as_u64().unwrap(), "no row is dropped silently: {first}");
    assert_eq!(first["refused"].as_u64().unwrap(), first["refusals"].as_array().unwrap().len() as u64);
    let again = shop.json(&args);
    assert_eq!((again["kept"].as_u64(), again["held"].as_u64()), (Some(0), Some(0)));
    assert_eq!(again["known"].as_u64().unwrap(), first["kept"].as_u64().unwrap() + first["held"].as_u64().unwrap());
}

#[test]
fn held_causes_go_out_to_be_edited_and_come_back() {
    let shop = Desk::with_jobs();
    let held = shop.run(&["past", "held"]).out;
    assert!(held.contains("cause: \"?\""));
    let before = shop.json(&["past", "show", "--json"])["jobs"]["held"].as_u64().unwrap();
    fs::write(shop.path("held.yaml"), held.replacen("cause: \"?\"", "cause: unsure", 1)).unwrap();
    let r = shop.run(&["past", "decide", shop.path("held.yaml").to_str().unwrap()]);
    assert_eq!(r.code, 0, "{}", r.err);
    assert!(shop.json(&["past", "show", "--json"])["jobs"]["held"].as_u64().unwrap() < before);
    fs::write(shop.path("bad.yaml"), held.replacen("cause: \"?\"", "cause: filler-cap/seal-wron", 1)).unwrap();
    let r = shop.run(&["past", "decide", shop.path("bad.yaml").to_str().unwrap()]);
    assert_eq!(r.code, 2);
    let said = r.err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("did you mean") && said.contains("line 7"), "{said}");
}

#[test]
fn what_is_learned_is_laid_over_the_base_and_taken_away_again() {
    let shop = Desk::with_jobs();
    let overlay = shop.path("overlay.yaml");
    let overlay = overlay.to_str().unwrap();
    assert_eq!(shop.run(&["tune", "--dry-run", "--out", overlay]).code, 0);
    assert!(!Path::new(overlay).exists());
    assert_eq!(shop.run(&["tune", "--out", overlay]).code, 0);
    let plain = shop.run(&["rank", "P0455", "--json"]).out;
    let tuned = shop.run(&["rank", "P0455", "--json", "--overlay", overlay]).out;
    assert_ne!(plain, tuned);
    assert_eq!(plain, shop.run(&["rank", "P0455", "--json"]).out);
    let again = fs::read_to_string(overlay).unwrap();
    assert_eq!(shop.run(&["tune", "--out", overlay, "--overlay", overlay]).code, 0);
    assert_eq!(
        fs::read_to_string(overlay).unwrap(),
        again,
        "the same jobs give the same overlay, whatever lies over the base"
    );
    fs::write(overlay, again.replacen("old: 0.0", "old: 0.1", 1)).unwrap();
    let r = shop.run(&["rank", "P0455", "--overlay", overlay]);
    assert_eq!(r.code, 2);
    assert!(r.err.contains("overlay.yaml:") && r.err.contains("made for"), "{}", r.err);
}

#[test]
fn counts_of_two_shops_are_merged_without_their_jobs() {
    let shop = Desk::with_jobs();
    let counts = shop.path("counts.json");
    fs::write(&counts, shop.run(&["past", "counts", "--least", "1"]).out).unwrap();
    let counts = counts.to_str().unwrap();
    let own = shop.json(&["tune", "--dry-run", "--json"]);
    let told = shop.json(&["tune", "--dry-run", "--json", "--counts", counts]);
    assert_eq!(own, told);
    let both = shop.json(&["tune", "--dry-run", "--json", "--counts", counts, counts]);
    assert_eq!(both["jobs"].as_f64().unwrap(), 2.0 * own["jobs"].as_f64().unwrap());
    fs::write(counts, "{}").unwrap();
    assert_eq!(shop.run(&["tune", "--counts", counts]).code, 2);
}

#[test]
fn learning_helped_the_demo_shop_and_says_by_how_much() {
    let shop = Desk::with_jobs();
    let svg = shop.path("plot.svg");
    let r = shop.run(&["score", "--json", "--refits", "4", "--plans", "0", "--svg", svg.to_str().unwrap()]);
    assert_eq!(r.code, 0, "{}", r.out);
    let told: Value = serde_json::from_str(&r.out).unwrap();
    assert_eq!(told["verdict"], "better");
    assert!(told["gain_over_shipped"]["log"]["low"].as_f64().unwrap() > 0.0);
    assert!(fs::read_to_string(svg).unwrap().starts_with("<svg"));
}

#[test]
fn plans_are_weighed_against_what_was_spent() {
    let shop = Desk::with_jobs();
    let score = |more: &[&str]| shop.json(&[&["score", "--json", "--refits", "1", "--first", "0.8"], more].concat());
    let told = score(&["--plans", "12", "--shop", &demo("shop.yaml"), "--past-only"]);
    assert_eq!((told["plans"].as_u64(), told["currency"].as_str()), (Some(12), Some("crown")));
    for forecast in ["shipped", "tuned", "base-rate"] {
        let cost = told["means"][forecast]["plan-cost"].as_f64().unwrap();
        let minutes = told["means"][forecast]["plan-minutes"].as_f64().unwrap();
        // A repair and a re-test at least; at most handing on after much looking.
        assert!((20.0..3_000.0).contains(&cost) && (10.0..1_000.0).contains(&minutes), "{told}");
    }
    let gain = &told["gain_over_shipped"]["plan-cost"];
    assert!(gain["low"].as_f64().unwrap() <= gain["mean"].as_f64().unwrap());
    assert_eq!(gain["clear"], false, "twelve jobs are too few to tell, whatever their interval");
    let noted = &told["minutes_noted"];
    assert!(noted["jobs"].as_u64().unwrap() <= 12 && noted["mean"].as_f64().unwrap() > 10.0, "{noted}");
    let without = score(&["--plans", "0"]);
    assert!(without["means"]["tuned"].get("plan-cost").is_none());
    assert_eq!(without["means"]["tuned"]["log"], told["means"]["tuned"]["log"], "plans do not change forecasts");
}

#[test]
fn make_and_model_count_where_the_shops_jobs_tell_them_apart() {
    let shop = Desk::with_jobs();
    let overlay = shop.path("overlay.yaml");
    let overlay = overlay.to_str().unwrap();
    assert_eq!(shop.run(&["tune", "--out", overlay]).code, 0);
    let text = fs::read_to_string(overlay).unwrap();
    // The demo's Heron has weak vent valves; the file says so whatever the figure.
    let heron = text.lines().find(|l| l.contains("by: model") && l.contains("orlo heron") && l.contains("vent-valve"));
    assert!(heron.is_some(), "{}", text.lines().filter(|l| l.contains("by: ")).collect::<Vec<_>>().join("\n"));
    let vent = |args: &[&str]| {
        let told = shop.json(&[&["rank", "P0455", "--json", "--overlay", overlay], args].concat());
        let all = told["suspects"].as_array().unwrap().clone();
        let of = |s: &&Value| s["id"].as_str().unwrap().starts_with("vent-valve/");
        all.iter().filter(of).map(|s| s["probability"].as_f64().unwrap()).sum::<f64>()
    };
    let (any, is_heron) = (vent(&[]), vent(&["--make", "ORLO", "--model", " heron"]));
    assert!(is_heron > 1.3 * any, "{is_heron} {any}");
    assert_eq!(vent(&["--make", "Nobody", "--model", "Nothing"]), any);
    let said = shop.run(&["rank", "P0455", "--overlay", overlay, "--make", "Orlo", "--model", "Heron"]);
    assert!(said.err.contains("orlo heron") && said.err.contains("vent-valve"), "{}", said.err);
    let said = shop.run(&["rank", "P0455", "--make", "Orlo"]);
    assert!(said.code == 0 && said.err.contains("without an overlay"), "{}", said.err);
    assert_eq!(shop.run(&["rank", "P0455", "--model", "Heron"]).code, 2, "a model without its make");

    // The same for planning and for a job, which keeps make and model itself.
    let next = |args: &[&str]| shop.json(&[&["next", "--json", "--overlay", overlay], args].concat())["steps"].clone();
    assert_ne!(next(&["P0455"]), next(&["P0455", "--make", "Orlo", "--model", "Heron"]));
    let opened = shop.run(&["job", "open", "P0455", "--make", "Orlo", "--model", "Heron"]);
    assert_eq!(opened.code, 0, "{}", opened.err);
    assert_eq!(next(&[]), next(&["P0455", "--make", "Orlo", "--model", "Heron"]));
    let shown = shop.json(&["job", "show", "--json", "--overlay", overlay]).to_string();
    let plain = shop.json(&["job", "show", "--json"]).to_string();
    assert_ne!(shown, plain);
}

/// Every line that the demo's README tells one to type, in its order.
#[test]
fn the_demos_readme_can_be_followed() {
    let shop = Desk::new();
    let readme = fs::read_to_string(demo("README.md")).unwrap();
    let lines: Vec<&str> = readme.lines().filter_map(|l| l.strip_prefix("    faultodds ")).collect();
    assert!(lines.len() > 10);
    for line in lines {
        let (args, into) = line.split_once(" > ").map_or((line, None), |(a, f)| (a, Some(f.trim())));
        // Words in double quotes are one.
        let pieces = args.split('"').enumerate().flat_map(|(i, piece)| match i % 2 {
            1 => vec![piece],
            _ => piece.split_whitespace().collect(),
        });
        let args: Vec<String> = pieces
            .map(|a| match a {
                _ if a.starts_with("data-demo/") => demo(a.trim_start_matches("data-demo/")),
                _ if a.ends_with(".yaml") || a.ends_with(".json") || a.ends_with(".svg") || a.ends_with(".new") => {
                    shop.path(a).display().to_string()
                }
                _ => a.to_owned(),
            })
            .collect();
        // Learning anew less often tells the same, sooner.
        let sooner = ["--refits".to_owned(), "1".to_owned()];
        let args = if args[0] == "score" { [args, sooner.to_vec()].concat() } else { args };
        let ran = shop.run(&args.iter().map(String::as_str).collect::<Vec<_>>());
        assert_eq!(ran.code, 0, "faultodds {line}: {}", ran.err);
        assert!(!ran.out.is_empty(), "faultodds {line}");
        if let Some(file) = into {
            fs::write(shop.path(file), ran.out).unwrap();
        }
    }
    assert_eq!(shop.run(&["past", "show"]).code, 1, "the last line starts over");
}

#[test]
fn without_jobs_nothing_is_claimed() {
    let shop = Desk::new();
    for args in [&["past", "show"][..], &["past", "held"], &["tune", "--dry-run"], &["score"], &["score", "--json"]] {
        let r = shop.run(args);
        assert_eq!(r.code, 1, "{args:?} {}", r.err);
    }
    let few = shop.path("few.csv");
    let clean = fs::read_to_string(demo("clean.csv")).unwrap();
    fs::write(&few, clean.lines().take(25).collect::<Vec<_>>().join("\n")).unwrap();
    let r = shop.run(&["past", "import", few.to_str().unwrap(), "--mapping", &demo("clean-mapping.yaml")]);
    assert_eq!(r.code, 0, "{}", r.err);
    let r = shop.run(&["score"]);
    assert_eq!(r.code, 1);
    assert!(r.out.contains("Too few jobs to tell"), "{}", r.out);
}

#[test]
fn what_cannot_be_read_is_refused_and_nothing_is_kept() {
    let shop = Desk::new();
    let (file, mapping) = (shop.path("bad.csv"), demo("clean-mapping.yaml"));
    let clean = fs::read_to_string(demo("clean.csv")).unwrap();
    for (text, told) in [
        (clean.replacen("codes", "kodes", 1), "no column `codes`"),
        (String::new(), "empty"),
        (clean + "9999,2020-01-01,\"never closed\n" + &"x,\n".repeat(600_000), "not closed"),
    ] {
        fs::write(&file, text).unwrap();
        let r = shop.run(&["past", "import", file.to_str().unwrap(), "--mapping", &mapping]);
        let said = r.err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(r.code == 2 && said.contains(told), "{} {said}", r.code);
        assert_eq!(shop.run(&["past", "show"]).code, 1);
    }
    let r = shop.run(&["past", "import", "/nowhere.csv", "--mapping", &mapping]);
    assert_eq!(r.code, 2);
    let draft = shop.run(&["past", "map", &demo("past.csv")]);
    fs::write(shop.path("draft.yaml"), draft.out).unwrap();
    let r = shop.run(&["past", "import", &demo("past.csv"), "--mapping", shop.path("draft.yaml").to_str().unwrap()]);
    assert!(r.code == 2 && r.err.contains("unit of mileage"), "a draft asks to be filled in: {}", r.err);
}

/// A letter that changes on the disk is told by the check, and by whatever counts.
#[test]
fn damage_to_past_jobs_names_the_import_and_bringing_it_in_again_heals() {
    let shop = Desk::new();
    let import = ["past", "import", &demo("clean.csv"), "--mapping", &demo("clean-mapping.yaml")];
    assert_eq!(shop.run(&["past", "check"]).code, 0);
    assert_eq!(shop.run(&import).code, 0);
    let whole = shop.run(&["past", "check"]);
    assert!(whole.code == 0 && whole.out.contains("120 past jobs, all whole"), "{}", whole.out);
    let mut bytes = fs::read(shop.path("past.db")).unwrap();
    // The last digit of a code.
    let at = bytes.windows(5).rposition(|w| w == b"P0455").unwrap();
    bytes[at + 4] ^= 1;
    fs::write(shop.path("past.db"), bytes).unwrap();
    let check = shop.run(&["past", "check"]);
    assert!(check.code == 1 && check.out.contains("import 1 is not what was stored"), "{}", check.out);
    for (args, code) in [
        (&["past", "counts"][..], 1),
        (&["past", "export", shop.path("tables").to_str().unwrap()], 1),
        (&["tune", "--dry-run"], 0),
        (&["score", "--plans", "0", "--refits", "2"], 0),
    ] {
        let r = shop.run(args);
        assert!(r.code == code && r.err.contains("import 1 is not what was stored"), "{args:?}: {} {}", r.code, r.err);
    }
    // A decision is written, and does not make the rest whole.
    assert_eq!(shop.run(&["past", "decide", "--words", "unknown", "--cause", "unsure"]).code, 0);
    assert_eq!(shop.run(&["past", "check"]).code, 1);
    assert_eq!(shop.run(&["past", "forget", "1", "--yes"]).code, 0);
    assert_eq!(shop.run(&import).code, 0);
    let healed = shop.run(&["past", "check"]);
    assert!(healed.code == 0 && healed.err.is_empty(), "{} {}", healed.out, healed.err);
}

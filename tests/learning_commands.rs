//! `past`, `tune`, `score` and `--overlay` from outside, on the demo shop: from a spreadsheet to a verdict.

mod support;

use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use support::{Ran, finish, program};

struct Shop {
    folder: tempfile::TempDir,
}

impl Shop {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn run(&self, args: &[&str]) -> Ran {
        let mut command = program();
        command.env("FAULTODDS_PAST", self.path("past.db")).env("FAULTODDS_DB", self.path("jobs.db"));
        command.env_remove("FAULTODDS_OVERLAY");
        finish(command.args(args))
    }

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
    let shop = Shop::new();
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
    let shop = Shop::with_jobs();
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
    assert!(said.contains("did you mean") && said.contains("line 5"), "{said}");
}

#[test]
fn what_is_learned_is_laid_over_the_base_and_taken_away_again() {
    let shop = Shop::with_jobs();
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
    let shop = Shop::with_jobs();
    let counts = shop.path("counts.json");
    fs::write(&counts, shop.run(&["past", "counts"]).out).unwrap();
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
    let shop = Shop::with_jobs();
    let svg = shop.path("plot.svg");
    let r = shop.run(&["score", "--json", "--svg", svg.to_str().unwrap()]);
    assert_eq!(r.code, 0, "{}", r.out);
    let told: Value = serde_json::from_str(&r.out).unwrap();
    assert_eq!(told["verdict"], "better");
    assert!(told["gain_over_shipped"]["log"]["low"].as_f64().unwrap() > 0.0);
    assert!(fs::read_to_string(svg).unwrap().starts_with("<svg"));
}

#[test]
fn without_jobs_nothing_is_claimed() {
    let shop = Shop::new();
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
    let shop = Shop::new();
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

//! Pages from outside: what people wrote is harmless in each, nothing points out of the file, and the shapes hold. What
//! only a browser can tell is in `tests/pages`.

use std::path::Path;
use std::process::Command;

const NASTY: &str = "</script><script>alert(1)</script><img src=x onerror=alert(1)>\u{202e}evil\u{200f} & \"'";

/// Runs the program with its files in that folder.
fn odds(home: &Path, args: &[&str]) -> (Option<i32>, String, String) {
    let mut program = Command::new(env!("CARGO_BIN_EXE_faultodds"));
    for name in ["FAULTODDS_KB", "FAULTODDS_OVERLAY", "FAULTODDS_SHOP", "FAULTODDS_JOB", "NO_COLOR"] {
        program.env_remove(name);
    }
    for name in ["HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME"] {
        program.env(name, home);
    }
    program.env("FAULTODDS_DB", home.join("jobs.db")).env("FAULTODDS_PAST", home.join("past.db"));
    let ran = program.args(args).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (ran.status.code(), text(&ran.stdout), text(&ran.stderr))
}

#[track_caller]
fn page(home: &Path, args: &[&str]) -> String {
    let (code, out, err) = odds(home, args);
    assert_eq!(code, Some(0), "{args:?}: {err}");
    out
}

/// Holds of every page: only its own script, nothing from elsewhere, no sign that turns the direction of what follows.
#[track_caller]
fn harmless(page: &str, scripts: usize) {
    assert!(page.starts_with("<!DOCTYPE html>") && page.trim_end().ends_with("</html>"));
    assert_eq!(page.matches("<script").count(), scripts);
    assert_eq!(page.matches("</script>").count(), scripts);
    assert!(!page.contains("<img") && !page.contains(['\u{202e}', '\u{200f}']));
    for outside in ["http://", "https://", "url(", "@import", "unsafe-"] {
        assert!(!page.contains(outside), "{outside}");
    }
    assert!(page.contains("default-src 'none'") || page.contains("default-src &#39;none&#39;"), "a policy");
    assert!(page.len() < 400 * 1024, "{} bytes", page.len());
}

fn closed_job(home: &Path) {
    let long = format!("{NASTY} {}", "w".repeat(10_000));
    for args in [
        &["job", "open", "P0455", "--vehicle", "age=9,screw-cap", "--reference", &long, "--make", NASTY][..],
        &["job", "record", "cap-look-reseat=pass", "--minutes", "4"],
        &["job", "record", "smoke-tank-side:filler=fail", "--minutes", "30"],
        &["job", "note", &long, "--on", "smoke-tank-side:filler"],
        &["job", "repair", "filler-neck/replace", "--note", &long, "--minutes", "70", "--cost", "120"],
        &["job", "retest", "--ran"],
        &["job", "close", "--cause", "filler-neck/rusted-through", "--how", &long],
    ] {
        let (code, _, err) = odds(home, args);
        assert_eq!(code, Some(0), "{err}");
    }
}

#[test]
fn words_of_people_are_harmless_in_a_report() {
    let home = tempfile::tempdir().unwrap();
    closed_job(home.path());
    for args in [&["report"][..], &["report", "--workshop", "--rate", "90"], &["report", "--job", "1"]] {
        let report = page(home.path(), args);
        harmless(&report, 0);
        assert!(report.contains("&lt;script&gt;alert(1)") && report.contains("<bdi>"));
    }
    let told = page(home.path(), &["report", "--rate", "90"]);
    // 104 min at 90 an hour are 156; with parts for 120 together 276.
    for words in ["What was found", "156.00 EUR", "Together: 276.00 EUR", "What was proved, and how", "What to watch"] {
        assert!(told.contains(words), "{words}");
    }
    assert!(!told.contains("Petrol vapour"), "cautions of the workshop stay off the customer's page");
    assert!(page(home.path(), &["report", "--workshop"]).contains("Petrol vapour"));
    assert!(!page(home.path(), &["report"]).contains("EUR"), "an example rate is no bill");
}

#[test]
fn a_report_without_a_job_says_what_to_do() {
    let home = tempfile::tempdir().unwrap();
    let (code, out, err) = odds(home.path(), &["report"]);
    assert_eq!((code, out.as_str()), (Some(2), ""));
    assert!(err.contains("faultodds job open"), "{err}");
}

#[test]
fn the_plan_page_is_whole_and_harmless() {
    let home = tempfile::tempdir().unwrap();
    let long = format!("{NASTY} {}", "w".repeat(10_000));
    let plan = page(home.path(), &["plan", "P0455", "--form", "html", "--make", &long, "--engine", NASTY]);
    harmless(&plan, 2);
    // Cautions stand before the steps of their card.
    let card = &plan[plan.find("id=\"card-0\"").unwrap()..];
    assert!(card.find("cautions").unwrap() < card.find("<ol>").unwrap());
    assert!(plan.contains("id=\"caution-"));
    let data = plan.split_once("id=\"data\">").unwrap().1.split_once("</script>").unwrap().0;
    let data: serde_json::Value = serde_json::from_str(data).unwrap();
    let opening = data["opening"].as_str().unwrap();
    assert!(opening.starts_with("faultodds job open P0455") && !opening.contains(['\n', '$', '`']), "{opening}");
    // Worlds are probabilities, and suspects are known.
    let worlds = data["worlds"].as_array().unwrap();
    let sum: f64 = worlds.iter().map(|w| w[0].as_f64().unwrap()).sum();
    assert!(sum > 0.95 && sum < 1.001, "{sum}");
    let suspects = data["suspects"].as_array().unwrap().len();
    assert!(worlds.iter().flat_map(|w| w[1].as_array().unwrap()).all(|s| s.as_u64().unwrap() < suspects as u64));
}

/// With one cut the page has the nodes of `plan --json`, in the same order.
#[test]
fn the_page_has_the_steps_of_the_plan() {
    let home = tempfile::tempdir().unwrap();
    let cut = ["--depth", "9", "--least", "1"];
    let with = |more: &[&str]| page(home.path(), &[&["plan", "P0443"][..], &cut, more].concat());
    let plan: serde_json::Value = serde_json::from_str(&with(&["--json"])).unwrap();
    let text = with(&["--form", "html"]);
    let data = text.split_once("id=\"data\">").unwrap().1.split_once("</script>").unwrap().0;
    let data: serde_json::Value = serde_json::from_str(data).unwrap();
    let mut ids = Vec::new();
    steps(&plan["plan"], &mut ids);
    let own: Vec<String> =
        data["nodes"].as_array().unwrap().iter().map(|n| n["id"].as_str().unwrap().to_owned()).collect();
    assert_eq!(own, ids);
}

fn steps(node: &serde_json::Value, out: &mut Vec<String>) {
    out.push(node["id"].as_str().unwrap().to_owned());
    for o in node["outcomes"].as_array().unwrap() {
        if o["then"].is_object() {
            steps(&o["then"], out);
        }
    }
}

#[test]
fn a_job_is_planned_by_its_number() {
    let home = tempfile::tempdir().unwrap();
    odds(home.path(), &["job", "open", "P0443", "--reference", NASTY]);
    let plan = page(home.path(), &["plan", "--form", "html"]);
    harmless(&plan, 2);
    assert!(plan.contains("faultodds job use --job 1"));
}

#[test]
fn bars_are_drawn_for_codes_and_for_a_job() {
    let home = tempfile::tempdir().unwrap();
    odds(home.path(), &["job", "open", "P0443", "--reference", NASTY]);
    for args in [&["rank", "P0455", "--form", "svg"][..], &["rank", "--job", "1", "--form", "svg", "--top", "3"]] {
        let drawing = page(home.path(), args);
        assert!(drawing.starts_with("<svg") && !drawing.contains("<script") && !drawing.contains('\u{202e}'));
        assert!(drawing.matches("class=\"bar\"").count() >= 3 && drawing.contains("class=\"span\""));
    }
}

#[test]
fn the_shop_figures_have_intervals() {
    let home = tempfile::tempdir().unwrap();
    let (code, out, err) = odds(home.path(), &["past", "report"]);
    assert_eq!((code, out.as_str()), (Some(1), ""), "{err}");
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("data-demo");
    let rows = std::fs::read(demo.join("past.csv")).unwrap();
    let some: Vec<&[u8]> = rows.split(|b| *b == b'\n').take(240).collect();
    let file = home.path().join("past.csv");
    std::fs::write(&file, some.join(&b'\n')).unwrap();
    let mapping = demo.join("past-mapping.yaml");
    page(home.path(), &["past", "import", file.to_str().unwrap(), "--mapping", mapping.to_str().unwrap()]);
    let json = page(home.path(), &["past", "report", "--json", "--tool", "smoke-machine"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["schema"], "faultodds.past-report/1");
    assert_eq!(json["comebacks"]["closed"], 0);
    let inside = |v: &serde_json::Value| {
        let of = |k: &str| v[k].as_f64().unwrap();
        assert!(of("low") <= of("mean") && of("mean") <= of("high"), "{v}");
    };
    inside(&json["first_suspect"]["tuned"]["first"]);
    inside(&json["tools"][0]["saves"]);
    inside(&json["minutes_each"]);
    assert!(!json["parts"].as_array().unwrap().is_empty());
}

//! The base seen from outside: every kind of problem has a file that causes it, planted errors are all found at their
//! lines, and every shipped entry keeps the house rules. `INSTA_UPDATE=always cargo test --test base` renews the
//! reports, which are then read as a diff.

mod support;

use faultodds::knowledge::files::{Folder, KbFile};
use faultodds::knowledge::{ProblemCode, check, check_one};
use faultodds::planning::cases;
use faultodds::screens::problems;
use serde_json::Value;
use std::collections::BTreeSet;
use support::{bad_kb, copy_folder, files_of, lay_out, run, shipped_folder};

/// The report on the smallest good base with these changes, and the codes in it.
fn report(changes: &str) -> (String, BTreeSet<&'static str>) {
    let folder = tempfile::tempdir().unwrap();
    lay_out(folder.path(), changes);
    let mut checked = check(&Folder(folder.path()));
    if checked.problems.is_empty() {
        checked.problems = cases::run(&checked.base);
    }
    let codes = checked.problems.iter().map(|p| p.code.word()).collect();
    let text = problems::report(&checked.problems, &checked.files, "kb", 100);
    (anstream::adapter::strip_str(&text).to_string(), codes)
}

#[test]
fn the_smallest_good_base_is_good() {
    let (text, codes) = report("");
    assert!(codes.is_empty(), "{text}");
}

#[test]
fn every_kind_of_problem_has_a_file_that_causes_it_and_nothing_else() {
    let mut wrong = Vec::new();
    for code in ProblemCode::WORDS {
        if cfg!(not(unix)) && *code == "kb-unreadable" {
            continue;
        }
        let (text, codes) = report(&bad_kb(&format!("{code}.yaml")));
        if codes != BTreeSet::from([*code]) {
            wrong.push(format!("{code}.yaml gives {codes:?}\n{text}"));
            continue;
        }
        insta::assert_snapshot!(*code, text);
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A repair that holds the work of a setup brings what the setup brings.
#[test]
fn a_repair_carries_the_cautions_of_what_it_reaches() {
    let good = bad_kb("good.base");
    let repair = "minutes: 1\n    parts_cost: 0\n    removes: [loose]\n";
    let longer = "minutes: 30\n    parts_cost: 0\n    removes: [loose]\n    reaches: [warm-engine]\n";
    let reaching = good.replace(repair, longer);
    assert_ne!(good, reaching);
    let part = |text: &str| text.split("#@ at ").find(|p| p.starts_with("demo/parts/cap.yaml")).unwrap().to_owned();
    let (text, codes) = report(&format!("#@ at {}", part(&reaching)));
    assert_eq!(codes, BTreeSet::from(["kb-missing-caution"]), "{text}");
    assert!(text.contains("`warm-engine`, which it reaches,"), "{text}");
    let cautious = part(&reaching).replace("    fails: 0.02\n", "    fails: 0.02\n    cautions: [hot-metal]\n");
    let (text, codes) = report(&format!("#@ at {cautious}"));
    assert!(codes.is_empty(), "{text}");
}

#[test]
fn no_file_of_the_catalogue_is_left_over() {
    for entry in std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/bad-kb")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let code = name.trim_end_matches(".yaml");
        assert!(name == "good.base" || ProblemCode::from_word(code).is_some(), "no problem is called {code}");
    }
}

#[test]
fn codes_of_problems_are_unique_and_explained() {
    let unique: BTreeSet<&str> = ProblemCode::WORDS.iter().copied().collect();
    assert_eq!(unique.len(), ProblemCode::WORDS.len());
    for word in unique {
        assert!(word.starts_with("kb-"), "{word}");
        let meaning = ProblemCode::from_word(word).unwrap().meaning();
        assert!(meaning.len() > 10 && meaning.ends_with('.'), "{word}: {meaning}");
    }
}

/// One error: in which file, which text becomes which, on the line of `at` (a piece of the new text), and the code.
struct Planted(&'static str, &'static str, &'static str, &'static str, &'static str);

const PLANTED: [Planted; 21] = [
    Planted("evap/codes/P0457.yaml", "p: 0.52}", "p: 1.52}", "1.52", "kb-probability"),
    Planted("evap/codes/P0496.yaml", "kind: ", "kind: x", "kind: x", "kb-unknown-word"),
    Planted("evap/codes/P0443.yaml", "basis: judgement", "basis: jugement", "jugement", "kb-unknown-source"),
    Planted(
        "evap/codes/P0456.yaml",
        "control-module/software",
        "control-module/softwear",
        "softwear",
        "kb-unknown-suspect",
    ),
    Planted("evap/monitors/purge-flow.yaml", "runs: ", "rnus: x\nruns: ", "rnus", "kb-unknown-field"),
    Planted("evap/monitors/vent-circuit.yaml", "proof: [", "proof: [lamp-lode, ", "lamp-lode", "kb-unknown-test"),
    Planted("evap/parts/service-port.yaml", "minutes: 10", "minutes: -10", "-10", "kb-amount"),
    Planted("evap/parts/filler-neck.yaml", "age-leak", "age-lake", "age-lake", "kb-unknown-factor"),
    Planted(
        "evap/parts/canister.yaml",
        "basis: judgement",
        "basis: judgement\nbasis: moves5",
        "moves5",
        "kb-duplicate-key",
    ),
    Planted(
        "evap/tests/vent-path-blow.yaml",
        "[eye-protection, low-pressure-only, petrol-vapour]",
        "[eye-protection, petrol-vapour]",
        "cautions:",
        "kb-missing-caution",
    ),
    Planted(
        "evap/tests/walk-round.yaml",
        "cautions: [",
        "cautions: [refrigerant, ",
        "cautions: [refrigerant",
        "kb-idle-caution",
    ),
    Planted(
        "evap/tests/purge-coil-ohms.yaml",
        "  - Check that the ignition is off and the purge valve is unplugged.",
        "  - Check that the ignition is off and the purge valve is unplugged; warm it with a heat gun.",
        "heat gun",
        "kb-unsaid-act",
    ),
    Planted(
        "secondary-air/tests/air-relay-lamp.yaml",
        "  - Switch the ignition off, pull the relay and",
        "  - Pull the relay and",
        "Pull the relay",
        "kb-live-unplug",
    ),
    Planted("evap/tests/purge-inlet-vacuum.yaml", "unit: inHg", "unit: ohm", "unit: ohm", "kb-unit"),
    Planted(
        "evap/tests/service-port-look.yaml",
        "setups: [bonnet-open]",
        "setups: [bonnet-shut]",
        "bonnet-shut",
        "kb-unknown-setup",
    ),
    Planted("evap/tests/software-lookup.yaml", "false_alarm: 0.", "false_alarm: \"x\" #", "\"x\"", "kb-wrong-shape"),
    Planted("evap/symptoms/rust-at-filler.yaml", "background: ", "background: 0 #", "background", "kb-probability"),
    Planted("shared/factors/age-electric.yaml", "from: 0,", "from: 1,", "from: 1,", "kb-bands"),
    Planted("shared/equipment/tank.yaml", "share: 0.06", "share: 0.16", "", "kb-sum"),
    Planted(
        "evap/cases/cap-code-alone.yaml",
        "filler-cap/loose",
        "filler-cap/lose",
        "filler-cap/lose",
        "kb-unknown-suspect",
    ),
    Planted("shared/tools/torch.yaml", "name: Torch", "name: &t Torch", "&t", "kb-alias"),
];

#[test]
fn every_planted_error_is_told_at_its_line_in_one_run() {
    let folder = tempfile::tempdir().unwrap();
    copy_folder(shipped_folder(), folder.path());
    let mut expected = Vec::new();
    for Planted(file, old, new, at, code) in &PLANTED {
        let path = folder.path().join(file);
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(text.contains(old), "{file} no longer holds `{old}`");
        let text = text.replacen(old, new, 1);
        std::fs::write(path, &text).unwrap();
        // A sum is told where its list begins, the others where the text stands.
        let at = if at.is_empty() { "- {id: vented-tank" } else { at };
        let line = 1 + text.lines().position(|l| l.contains(at)).unwrap();
        expected.push((*file, line, *code));
    }
    let kb = folder.path().to_str().unwrap();
    let ran = run(&["kb", "check", "--json", "--kb", kb]);
    assert_eq!(ran.code, 1, "{}", ran.err);
    let told: Value = serde_json::from_str(&ran.out).unwrap();
    let told = told["problems"].as_array().unwrap();
    for (file, line, code) in &expected {
        let found = told.iter().any(|p| p["file"] == *file && p["code"] == *code && p["line"] == *line);
        let there: Vec<&Value> = told.iter().filter(|p| p["file"] == *file).collect();
        assert!(found, "{file}:{line} {code} is not told, but {there:#?}");
    }
    let ran = run(&["kb", "check", "--kb", kb]);
    assert_eq!(ran.code, 1);
    for (file, line, code) in &expected {
        assert!(ran.out.contains(&format!("{kb}/{file}:{line}:")), "{file}:{line}");
        assert!(ran.out.contains(&format!("[{code}]")), "{code}");
    }
}

#[test]
fn every_shipped_entry_loads_alone() {
    for (path, text) in files_of(shipped_folder()) {
        let problems = check_one(&KbFile { path: path.clone(), text });
        assert!(problems.is_empty(), "{path}: {problems:?}");
    }
}

#[test]
fn every_shipped_entry_is_formatted() {
    for (path, text) in files_of(shipped_folder()) {
        assert!(text.ends_with('\n') && !text.ends_with("\n\n"), "{path}: one line break at the end");
        for (i, line) in text.lines().enumerate() {
            let at = format!("kb/{path}:{}", i + 1);
            assert!(!line.contains('\t') && !line.contains('\r'), "{at}: a tab or carriage return");
            assert!(line.trim_end() == line, "{at}: blanks at the end");
        }
    }
}

/// Kinds whose numbers must say where they come from; the times and prices of the others are judgement by rule.
const WITH_BASIS: [&str; 7] = ["codes", "monitors", "parts", "tests", "symptoms", "equipment", "factors"];

#[test]
fn every_shipped_number_has_a_basis_and_every_list_of_links_is_sorted() {
    let files = files_of(shipped_folder());
    let source = |id: &str| id == "judgement" || files.contains_key(&format!("shared/sources/{id}.yaml"));
    for (path, text) in &files {
        let entry: Value = entry(path, text);
        if WITH_BASIS.contains(&path.split('/').nth(1).unwrap_or_default()) {
            assert!(entry["basis"].as_str().is_some_and(source), "{path} has no basis");
            assert!(entry["weight"].is_number(), "{path} has no weight");
        }
        walk(path, &entry, &source);
    }
}

fn walk(path: &str, value: &Value, source: &dyn Fn(&str) -> bool) {
    match value {
        Value::Object(fields) => {
            if let Some(basis) = fields.get("basis") {
                assert!(basis.as_str().is_some_and(source), "{path}: {basis} is no source");
            }
            fields.values().for_each(|v| walk(path, v, source));
        }
        Value::Array(items) => {
            for key in ["suspect", "symptom", "code"] {
                let ids: Vec<&str> =
                    items.iter().filter(|i| i["p"] != Value::Null).filter_map(|i| i[key].as_str()).collect();
                assert!(ids.is_sorted(), "{path}: the links are not sorted by {key}: {ids:?}");
            }
            items.iter().for_each(|v| walk(path, v, source));
        }
        _ => {}
    }
}

/// The entry as plain data; `no` and `off` are words, as in YAML 1.2 and in the program's own reader.
fn entry(path: &str, text: &str) -> Value {
    let options = serde_yaml::options! { strict_booleans: true };
    serde_yaml::from_str_with_options(text, options).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// Holds a value against a JSON Schema, as far as `kb schema` uses the language; an unknown keyword is an error, so
/// that the checker cannot fall behind the schema unnoticed.
fn against(schema: &Value, value: &Value, at: &str) -> Result<(), String> {
    let fail = |what: String| Err(format!("{at}: {what}"));
    let number = value.as_f64();
    for (key, rule) in schema.as_object().ok_or(format!("{at}: no schema"))? {
        let good = match key.as_str() {
            "description" | "title" | "$schema" => true,
            "type" => match rule.as_str() {
                Some("string") => value.is_string(),
                Some("number") => value.is_number(),
                Some("boolean") => value.is_boolean(),
                Some("array") => value.is_array(),
                Some("object") => value.is_object(),
                other => return fail(format!("unknown type {other:?}")),
            },
            "enum" => rule.as_array().is_some_and(|words| words.contains(value)),
            "minLength" => value.as_str().is_some_and(|s| s.chars().count() as u64 >= rule.as_u64().unwrap_or(0)),
            "exclusiveMinimum" => number.is_none_or(|n| n > rule.as_f64().unwrap()),
            "exclusiveMaximum" => number.is_none_or(|n| n < rule.as_f64().unwrap()),
            "minimum" => number.is_none_or(|n| n >= rule.as_f64().unwrap()),
            "maximum" => number.is_none_or(|n| n <= rule.as_f64().unwrap()),
            "oneOf" => rule.as_array().unwrap().iter().filter(|s| against(s, value, at).is_ok()).count() == 1,
            "items" => {
                for (i, item) in value.as_array().into_iter().flatten().enumerate() {
                    against(rule, item, &format!("{at}[{i}]"))?;
                }
                true
            }
            "required" => rule.as_array().unwrap().iter().all(|k| value.get(k.as_str().unwrap()).is_some()),
            "additionalProperties" => {
                let known = schema["properties"].as_object().unwrap();
                rule == true || value.as_object().into_iter().flatten().all(|(k, _)| known.contains_key(k))
            }
            "properties" => {
                for (k, v) in value.as_object().into_iter().flatten() {
                    if let Some(inner) = rule.get(k) {
                        against(inner, v, &format!("{at}.{k}"))?;
                    }
                }
                true
            }
            other => return fail(format!("the checker does not know `{other}`")),
        };
        if !good {
            return fail(format!("breaks `{key}`: {value}"));
        }
    }
    Ok(())
}

#[test]
fn the_published_schema_fits_every_shipped_entry_and_refuses_a_wrong_one() {
    let ran = run(&["kb", "schema"]);
    assert_eq!(ran.code, 0);
    let schema: Value = serde_json::from_str(&ran.out).unwrap();
    let of = |kind: &str| &schema["$defs"][kind];
    for (path, text) in files_of(shipped_folder()) {
        let kind = path.split('/').nth(1).unwrap();
        let entry: Value = entry("an entry", &text);
        against(of(kind), &entry, &path).unwrap();
        let alone: Value = serde_json::from_str(&cached_schema(kind)).unwrap();
        assert_eq!(alone["properties"], of(kind)["properties"], "{kind}");
    }
    let text = std::fs::read_to_string(shipped_folder().join("shared/tools/torch.yaml")).unwrap();
    let torch: Value = entry("an entry", &text);
    for (key, wrong) in [("price", Value::from(-1)), ("name", Value::from("")), ("hazards", Value::from(vec!["wet"]))] {
        let mut broken = torch.clone();
        broken[key] = wrong;
        assert!(against(of("tools"), &broken, key).is_err(), "{key}");
    }
    let mut broken = torch.clone();
    broken["colour"] = Value::from("red");
    assert!(against(of("tools"), &broken, "colour").is_err());
    broken = torch;
    broken.as_object_mut().unwrap().remove("what");
    assert!(against(of("tools"), &broken, "what").is_err());
}

/// The schema of one kind; asked of the program once.
fn cached_schema(kind: &str) -> String {
    use std::collections::HashMap;
    use std::sync::{LazyLock, Mutex};
    static SEEN: LazyLock<Mutex<HashMap<String, String>>> = LazyLock::new(Mutex::default);
    let mut seen = SEEN.lock().unwrap();
    seen.entry(kind.to_owned()).or_insert_with(|| run(&["kb", "schema", kind]).out).clone()
}

/// A folder that is no base is given up after a stated number of names, with one sentence instead of thousands.
#[test]
fn a_folder_that_is_no_base_is_given_up_soon() {
    let folder = tempfile::tempdir().unwrap();
    for k in 0..110 {
        let inside = folder.path().join(format!("family-{k}"));
        std::fs::create_dir(&inside).unwrap();
        (0..190).for_each(|n| std::fs::write(inside.join(format!("{n}.yaml")), "").unwrap());
    }
    let (files, problems) =
        faultodds::knowledge::files::Files::read(&faultodds::knowledge::files::Folder(folder.path()));
    assert!(files.is_empty());
    assert_eq!(problems.len(), 1);
    assert!(problems[0].message.contains("this is no base"), "{}", problems[0].message);
}

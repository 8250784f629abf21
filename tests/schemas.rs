//! What the program prints in JSON, and the files that it writes, are as the schemas in `src/screens/schemas` say; every shape
//! that the sources name has a schema, and every schema is held to an answer.

#[path = "support/schema.rs"]
mod schema;
mod support;

use schema::{faults, records, referred};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use support::{Desk, files_of, run};

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

/// Shapes that are read and no longer written.
const FORMER: [&str; 1] = ["faultodds.job/1"];

/// The schemas by the shape that they describe.
fn schemas() -> BTreeMap<String, Value> {
    files_of(&Path::new(ROOT).join("src/screens/schemas"))
        .into_values()
        .map(|text| {
            let schema: Value = serde_json::from_str(&text).unwrap();
            (schema["title"].as_str().unwrap().to_owned(), schema)
        })
        .collect()
}

/// The shapes named in a text: `faultodds.NAME/NUMBER`.
fn shapes_in(text: &str) -> BTreeSet<String> {
    let mut out = BTreeSet::new();
    for (at, lead) in text.match_indices("faultodds.") {
        let rest = &text[at + lead.len()..];
        let name = rest.find(|c: char| !(c.is_ascii_lowercase() || c == '-')).map_or("", |end| &rest[..end]);
        let number: String =
            rest[name.len()..].strip_prefix('/').unwrap_or_default().chars().take_while(char::is_ascii_digit).collect();
        if !name.is_empty() && !number.is_empty() {
            out.insert(format!("{lead}{name}/{number}"));
        }
    }
    out
}

#[test]
fn every_shape_that_the_sources_name_has_a_schema() {
    let mut named = BTreeSet::new();
    for folder in fs::read_dir(Path::new(ROOT).join("src")).unwrap().map(|e| e.unwrap().path()).filter(|p| p.is_dir()) {
        // The base is no source, and what is compiled for tests alone may name shapes that there will never be.
        for (path, text) in if folder.ends_with("shipped") { BTreeMap::new() } else { files_of(&folder) } {
            if !path.ends_with(".json") && !path.split('/').any(|p| p == "tests" || p == "tests.rs") {
                named.extend(shapes_in(text.split("#[cfg(test)]").next().unwrap()));
            }
        }
    }
    let described: BTreeSet<String> = schemas().into_keys().collect();
    named.retain(|shape| !FORMER.contains(&shape.as_str()));
    assert_eq!(named, described, "left: named in the sources; right: described in src/screens/schemas");
}

#[test]
fn the_program_prints_each_schema_and_lists_them() {
    let list = run(&["schema"]);
    assert_eq!(list.code, 0);
    for (file, text) in files_of(&Path::new(ROOT).join("src/screens/schemas")) {
        let name = file.strip_suffix(".json").unwrap();
        let schema: Value = serde_json::from_str(&text).unwrap();
        let title = schema["title"].as_str().unwrap();
        assert_eq!(run(&["schema", name]).out, text);
        assert_eq!(run(&["schema", title]).out, text);
        assert!(list.out.contains(title), "{title} is not listed");
        assert_eq!(schema["properties"]["schema"]["const"], title);
        assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
    }
    let none = run(&["schema", "nxet"]);
    assert!(none.code == 2 && none.err.contains("`next`"), "{}", none.err);
}

#[test]
fn every_field_is_described_and_records_are_closed() {
    for (shape, schema) in schemas() {
        let mut all = Vec::new();
        records(&schema, "", &mut all);
        for (at, record) in all {
            // A condition narrows a record that is described elsewhere.
            if at.contains("/anyOf/") && !record.contains_key("additionalProperties") {
                continue;
            }
            assert!(record.contains_key("additionalProperties"), "{shape}{at} is neither closed nor open");
            for (name, field) in record.get("properties").and_then(Value::as_object).into_iter().flatten() {
                let told = field.get("description").and_then(Value::as_str).unwrap_or_default();
                assert!(told.ends_with('.'), "{shape}{at}: `{name}` is not described");
                if let Some(rule) = field.get("$ref") {
                    referred(&schema, rule);
                }
            }
        }
    }
}

/// Commands on what lies in the tree, parted by blanks; `_` is a blank within a word.
const ASKED: &[&str] = &[
    "rank P0455 --json",
    "rank P0455 P0441 --already filler-cap/replace-cap --result purge-valve-hold=20_->_12_inHg_in_4_min --vehicle age=9 --json",
    "rank P0442 --symptom fuel-smell-after-fill --result cap-look-reseat=pass --found filler-neck/cracked --json",
    "rank --car data-demo/car/small-leak.log --json",
    "rank --car data-demo/car/repaired.log --json",
    "rank --car data-demo/car/just-cleared.log --json",
    "next P0455 --without smoke-machine --json",
    "next P0420 --minutes-only --json",
    "plan P0457 --json",
    "quote P0457 --within 60 --check 50 --json",
    "quote P0457 --minutes-only --json",
    "worth smoke-machine --codes P0442=5 --json",
    "worth smoke-machine --codes P0442 --minutes-only --json",
    "search smells of petrol after filling up --json",
    "search smels of petrol but no rough idle --json",
    "search xyzzy P0499 --json",
    "gauge hole --decay 14,_12.1,_10.3,_9_inH2O_every_30_s --pressure --tank 60L --fuel 40% --json",
    "gauge hole --decay 14_->_8_inH2O_in_2_min --pressure --tank 60L --fuel 40% --json",
    "gauge hole --decay held_14_inH2O_for_2_min --pressure --tank 60L --fuel 40% --json",
    "gauge hole --flow 0.6_L/min --at 14_inH2O --pressure --json",
    "gauge hold --hole 0.020_in --from 14_inH2O --to 8_inH2O --pressure --json",
    "gauge hold --hole 0.040_in --from 14_inH2O --during 2_min --pressure --volume 50_L --json",
    "gauge vacuum --altitude 5000_ft --reading 15_inHg --json",
    "gauge coil 34_ohm --at 100_C --json",
    "gauge lamp --supply 12.6_V --series 1_ohm --json",
    "gauge lamp --coil 26_ohm --supply 12.6_V --lost 0.5_V --json",
    "gauge sensor --point 0_inH2O=2.6V --point 8_inH2O_vac=1.4V --pressure 4_inH2O_vac --json",
    "gauge convert 20_inHg_vac --to kPa --counted absolute --json",
    "car read data-demo/car/just-cleared.log --json",
    "car read data-demo/car/lossy.log --json",
    "car read data-demo/car/noted.txt --json",
    "car read data-demo/car/patience.log --json",
    "car read data-demo/car/repaired.log --json",
    "car read data-demo/car/several-units.txt --json",
    "car read data-demo/car/small-leak.log --json",
    "kb list --json",
    "kb list tests --json",
    "kb list vehicle --json",
    "kb export --json",
    "kb export --vehicle age=9,salt",
    "kb check --json",
    "kb check --json --kb tests/bad-kb",
    "kb diff shipped shipped --json",
    "kb show P0442 --json",
    "kb show fuel-smell-after-fill --json",
    "kb show filler-cap --json",
    "kb show filler-cap/loose --json",
    "kb show filler-cap/replace-cap --json",
    "kb show purge-valve-hold --json",
    "kb show leak-check --json",
    "kb show smoke-machine --json",
    "kb show bonnet-open --json",
    "kb show petrol-vapour --json",
    "past show --json",
    "past words --json",
    "past counts",
    "tune --dry-run --json",
];

/// A job with every kind of event, and what is asked of it on the way.
const JOB: &[&str] = &[
    "job open P0455 P0171 --vehicle age=9,screw-cap --make Bellane --year 2017 --vin AAAA0000000000000 --freeze fuel=62% \
     --freeze ambient=18C --tried a_new_cap --already filler-cap/replace-cap --symptom fuel-smell-after-fill --no-symptom hard-start-after-refuel",
    "job set --without smoke-machine --limit 200",
    "job record cap-look-reseat:seal=pass --sound filler-neck/cracked --minutes 3",
    "job record purge-valve-hold=20_->_12_inHg_in_4_min --found purge-valve/leaks=probably",
    "job retract purge-valve-hold:hold --why wrong_car",
    "job skip smoke-whole --why lent_out",
    "job note fills_up_to_the_brim --on cap-look-reseat:seal",
    "job note a_slip",
    "job undo",
    "job amend --year 2016",
    "job show --json",
    "next --json",
    "job repair purge-valve/replace --minutes 20 --cost 45",
    "job retest --passed leak-check=2/2 --not-run catalyst-efficiency-1 --result evap-service-run=pass",
    "job show --json",
    "next --json",
    "job close --cause purge-valve/leaks --how held_vacuum_with_the_new_one",
    "job reopen --comeback P0455",
    "job show --json",
    "job close --as handed-on",
    "job show --json",
    "job list --json",
    "job export",
    "rank --job 1 --json",
    "search brim --in past --json",
    "tune --dry-run --json",
    "score --json",
];

/// The invented shop of 120 jobs.
const SHOP: &[&str] = &[
    "past import data-demo/clean.csv --mapping data-demo/clean-mapping.yaml --dry-run --json",
    "past import data-demo/past.csv --mapping data-demo/past-mapping.yaml --dry-run --json",
    "past import data-demo/clean.csv --mapping data-demo/clean-mapping.yaml --json",
    "past show --json",
    "past words --json",
    "past counts",
    "search canister --in past --json",
    "score --refits 1 --plans 2 --json",
    "score --first 0.999 --plans 0 --json",
    "past report --json",
];

struct Held {
    schemas: BTreeMap<String, Value>,
    seen: BTreeSet<String>,
}

impl Held {
    fn hold(&mut self, asked: &str, value: &Value) {
        let shape = value["schema"].as_str().unwrap_or_else(|| panic!("{asked}: the answer names no shape")).to_owned();
        let schema = self.schemas.get(&shape).unwrap_or_else(|| panic!("{asked}: {shape} has no schema"));
        let faults = faults(schema, value);
        assert!(faults.is_empty(), "{asked}\n{}", faults.join("\n"));
        refuses_other(schema, value, asked);
        self.seen.insert(shape);
    }

    /// Runs each line; what is JSON is held to its schema, an object a line or one in all.
    fn run(&mut self, desk: &Desk, lines: &[&str]) {
        for line in lines {
            let words: Vec<String> = line.split_whitespace().map(|w| w.replace('_', " ")).collect();
            let ran = desk.run(&words.iter().map(String::as_str).collect::<Vec<_>>());
            assert!(ran.code < 2, "{line}: {}", ran.err);
            if !ran.out.starts_with('{') {
                assert!(!line.contains("--json"), "{line} is not answered in JSON: {} {}", ran.out, ran.err);
                continue;
            }
            let value = serde_json::from_str(&ran.out).unwrap_or_else(|e| panic!("{line}: {e}"));
            self.hold(line, &value);
        }
    }
}

/// A schema that lets anything pass would hold nothing: an answer with one field more, less or of another type is refused.
fn refuses_other(schema: &Value, value: &Value, asked: &str) {
    let mut more = value.clone();
    more["surely-not-there"] = json!(1);
    assert!(!faults(schema, &more).is_empty(), "{asked}: a field too many is not noticed");
    for name in value.as_object().unwrap().keys() {
        let mut other = value.clone();
        other[name] = json!({"surely-not-there": {"": true}});
        assert!(!faults(schema, &other).is_empty(), "{asked}: another type of `{name}` is not noticed");
    }
}

#[test]
fn answers_and_files_are_as_their_schemas_say() {
    let schemas = schemas();
    let held = || Held { schemas: schemas.clone(), seen: BTreeSet::new() };
    let asked = || {
        let mut held = held();
        held.run(&Desk::new(), ASKED);
        held.run(&Desk::new(), JOB);
        held.seen
    };
    let (mut seen, of_shop) = rayon::join(asked, || of_a_shop(held()));
    seen.extend(of_shop);
    let all: BTreeSet<String> = schemas.keys().cloned().collect();
    assert_eq!(seen, all, "left: held to an answer; right: described");
}

/// What a shop with closed jobs is told, and the files that it keeps.
fn of_a_shop(mut held: Held) -> BTreeSet<String> {
    let shop = Desk::new();
    held.run(&shop, SHOP);
    let overlay = shop.path("overlay.yaml");
    held.run(&shop, &[&format!("tune --why --json --out {}", overlay.display())]);
    held.run(&shop, &[&format!("kb diff shipped {} --json", overlay.display())]);
    let mapping = |file: &str| fs::read_to_string(format!("{ROOT}/data-demo/{file}")).unwrap();
    let review = shop.run(&["past", "words", "--edit"]).out;
    for text in
        [mapping("past-mapping.yaml"), mapping("clean-mapping.yaml"), fs::read_to_string(overlay).unwrap(), review]
    {
        held.hold("a file", &serde_yaml::from_str(&text).unwrap());
    }
    held.seen
}

//! Source: **reference library** the code table of PyPI `obd` 0.7.3 (GPL-2.0, for tests only: `make/titles.py` keeps hashes
//! of words, no text).

use crate::json;
use faultodds::knowledge::base::TitleBasis;
use faultodds::shipped;
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};

/// Codes whose title in the table is out of line with the wording in use; ours need not hold its words.
const EXCEPTIONS: [&str; 10] =
    ["P0421", "P0422", "P0431", "P0432", "P0483", "P0484", "P0487", "P0488", "P0494", "P0495"];

/// The set of words of a title, as `make/titles.py` describes it.
fn words(title: &str) -> BTreeSet<String> {
    let mut spelled = String::new();
    let is_word = |c: char| c.is_ascii_alphanumeric();
    for run in title.split_inclusive(|c| !is_word(c)) {
        let word = run.trim_end_matches(|c| !is_word(c));
        spelled.push_str(match word {
            "EGR" => "exhaust gas recirculation",
            "AIR" => "secondary air injection",
            "EVAP" => "evaporative emission",
            _ => word,
        });
        spelled.push(' ');
    }
    let spelled = spelled.to_ascii_lowercase();
    let list: Vec<&str> = spelled.split_whitespace().collect();
    let mut out = BTreeSet::new();
    let mut k = 0;
    while k < list.len() {
        let number_next = list.get(k + 1).is_some_and(|w| w.bytes().all(|b| b.is_ascii_digit()));
        if number_next && matches!(list[k], "bank" | "sensor") {
            k += 2;
        } else {
            out.insert(list[k].to_owned());
            k += 1;
        }
    }
    out
}

/// First 16 hexadecimal digits of the SHA-256.
fn hashed(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().take(8).map(|b| format!("{b:02x}")).collect()
}

fn set_hash(words: &BTreeSet<String>) -> String {
    hashed(&words.iter().map(String::as_str).collect::<Vec<_>>().join(" "))
}

#[test]
fn normalising_is_the_same_as_where_the_table_was_hashed() {
    let fixture = json("titles-obd.json");
    let examples = fixture["normalising_examples"].as_array().unwrap();
    assert_eq!(examples.len(), 3);
    for e in examples {
        let ours = words(e["title"].as_str().unwrap());
        assert_eq!(Value::from_iter(ours.iter().cloned()), e["words"]);
        assert_eq!(set_hash(&ours), e["set"].as_str().unwrap());
    }
}

#[test]
fn titles_equal_the_table_or_contain_all_its_words() {
    let fixture = json("titles-obd.json");
    let table: BTreeMap<&str, &Value> =
        fixture["codes"].as_array().unwrap().iter().map(|c| (c["code"].as_str().unwrap(), c)).collect();
    let base = shipped::base().unwrap();
    let (mut equal, mut contain, mut wrong) = (0, 0, Vec::new());
    for code in &base.codes {
        let same_basis = code.title_basis == TitleBasis::Table;
        let Some(theirs) = table.get(code.id.as_str()) else {
            assert!(!same_basis, "{} is not in the table, its title cannot rest on it", code.id);
            continue;
        };
        let ours = words(&code.title);
        let ours_hashed: BTreeSet<String> = ours.iter().map(|w| hashed(w)).collect();
        let is_equal = set_hash(&ours) == theirs["set"].as_str().unwrap();
        let contains = theirs["words"].as_array().unwrap().iter().all(|w| ours_hashed.contains(w.as_str().unwrap()));
        equal += usize::from(is_equal);
        contain += usize::from(!is_equal && contains);
        if same_basis && !is_equal {
            wrong.push(format!("{}: its basis is the table, and it is not equal to it", code.id));
        }
        if !contains && !EXCEPTIONS.contains(&code.id.as_str()) {
            wrong.push(format!("{}: {}: a word of the table is missing", code.id, code.title));
        }
    }
    println!("{equal} titles equal the table, {contain} contain all its words");
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(equal >= 32, "only {equal} titles equal the table");
}

#[test]
fn no_title_equals_another() {
    let base = shipped::base().unwrap();
    let mut seen: BTreeMap<String, &str> = BTreeMap::new();
    for code in &base.codes {
        if let Some(other) = seen.insert(code.title.to_lowercase(), &code.id) {
            panic!("{other} and {} have the same title: {}", code.id, code.title);
        }
    }
}

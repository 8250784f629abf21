//! Search as a whole on the shipped base: how well it answers people's words, and that no text can trip it.

#[path = "search/quality.rs"]
mod quality;

use faultodds::knowledge::Base;
use faultodds::search::{EntryKind, Finder, Found, Resolved, Settings};
use faultodds::shipped;
use proptest::prelude::*;
use quality::{fts5, own, plain_bm25, queries};
use std::collections::BTreeSet;
use std::sync::LazyLock;

static BASE: LazyLock<Base> = LazyLock::new(|| shipped::base().unwrap());
static FINDER: LazyLock<Finder<'static>> =
    LazyLock::new(|| Finder::new(shipped::index(), Settings::default()).unwrap());

fn found(words: &str) -> Found {
    FINDER.search(words, &[], 10).unwrap()
}

fn ids(words: &str) -> Vec<String> {
    found(words).hits.into_iter().map(|h| h.id).collect()
}

#[test]
fn every_answer_expected_by_a_query_exists_and_no_query_is_a_wording_of_the_base() {
    let entries = faultodds::search::entries(&BASE);
    let queries = queries();
    assert!(queries.len() >= 160, "{}", queries.len());
    for q in &queries {
        for answer in &q.answers {
            let (kind, id) = answer.split_once(':').unwrap();
            assert!(entries.iter().any(|e| e.kind.word() == kind && e.id == id), "{answer}");
        }
    }
    // Written independently, so that few may coincide with a wording by chance.
    let same = |q: &&quality::Query| {
        entries.iter().flat_map(|e| &e.wordings).any(|w| w.text.to_lowercase() == q.words.to_lowercase())
    };
    let same = queries.iter().filter(same).count();
    assert!(same * 20 <= queries.len(), "{same} queries are wordings of the base");
}

/// One line of the comparison, printed for `--nocapture`.
fn told(name: &str, q: quality::Quality) -> quality::Quality {
    println!("{name:<16} MRR {:.3}  first {:.3}  among three {:.3}", q.mrr, q.first, q.hit_at_3);
    q
}

/// Checks the search on queries against plain BM25 and FTS5 over the same texts, and every kind for itself.
fn clearly_better(queries: &[quality::Query], first: f64, three: f64, each: f64) {
    let ours = told("search", quality::quality(queries, own()));
    assert!(ours.first >= first && ours.hit_at_3 >= three, "{ours:?}");
    let baselines = [
        told("plain BM25", quality::quality(queries, plain_bm25(&BASE))),
        told("FTS5", quality::quality(queries, fts5(&BASE, "unicode61"))),
        told("FTS5, stemmed", quality::quality(queries, fts5(&BASE, "porter unicode61"))),
    ];
    for theirs in baselines {
        assert!(
            ours.hit_at_3 >= theirs.hit_at_3 + 0.05 && ours.mrr >= theirs.mrr + 0.05,
            "{theirs:?}, search: {ours:?}"
        );
    }
    let kinds: BTreeSet<&str> = queries.iter().map(|q| q.kind.as_str()).filter(|k| !k.is_empty()).collect();
    for kind in kinds {
        let of: Vec<&quality::Query> = queries.iter().filter(|q| q.kind == kind).collect();
        let here = told(&format!("  {kind} ({})", of.len()), quality::quality(of.iter().copied(), own()));
        assert!(here.hit_at_3 >= each, "{kind}: {here:?}");
    }
}

#[test]
fn the_first_edition_s_queries_are_answered_clearly_above_both_baselines() {
    let mut queries = queries();
    queries.iter_mut().for_each(|q| q.kind.clear());
    clearly_better(&queries, 0.7, 0.88, 0.0);
}

#[test]
fn the_working_half_of_the_writers_queries_is_answered() {
    clearly_better(&quality::parse(include_str!("search/queries-working.tsv")), 0.8, 0.9, 0.6);
}

#[test]
fn queries_written_later_are_answered_as_well() {
    let later = quality::parse(include_str!("search/queries-later.tsv"));
    let ours = quality::quality(&later, own());
    assert!(ours.hit_at_3 >= 0.85, "{ours:?}");
}

#[test]
fn the_other_families_are_found_in_plain_words_as_well() {
    let families = quality::parse(include_str!("search/queries-families.tsv"));
    let ours = quality::quality(&families, own());
    assert!(ours.hit_at_3 >= 0.85, "{ours:?}");
}

#[test]
fn the_working_half_of_the_second_queries_is_answered() {
    clearly_better(&quality::parse(include_str!("search/second-working.tsv")), 0.8, 0.93, 0.8);
}

#[test]
fn the_working_half_of_the_third_queries_is_answered() {
    clearly_better(&quality::parse(include_str!("search/third-working.tsv")), 0.88, 0.95, 0.75);
}

#[test]
fn the_fourth_queries_are_answered() {
    clearly_better(&quality::parse(include_str!("search/fourth.tsv")), 0.7, 0.88, 0.6);
}

#[test]
fn the_fifth_and_sixth_queries_are_answered() {
    clearly_better(&quality::parse(include_str!("search/fifth.tsv")), 0.88, 0.95, 0.9);
    clearly_better(&quality::parse(include_str!("search/sixth.tsv")), 0.73, 0.88, 0.78);
}

#[test]
fn every_answer_of_the_later_sets_exists() {
    let entries = faultodds::search::entries(&BASE);
    for file in [
        include_str!("search/second-working.tsv"),
        include_str!("search/second-unseen.tsv"),
        include_str!("search/third-working.tsv"),
        include_str!("search/third-unseen.tsv"),
        include_str!("search/fourth.tsv"),
        include_str!("search/fifth.tsv"),
        include_str!("search/sixth.tsv"),
    ] {
        for answer in quality::parse(file).iter().flat_map(|q| &q.answers) {
            let (kind, id) = answer.split_once(':').unwrap();
            assert!(entries.iter().any(|e| e.kind.word() == kind && e.id == id), "{answer}");
        }
    }
}

/// How many phrases are taken without asking, and how many could be; fails when one is taken for something else.
fn taken_rightly(phrases: &str, kind: EntryKind) -> (usize, usize) {
    let (mut taken, mut could, mut wrong) = (0, 0, Vec::new());
    for line in phrases.lines().filter(|l| !l.starts_with('#')) {
        let (words, right) = line.split_once('\t').unwrap();
        could += usize::from(right != "-");
        if let Resolved::One(id) = FINDER.resolve(kind, words).unwrap() {
            taken += 1;
            if !right.split(' ').any(|r| r == id) {
                wrong.push(format!("{words} -> {id}"));
            }
        }
    }
    println!("{taken} taken, of {could} that could be");
    assert!(wrong.is_empty(), "{wrong:#?}");
    (taken, could)
}

#[test]
fn no_phrase_is_taken_for_another_symptom_without_asking() {
    let (taken, could) = taken_rightly(include_str!("search/phrases.tsv"), EntryKind::Symptom);
    assert!(taken * 3 >= could, "only {taken} of {could} without asking back");
    let (taken, could) = taken_rightly(include_str!("search/phrases-second.tsv"), EntryKind::Symptom);
    assert!(taken * 3 >= could, "only {taken} of {could} without asking back");
}

#[test]
fn no_phrase_is_taken_for_another_fault_without_asking() {
    let (taken, could) = taken_rightly(include_str!("search/found-phrases.tsv"), EntryKind::Suspect);
    assert!(taken * 3 >= could, "only {taken} of {could} without asking back");
}

#[test]
fn questions_of_safety_are_led_by_what_is_to_be_heeded() {
    for words in [
        "is it safe to weld near the tank",
        "can I use shop air on the fuel tank, is it dangerous",
        "may I go under the car on the jack",
        "is it ok to touch the orange cables",
        "is it legal to delete the egr",
        "is it safe to open the radiator cap hot",
    ] {
        let found = found(words);
        assert_eq!(found.hits[0].kind, EntryKind::Caution, "{words}: {}", found.hits[0].id);
    }
}

#[test]
fn what_is_denied_does_not_attract_and_is_offered_as_absent() {
    let found = found("hisses at the fuel cap, no smell of petrol outside the car, runs fine");
    assert_eq!(found.hits[0].id, "hiss-at-cap");
    assert_eq!(found.denied.len(), 2);
    assert!(found.hits.iter().take(3).all(|h| !h.id.starts_with("fuel-smell")), "{:?}", found.hits);
    assert!(found.absent.iter().any(|h| h.id == "fuel-smell-outside"), "{:?}", found.absent);
}

#[test]
fn real_words_are_not_respelled_and_other_languages_are_told() {
    for word in ["dad", "ton", "wife", "chance", "tin", "mil"] {
        assert!(found(word).respelled.is_empty(), "{word}");
    }
    for words in [
        "Tankdeckel ist undicht und das Auto riecht nach Benzin",
        "el coche huele a gasolina",
        "la valve de purge est coincée ouverte",
    ] {
        let found = found(words);
        assert!(found.foreign && found.hits.is_empty(), "{words}");
    }
    assert!(!found("smells of petrol in die car").foreign);
}

#[test]
fn circumstances_repairs_and_gauge_questions_are_found() {
    for (words, id) in [
        ("stood in a barn for two years", "long-storage"),
        ("replace the purge valve", "purge-valve/replace"),
        ("convert inches of water to kPa", "convert"),
        ("how big a hole if it loses 4 inches in 2 minutes", "hole"),
    ] {
        assert!(ids(words).iter().take(3).any(|i| i == id), "{words}: {:?}", ids(words));
    }
}

#[test]
fn a_code_is_found_by_its_number_in_any_form() {
    for words in ["P0455", "p0455", "p 0455", "po455", "P-0455", "0455", "455", "what does P0455 mean?"] {
        assert_eq!(ids(words)[0], "P0455", "{words}");
    }
    assert_eq!(ids("p04ab")[0], "P04AB");
    assert_eq!(found("P0420x P9999").unknown.first().map(String::as_str), Some("P9999"));
    // Words beside it that ask for a code find others by their texts; the one that was said comes first.
    for (words, code) in [
        ("code oh four four two", "P0442"),
        ("fault P-0442", "P0442"),
        ("four twenty on the scanner", "P0420"),
        ("code 455", "P0455"),
    ] {
        assert_eq!(ids(words)[0], code, "{words}");
    }
}

#[test]
fn an_id_is_found_as_it_stands() {
    assert_eq!(ids("purge-valve/stuck-open")[0], "purge-valve/stuck-open");
    assert_eq!(ids("Smoke-Whole")[0], "smoke-whole");
}

#[test]
fn only_entries_of_the_kinds_asked_for_are_found() {
    for kind in EntryKind::ALL {
        let found = FINDER.search("purge valve petrol smell leak exhaust", &[kind], 20).unwrap();
        assert!(!found.hits.is_empty() && found.hits.iter().all(|h| h.kind == kind), "{kind:?}");
    }
    let only = FINDER.search("p0455", &[EntryKind::Symptom], 20).unwrap();
    assert!(only.hits.iter().all(|h| h.kind == EntryKind::Symptom));
}

#[test]
fn words_in_quotes_must_stand_together() {
    let loose = FINDER.search("valve purge", &[], 1000).unwrap();
    let together = FINDER.search("\"purge valve\"", &[], 1000).unwrap();
    assert!(!together.hits.is_empty());
    assert!(FINDER.search("\"valve purge valve purge\"", &[], 10).unwrap().hits.is_empty());
    assert!(together.hits.len() < loose.hits.len());
    // A quote that is never closed is no quote.
    assert_eq!(found("\"purge valve").hits, found("purge valve").hits);
}

#[test]
fn a_slip_of_the_finger_is_forgiven_and_never_beats_the_word_itself() {
    assert_eq!(ids("purge vlave stuck opn")[0], ids("purge valve stuck open")[0]);
    let right = found("canister saturated");
    let slip = found("canister saturatde");
    assert_eq!(slip.respelled, [("saturatde".to_owned(), "saturated".to_owned())]);
    assert!(slip.hits[0].score < right.hits[0].score);
    // A word of the base is never taken for another one, however near: "hose" is not "nose", "lose" or "close".
    for word in ["hose", "cap", "vent", "seal", "fuse", "rust"] {
        assert!(found(word).respelled.is_empty());
        let stem = &word[..3];
        for hit in found(word).hits.iter().take(3) {
            assert!(hit.excerpt.text.to_lowercase().contains(stem), "{word}: {}", hit.excerpt.text);
        }
    }
}

#[test]
fn excerpts_mark_what_was_asked_for() {
    let found = found("stinks of petrol");
    for hit in &found.hits {
        assert!(!hit.excerpt.marks.is_empty(), "{}", hit.id);
    }
    let marked: Vec<&str> = found.hits[0].excerpt.pieces().into_iter().filter(|p| p.1).map(|p| p.0).collect();
    assert!(marked.iter().any(|m| ["petrol", "gas", "fuel", "gasoline"].contains(m)), "{marked:?}");
}

#[test]
fn odd_texts_give_an_answer_or_none_but_never_an_error() {
    let long = "petrol smell ".repeat(800);
    let odd = [
        "",
        "   ",
        "\"",
        "\"\"\"",
        "the of and",
        "(",
        "))((",
        "AND",
        "OR NOT",
        "+purge -valve",
        "title:purge",
        "purge~2 valve^3",
        "[a TO z]",
        "{* TO *}",
        "*",
        "?",
        "/regex.*/",
        "\\",
        "purge\\",
        "🚗💨",
        "purge 🚗 valve",
        "\u{0}\u{1b}[31m",
        "ﷺ",
        "ß",
        "漢字",
        "\u{202e}evlav",
        "a\u{301}",
        "''''",
        "it's 'n' o'",
        "field:\"unclosed",
        "1e309",
        "-",
        "--in",
        "P",
        "p p p p",
        "0.020.030",
        &long,
        &"x".repeat(10_000),
        &"\"".repeat(9_999),
        &"x ".repeat(5_000),
    ];
    for text in odd {
        let found = found(text);
        assert!(found.hits.len() <= 10);
        FINDER.resolve_symptom(text).unwrap();
    }
    assert!(found("").empty && found("the of and").empty && found("🚗").empty);
    assert!(!found("purge 🚗 valve").hits.is_empty());
    assert_eq!(ids("+purge -valve")[0], ids("purge valve")[0]);
}

#[test]
fn where_nothing_is_found_words_that_look_alike_are_suggested() {
    let nothing = FINDER.search("carbonisation", &[EntryKind::Caution], 10).unwrap();
    let none = found("qqxxz");
    assert!(none.hits.is_empty() && none.unknown == ["qqxxz"] && !none.empty);
    assert!(nothing.hits.is_empty() || nothing.near.is_empty());
    assert!(found("canistr-blorb purgle").near.is_empty(), "something is found, so nothing is suggested");
    assert!(!found("canisterless").near.is_empty());
    let no_such_code = found("P04FF");
    assert!(no_such_code.hits.is_empty() && no_such_code.unknown == ["P04FF"] && !no_such_code.near.is_empty());
}

#[test]
fn clear_words_become_one_symptom_and_unclear_ones_a_choice() {
    let resolve = |words: &str| FINDER.resolve_symptom(words).unwrap();
    assert_eq!(resolve("hiss-at-cap"), Resolved::One("hiss-at-cap".to_owned()));
    for s in &BASE.symptoms {
        assert_eq!(resolve(&s.name), Resolved::One(s.id.clone()), "{}", s.name);
        assert_eq!(resolve(&s.id), Resolved::One(s.id.clone()));
    }
    let Resolved::Several(choices) = resolve("smell of petrol") else { panic!("several symptoms smell of petrol") };
    assert!(choices.len() >= 3 && choices.iter().all(|h| h.kind == EntryKind::Symptom));
    assert!(matches!(resolve("engine light"), Resolved::Several(_)));
    assert!(matches!(resolve("qqxxz"), Resolved::None { .. }));
    assert!(matches!(resolve("the"), Resolved::None { .. }));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_text_is_answered_in_good_order(text in "\\PC{0,80}") {
        let found = found(&text);
        // Only a caution that answers a question of safety may stand before a better score.
        let from = usize::from(found.hits.first().is_some_and(|h| h.kind == EntryKind::Caution));
        prop_assert!(found.hits[from.min(found.hits.len())..].windows(2).all(|h| h[0].score >= h[1].score));
        for hit in &found.hits {
            prop_assert!(hit.score.is_finite() && hit.score > 0.0);
            prop_assert_eq!(hit.excerpt.pieces().iter().map(|p| p.0).collect::<String>(), hit.excerpt.text.clone());
        }
    }

    #[test]
    fn the_same_words_in_capitals_and_further_apart_find_the_same(pick in 0usize..200) {
        let all = queries();
        let words = &all[pick % all.len()].words;
        let shouted = words.to_uppercase().replace(' ', "   ");
        prop_assert_eq!(ids(words), ids(&shouted));
    }
}

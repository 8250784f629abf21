//! Prints how well and how fast search answers: mean reciprocal rank and hit-at-3 on `tests/search/queries.tsv`, against plain
//! BM25 and SQLite FTS5 over the same text, and the time of a search on the shipped base and on ten thousand entries.
//!
//! `cargo bench --bench search`; `cargo bench --bench search -- FILE` uses other queries, `-- --misses` lists what is not found,
//! `-- --quality` leaves the times out.

#![expect(clippy::print_stdout, reason = "a bench prints")]

#[path = "../tests/search/quality.rs"]
mod quality;

use faultodds::knowledge::Base;
use faultodds::knowledge::base::Symptom;
use faultodds::search::{EntryKind, Finder, Resolved, Settings, pack};
use faultodds::shipped;
use quality::{DEPTH, Quality, Query, fts5, own, plain_bm25, queries, rank};
use std::time::Instant;

fn main() {
    let base = shipped::base().unwrap();
    let arguments: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    let misses = arguments.iter().any(|a| a == "--misses");
    let asked = arguments
        .iter()
        .find(|a| !a.starts_with("--"))
        .map_or_else(queries, |file| quality::parse(&std::fs::read_to_string(file).unwrap()));
    table(&base, &asked);
    resolving(&asked, misses);
    if misses {
        list_misses(&asked);
    }
    if !arguments.iter().any(|a| a == "--quality") {
        timings(base);
    }
}

fn table(base: &Base, asked: &[Query]) {
    println!("{:<20}{:>8}{:>8}{:>8}", format!("{} queries", asked.len()), "MRR", "first", "hit@3");
    let line = |name: &str, ask: &dyn Fn(&str) -> Vec<String>| {
        let Quality { mrr, first, hit_at_3 } = quality::quality(asked, ask);
        println!("{name:<20}{mrr:>8.3}{first:>8.3}{hit_at_3:>8.3}");
        let kinds: std::collections::BTreeSet<&str> =
            asked.iter().map(|q| q.kind.as_str()).filter(|k| !k.is_empty()).collect();
        for kind in kinds {
            let of: Vec<&Query> = asked.iter().filter(|q| q.kind == kind).collect();
            let Quality { mrr, first, hit_at_3 } = quality::quality(of.iter().copied(), ask);
            println!("  {:<18}{mrr:>8.3}{first:>8.3}{hit_at_3:>8.3}", format!("{kind} ({})", of.len()));
        }
    };
    line("search", &own());
    line("plain BM25", &plain_bm25(base));
    line("FTS5", &fts5(base, "unicode61"));
    line("FTS5, stemmed", &fts5(base, "porter unicode61"));
}

fn resolving(asked: &[Query], misses: bool) {
    let finder = Finder::new(shipped::index(), Settings::default()).unwrap();
    let (mut one, mut right, mut several, mut offered, mut none) = (0, 0, 0, 0, 0);
    for q in asked.iter().filter(|q| q.answers.iter().all(|a| a.starts_with("symptom:"))) {
        let is_answer = |id: &str| q.answers.contains(&format!("symptom:{id}"));
        match finder.resolve_symptom(&q.words).unwrap() {
            Resolved::One(id) => {
                one += 1;
                right += usize::from(is_answer(&id));
                if misses && !is_answer(&id) {
                    println!("resolved wrongly: {} -> {id}", q.words);
                }
            }
            Resolved::Several(hits) => {
                several += 1;
                offered += usize::from(hits.iter().any(|h| is_answer(&h.id)));
            }
            Resolved::None { .. } => none += 1,
        }
    }
    println!(
        "words to one symptom: {one} taken, {right} rightly; {several} asked back, {offered} with the answer among the choices; {none} nothing"
    );
}

fn list_misses(asked: &[Query]) {
    let ask = own();
    for q in asked {
        let ranking = ask(&q.words);
        let at = rank(q, &ranking);
        if at.is_none_or(|r| r > 3) {
            println!(
                "{:>4} {} [{}]: {}",
                at.map_or("-".to_owned(), |r| r.to_string()),
                q.words,
                q.answers.join(" "),
                ranking.iter().take(4).cloned().collect::<Vec<_>>().join(" ")
            );
        }
    }
}

/// The median of these times in milliseconds.
fn median(mut ms: Vec<f64>) -> f64 {
    ms.sort_by(f64::total_cmp);
    ms[ms.len() / 2]
}

fn timings(base: Base) {
    let large = ten_thousand(base.clone());
    for (name, base) in [("shipped base", &base), ("ten thousand more entries", &large)] {
        let mut build = Vec::new();
        let mut ask = Vec::new();
        for words in
            ["stinks of petrol after filling up", "pump clciks off", "purge valve stuck open", "gas", "zzzzz qqqqq"]
        {
            let start = Instant::now();
            let index = pack(base).unwrap();
            build.push(start.elapsed().as_secs_f64() * 1e3);
            let start = Instant::now();
            let finder = Finder::new(&index, Settings::default()).unwrap();
            let found = finder.search(words, &[], DEPTH).unwrap();
            let _ = finder.search(words, &[EntryKind::Symptom], DEPTH).unwrap();
            ask.push(start.elapsed().as_secs_f64() * 1e3);
            assert!(found.hits.len() <= DEPTH);
        }
        println!("{name}: packing {:.1} ms, opening and two searches {:.1} ms", median(build), median(ask));
    }
}

/// The base with ten thousand symptoms more, each with nine wordings made of the base's own words.
fn ten_thousand(mut base: Base) -> Base {
    let words: Vec<String> =
        base.symptoms.iter().flat_map(|s| &s.also).flat_map(|a| a.split(' ')).map(str::to_owned).collect();
    let mut seed = 0x0455_u64;
    let mut phrase = || {
        let mut next = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            words[(seed >> 33) as usize % words.len()].clone()
        };
        (0..6).map(|_| next()).collect::<Vec<_>>().join(" ")
    };
    let pattern = base.symptoms[0].clone();
    for i in 0..10_000 {
        let also = (0..8).map(|_| phrase()).collect();
        base.symptoms.push(Symptom { id: format!("zz-made-up-{i:05}"), name: phrase(), also, ..pattern.clone() });
    }
    base
}

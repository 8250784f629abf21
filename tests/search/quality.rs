//! The project's own queries and how well a ranking answers them; shared by the test and the bench.

use faultodds::knowledge::Base;
use faultodds::search::{Finder, Settings, entries};
use rusqlite::Connection;
use tantivy::collector::TopDocs;
use tantivy::query::{BooleanQuery, Occur, Query as Asked, TermQuery};
use tantivy::schema::{IndexRecordOption, STORED, STRING, Schema, TEXT, Value};
use tantivy::{Index, TantivyDocument, Term};

/// How deep a ranking is read.
pub const DEPTH: usize = 20;

/// One query with what must be found.
#[derive(Clone, Debug)]
pub struct Query {
    pub words: String,
    /// `kind:id`, any of which counts.
    pub answers: Vec<String>,
    /// The kind that was wanted, where the file says so.
    pub kind: String,
}

/// The queries of `queries.tsv`.
pub fn queries() -> Vec<Query> {
    parse(include_str!("queries.tsv"))
}

/// Reads lines of words, answers separated by blanks, and whatever else.
pub fn parse(text: &str) -> Vec<Query> {
    text.lines()
        .filter(|line| !line.starts_with('#') && !line.trim().is_empty())
        .map(|line| {
            let mut cells = line.split('\t');
            let words = cells.next().unwrap().to_owned();
            let answers = cells.next().expect("answers after a tab").split(' ').map(str::to_owned).collect();
            let kind = cells.next().unwrap_or_default().to_owned();
            Query { words, answers, kind }
        })
        .collect()
}

/// Mean reciprocal rank, and the shares of queries answered at the first place and among the first three.
#[derive(Clone, Copy, Debug)]
pub struct Quality {
    pub mrr: f64,
    pub first: f64,
    pub hit_at_3: f64,
}

/// Rank of the first answer, from 1; `None` below `DEPTH`.
pub fn rank(query: &Query, ranking: &[String]) -> Option<usize> {
    ranking.iter().take(DEPTH).position(|id| query.answers.contains(id)).map(|i| i + 1)
}

pub fn quality<'q>(queries: impl IntoIterator<Item = &'q Query>, ask: impl Fn(&str) -> Vec<String>) -> Quality {
    let ranks: Vec<Option<usize>> = queries.into_iter().map(|q| rank(q, &ask(&q.words))).collect();
    let n = ranks.len() as f64;
    Quality {
        first: ranks.iter().flatten().filter(|r| **r == 1).count() as f64 / n,
        mrr: ranks.iter().flatten().map(|r| 1.0 / *r as f64).sum::<f64>() / n,
        hit_at_3: ranks.iter().flatten().filter(|r| **r <= 3).count() as f64 / n,
    }
}

/// The project's search on the shipped base.
pub fn own() -> impl Fn(&str) -> Vec<String> {
    let finder = Finder::new(faultodds::shipped::index(), Settings::default()).unwrap();
    move |words| {
        let found = finder.search(words, &[], DEPTH).unwrap();
        found.hits.iter().map(|h| format!("{}:{}", h.kind.word(), h.id)).collect()
    }
}

/// Every entry with its text in one piece; the id of a code is part of its text, or the baselines could not find it.
fn texts(base: &Base) -> Vec<(String, String)> {
    let text = |e: &faultodds::search::Entry| e.wordings.iter().map(|w| w.text.as_ref()).collect::<Vec<_>>().join(". ");
    entries(base).iter().map(|e| (format!("{}:{}", e.kind.word(), e.id), format!("{} {}", e.id, text(e)))).collect()
}

fn lower_words(words: &str) -> Vec<String> {
    words.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).map(str::to_lowercase).collect()
}

/// Plain BM25: tantivy with its default tokenizer, any word counts, no stems, no synonyms, no typos.
pub fn plain_bm25(base: &Base) -> impl Fn(&str) -> Vec<String> + use<> {
    let mut schema = Schema::builder();
    let id = schema.add_text_field("id", STRING | STORED);
    let text = schema.add_text_field("text", TEXT);
    let index = Index::create_in_ram(schema.build());
    let mut writer = index.writer_with_num_threads(1, 20_000_000).unwrap();
    for (entry, words) in texts(base) {
        let mut document = TantivyDocument::default();
        document.add_text(id, entry);
        document.add_text(text, words);
        writer.add_document(document).unwrap();
    }
    writer.commit().unwrap();
    let searcher = index.reader().unwrap().searcher();
    move |words| {
        let any = lower_words(words).into_iter().map(|w| -> (Occur, Box<dyn Asked>) {
            (Occur::Should, Box::new(TermQuery::new(Term::from_field_text(text, &w), IndexRecordOption::WithFreqs)))
        });
        let found =
            searcher.search(&BooleanQuery::new(any.collect()), &TopDocs::with_limit(DEPTH).order_by_score()).unwrap();
        let name =
            |at| searcher.doc::<TantivyDocument>(at).unwrap().get_first(id).unwrap().as_str().unwrap().to_owned();
        found.into_iter().map(|(_, at)| name(at)).collect()
    }
}

/// SQLite FTS5 with this tokenizer, any word counts.
pub fn fts5(base: &Base, tokenizer: &str) -> impl Fn(&str) -> Vec<String> + use<> {
    let db = Connection::open_in_memory().unwrap();
    db.execute_batch(&format!("CREATE VIRTUAL TABLE t USING fts5(id UNINDEXED, words, tokenize = '{tokenizer}')"))
        .unwrap();
    for (entry, words) in texts(base) {
        db.execute("INSERT INTO t VALUES (?1, ?2)", [entry, words]).unwrap();
    }
    move |words| {
        let any = lower_words(words).iter().map(|w| format!("\"{w}\"")).collect::<Vec<_>>().join(" OR ");
        let mut select =
            db.prepare_cached("SELECT id FROM t WHERE words MATCH ?1 ORDER BY bm25(t), id LIMIT 20").unwrap();
        select.query_map([any], |row| row.get(0)).unwrap().map(Result::unwrap).collect()
    }
}

//! The shop's own words: what stands in its jobs, and the causes it wrote of past ones. SQLite's full-text index over them is
//! made in memory for one question and stored nowhere: the words are few beside the time of a question, and nothing that is
//! stored has to be kept in step with them.

use super::past::Written;
use jobs::store::Said;
use knowledge::base::Base;
use rusqlite::{Connection, params};
use search::{Excerpt, ways};
use std::collections::{BTreeMap, BTreeSet};

/// Where words come from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// A job of the store of jobs.
    Job {
        /// Its number.
        number: i64,
    },
    /// Past jobs that were brought in.
    Past {
        /// How many have these words.
        jobs: u64,
        /// The shop's number of the last one.
        job: Option<String>,
    },
}

/// Words of the shop's own.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnText {
    /// Where they stand.
    pub source: Source,
    /// The day, YYYY-MM-DD; of several jobs the last one's.
    pub day: String,
    /// The words.
    pub text: String,
    /// Suspects that were at fault, as far as that is known.
    pub causes: Vec<String>,
    /// Codes read.
    pub codes: Vec<String>,
    /// The car in one line; empty where nobody said.
    pub car: String,
}

impl OwnText {
    /// Words on a job; a job that ended without words is told by the names of its causes.
    #[must_use]
    pub fn of_job(said: Said, base: &Base) -> Self {
        let names = || said.causes.iter().map(|id| base.suspect_name(id)).collect::<Vec<_>>().join("; ");
        Self {
            source: Source::Job { number: said.job },
            day: said.at.strftime("%Y-%m-%d").to_string(),
            text: said.text.clone().unwrap_or_else(names),
            causes: said.causes,
            codes: said.codes,
            car: said.car,
        }
    }

    /// What was written of past jobs.
    #[must_use]
    pub fn of_past(written: Written) -> Self {
        Self {
            source: Source::Past { jobs: written.jobs, job: written.job },
            day: written.last,
            text: written.words,
            causes: written.causes,
            codes: written.codes,
            car: String::new(),
        }
    }
}

/// One text that answers, best first.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnHit {
    /// The text.
    pub own: OwnText,
    /// The words that were found marked in it.
    pub excerpt: Excerpt,
}

/// Texts with less than this share of the best one's score are noise.
const NOISE: f64 = 0.5;
/// How well a word answers that only means the same, the word itself being 1.
const SAME: f64 = 0.8;
/// Marks that no text holds.
const MARKS: [char; 2] = ['\u{1}', '\u{2}'];

/// The texts that hold the words or what the base says for them, at most so many, and how many more there are.
///
/// Each word counts by how rare it is and its like among the texts (Robertson and Spärck Jones). SQLite's own score is of no use
/// here: a word that stands in half of a handful of texts is worth nothing to it.
///
/// # Errors
/// What SQLite says.
pub fn find(texts: &[OwnText], words: &str, base: &Base, most: usize) -> Result<(Vec<OwnHit>, usize), rusqlite::Error> {
    let asked = ways(words, &base.synonyms);
    if asked.is_empty() {
        return Ok((Vec::new(), 0));
    }
    let index = filled(texts, base)?;
    let mut scores: BTreeMap<i64, f64> = BTreeMap::new();
    for way in &asked {
        let any = rows(&index, &either(way))?;
        let exact = rows(&index, &either(&way[..1]))?;
        #[expect(clippy::cast_precision_loss, reason = "numbers of texts")]
        let (all, with) = (texts.len() as f64, any.len() as f64);
        let rare = (1.0 + (all - with + 0.5) / (with + 0.5)).ln();
        for row in any {
            *scores.entry(row).or_default() += if exact.contains(&row) { rare } else { SAME * rare };
        }
    }
    let best = scores.values().copied().fold(0.0, f64::max);
    let own = |row: i64| usize::try_from(row).ok().and_then(|row| texts.get(row));
    let mut found: Vec<(i64, f64, &OwnText)> = scores
        .into_iter()
        .filter(|s| s.1 >= best * NOISE)
        .filter_map(|(row, score)| Some((row, score, own(row)?)))
        .collect();
    found.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| b.2.day.cmp(&a.2.day)));
    let more = found.len().saturating_sub(most);
    let every = asked.iter().map(|way| either(way)).collect::<Vec<_>>().join(" OR ");
    let mut marked = index.prepare("SELECT highlight(own, 0, ?3, ?4) FROM own WHERE own MATCH ?1 AND rowid = ?2")?;
    let mut hits = Vec::new();
    for (row, _, own) in found.into_iter().take(most) {
        let [from, to] = MARKS.map(String::from);
        let text: String = marked.query_row(params![every, row, from, to], |r| r.get(0))?;
        hits.push(OwnHit { own: own.clone(), excerpt: excerpt(&text) });
    }
    Ok((hits, more))
}

/// The full-text index over the texts, by their place. Beside its words a text is found by the names of its causes, its codes
/// and its car.
fn filled(texts: &[OwnText], base: &Base) -> Result<Connection, rusqlite::Error> {
    let index = Connection::open_in_memory()?;
    index.execute_batch(
        "CREATE VIRTUAL TABLE own USING fts5(text, about, tokenize = 'porter unicode61 remove_diacritics 2'); BEGIN;",
    )?;
    let mut insert = index.prepare("INSERT INTO own (rowid, text, about) VALUES (?1, ?2, ?3)")?;
    for (row, own) in (0_i64..).zip(texts) {
        let names = own.causes.iter().map(|id| base.suspect_name(id)).collect::<Vec<_>>().join(" ");
        let about = format!("{names} {} {}", own.codes.join(" "), own.car);
        insert.execute(params![row, own.text.replace(MARKS, " "), about])?;
    }
    drop(insert);
    Ok(index)
}

/// Any of these words or phrases, as FTS5 reads it: quoted, so that nothing typed is an operator.
fn either(all: &[String]) -> String {
    let quoted = |w: &String| format!("\"{}\"", w.replace('"', " "));
    format!("({})", all.iter().map(quoted).collect::<Vec<_>>().join(" OR "))
}

fn rows(index: &Connection, query: &str) -> Result<BTreeSet<i64>, rusqlite::Error> {
    index.prepare_cached("SELECT rowid FROM own WHERE own MATCH ?1")?.query_map([query], |r| r.get(0))?.collect()
}

/// The text between marks, and where the marks stood.
fn excerpt(marked: &str) -> Excerpt {
    let (mut text, mut marks, mut from) = (String::with_capacity(marked.len()), Vec::new(), None);
    for c in marked.chars() {
        match c {
            c if c == MARKS[0] => from = Some(text.len()),
            c if c == MARKS[1] => marks.extend(from.take().map(|from| (from, text.len()))),
            c => text.push(c),
        }
    }
    Excerpt::new(&text, &marks)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn own(text: &str, day: &str) -> OwnText {
        OwnText {
            source: Source::Past { jobs: 1, job: None },
            day: day.to_owned(),
            text: text.to_owned(),
            causes: Vec::new(),
            codes: vec!["P0442".to_owned()],
            car: String::new(),
        }
    }

    #[test]
    fn own_words_are_found_by_other_words_for_the_same_and_by_code() {
        let base = shipped::base().unwrap();
        let texts = [
            own("gas cap seal perished", "2024-01-02"),
            own("purge valve stuck open, replaced", "2024-01-03"),
            own("customer's dog \" OR NEAR( *", "2024-01-04"),
            own("gas cap seal perished", "2025-01-02"),
        ];
        let texts_of = |words: &str| -> Vec<String> {
            find(&texts, words, &base, 10)
                .unwrap()
                .0
                .into_iter()
                .map(|h| format!("{} {}", h.own.day, h.own.text))
                .collect()
        };
        assert_eq!(
            texts_of("cracked seal of the filler cap")[..2],
            ["2025-01-02 gas cap seal perished", "2024-01-02 gas cap seal perished"]
        );
        assert_eq!(texts_of("canister purge solenoid")[0], "2024-01-03 purge valve stuck open, replaced");
        assert_eq!(texts_of("P0442").len(), 4);
        assert!(texts_of("the of").is_empty() && texts_of("\" OR *").is_empty());
        let (hits, more) = find(&texts, "gas cap", &base, 1).unwrap();
        assert_eq!((hits.len(), more), (1, 1));
        assert_eq!(hits[0].excerpt.pieces().iter().filter(|p| p.1).map(|p| p.0).collect::<String>(), "gas cap");
    }
}

//! Lists of jobs by what stands in their summaries. Reads no event.

use super::super::error::StoreError;
use super::super::event::Verdict;
use super::Store;
use jiff::Timestamp;
use rusqlite::types::Value;
use rusqlite::{Row as SqlRow, params_from_iter};

/// Which jobs a list holds; what is not given does not matter.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Filter {
    /// Open ones (`true`) or closed ones (`false`).
    pub open: Option<bool>,
    /// How they ended.
    pub verdict: Option<Verdict>,
    /// A code that was read.
    pub code: Option<String>,
    /// A suspect that was at fault.
    pub cause: Option<String>,
    /// A repair that was made.
    pub repair: Option<String>,
    /// Opened at that time or later.
    pub since: Option<Timestamp>,
    /// Opened before that time.
    pub until: Option<Timestamp>,
    /// Words in the reference or the line of the car.
    pub words: Option<String>,
}

/// One line.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Job number.
    pub number: i64,
    /// When it was opened.
    pub opened_at: Timestamp,
    /// When something happened last.
    pub changed_at: Timestamp,
    /// When it was closed; none while open.
    pub closed_at: Option<Timestamp>,
    /// How it ended.
    pub verdict: Option<Verdict>,
    /// Codes read.
    pub codes: Vec<String>,
    /// Suspects at fault.
    pub causes: Vec<String>,
    /// Repairs made.
    pub repairs: Vec<String>,
    /// The car in one line.
    pub car: String,
    /// The shop's reference.
    pub reference: Option<String>,
    /// Minutes told.
    pub minutes: f64,
    /// Money told.
    pub cost: f64,
    /// Events.
    pub events: i64,
}

/// Matches are counted up to here; a count of all of them would cost more than the list.
pub const COUNTED: usize = 10_000;

/// The newest lines that match, and how many match at all.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// Newest first.
    pub rows: Vec<Row>,
    /// All that match, as far as they were counted.
    pub total: usize,
    /// Whether that is all of them, and not only the first [`COUNTED`].
    pub counted_all: bool,
}

impl Store {
    /// The newest jobs that match, at most `most`.
    ///
    /// # Errors
    /// What SQLite says.
    pub fn list(&self, filter: &Filter, most: usize) -> Result<Page, StoreError> {
        let limit = COUNTED.max(most) + 1;
        let (select, values) = filter.sql(limit);
        let mut statement = self.connection.prepare_cached(&select).map_err(|e| self.failed(e))?;
        let numbers: rusqlite::Result<Vec<i64>> =
            statement.query_map(params_from_iter(&values), |r| r.get(0)).and_then(Iterator::collect);
        let numbers = numbers.map_err(|e| self.failed(e))?;
        let mut one = self
            .connection
            .prepare_cached(
                "SELECT job, opened_at, changed_at, closed_at, verdict, codes, causes, repairs, car, reference, minutes, cost, events
                 FROM summary WHERE job = ?1",
            )
            .map_err(|e| self.failed(e))?;
        let rows: rusqlite::Result<Vec<Row>> = numbers.iter().take(most).map(|n| one.query_row([n], row)).collect();
        let counted_all = numbers.len() < limit;
        Ok(Page { rows: rows.map_err(|e| self.failed(e))?, total: numbers.len().min(limit - 1), counted_all })
    }
}

impl Filter {
    /// The numbers of the matching jobs, newest first. The first of code, cause and repair leads, through the table
    /// that is sorted by word and time; without one, the index by time does.
    fn sql(&self, limit: usize) -> (String, Vec<Value>) {
        let words = [("code", &self.code), ("cause", &self.cause), ("repair", &self.repair)];
        let mut given = words.into_iter().filter_map(|(kind, word)| word.as_ref().map(|w| (kind, w)));
        let (mut parts, mut values): (Vec<&str>, Vec<Value>) = (vec!["TRUE"], Vec::new());
        let (from, lead) = match given.next() {
            Some((kind, word)) => {
                parts.push("w.kind = ? AND w.word = ?");
                values.extend([kind.to_owned().into(), word.clone().into()]);
                ("summary_word AS w CROSS JOIN summary AS s ON s.job = w.job", "w")
            }
            None => ("summary AS s", "s"),
        };
        for (kind, word) in given {
            parts.push("s.job IN (SELECT job FROM summary_word WHERE kind = ? AND word = ?)");
            values.extend([kind.to_owned().into(), word.clone().into()]);
        }
        match self.open {
            Some(true) => parts.push("s.closed_at IS NULL"),
            Some(false) => parts.push("s.closed_at IS NOT NULL"),
            None => {}
        }
        if let Some(verdict) = self.verdict {
            parts.push("s.verdict = ?");
            values.push(verdict.word().to_owned().into());
        }
        let (since, until) = (format!("{lead}.opened_at >= ?"), format!("{lead}.opened_at < ?"));
        if let Some(at) = self.since {
            parts.push(&since);
            values.push(at.as_millisecond().into());
        }
        if let Some(at) = self.until {
            parts.push(&until);
            values.push(at.as_millisecond().into());
        }
        for word in self.words.iter().flat_map(|w| w.split_whitespace()) {
            parts.push("instr(s.words, ?) > 0");
            values.push(word.to_lowercase().into());
        }
        let condition = parts.join(" AND ");
        let sql = format!(
            "SELECT {lead}.job FROM {from} WHERE {condition} ORDER BY {lead}.opened_at DESC, {lead}.job DESC LIMIT {limit}"
        );
        (sql, values)
    }
}

fn row(r: &SqlRow<'_>) -> rusqlite::Result<Row> {
    let at = |ms: i64| Timestamp::from_millisecond(ms).unwrap_or_default();
    let words = |text: String| text.split(' ').filter(|w| !w.is_empty()).map(str::to_owned).collect();
    Ok(Row {
        number: r.get(0)?,
        opened_at: at(r.get(1)?),
        changed_at: at(r.get(2)?),
        closed_at: r.get::<_, Option<i64>>(3)?.map(at),
        verdict: r.get::<_, Option<String>>(4)?.as_deref().and_then(Verdict::from_word),
        codes: words(r.get(5)?),
        causes: words(r.get(6)?),
        repairs: words(r.get(7)?),
        car: r.get(8)?,
        reference: r.get(9)?,
        minutes: r.get(10)?,
        cost: r.get(11)?,
        events: r.get(12)?,
    })
}

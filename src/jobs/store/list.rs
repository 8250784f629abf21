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

/// The newest lines that match, and how many match at all.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// Newest first.
    pub rows: Vec<Row>,
    /// All that match.
    pub total: u64,
}

impl Store {
    /// The newest jobs that match, at most `most`.
    ///
    /// # Errors
    /// What SQLite says.
    pub fn list(&self, filter: &Filter, most: usize) -> Result<Page, StoreError> {
        let (condition, values) = filter.sql();
        let count = format!("SELECT COUNT(*) FROM summary AS s WHERE {condition}");
        let total: i64 = self
            .connection
            .prepare_cached(&count)
            .and_then(|mut s| s.query_row(params_from_iter(&values), |r| r.get(0)))
            .map_err(|e| self.failed(e))?;
        let select = format!(
            "SELECT job, opened_at, changed_at, closed_at, verdict, codes, causes, repairs, car, reference, minutes, cost, events
             FROM summary AS s WHERE {condition} ORDER BY opened_at DESC, job DESC LIMIT {most}"
        );
        let mut statement = self.connection.prepare_cached(&select).map_err(|e| self.failed(e))?;
        let rows: rusqlite::Result<Vec<Row>> =
            statement.query_map(params_from_iter(&values), row).and_then(Iterator::collect);
        Ok(Page { rows: rows.map_err(|e| self.failed(e))?, total: u64::try_from(total).unwrap_or(0) })
    }
}

impl Filter {
    fn sql(&self) -> (String, Vec<Value>) {
        let mut parts: Vec<&str> = vec!["TRUE"];
        let mut values: Vec<Value> = Vec::new();
        match self.open {
            Some(true) => parts.push("closed_at IS NULL"),
            Some(false) => parts.push("closed_at IS NOT NULL"),
            None => {}
        }
        if let Some(verdict) = self.verdict {
            parts.push("verdict = ?");
            values.push(verdict.word().to_owned().into());
        }
        for (kind, word) in [("code", &self.code), ("cause", &self.cause), ("repair", &self.repair)] {
            if let Some(word) = word {
                parts.push("job IN (SELECT job FROM summary_word WHERE kind = ? AND word = ?)");
                values.extend([kind.to_owned().into(), word.clone().into()]);
            }
        }
        if let Some(since) = self.since {
            parts.push("opened_at >= ?");
            values.push(since.as_millisecond().into());
        }
        if let Some(until) = self.until {
            parts.push("opened_at < ?");
            values.push(until.as_millisecond().into());
        }
        for word in self.words.iter().flat_map(|w| w.split_whitespace()) {
            parts.push("instr(lower(car || ' ' || COALESCE(reference, '')), lower(?)) > 0");
            values.push(word.to_owned().into());
        }
        (parts.join(" AND "), values)
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

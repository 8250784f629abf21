//! The words that people put into jobs: notes, remarks on repairs and looks, how a cause was confirmed. Reads events as they lie,
//! so that no job has to be added up.

use super::super::error::StoreError;
use super::Store;
use jiff::Timestamp;
use rusqlite::Row;

/// Words on a job, or its confirmed causes.
#[derive(Clone, Debug, PartialEq)]
pub struct Said {
    /// Job number.
    pub job: i64,
    /// When it was said.
    pub at: Timestamp,
    /// The words as given; none where the job's ending is meant.
    pub text: Option<String>,
    /// Suspects at fault, if the job is closed.
    pub causes: Vec<String>,
    /// Codes read.
    pub codes: Vec<String>,
    /// The car in one line.
    pub car: String,
}

/// All free words that still hold: what was taken back as a whole is left out.
const WORDS: &str = "
SELECT e.job, e.at, t.atom, s.causes, s.codes, s.car
FROM event AS e
JOIN summary AS s ON s.job = e.job
JOIN json_tree(e.event, '$.body') AS t
WHERE t.type = 'text' AND t.key IN ('text', 'note', 'tried', 'how', 'why', 'words')
  AND json_extract(e.event, '$.kind') NOT IN ('undone', 'retracted')
  AND NOT EXISTS (
    SELECT 1 FROM event AS u
    WHERE u.job = e.job AND u.number > e.number AND json_extract(u.event, '$.kind') IN ('undone', 'retracted')
      AND json_extract(u.event, '$.body.event') = e.number AND json_extract(u.event, '$.body.what') IS NULL
  )";

/// How jobs ended.
const ENDINGS: &str =
    "SELECT job, closed_at, NULL, causes, codes, car FROM summary WHERE closed_at IS NOT NULL AND causes <> ''";

impl Store {
    /// All words on all jobs, and the causes of the closed ones.
    ///
    /// # Errors
    /// What SQLite says.
    pub fn said(&self) -> Result<Vec<Said>, StoreError> {
        let mut out = Vec::new();
        for select in [WORDS, ENDINGS] {
            let mut statement = self.connection.prepare(select).map_err(|e| self.failed(e))?;
            let rows: rusqlite::Result<Vec<Said>> = statement.query_map([], said).and_then(Iterator::collect);
            out.extend(rows.map_err(|e| self.failed(e))?);
        }
        Ok(out)
    }
}

fn said(r: &Row<'_>) -> rusqlite::Result<Said> {
    let words = |text: String| text.split(' ').filter(|w| !w.is_empty()).map(str::to_owned).collect();
    Ok(Said {
        job: r.get(0)?,
        at: Timestamp::from_millisecond(r.get(1)?).unwrap_or_default(),
        text: r.get(2)?,
        causes: words(r.get(3)?),
        codes: words(r.get(4)?),
        car: r.get(5)?,
    })
}

//! What the shop wrote as causes of its past jobs, each wording once.

use super::error::PastError;
use super::store::Store;

/// A cause as the shop wrote it, on jobs with the same codes.
#[derive(Clone, Debug, PartialEq)]
pub struct Written {
    /// The words.
    pub words: String,
    /// What they were read as: suspects; none where that is open.
    pub causes: Vec<String>,
    /// Codes of these jobs.
    pub codes: Vec<String>,
    /// How many jobs.
    pub jobs: u64,
    /// Day of the last of them, YYYY-MM-DD.
    pub last: String,
    /// The shop's number of that one.
    pub job: Option<String>,
}

impl Store {
    /// All causes in the shop's words. Jobs with the same words, reading and codes make one, so that what a shop writes a
    /// hundred times is told once.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn written(&self) -> Result<Vec<Written>, PastError> {
        // With a single MAX, SQLite takes the other columns from the row that holds it.
        let mut query = self.connection.prepare(
            "SELECT words, CASE WHEN state IN ('found', 'several') THEN cause ELSE '' END AS read_as, codes, COUNT(*), MAX(date), job
             FROM past WHERE words <> '' GROUP BY words, read_as, codes",
        )?;
        let rows = query.query_map([], |r| {
            let causes: String = r.get(1)?;
            let codes: String = r.get(2)?;
            Ok(Written {
                words: r.get(0)?,
                causes: causes.split(" + ").filter(|c| !c.is_empty()).map(str::to_owned).collect(),
                codes: codes.split(' ').filter(|c| !c.is_empty()).map(str::to_owned).collect(),
                jobs: r.get::<_, i64>(3)?.unsigned_abs(),
                last: r.get(4)?,
                job: r.get(5)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

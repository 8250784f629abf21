//! What was understood from the shop's words, and changing it: every wording with what it was read as, decisions of a person,
//! and taking one import out again.

use super::cause::CauseMatcher;
use super::error::PastError;
use super::meaning::Meanings;
use super::seal::{self, Part};
use super::store::{Store, beliefs};
use crate::model::Model;
use rusqlite::{Transaction, TransactionBehavior, params};
use std::collections::{BTreeMap, HashMap};

/// A wording and what it was read as.
#[derive(Clone, Debug, PartialEq)]
pub struct Wording {
    /// As the shop wrote it.
    pub words: String,
    /// What was made of it: `found`, `several`, `unsure`, `no-fault`, `held` or `left-out`.
    pub state: String,
    /// Suspect, several joined by ` + `, or nothing.
    pub cause: String,
    /// Candidates with beliefs or scores, where it is unsure or held.
    pub candidates: Vec<(String, f64)>,
    /// How many jobs.
    pub jobs: u64,
    /// How much of the words was understood so; none where a person decided, or it came in before this was kept.
    pub certainty: Option<f64>,
    /// What a person decided.
    pub decided: Option<String>,
    /// How many of the jobs are unsure because the car came back.
    pub came_back: u64,
}

/// A job as it is shown beside its wording.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shown {
    /// The shop's number.
    pub job: String,
    /// The day it came in.
    pub date: String,
    /// Codes.
    pub codes: String,
    /// Make and model.
    pub car: String,
}

/// A file that was brought in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Import {
    /// Its number; 0 is all that came in before imports were kept apart.
    pub number: i64,
    /// Name of the file.
    pub file: String,
    /// Day on which it was brought in.
    pub date: String,
    /// Jobs that came with it and are there.
    pub jobs: u64,
}

impl Store {
    /// Every wording with what it was read as, the commonest first; only the held ones if so asked.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn wordings(&self, only_held: bool) -> Result<Vec<Wording>, PastError> {
        let which = if only_held { "WHERE state = 'held'" } else { "" };
        let mut query = self.connection.prepare(&format!(
            "SELECT past.words, state, past.cause, COUNT(*) AS n, MIN(certainty), MIN(decision.cause), COUNT(back)
             FROM past LEFT JOIN decision ON decision.words = past.words {which}
             GROUP BY past.words, state, past.cause ORDER BY n DESC, past.words, state, past.cause"
        ))?;
        let rows = query.query_map([], |r| {
            let (state, cause): (String, String) = (r.get(1)?, r.get(2)?);
            let open = matches!(state.as_str(), "unsure" | "held");
            Ok(Wording {
                words: r.get(0)?,
                candidates: if open { beliefs(&cause) } else { Vec::new() },
                cause: if open { String::new() } else { cause },
                state,
                jobs: r.get::<_, i64>(3)?.unsigned_abs(),
                certainty: r.get(4)?,
                decided: r.get(5)?,
                came_back: r.get::<_, i64>(6)?.unsigned_abs(),
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The first jobs, up to so many, of each wording that is held.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn held_jobs(&self, most: usize) -> Result<HashMap<String, Vec<Shown>>, PastError> {
        let mut query = self.connection.prepare(
            "SELECT words, coalesce(job, 'row ' || row), date, codes, trim(coalesce(make, '') || ' ' || coalesce(model, ''))
             FROM past WHERE state = 'held' ORDER BY date, row",
        )?;
        let mut out: HashMap<String, Vec<Shown>> = HashMap::new();
        let mut rows = query.query([])?;
        while let Some(r) = rows.next()? {
            let jobs = out.entry(r.get(0)?).or_default();
            if jobs.len() < most {
                jobs.push(Shown { job: r.get(1)?, date: r.get(2)?, codes: r.get(3)?, car: r.get(4)? });
            }
        }
        Ok(out)
    }

    /// Decides what words mean, for the rows that hold them and for those to come; a decision of none is taken back, and the
    /// words are read anew. Returns how many jobs changed.
    ///
    /// # Errors
    /// When the store cannot be written; nothing is changed then.
    pub fn decide(
        &mut self,
        decisions: &[(String, Option<String>)],
        matcher: &dyn CauseMatcher,
        model: &Model,
    ) -> Result<u64, PastError> {
        let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let broken = seal::broken(&transaction)?;
        for (words, cause) in decisions {
            match cause {
                Some(cause) => transaction.execute(
                    "INSERT INTO decision VALUES (?1, ?2) ON CONFLICT (words) DO UPDATE SET cause = excluded.cause",
                    params![words, cause],
                )?,
                None => transaction.execute("DELETE FROM decision WHERE words = ?1", [words])?,
            };
        }
        let mut meanings = Meanings::new(matcher, model, decisions_in(&transaction)?);
        let mut changed = 0;
        for (words, _) in decisions {
            changed += reread(&transaction, &mut meanings, "words = ?1", &words.as_str())?;
        }
        let anew: Vec<Part> = decisions.iter().map(|(words, _)| Part::Decision(words.clone())).collect();
        seal::renew(&transaction, &broken, &anew)?;
        transaction.commit()?;
        Ok(changed)
    }

    /// The shop's numbers of the latest jobs behind each suspect and each repair, up to so many.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn behind(&self, most: usize) -> Result<BTreeMap<String, Vec<String>>, PastError> {
        let mut out: BTreeMap<String, Vec<String>> = BTreeMap::new();
        let mut query = self.connection.prepare(
            "SELECT cause, coalesce(repair, ''), coalesce(job, 'row ' || row) FROM past WHERE state = 'found'
             ORDER BY date DESC, row DESC",
        )?;
        let mut rows = query.query([])?;
        while let Some(row) = rows.next()? {
            let job: String = row.get(2)?;
            for of in [row.get::<_, String>(0)?, row.get(1)?].into_iter().filter(|of| !of.is_empty()) {
                let jobs = out.entry(of).or_default();
                if jobs.len() < most {
                    jobs.push(job.clone());
                }
            }
        }
        Ok(out)
    }

    /// The files that were brought in, those included of which damage left no job.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn imports(&self) -> Result<Vec<Import>, PastError> {
        let mut query = self.connection.prepare(
            "WITH came AS (SELECT import AS number, COUNT(*) AS jobs FROM past GROUP BY import),
                known AS (SELECT number FROM came UNION SELECT number FROM import
                    UNION SELECT CAST(which AS INTEGER) FROM seal WHERE what = 'import')
             SELECT number, coalesce(file, 'before imports were kept apart'), coalesce(date, ''), coalesce(jobs, 0)
             FROM known LEFT JOIN came USING (number) LEFT JOIN import USING (number) ORDER BY number",
        )?;
        let rows = query.query_map([], |r| {
            Ok(Import { number: r.get(0)?, file: r.get(1)?, date: r.get(2)?, jobs: r.get::<_, i64>(3)?.unsigned_abs() })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Takes the jobs of one import out; jobs that they had called back mean again what their words say. Returns how many
    /// jobs went, none when there is no such import.
    ///
    /// # Errors
    /// When the store cannot be written; nothing is changed then.
    pub fn take_out(&mut self, import: i64, matcher: &dyn CauseMatcher, model: &Model) -> Result<u64, PastError> {
        let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let broken = seal::broken(&transaction)?;
        transaction
            .execute("DELETE FROM past_result WHERE key IN (SELECT key FROM past WHERE import = ?1)", [import])?;
        let n = transaction.execute("DELETE FROM past WHERE import = ?1", [import])?;
        transaction.execute("DELETE FROM import WHERE number = ?1", [import])?;
        let mut meanings = Meanings::new(matcher, model, decisions_in(&transaction)?);
        let called = "back = ?1";
        transaction.execute("UPDATE past SET back = -1 WHERE back = ?1", [import])?;
        reread(&transaction, &mut meanings, called, &-1_i64)?;
        transaction.execute("UPDATE past SET back = NULL WHERE back = -1", [])?;
        seal::renew(&transaction, &broken, &[Part::Import(import)])?;
        transaction.commit()?;
        Ok(n as u64)
    }
}

/// Reads anew the words of the rows that this condition picks, those apart that a car's return made unsure. Returns how many
/// changed.
fn reread(
    transaction: &Transaction<'_>,
    meanings: &mut Meanings<'_>,
    which: &str,
    value: &dyn rusqlite::ToSql,
) -> Result<u64, PastError> {
    let rows: Vec<(i64, String, String)> = {
        let sql = format!("SELECT key, words, codes FROM past WHERE {which} AND (back IS NULL OR back = -1)");
        let mut query = transaction.prepare(&sql)?;
        let rows = query.query_map([value], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))?;
        rows.collect::<Result<_, _>>()?
    };
    let mut update = transaction.prepare_cached(
        "UPDATE past SET state = ?2, cause = ?3, certainty = ?4 WHERE key = ?1 AND (state <> ?2 OR cause <> ?3)",
    )?;
    let mut changed = 0;
    for (key, words, codes) in rows {
        let m = meanings.of(&words, &codes);
        changed += update.execute(params![key, m.state, m.cause, m.certainty])? as u64;
    }
    Ok(changed)
}

/// What a person decided about words.
pub(super) fn decisions_in(connection: &rusqlite::Connection) -> Result<HashMap<String, String>, PastError> {
    let mut query = connection.prepare("SELECT words, cause FROM decision")?;
    let rows = query.query_map([], |r| Ok((r.get(0)?, r.get(1)?)))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

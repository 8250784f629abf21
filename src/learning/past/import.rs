//! Brings a spreadsheet in: each row is kept, held for review, or refused with its reason. All of it or nothing.

use super::cause::CauseMatcher;
use super::cells;
use super::columns::Columns;
use super::error::PastError;
use super::keys::{Hash, key_of_job};
use super::mapping::Mapping;
use super::meaning::Meanings;
use super::report::{MOST_REMARKS, Remark, Report};
use super::rows::Row;
use super::seal;
use super::sheet::{self, Known};
use super::store::Store;
use super::wordings::decisions_in;
use crate::model::Model;
use jiff::civil::Date;
use knowledge::base::Base;
use rusqlite::{Statement, params};
use std::collections::{BTreeSet, HashMap};
use std::path::Path;

/// What is asked for.
pub struct Request<'a> {
    /// The base whose suspects causes are matched to.
    pub base: &'a Base,
    /// What the columns are.
    pub mapping: &'a Mapping,
    /// Finds suspects by words.
    pub matcher: &'a dyn CauseMatcher,
    /// The day on which this is done: later dates are refused.
    pub today: Date,
    /// Whether nothing is to be kept.
    pub dry_run: bool,
    /// Is told now and then how many bytes were read; false stops, and nothing is kept.
    pub progress: &'a mut dyn FnMut(u64) -> bool,
}

/// What has to be remembered of every row while a file is read lies in tables that SQLite keeps in a file of its own
/// and deletes with the connection, so that memory does not grow with the rows. `times` is stored as a number of 32
/// bits, as keys of earlier imports were made from it.
const DURING: &str = "
    PRAGMA temp_store = FILE;
    PRAGMA temp.cache_size = -16384;
    CREATE TEMP TABLE IF NOT EXISTS seen (key INTEGER PRIMARY KEY, times INTEGER NOT NULL);
    CREATE TEMP TABLE IF NOT EXISTS came_back (key INTEGER PRIMARY KEY);
    DELETE FROM temp.seen;
    DELETE FROM temp.came_back;
";

/// A job whose car came back was not cured by what was found then.
const BACK: &str = "UPDATE past SET state = 'unsure', cause = '', back = ?1
    WHERE key IN (SELECT key FROM came_back) AND state IN ('found', 'several', 'no-fault')";

/// Columns of a new row; the last two are the certainty and the import.
const INSERT: &str =
    "INSERT INTO past (key, content, row, job, date, make, model, engine, age, km, codes, words, state, cause,
        repair, repair_minutes, minutes, parts, certainty, import)
    VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20)
    ON CONFLICT (key) DO NOTHING";

/// Brings the file in.
///
/// # Errors
/// When the file, the mapping or the store cannot be used; nothing is kept then.
pub fn import(store: &mut Store, path: &Path, request: Request<'_>) -> Result<Report, PastError> {
    let mapping = request.mapping;
    let headers: Vec<&str> = mapping.columns.iter().map(|(_, c)| c.as_str()).collect();
    let known = Known {
        encoding: mapping.encoding.as_deref(),
        delimiter: mapping.delimiter,
        headers: &headers,
        decimal: Some(mapping.decimal),
    };
    let sheet::Opened { header, above, mut rows, encoding, delimiter } = sheet::open(path, known, u64::MAX)?;
    let columns = Columns::new(mapping, &header, request.base)?;
    let mut report =
        Report { encoding, above, delimiter: char::from(delimiter), dry_run: request.dry_run, ..Report::default() };
    let model = Model::new(request.base);
    let decisions = decisions_in(&store.connection)?;
    store.connection.execute_batch(DURING)?;
    let transaction = store.connection.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
    let broken = if request.dry_run { BTreeSet::new() } else { seal::broken(&transaction)? };
    let name = path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    transaction.execute("INSERT INTO import (file, date) VALUES (?1, ?2)", params![name, request.today.to_string()])?;
    let number = transaction.last_insert_rowid();
    {
        let mut work = Work {
            base: request.base,
            today: request.today,
            columns: &columns,
            meanings: Meanings::new(request.matcher, &model, decisions),
            repairs: repairs(request.base),
            width: header.len(),
            import: number,
            seen: transaction.prepare(
                "INSERT INTO seen VALUES (?1, 1) ON CONFLICT (key) DO UPDATE SET times = times + 1 RETURNING times",
            )?,
            insert: transaction.prepare(INSERT)?,
            result: transaction.prepare("INSERT INTO past_result VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING")?,
            content: transaction.prepare("SELECT content FROM past WHERE key = ?1")?,
            came_back: transaction.prepare("INSERT INTO came_back VALUES (?1) ON CONFLICT DO NOTHING")?,
        };
        // A row is taken once the next one does not go on with it.
        let (mut row, mut before, mut waits) = (Row::default(), Row::default(), false);
        while rows.next(&mut row)? {
            if row.number.is_multiple_of(4096) && !(request.progress)(rows.source().taken()) {
                return Err(PastError::Row {
                    row: row.number,
                    line: row.line,
                    message: "stopped; nothing was kept".to_owned(),
                });
            }
            if row.is_blank() {
                report.blank += 1;
                continue;
            }
            if waits && columns.goes_on(&row) {
                before.goes_on_with(&row);
                report.wrapped += 1;
                continue;
            }
            std::mem::swap(&mut row, &mut before);
            if waits {
                work.take(&row, &mut report)?;
            }
            waits = true;
        }
        if waits {
            work.take(&before, &mut report)?;
        }
        report.came_back = transaction.execute(BACK, [number])? as u64;
    }
    let added = report.kept + report.held > 0;
    if !added {
        transaction.execute("DELETE FROM import WHERE number = ?1", [number])?;
    }
    if request.dry_run {
        transaction.rollback()?
    } else {
        seal::renew(&transaction, &broken, &[])?;
        transaction.commit()?;
        report.import = added.then_some(number);
    }
    Ok(report)
}

enum Refusal {
    Row(&'static str, String),
    Store(rusqlite::Error),
}

impl From<rusqlite::Error> for Refusal {
    fn from(error: rusqlite::Error) -> Self {
        Self::Store(error)
    }
}

/// Repairs that remove each suspect.
fn repairs(base: &Base) -> HashMap<&str, Vec<(&str, &str)>> {
    let mut out: HashMap<&str, Vec<(&str, &str)>> = HashMap::new();
    for (_, r) in base.repairs() {
        for s in &r.removes {
            out.entry(s).or_default().push((&r.id, &r.does));
        }
    }
    out
}

struct Work<'a, 't> {
    base: &'a Base,
    today: Date,
    columns: &'a Columns<'a>,
    meanings: Meanings<'a>,
    /// Cells of the header.
    width: usize,
    import: i64,
    repairs: HashMap<&'a str, Vec<(&'a str, &'a str)>>,
    /// Counts how often each key came in this file.
    seen: Statement<'t>,
    insert: Statement<'t>,
    result: Statement<'t>,
    content: Statement<'t>,
    /// Notes the key of a job that a later row calls back.
    came_back: Statement<'t>,
}

impl Work<'_, '_> {
    /// Keeps or refuses a row, and says so in the report.
    fn take(&mut self, row: &Row, report: &mut Report) -> Result<(), PastError> {
        report.rows += 1;
        match self.row(row, report) {
            Ok(()) => {}
            Err(Refusal::Row(kind, reason)) => {
                report.refused += 1;
                *report.reasons.entry(kind).or_default() += 1;
                if report.refusals.len() < MOST_REMARKS {
                    let job = cells::short(self.columns.cell(row, "job"));
                    report.refusals.push(Remark { row: row.number, line: row.line, job, reason });
                }
            }
            Err(Refusal::Store(error)) => return Err(error.into()),
        }
        Ok(())
    }

    fn row(&mut self, row: &Row, report: &mut Report) -> Result<(), Refusal> {
        let width = self.width;
        let refuse = |kind, reason: String| Err(Refusal::Row(kind, reason));
        if row.too_long {
            return refuse(
                "longer than any row may be",
                format!("the row is longer than {} bytes", super::rows::LONGEST),
            );
        }
        if row.cut {
            return refuse("cells missing", "the file ends inside a quoted cell of this row: cut off?".to_owned());
        }
        if row.len() < width {
            return refuse(
                "cells missing",
                format!("the row has {} cells and the header {width}: cut off?", row.len()),
            );
        }
        if (width..row.len()).any(|i| !row.cell(i).is_empty()) {
            return refuse(
                "too many cells",
                format!(
                    "the row has {} cells and the header {width}: a delimiter inside a cell without quotes?",
                    row.len()
                ),
            );
        }
        let c = self.columns;
        for field in c.at.keys() {
            let cell = c.cell(row, field);
            if cells::is_formula(cell) {
                return refuse(
                    "a formula",
                    format!("the cell `{}` holds a formula and not its value", cells::short(cell)),
                );
            }
        }
        let date = cells::date(c.cell(row, "date"), c.mapping.date_order)
            .map_err(|why| Refusal::Row("no usable date", why))?;
        if date > self.today {
            return refuse("a date in the future", format!("{date} is in the future"));
        }
        if date.year() < 1980 {
            return refuse("no usable date", format!("{date} is before there were such codes"));
        }
        let told = cells::codes(c.cell(row, "codes"));
        if told.is_empty() {
            return refuse("no trouble code", "there is no trouble code".to_owned());
        }
        let known: Vec<&String> = told.iter().filter(|code| self.base.code(code).is_some()).collect();
        if known.is_empty() {
            return refuse("no code of the base", format!("the base knows none of {}", told.join(", ")));
        }
        let codes = known.iter().map(|s| s.as_str()).collect::<Vec<_>>().join(" ");
        let mut gaps = Vec::new();
        let minutes = self.number(row, "time", &mut gaps)?;
        let repair_minutes = self.number(row, "repair_time", &mut gaps)?;
        let parts = self.number(row, "parts", &mut gaps)?;
        let km = self.number(row, "mileage", &mut gaps)?;
        let year = c.cell(row, "year");
        let age = match year.parse::<i16>() {
            Ok(y) if (1980..=date.year() + 1).contains(&y) => Some(f64::from(date.year() - y).max(0.0)),
            _ if year.is_empty() => None,
            _ => {
                gaps.push(format!("`{}` is no model year", cells::short(year)));
                None
            }
        };
        let (key, content) = self.keys(row)?;
        let words = c.cell(row, "cause").split_whitespace().collect::<Vec<_>>().join(" ");
        let meant = self.meanings.of(&words, &codes);
        let repair = (meant.state == "found").then(|| self.repair(&meant.cause, c.cell(row, "repair"))).flatten();
        let optional = |field| Some(c.cell(row, field)).filter(|s| !s.is_empty());
        let added = self.insert.execute(params![
            key,
            content,
            i64::try_from(row.number).unwrap_or(i64::MAX),
            optional("job"),
            date.to_string(),
            optional("make"),
            optional("model"),
            optional("engine"),
            age,
            km,
            codes,
            words,
            meant.state,
            meant.cause,
            repair,
            repair_minutes,
            minutes,
            parts,
            meant.certainty,
            self.import
        ])?;
        if added == 0 {
            let before: i64 = self.content.query_row([key], |r| r.get(0))?;
            if before == content {
                report.known += 1
            } else {
                report.changed += 1
            }
            return Ok(());
        }
        for (r, at) in c.mapping.results.iter().zip(&c.results) {
            let cell = row.cell(*at).to_lowercase();
            if let Some((_, level)) = r.levels.iter().find(|(said, _)| *said == cell) {
                self.result.execute(params![key, r.reading, level])?;
            } else if !cell.is_empty() {
                gaps.push(format!("`{}` in column `{}` stands for no level", cells::short(&cell), r.column));
            }
        }
        let earlier = c.cell(row, "comeback_of");
        if !earlier.is_empty() {
            self.came_back.execute([key_of_job(earlier)])?;
        }
        if meant.state == "held" {
            report.held += 1
        } else {
            report.kept += 1
        }
        if !gaps.is_empty() {
            report.with_gaps += 1;
            if report.left_out.len() < MOST_REMARKS {
                let job = cells::short(c.cell(row, "job"));
                report.left_out.push(Remark { row: row.number, line: row.line, job, reason: gaps.join("; ") });
            }
        }
        Ok(())
    }

    /// An amount, a time or a distance. What cannot be read is a gap; what is negative or absurd refuses the row.
    fn number(&self, row: &Row, field: &'static str, gaps: &mut Vec<String>) -> Result<Option<f64>, Refusal> {
        let m = self.columns.mapping;
        let cell = self.columns.cell(row, field);
        if cell.is_empty() {
            return Ok(None);
        }
        let (read, most) = match field {
            "parts" => (cells::amount(cell, m.decimal), 50_000.0),
            "mileage" => (cells::km(cell, m.decimal, m.miles), 2_000_000.0),
            _ => (cells::minutes(cell, m.decimal, m.hours), 6_000.0),
        };
        match read {
            Ok(v) if v < 0.0 => Err(Refusal::Row("a negative number", format!("`{}` is negative", cells::short(cell)))),
            Ok(v) if v <= most => Ok(Some(v)),
            Ok(v) => {
                gaps.push(format!("{v} is more than anyone would believe for `{field}`"));
                Ok(None)
            }
            Err(why) => {
                gaps.push(why);
                Ok(None)
            }
        }
    }

    /// Key and content of a row. With a job number the number is the key; without, the content and how often it came.
    fn keys(&mut self, row: &Row) -> Result<(i64, i64), Refusal> {
        let mut content = Hash::new(1);
        for i in self.columns.at.values().chain(&self.columns.results) {
            content.take(row.cell(*i).as_bytes());
        }
        let content = content.end();
        let job = self.columns.cell(row, "job");
        if !job.is_empty() {
            let key = key_of_job(job);
            if self.times(key)? > 1 {
                return Err(Refusal::Row(
                    "a job number twice",
                    format!("the job number `{}` came before in this file", cells::short(job)),
                ));
            }
            return Ok((key, content));
        }
        let times = self.times(content)?;
        let mut key = Hash::new(3);
        key.take(&content.to_le_bytes());
        key.take(&times.to_le_bytes());
        Ok((key.end(), content))
    }

    /// How often the key came in this file so far, this time included.
    fn times(&mut self, key: i64) -> rusqlite::Result<u32> {
        self.seen.query_row([key], |r| r.get(0))
    }

    /// The repair that was made: the only one there is for the suspect, or the one whose words fit best.
    fn repair(&self, suspect: &str, words: &str) -> Option<String> {
        let all = self.repairs.get(suspect)?;
        if let [(id, _)] = all.as_slice() {
            return Some((*id).to_owned());
        }
        let given: Vec<String> =
            words.split(|c: char| !c.is_alphanumeric()).filter(|w| w.len() > 2).map(str::to_lowercase).collect();
        let fit = |does: &str| {
            let does = does.to_lowercase();
            given.iter().filter(|w| does.contains(&w[..w.len().min(5)])).count()
        };
        let mut scored: Vec<(usize, &str)> = all.iter().map(|(id, does)| (fit(&format!("{id} {does}")), *id)).collect();
        scored.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(b.1)));
        match scored.as_slice() {
            [(best, id), (next, _), ..] if best > next => Some((*id).to_owned()),
            _ => None,
        }
    }
}

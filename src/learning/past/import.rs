//! Brings a spreadsheet in: each row is kept, held for review, or refused with its reason. All of it or nothing.

use super::cause::{CauseMatcher, Said, said};
use super::cells;
use super::error::PastError;
use super::mapping::Mapping;
use super::rows::Row;
use super::sheet;
use super::store::{Store, decided};
use crate::knowledge::base::Base;
use crate::learning::model::Model;
use jiff::civil::Date;
use rusqlite::{Statement, params};
use std::collections::{BTreeMap, HashMap};
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

/// A row that was refused, or of which a cell was left out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// Row from 1, the header being 1.
    pub row: u64,
    /// Line of the file.
    pub line: u64,
    /// Why.
    pub reason: String,
}

/// What became of the rows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Report {
    /// Rows below the header that are not blank.
    pub rows: u64,
    /// New jobs with a cause, a doubt or no fault.
    pub kept: u64,
    /// New jobs whose cause a person has to look at.
    pub held: u64,
    /// Rows that were there before, unchanged.
    pub known: u64,
    /// Rows that were there before with another content; the first content stays.
    pub changed: u64,
    /// Rows refused.
    pub refused: u64,
    /// Blank rows, passed over.
    pub blank: u64,
    /// Jobs whose cause became unsure because the car came back with the same trouble.
    pub came_back: u64,
    /// By kind of reason: how many.
    pub reasons: BTreeMap<&'static str, u64>,
    /// Refused rows with their reasons, the first [`MOST_REMARKS`].
    pub refusals: Vec<Remark>,
    /// Kept rows of which a cell could not be read and was left out, the first [`MOST_REMARKS`].
    pub left_out: Vec<Remark>,
    /// Kept rows of which a cell was left out.
    pub with_gaps: u64,
    /// Encoding that was read.
    pub encoding: String,
    /// Delimiter that was read.
    pub delimiter: char,
    /// Whether nothing was kept on purpose.
    pub dry_run: bool,
}

/// Remarks kept in memory; the counts go on beyond.
pub const MOST_REMARKS: usize = 10_000;

/// Most different texts whose meaning is kept in memory.
const MOST_TEXTS: usize = 50_000;

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
const BACK: &str = "UPDATE past SET state = 'unsure', cause = ''
    WHERE key IN (SELECT key FROM came_back) AND state IN ('found', 'several', 'no-fault')";

/// Brings the file in.
///
/// # Errors
/// When the file, the mapping or the store cannot be used; nothing is kept then.
pub fn import(store: &mut Store, path: &Path, request: Request<'_>) -> Result<Report, PastError> {
    let mapping = request.mapping;
    let (header, mut rows, encoding, delimiter) =
        sheet::open(path, mapping.encoding.as_deref(), mapping.delimiter, u64::MAX)?;
    let columns = Columns::new(mapping, &header, request.base)?;
    let mut report = Report {
        encoding: encoding.to_owned(),
        delimiter: char::from(delimiter),
        dry_run: request.dry_run,
        ..Report::default()
    };
    let model = Model::new(request.base);
    let decisions = decisions(store)?;
    store.connection.execute_batch(DURING)?;
    let transaction = store.connection.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
    {
        let mut work = Work {
            base: request.base,
            matcher: request.matcher,
            today: request.today,
            columns: &columns,
            model: &model,
            decisions,
            texts: HashMap::new(),
            repairs: repairs(request.base),
            seen: transaction.prepare(
                "INSERT INTO seen VALUES (?1, 1) ON CONFLICT (key) DO UPDATE SET times = times + 1 RETURNING times",
            )?,
            insert: transaction.prepare(
                "INSERT INTO past VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18) ON CONFLICT (key) DO NOTHING",
            )?,
            result: transaction.prepare("INSERT INTO past_result VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING")?,
            content: transaction.prepare("SELECT content FROM past WHERE key = ?1")?,
            came_back: transaction.prepare("INSERT INTO came_back VALUES (?1) ON CONFLICT DO NOTHING")?,
        };
        let mut row = Row::default();
        while rows.next(&mut row)? {
            if row.number.is_multiple_of(4096) && !(request.progress)(rows.source().taken) {
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
            report.rows += 1;
            match work.row(&row, header.len(), &mut report) {
                Ok(()) => {}
                Err(Refusal::Row(kind, reason)) => {
                    report.refused += 1;
                    *report.reasons.entry(kind).or_default() += 1;
                    if report.refusals.len() < MOST_REMARKS {
                        report.refusals.push(Remark { row: row.number, line: row.line, reason });
                    }
                }
                Err(Refusal::Store(error)) => return Err(error.into()),
            }
        }
        report.came_back = transaction.execute(BACK, [])? as u64;
    }
    if request.dry_run {
        transaction.rollback()?
    } else {
        transaction.commit()?
    }
    Ok(report)
}

/// Where each field stands.
struct Columns<'m> {
    mapping: &'m Mapping,
    at: BTreeMap<&'m str, usize>,
    results: Vec<usize>,
}

impl<'m> Columns<'m> {
    fn new(mapping: &'m Mapping, header: &[String], base: &Base) -> Result<Self, PastError> {
        let find = |name: &str| {
            header.iter().position(|h| h == name).or_else(|| header.iter().position(|h| h.eq_ignore_ascii_case(name)))
        };
        let mut missing = Vec::new();
        let mut place = |name: &str| {
            find(name).unwrap_or_else(|| {
                missing.push(name.to_owned());
                0
            })
        };
        let at = mapping.columns.iter().map(|(field, column)| (field.as_str(), place(column))).collect();
        let results = mapping.results.iter().map(|r| place(&r.column)).collect();
        if !missing.is_empty() {
            return Err(PastError::Columns { missing, there: header.to_vec() });
        }
        let told = mapping.unknown(base);
        if told.is_empty() { Ok(Self { mapping, at, results }) } else { Err(PastError::Written { told }) }
    }

    fn cell<'r>(&self, row: &'r Row, field: &str) -> &'r str {
        self.at.get(field).map_or("", |i| row.cell(*i))
    }
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

fn decisions(store: &Store) -> Result<HashMap<String, String>, PastError> {
    let mut query = store.connection.prepare("SELECT words, cause FROM decision")?;
    let rows = query.query_map([], |r| Ok((r.get(0)?, r.get(1)?)))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

struct Work<'a, 't> {
    base: &'a Base,
    matcher: &'a dyn CauseMatcher,
    today: Date,
    columns: &'a Columns<'a>,
    model: &'a Model,
    decisions: HashMap<String, String>,
    texts: HashMap<String, Said>,
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
    fn row(&mut self, row: &Row, width: usize, report: &mut Report) -> Result<(), Refusal> {
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
        let (state, cause) = self.cause(&words, &codes);
        let repair = (state == "found").then(|| self.repair(&cause, c.cell(row, "repair"))).flatten();
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
            state,
            cause,
            repair,
            repair_minutes,
            minutes,
            parts
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
        if state == "held" {
            report.held += 1
        } else {
            report.kept += 1
        }
        if !gaps.is_empty() {
            report.with_gaps += 1;
            if report.left_out.len() < MOST_REMARKS {
                report.left_out.push(Remark { row: row.number, line: row.line, reason: gaps.join("; ") });
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

    fn cause(&mut self, words: &str, codes: &str) -> (&'static str, String) {
        if let Some(cause) = self.decisions.get(words) {
            return decided(cause, codes, &|codes| not_listed(self.model, codes));
        }
        let read = match self.texts.get(words) {
            Some(read) => read.clone(),
            None => {
                let read = said(words, self.matcher);
                // Shops repeat themselves; a cause is matched once. A file of nothing but novels does not fill memory.
                if self.texts.len() >= MOST_TEXTS {
                    self.texts.clear();
                }
                self.texts.insert(words.to_owned(), read.clone());
                read
            }
        };
        let beliefs =
            |list: &[(String, f64)]| list.iter().map(|(id, b)| format!("{id}={b:.2}")).collect::<Vec<_>>().join(" ");
        match read {
            Said::Found(id) => ("found", id),
            Said::Several(ids) => ("several", ids.join(" + ")),
            Said::Unsure(list) => ("unsure", beliefs(&list)),
            Said::NoFault => ("no-fault", String::new()),
            Said::Held(list) => ("held", beliefs(&list)),
        }
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

/// The "cause not listed here" for a pattern of codes.
#[must_use]
pub fn not_listed(model: &Model, codes: &str) -> Option<String> {
    let codes: Vec<String> = codes.split(' ').map(str::to_owned).collect();
    model.not_listed(&codes).map(str::to_owned)
}

fn key_of_job(job: &str) -> i64 {
    let mut hash = Hash::new(2);
    hash.take(job.trim().to_lowercase().as_bytes());
    hash.end()
}

/// FNV-1a of 64 bits (G. Fowler, L. Noll, P. Vo, 1991) with a last mixing step: the same on every machine and in
/// every version, since keys are stored. Among a million rows two share a key once in some 40 million files.
struct Hash(u64);

impl Hash {
    fn new(kind: u8) -> Self {
        let mut hash = Self(0xcbf2_9ce4_8422_2325);
        hash.take(&[kind]);
        hash
    }

    fn take(&mut self, bytes: &[u8]) {
        // A byte that no UTF-8 text holds parts the cells.
        for b in bytes.iter().chain(&[0xff]) {
            self.0 = (self.0 ^ u64::from(*b)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }

    fn end(self) -> i64 {
        let x = (self.0 ^ (self.0 >> 31)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        (x ^ (x >> 29)).cast_signed()
    }
}

//! Brings a spreadsheet in: each row is kept, held for review, or refused with its reason. All of it or nothing.

use super::cause::CauseMatcher;
use super::cells;
use super::columns::Columns;
use super::error::PastError;
use super::keys::Hash;
use super::mapping::Mapping;
use super::meaning::Meanings;
use super::report::{MOST_REMARKS, Remark, Report};
use super::rows::{Row, Rows};
use super::seal;
use super::sheet::{self, Known, Text};
use super::store::Store;
use super::understood::{Reader, Refusal, Understood, repairs};
use super::wordings::decisions_in;
use crate::model::Model;
use jiff::civil::Date;
use knowledge::base::Base;
use rusqlite::{Statement, Transaction, params};
use std::collections::BTreeSet;
use std::path::Path;
use std::sync::mpsc::{SyncSender, sync_channel};

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
    let sheet::Opened { header, above, rows, encoding, delimiter } = sheet::open(path, known, u64::MAX)?;
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
        let mut keeper = Keeper::new(&transaction, number)?;
        let mut reader = Reader {
            base: request.base,
            today: request.today,
            columns: &columns,
            meanings: Meanings::new(request.matcher, &model, decisions),
            repairs: repairs(request.base),
            width: header.len(),
        };
        let progress = request.progress;
        // One reads and understands while the other keeps.
        std::thread::scope(|threads| -> Result<(), PastError> {
            let (to, from) = sync_channel(WAITING);
            let columns = &columns;
            threads.spawn(move || read_all(rows, columns, &mut reader, &to));
            for batch in from {
                let Batch { rows, taken, blank, wrapped } = batch?;
                report.blank += blank;
                report.wrapped += wrapped;
                let last = rows.last().map(|(place, _)| (place.row, place.line));
                for row in rows {
                    keeper.take(row, &mut report)?;
                }
                if !progress(taken) {
                    let (row, line) = last.unwrap_or_default();
                    return Err(PastError::Row { row, line, message: "stopped; nothing was kept".to_owned() });
                }
            }
            Ok(())
        })?;
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

/// A row that was read: where it stood, and what it says.
type Read = (Place, Result<Understood, Refusal>);

/// Where a row stood.
struct Place {
    row: u64,
    line: u64,
    job: String,
}

impl Place {
    fn remark(self, reason: String) -> Remark {
        Remark { row: self.row, line: self.line, job: self.job, reason }
    }
}

/// Rows that go from the one who reads them to the one who keeps them, with the bytes of the file that were taken so far.
struct Batch {
    rows: Vec<Read>,
    taken: u64,
    blank: u64,
    wrapped: u64,
}

/// Rows in a batch.
const BATCH: usize = 1024;
/// Batches that wait to be kept.
const WAITING: usize = 3;

/// Reads all rows and hands them on in batches; ends early where nobody takes them any more.
fn read_all(
    mut rows: Rows<Text>,
    columns: &Columns<'_>,
    reader: &mut Reader<'_>,
    to: &SyncSender<Result<Batch, PastError>>,
) {
    let empty = || Batch { rows: Vec::with_capacity(BATCH), taken: 0, blank: 0, wrapped: 0 };
    let mut batch = empty();
    let mut take = |row: &Row, batch: &mut Batch| {
        let job = cells::short(columns.cell(row, "job"));
        batch.rows.push((Place { row: row.number, line: row.line, job }, reader.read(row)));
    };
    // A row is taken once the next one does not go on with it.
    let (mut row, mut before, mut waits) = (Row::default(), Row::default(), false);
    loop {
        match rows.next(&mut row) {
            Err(error) => {
                // Nobody listening means that it was stopped for another reason, which is told there.
                let _ = to.send(Err(error));
                return;
            }
            Ok(false) => break,
            Ok(true) if row.is_blank() => batch.blank += 1,
            Ok(true) if waits && columns.goes_on(&row) => {
                before.goes_on_with(&row);
                batch.wrapped += 1;
            }
            Ok(true) => {
                std::mem::swap(&mut row, &mut before);
                if waits {
                    take(&row, &mut batch);
                }
                waits = true;
            }
        }
        if batch.rows.len() >= BATCH || batch.blank >= BATCH as u64 {
            batch.taken = rows.source().taken();
            if to.send(Ok(std::mem::replace(&mut batch, empty()))).is_err() {
                return;
            }
        }
    }
    if waits {
        take(&before, &mut batch);
    }
    batch.taken = rows.source().taken();
    let _ = to.send(Ok(batch));
}

/// Keeps what was understood.
struct Keeper<'t> {
    import: i64,
    /// Notes a key that came for the first time in this file.
    seen: Statement<'t>,
    /// Counts a key that came before in it.
    again: Statement<'t>,
    insert: Statement<'t>,
    result: Statement<'t>,
    content: Statement<'t>,
    /// Notes the key of a job that a later row calls back.
    came_back: Statement<'t>,
}

impl<'t> Keeper<'t> {
    fn new(transaction: &'t Transaction<'_>, import: i64) -> rusqlite::Result<Self> {
        Ok(Self {
            import,
            seen: transaction.prepare("INSERT INTO seen VALUES (?1, 1) ON CONFLICT (key) DO NOTHING")?,
            again: transaction.prepare("UPDATE seen SET times = times + 1 WHERE key = ?1 RETURNING times")?,
            insert: transaction.prepare(INSERT)?,
            result: transaction.prepare("INSERT INTO past_result VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING")?,
            content: transaction.prepare("SELECT content FROM past WHERE key = ?1")?,
            came_back: transaction.prepare("INSERT INTO came_back VALUES (?1) ON CONFLICT DO NOTHING")?,
        })
    }

    /// Keeps or refuses a row, and says so in the report.
    fn take(&mut self, (place, read): Read, report: &mut Report) -> rusqlite::Result<()> {
        report.rows += 1;
        let refusal = match read {
            Ok(row) => match self.key(&row)? {
                Some(key) => return self.keep(key, row, place, report),
                None => {
                    Refusal("a job number twice", format!("the job number `{}` came before in this file", place.job))
                }
            },
            Err(refusal) => refusal,
        };
        report.refused += 1;
        *report.reasons.entry(refusal.0).or_default() += 1;
        if report.refusals.len() < MOST_REMARKS {
            report.refusals.push(place.remark(refusal.1));
        }
        Ok(())
    }

    fn keep(&mut self, key: i64, row: Understood, place: Place, report: &mut Report) -> rusqlite::Result<()> {
        let added = self.insert.execute(params![
            key,
            row.content,
            i64::try_from(place.row).unwrap_or(i64::MAX),
            row.job,
            row.date.to_string(),
            row.make,
            row.model,
            row.engine,
            row.age,
            row.km,
            row.codes,
            row.words,
            row.meant.state,
            row.meant.cause,
            row.repair,
            row.repair_minutes,
            row.minutes,
            row.parts,
            row.meant.certainty,
            self.import
        ])?;
        if added == 0 {
            let before: i64 = self.content.query_row([key], |r| r.get(0))?;
            if before == row.content {
                report.known += 1
            } else {
                report.changed += 1
            }
            return Ok(());
        }
        for (reading, level) in &row.results {
            self.result.execute(params![key, reading, level])?;
        }
        if let Some(earlier) = row.came_back {
            self.came_back.execute([earlier])?;
        }
        if row.meant.state == "held" {
            report.held += 1
        } else {
            report.kept += 1
        }
        if !row.gaps.is_empty() {
            report.with_gaps += 1;
            if report.left_out.len() < MOST_REMARKS {
                report.left_out.push(place.remark(row.gaps.join("; ")));
            }
        }
        Ok(())
    }

    /// The key of a row, or none where its job number came before in this file. With a job number the number is the key;
    /// without, the content and how often it came.
    fn key(&mut self, row: &Understood) -> rusqlite::Result<Option<i64>> {
        if let Some(key) = row.key {
            return Ok((self.times(key)? == 1).then_some(key));
        }
        let times = self.times(row.content)?;
        let mut key = Hash::new(3);
        key.take(&row.content.to_le_bytes());
        key.take(&times.to_le_bytes());
        Ok(Some(key.end()))
    }

    /// How often the key came in this file so far, this time included.
    fn times(&mut self, key: i64) -> rusqlite::Result<u32> {
        if self.seen.execute([key])? == 1 { Ok(1) } else { self.again.query_row([key], |r| r.get(0)) }
    }
}

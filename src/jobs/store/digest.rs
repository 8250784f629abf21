//! Every event carries a digest, so that a letter that changed on the disk is found and named. Each digest goes over the one
//! before it and begins at the job's uid: beside a changed event this finds one that was put elsewhere or taken from another
//! job, at the same cost as a digest of the event alone.
//!
//! It finds what disks and cut copies do. It holds no secret, so whoever means to change an event can seal it anew.

use super::super::error::StoreError;
use super::Tx;
use super::check::Trouble;
use rusqlite::{Connection, OptionalExtension, params, params_from_iter};
use sha2::{Digest as _, Sha256};

/// Half of a SHA-256: two different events share one by chance once in 2^128.
pub(super) type Digest = [u8; 16];

/// Name of the setting that says how many events were sealed only after they had been written.
const SEALED: &str = "sealed_later";

fn of(parts: &[&[u8]]) -> Digest {
    let mut sha = Sha256::new();
    for part in parts {
        sha.update(part);
    }
    let mut out = Digest::default();
    out.copy_from_slice(&sha.finalize()[..16]);
    out
}

/// What the first event of a job follows.
fn start(uid: &str) -> Digest {
    of(&[b"job", uid.as_bytes()])
}

/// The digest of an event that follows `before`. All fields but the last have one length, so no two events read alike.
fn event(before: &Digest, number: i64, at: i64, text: &str) -> Digest {
    of(&[b"event", before, &number.to_le_bytes(), &at.to_le_bytes(), text.as_bytes()])
}

/// The digest of the next event of a job.
pub(super) fn next(connection: &Connection, job: i64, number: i64, at: i64, text: &str) -> rusqlite::Result<Vec<u8>> {
    let before: Option<Vec<u8>> = connection
        .prepare_cached("SELECT digest FROM event WHERE job = ?1 AND number = ?2")?
        .query_row([job, number - 1], |r| r.get(0))
        .optional()?;
    let before = match before.and_then(|b| Digest::try_from(b).ok()) {
        Some(before) => before,
        None => start(&uid(connection, job)?),
    };
    Ok(event(&before, number, at, text).to_vec())
}

fn uid(connection: &Connection, job: i64) -> rusqlite::Result<String> {
    connection.prepare_cached("SELECT uid FROM job WHERE number = ?1")?.query_row([job], |r| r.get(0))
}

/// The digest of a setting.
pub(super) fn setting(name: &str, value: &str) -> Vec<u8> {
    of(&[b"setting", &name.len().to_le_bytes(), name.as_bytes(), value.as_bytes()]).to_vec()
}

/// Writes a setting with its digest.
pub(super) fn write_setting(connection: &Connection, name: &str, value: &str) -> rusqlite::Result<()> {
    connection
        .prepare_cached(
            "INSERT INTO setting(name, value, digest) VALUES (?1, ?2, ?3)
             ON CONFLICT(name) DO UPDATE SET value = ?2, digest = ?3",
        )?
        .execute(params![name, value, setting(name, value)])?;
    Ok(())
}

/// An event as it lies, with its digest.
struct Row {
    job: i64,
    number: i64,
    at: i64,
    text: String,
    digest: Vec<u8>,
}

/// All events in order, or those of one job.
fn each(
    connection: &Connection,
    only: Option<i64>,
    act: &mut dyn FnMut(Row) -> rusqlite::Result<()>,
) -> rusqlite::Result<()> {
    // Two statements: with one for both SQLite would read the whole table for a job.
    let of_one = if only.is_some() { "WHERE job = ?1" } else { "" };
    let sql = format!("SELECT job, number, at, event, digest FROM event {of_one} ORDER BY job, number");
    let mut statement = connection.prepare_cached(&sql)?;
    let mut rows = statement.query(params_from_iter(only))?;
    while let Some(r) = rows.next()? {
        act(Row { job: r.get(0)?, number: r.get(1)?, at: r.get(2)?, text: r.get(3)?, digest: r.get(4)? })?;
    }
    Ok(())
}

/// Seals what an earlier form left without digests, and notes how much that was: such a digest proves that an event has not
/// changed since, and nothing of the time before.
pub(super) fn seal(tx: &Tx<'_>) -> Result<(), StoreError> {
    seal_on(tx.sql()).map_err(|e| tx.failed(e))
}

fn seal_on(sql: &Connection) -> rusqlite::Result<()> {
    let mut update = sql.prepare("UPDATE event SET digest = ?3 WHERE job = ?1 AND number = ?2")?;
    let mut unsealed = Vec::new();
    let mut before = (0, Digest::default());
    // Written afterwards, so that no table is changed while it is being read.
    each(sql, None, &mut |row| {
        if before.0 != row.job {
            before = (row.job, start(&uid(sql, row.job)?));
        }
        if let Ok(sealed) = Digest::try_from(row.digest) {
            before.1 = sealed;
        } else {
            before.1 = event(&before.1, row.number, row.at, &row.text);
            unsealed.push((row.job, row.number, before.1));
        }
        Ok(())
    })?;
    let count = unsealed.len();
    for (job, number, digest) in unsealed {
        update.execute(params![job, number, digest.to_vec()])?;
    }
    let mut settings = sql.prepare("SELECT name, value FROM setting WHERE digest = x''")?;
    let settings: rusqlite::Result<Vec<(String, String)>> =
        settings.query_map([], |r| Ok((r.get(0)?, r.get(1)?))).and_then(Iterator::collect);
    for (name, value) in settings? {
        write_setting(sql, &name, &value)?;
    }
    if count > 0 {
        write_setting(sql, SEALED, &count.to_string())?;
    }
    Ok(())
}

/// How many events were sealed only when the store was brought forward.
pub(super) fn sealed_later(connection: &Connection) -> rusqlite::Result<u64> {
    let found: Option<i64> = connection
        .prepare_cached("SELECT CAST(value AS INTEGER) FROM setting WHERE name = ?1")?
        .query_row([SEALED], |r| r.get(0))
        .optional()?;
    Ok(found.and_then(|n| u64::try_from(n).ok()).unwrap_or(0))
}

/// What is not as it was stored: events, by job and number, and settings.
pub(super) fn check(connection: &Connection, out: &mut Vec<Trouble>) -> rusqlite::Result<()> {
    check_events(connection, None, out)?;
    let mut settings = connection.prepare("SELECT name, value, digest FROM setting")?;
    let mut rows = settings.query([])?;
    while let Some(r) = rows.next()? {
        let (name, value, digest): (String, String, Vec<u8>) = (r.get(0)?, r.get(1)?, r.get(2)?);
        if digest != setting(&name, &value) {
            out.push(Trouble(format!("the setting `{name}` is not what was stored")));
        }
    }
    Ok(())
}

/// The events that are not as they were stored, of all jobs or of one.
///
/// An event is held against the digest that is stored with the one before it, so that damage to one does not accuse all that
/// follow. A digest that is damaged itself accuses its own event and the next.
pub(super) fn check_events(connection: &Connection, only: Option<i64>, out: &mut Vec<Trouble>) -> rusqlite::Result<()> {
    let mut before = (0, Digest::default());
    each(connection, only, &mut |row| {
        if before.0 != row.job {
            before = (row.job, uid(connection, row.job).map_or_else(|_| Digest::default(), |u| start(&u)));
        }
        if row.digest != event(&before.1, row.number, row.at, &row.text) {
            out.push(Trouble(format!("event {} of job {} is not what was stored", row.number, row.job)));
        }
        before.1 = Digest::try_from(row.digest).unwrap_or_default();
        Ok(())
    })
}

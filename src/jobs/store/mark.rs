//! Whether a car was here before, by its identification number. Of the number nothing is kept but a hash under a key that was drawn
//! for this store: it tells two visits of one car, and without the key not even a list of all numbers tells which car it is.
//! Key and hashes stand beside the record and not in it, so that no export has them.

use super::super::error::StoreError;
use super::{Store, Tx, digest};
use hmac::{Hmac, Mac as _};
use rusqlite::{OptionalExtension as _, params};
use sha2::Sha256;

/// Name of the setting that holds the key, in hexadecimal digits.
const KEY: &str = "mark_key";

impl Store {
    /// Notes which car the job is about; answers the other jobs on the same car, the latest first. Blanks and small letters in the
    /// number make no difference; one without a letter or digit tells nothing.
    ///
    /// # Errors
    /// No such job, or the store cannot be written.
    pub fn recognise(&mut self, job: i64, number: &str) -> Result<Vec<i64>, StoreError> {
        let plain: String = number.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_uppercase).collect();
        if plain.is_empty() {
            return Ok(Vec::new());
        }
        self.write(|tx| {
            let mark = mark(tx, &plain)?;
            let others = || -> rusqlite::Result<Vec<i64>> {
                tx.sql()
                    .prepare_cached("INSERT OR IGNORE INTO mark(mark, job) VALUES (?1, ?2)")?
                    .execute(params![mark, job])?;
                let mut others =
                    tx.sql().prepare_cached("SELECT job FROM mark WHERE mark = ?1 AND job <> ?2 ORDER BY job DESC")?;
                others.query_map(params![mark, job], |r| r.get(0))?.collect()
            };
            others().map_err(|e| tx.failed(e))
        })
    }
}

/// HMAC-SHA-256 (RFC 2104) of the number under the key of this store, which is drawn by SQLite's own generator when first needed.
fn mark(tx: &Tx<'_>, number: &str) -> Result<Vec<u8>, StoreError> {
    let known = || -> rusqlite::Result<String> {
        let known = tx
            .sql()
            .prepare_cached("SELECT value FROM setting WHERE name = ?1")?
            .query_row([KEY], |r| r.get(0))
            .optional()?;
        if let Some(key) = known {
            return Ok(key);
        }
        let key: String = tx.sql().query_row("SELECT hex(randomblob(32))", [], |r| r.get(0))?;
        digest::write_setting(tx.sql(), KEY, &key)?;
        Ok(key)
    };
    let key = known().map_err(|e| tx.failed(e))?;
    let mut mac = Hmac::<Sha256>::new_from_slice(key.as_bytes())
        .map_err(|e| StoreError::Stream { what: "hashing a vehicle's number", source: std::io::Error::other(e) })?;
    mac.update(number.as_bytes());
    Ok(mac.finalize().into_bytes()[..16].to_vec())
}

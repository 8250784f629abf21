//! The tables of the store of past jobs, and how those of earlier versions become today's.

use super::error::PastError;
use super::seal;
use rusqlite::{Connection, TransactionBehavior};

/// Version of the tables.
pub(super) const VERSION: i64 = 3;

/// The tables as the first version made them. `past` holds one row a job; the columns that learning reads are plain.
const FIRST: &str = "
CREATE TABLE past (
    key            INTEGER PRIMARY KEY,   -- hash of the job number, or of the row's content
    content        INTEGER NOT NULL,      -- hash of the content, to tell a changed row
    row            INTEGER NOT NULL,      -- row of the file it came from, the header being 1
    job            TEXT,                  -- the shop's number
    date           TEXT NOT NULL,         -- YYYY-MM-DD
    make TEXT, model TEXT, engine TEXT,
    age            REAL,                  -- years, date less model year
    km             REAL,
    codes          TEXT NOT NULL,         -- sorted, joined by one blank
    words          TEXT NOT NULL,         -- the cause as the shop wrote it
    state          TEXT NOT NULL,         -- found, several, unsure, no-fault, held, left-out
    cause          TEXT NOT NULL,         -- suspect; several joined by ' + '; candidates as 'id=belief id=belief'
    repair         TEXT,
    repair_minutes REAL,
    minutes        REAL,
    parts          REAL
) STRICT;
CREATE TABLE past_result (
    key     INTEGER NOT NULL REFERENCES past (key) ON DELETE CASCADE,
    reading TEXT NOT NULL,
    level   TEXT NOT NULL,
    PRIMARY KEY (key, reading)
) STRICT, WITHOUT ROWID;
CREATE TABLE decision (words TEXT PRIMARY KEY, cause TEXT NOT NULL) STRICT, WITHOUT ROWID;
";

/// What the second version adds: how certain a reading was, which import a job came with and which one called it back, and a
/// list of imports. What came in before has import 0.
const SECOND: &str = "
ALTER TABLE past ADD COLUMN certainty REAL;
ALTER TABLE past ADD COLUMN import INTEGER NOT NULL DEFAULT 0;
ALTER TABLE past ADD COLUMN back INTEGER;
CREATE TABLE import (
    number INTEGER PRIMARY KEY,
    file   TEXT NOT NULL,   -- its name, without the folder
    date   TEXT NOT NULL    -- the day it was brought in
) STRICT;
";

/// What the third version adds: digests (see `seal`, which makes those of what came in before).
const THIRD: &str = "
CREATE TABLE seal (
    what   TEXT NOT NULL,               -- 'import' or 'decision'
    which  TEXT NOT NULL,               -- its number, or the words that were decided about
    digest BLOB NOT NULL,
    later  INTEGER NOT NULL DEFAULT 0,  -- 1 where it was made when the store was brought forward
    PRIMARY KEY (what, which)
) STRICT, WITHOUT ROWID;
";

/// Tables as SQLite notes them.
pub(super) fn shape(connection: &Connection) -> rusqlite::Result<Vec<(String, Option<String>)>> {
    let mut all = connection.prepare("SELECT name, sql FROM sqlite_schema ORDER BY name")?;
    all.query_map([], |r| Ok((r.get(0)?, r.get(1)?)))?.collect()
}

/// The shape of a new store.
pub(super) fn shape_of_new() -> Result<Vec<(String, Option<String>)>, PastError> {
    let mut new = Connection::open_in_memory()?;
    ready(&mut new)?;
    Ok(shape(&new)?)
}

/// Brings a store up to this version; a new one is made.
pub(super) fn ready(connection: &mut Connection) -> Result<(), PastError> {
    let version: i64 = connection.pragma_query_value(None, "user_version", |r| r.get(0))?;
    if version > VERSION {
        return Err(PastError::Newer(version));
    }
    if version < VERSION {
        // Immediate, so that of two shells only one makes the tables.
        let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let made: i64 = transaction.pragma_query_value(None, "user_version", |r| r.get(0))?;
        let tables: i64 = transaction.query_row("SELECT COUNT(*) FROM sqlite_master", [], |r| r.get(0))?;
        if made == 0 && tables > 0 {
            return Err(PastError::NotAStore);
        }
        for step in [FIRST, SECOND, THIRD].into_iter().skip(usize::try_from(made).unwrap_or(0)) {
            transaction.execute_batch(step)?;
        }
        if made < VERSION {
            seal::seal_earlier(&transaction)?;
        }
        transaction.pragma_update(None, "user_version", VERSION)?;
        transaction.commit()?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::store::Store;
    use super::*;

    /// A file that holds something else is refused and not changed by a byte.
    #[test]
    fn the_database_of_another_program_is_left_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("other.db");
        Connection::open(&path).unwrap().execute_batch("CREATE TABLE songs (title TEXT)").unwrap();
        let before = std::fs::read(&path).unwrap();
        assert!(matches!(Store::open(&path), Err(PastError::NotAStore)));
        assert!(matches!(Store::open_to_read(&path), Err(PastError::NotAStore)));
        assert_eq!(std::fs::read(&path).unwrap(), before);
    }

    /// Also by whoever only wants to read it. What came in before is sealed as it is found, which is told.
    #[test]
    fn a_store_of_the_second_version_gets_its_digests() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("past.db");
        let second = Connection::open(&path).unwrap();
        second.execute_batch(FIRST).unwrap();
        second.execute_batch(SECOND).unwrap();
        let job = "INSERT INTO import VALUES (1, 'a.csv', '2026-01-01');
            INSERT INTO past (key, content, row, date, codes, words, state, cause, import)
                VALUES (10, 1, 2, '2025-01-01', 'P0442', 'cap', 'held', '', 1);
            PRAGMA user_version = 2;";
        second.execute_batch(job).unwrap();
        drop(second);
        let store = Store::open_to_read(&path).unwrap().unwrap();
        assert_eq!((store.check().unwrap(), store.sealed_later().unwrap()), (Vec::new(), 1));
        drop(store);
        Connection::open(&path).unwrap().execute("UPDATE past SET codes = 'P0443'", []).unwrap();
        assert_eq!(Store::open_to_read(&path).unwrap().unwrap().broken().unwrap().len(), 1);
    }

    #[test]
    fn a_store_of_the_first_version_keeps_its_jobs_and_decisions() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("past.db");
        let first = Connection::open(&path).unwrap();
        first.execute_batch(FIRST).unwrap();
        first
            .execute_batch(
                "INSERT INTO past VALUES (1, 2, 3, '77', '2021-04-03', 'Orlo', NULL, NULL, 4, NULL, 'P0442', 'cap', 'held', '', NULL, NULL, NULL, NULL);
                 INSERT INTO past_result VALUES (1, 'smoke-whole:filler', 'plume');
                 INSERT INTO decision VALUES ('hose', 'unsure');
                 PRAGMA user_version = 1;",
            )
            .unwrap();
        drop(first);
        // To read it, nothing is written, and an old store is told to be one.
        let store = Store::open(&path).unwrap();
        assert_eq!(store.states().unwrap(), [("held".to_owned(), 1)]);
        assert_eq!(store.decision("hose").unwrap().as_deref(), Some("unsure"));
        let imports = store.imports().unwrap();
        assert_eq!((imports.len(), imports[0].number, imports[0].jobs), (1, 0, 1));
        // Its import and its decision have digests now, and it is told that these are younger than what they seal.
        assert_eq!((store.check().unwrap(), store.sealed_later().unwrap()), (Vec::new(), 2));
        drop(store);
        assert!(Store::open_to_read(&path).unwrap().is_some());
        Connection::open(&path).unwrap().pragma_update(None, "user_version", VERSION + 1).unwrap();
        assert!(matches!(Store::open(&path), Err(PastError::Newer(_))));
        assert!(matches!(Store::open_to_read(&path), Err(PastError::Newer(_))));
    }
}

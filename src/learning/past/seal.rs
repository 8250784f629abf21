//! Digests over what is stored, so that a bit that turned on the disk is told. There is one for the jobs of each import, its line
//! in the list of imports and the results of its jobs, and one for each decision: what can be brought in or decided again by
//! itself is named by itself.
//!
//! It finds what disks and cut copies do. It holds no secret, so whoever means to change a row can seal it anew.

use super::error::PastError;
use super::migrate;
use super::store::Store;
use rusqlite::types::ValueRef;
use rusqlite::{Connection, Row, params};
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// Something that is sealed by itself.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    /// An import with its jobs; 0 is all that came in before imports were kept apart.
    Import(i64),
    /// What a person decided about these words.
    Decision(String),
}

impl Part {
    /// As it stands in the table: what it is, and which one.
    fn columns(&self) -> (&'static str, String) {
        match self {
            Self::Import(number) => ("import", number.to_string()),
            Self::Decision(words) => ("decision", words.clone()),
        }
    }

    /// From the table; nothing when it cannot be one.
    fn from_columns(what: &str, which: &str) -> Option<Self> {
        match what {
            "import" => which.parse().ok().map(Self::Import),
            "decision" => Some(Self::Decision(which.to_owned())),
            _ => None,
        }
    }
}

/// Something that is wrong with the store, in one sentence with what helps.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// A part that is not what was stored.
    Part(Part),
    /// What SQLite or the tables say.
    Store(String),
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Part(Part::Import(number)) => write!(
                f,
                "import {number} is not what was stored: take it out with `faultodds past forget {number} --yes` and bring \
                 its file in again"
            ),
            Self::Part(Part::Decision(words)) => write!(
                f,
                "the decision about \"{words}\" is not what was stored: decide again with `faultodds past decide --words`, \
                 and `?` for none"
            ),
            Self::Store(what) => write!(f, "{what}"),
        }
    }
}

/// Half of a SHA-256: two different contents share one by chance once in 2^128.
type Digest = [u8; 16];

/// A digest that is being made of values, each with its kind and length, so that no two rows of values read alike.
#[derive(Clone, Default)]
struct Sum(Sha256);

impl Sum {
    fn take(&mut self, value: ValueRef<'_>) {
        let (kind, bytes): (u8, &[u8]) = match value {
            ValueRef::Null => (0, &[]),
            ValueRef::Integer(n) => return self.number(1, n.to_le_bytes()),
            ValueRef::Real(n) => return self.number(2, n.to_bits().to_le_bytes()),
            ValueRef::Text(text) => (3, text),
            ValueRef::Blob(bytes) => (4, bytes),
        };
        self.number(kind, (bytes.len() as u64).to_le_bytes());
        self.0.update(bytes);
    }

    fn number(&mut self, kind: u8, bytes: [u8; 8]) {
        self.0.update([kind]);
        self.0.update(bytes);
    }

    /// The columns from this one on.
    fn take_from(&mut self, first: usize, row: &Row<'_>) -> rusqlite::Result<()> {
        for column in first..row.as_ref().column_count() {
            self.take(row.get_ref(column)?);
        }
        Ok(())
    }

    fn end(self) -> Digest {
        let mut out = Digest::default();
        out.copy_from_slice(&self.0.finalize()[..16]);
        out
    }
}

/// What goes into the digest of an import, each with the import first: its line, its jobs, their results.
const OF_IMPORTS: [&str; 3] = [
    "SELECT number, file, date FROM import ORDER BY number",
    "SELECT import, key, content, row, job, date, make, model, engine, age, km, codes, words, state, cause, repair,
        repair_minutes, minutes, parts, certainty, back FROM past ORDER BY key",
    "SELECT coalesce(past.import, -1), past_result.key, reading, level FROM past_result LEFT JOIN past USING (key)
        ORDER BY past_result.key, reading",
];

/// The digests of what is there.
fn there(connection: &Connection) -> rusqlite::Result<BTreeMap<Part, Digest>> {
    let mut imports: BTreeMap<i64, Sum> = BTreeMap::new();
    for sql in OF_IMPORTS {
        let mut query = connection.prepare(sql)?;
        let mut rows = query.query([])?;
        while let Some(row) = rows.next()? {
            imports.entry(row.get(0)?).or_default().take_from(1, row)?;
        }
        // Where one table ends and the next begins.
        imports.values_mut().for_each(|sum| sum.number(5, [0; 8]));
    }
    let mut out: BTreeMap<Part, Digest> = imports.into_iter().map(|(n, sum)| (Part::Import(n), sum.end())).collect();
    let mut query = connection.prepare("SELECT words, cause FROM decision")?;
    let mut rows = query.query([])?;
    while let Some(row) = rows.next()? {
        let mut sum = Sum::default();
        sum.take_from(0, row)?;
        out.insert(Part::Decision(row.get(0)?), sum.end());
    }
    Ok(out)
}

/// The digests as they were stored; those that no part can have are nobody's.
fn stored(connection: &Connection) -> rusqlite::Result<BTreeMap<Part, Vec<u8>>> {
    let mut query = connection.prepare("SELECT what, which, digest FROM seal")?;
    let mut rows = query.query([])?;
    let mut out = BTreeMap::new();
    while let Some(row) = rows.next()? {
        let (what, which): (String, String) = (row.get(0)?, row.get(1)?);
        if let Some(part) = Part::from_columns(&what, &which) {
            out.insert(part, row.get(2)?);
        }
    }
    Ok(out)
}

/// The parts that are not what was stored: changed, gone, or come from nowhere.
pub(super) fn broken(connection: &Connection) -> rusqlite::Result<BTreeSet<Part>> {
    let (there, stored) = (there(connection)?, stored(connection)?);
    let all: BTreeSet<&Part> = there.keys().chain(stored.keys()).collect();
    let differs = |part: &&Part| there.get(part).map(|d| d.as_slice()) != stored.get(part).map(Vec::as_slice);
    Ok(all.into_iter().filter(differs).cloned().collect())
}

/// Seals what a transaction has made of the store. What was broken before stays so, apart from what was written or taken out by
/// its name.
pub(super) fn renew(connection: &Connection, before: &BTreeSet<Part>, anew: &[Part]) -> rusqlite::Result<()> {
    let stays = |part: &Part| before.contains(part) && !anew.contains(part);
    let (there, stored) = (there(connection)?, stored(connection)?);
    let mut delete = connection.prepare("DELETE FROM seal WHERE what = ?1 AND which = ?2")?;
    for part in stored.keys().filter(|part| !stays(part) && !there.contains_key(part)) {
        delete.execute(part.columns())?;
    }
    let mut insert = connection.prepare("INSERT OR REPLACE INTO seal (what, which, digest) VALUES (?1, ?2, ?3)")?;
    for (part, digest) in there.iter().filter(|(part, _)| !stays(part)) {
        if stored.get(part).map(Vec::as_slice) != Some(digest.as_slice()) {
            let (what, which) = part.columns();
            insert.execute(params![what, which, digest.as_slice()])?;
        }
    }
    Ok(())
}

/// Seals what a version without digests has left. That it is what was stored is proven from now on, not of the time before.
pub(super) fn seal_earlier(connection: &Connection) -> rusqlite::Result<()> {
    renew(connection, &BTreeSet::new(), &[])?;
    connection.execute("UPDATE seal SET later = 1", [])?;
    Ok(())
}

impl Store {
    /// Parts that are not what was stored, for whoever counts or hands on. It reads all of the store, about as long as counting it.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn broken(&self) -> Result<Vec<Trouble>, PastError> {
        Ok(broken(&self.connection)?.into_iter().map(Trouble::Part).collect())
    }

    /// Checks everything: SQLite's own checks, the tables, the digests. An empty list means that the store is whole.
    ///
    /// # Errors
    /// When not even the check can run.
    pub fn check(&self) -> Result<Vec<Trouble>, PastError> {
        let mut out = Vec::new();
        for (pragma, ok) in [("PRAGMA integrity_check", Some("ok")), ("PRAGMA foreign_key_check", None)] {
            let mut statement = self.connection.prepare(pragma)?;
            let told: rusqlite::Result<Vec<String>> = statement.query_map([], |r| r.get(0)).and_then(Iterator::collect);
            match told {
                Ok(told) => out.extend(told.into_iter().filter(|t| Some(t.as_str()) != ok).map(Trouble::Store)),
                Err(error) => out.push(Trouble::Store(error.to_string())),
            }
        }
        if migrate::shape(&self.connection)? != migrate::shape_of_new()? {
            out.push(Trouble::Store("the tables are not those of a store of past jobs".to_owned()));
        }
        match broken(&self.connection) {
            Ok(broken) => out.extend(broken.into_iter().map(Trouble::Part)),
            Err(error) => out.push(Trouble::Store(error.to_string())),
        }
        Ok(out)
    }

    /// Imports and decisions that were sealed only when the store was brought forward from a version without digests: what has
    /// changed since is told, not what had changed before.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn sealed_later(&self) -> Result<u64, PastError> {
        let n: i64 = self.connection.query_row("SELECT COUNT(*) FROM seal WHERE later <> 0", [], |r| r.get(0))?;
        Ok(n.unsigned_abs())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Model;
    use crate::past::WordMatcher;

    /// A store with one job of import 1 and one of import 2, and a decision.
    fn store() -> Store {
        let store = Store::in_memory().unwrap();
        let sql = "INSERT INTO import VALUES (1, 'a.csv', '2026-01-01'), (2, 'b.csv', '2026-01-02');
            INSERT INTO past (key, content, row, date, codes, words, state, cause, import)
                VALUES (10, 1, 2, '2025-01-01', 'P0442', 'cap', 'held', '', 1),
                    (20, 2, 2, '2025-01-01', 'P0442', 'hose', 'held', '', 2);
            INSERT INTO past_result VALUES (10, 'smoke-whole:filler', 'plume');
            INSERT INTO decision VALUES ('cap', 'no-fault');";
        store.connection.execute_batch(sql).unwrap();
        renew(&store.connection, &BTreeSet::new(), &[]).unwrap();
        assert_eq!(store.check().unwrap(), []);
        store
    }

    fn told_after(change: &str) -> Vec<Trouble> {
        let store = store();
        store.connection.execute_batch(change).unwrap();
        let told = store.check().unwrap();
        let parts: Vec<Trouble> = told.iter().filter(|t| matches!(t, Trouble::Part(_))).cloned().collect();
        assert_eq!(store.broken().unwrap(), parts);
        told
    }

    #[test]
    fn a_change_names_its_import_or_decision() {
        let import = |n| Trouble::Part(Part::Import(n));
        let cap = Trouble::Part(Part::Decision("cap".to_owned()));
        for (change, told) in [
            ("UPDATE past SET km = 0 WHERE key = 10", vec![import(1)]),
            ("UPDATE past SET state = 'found' WHERE key = 20", vec![import(2)]),
            ("UPDATE past_result SET level = 'none'", vec![import(1)]),
            ("DELETE FROM past WHERE key = 20", vec![import(2)]),
            ("UPDATE past SET import = 2 WHERE key = 10", vec![import(1), import(2)]),
            ("UPDATE import SET date = '2026-01-03' WHERE number = 2", vec![import(2)]),
            ("DELETE FROM past; DELETE FROM import", vec![import(1), import(2)]),
            ("UPDATE decision SET cause = 'unsure'", vec![cap.clone()]),
            ("DELETE FROM decision", vec![cap]),
            ("UPDATE seal SET digest = x'00' WHERE which = '1'", vec![import(1)]),
            ("UPDATE seal SET which = '3' WHERE which = '1'", vec![import(1), import(3)]),
        ] {
            assert_eq!(told_after(change), told, "{change}");
        }
        let shape = told_after("CREATE INDEX more ON past(km)");
        assert!(matches!(shape.as_slice(), [Trouble::Store(_)]), "{shape:?}");
    }

    #[test]
    fn writing_does_not_seal_what_is_broken_and_taking_out_or_deciding_again_heals() {
        let base = shipped::base().unwrap();
        let (matcher, model) = (WordMatcher::new(&base), Model::new(&base));
        let mut store = store();
        let damage = "UPDATE past SET codes = 'P0443' WHERE import = 1; UPDATE decision SET cause = 'unsure'";
        store.connection.execute_batch(damage).unwrap();
        let hose = [("hose".to_owned(), Some("no-fault".to_owned()))];
        assert_eq!(store.decide(&hose, &matcher, &model).unwrap(), 1);
        assert_eq!(store.broken().unwrap().len(), 2);
        store.decide(&[("cap".to_owned(), None)], &matcher, &model).unwrap();
        assert_eq!(store.broken().unwrap(), [Trouble::Part(Part::Import(1))]);
        assert_eq!(store.take_out(1, &matcher, &model).unwrap(), 1);
        assert_eq!(store.check().unwrap(), []);
        store.connection.execute("UPDATE past SET codes = ''", []).unwrap();
        store.clear().unwrap();
        assert_eq!(store.check().unwrap(), []);
    }
}

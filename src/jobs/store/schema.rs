//! The tables of the store and the steps that bring an older one forward. Steps are only ever added at the end.

use rusqlite::Connection;

/// Marks the file as a store of jobs (SQLite's `application_id`): "fodd".
pub(super) const APPLICATION_ID: i64 = 0x666f_6464;

/// The steps. A store in form `n` (SQLite's `user_version`) has had the first `n` of them.
pub(super) const STEPS: &[&str] = &[RECORD, SUMMARY, LATER_EVENTS, DIGESTS, MARKS];

/// The latest form.
#[expect(clippy::cast_possible_wrap, reason = "a handful of steps")]
pub(super) const LATEST: i64 = STEPS.len() as i64;

/// The record itself: jobs, and a log of events that the triggers keep append-only.
const RECORD: &str = "
CREATE TABLE job (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    uid    TEXT NOT NULL UNIQUE
) STRICT;
CREATE TABLE event (
    job    INTEGER NOT NULL REFERENCES job(number),
    number INTEGER NOT NULL,
    at     INTEGER NOT NULL,
    event  TEXT NOT NULL,
    PRIMARY KEY (job, number)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER event_is_not_changed BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'events are never changed'); END;
CREATE TRIGGER event_is_not_deleted BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'events are never deleted'); END;
CREATE TRIGGER event_follows_the_last BEFORE INSERT ON event
WHEN NEW.number <> 1 + (SELECT COALESCE(MAX(number), 0) FROM event WHERE job = NEW.job)
BEGIN SELECT RAISE(ABORT, 'events are numbered without gaps'); END;
CREATE TABLE setting (
    name  TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;
";

/// What lists need of a job, computed from its events and written in the same transaction, so that a list reads no
/// event. The first index holds all that filters look at, so that a search for words reads nothing else. It can be thrown away and computed again.
const SUMMARY: &str = "
CREATE TABLE summary (
    job        INTEGER PRIMARY KEY REFERENCES job(number),
    opened_at  INTEGER NOT NULL,
    changed_at INTEGER NOT NULL,
    closed_at  INTEGER,
    verdict    TEXT,
    codes      TEXT NOT NULL,
    causes     TEXT NOT NULL,
    repairs    TEXT NOT NULL,
    car        TEXT NOT NULL,
    reference  TEXT,
    minutes    REAL NOT NULL,
    cost       REAL NOT NULL,
    events     INTEGER NOT NULL,
    words      TEXT NOT NULL
) STRICT;
CREATE INDEX summary_by_opening ON summary(opened_at, job, closed_at, verdict, words);
CREATE INDEX summary_by_ending ON summary(closed_at, opened_at, job);
CREATE TABLE summary_word (
    kind      TEXT NOT NULL,
    word      TEXT NOT NULL,
    opened_at INTEGER NOT NULL,
    job       INTEGER NOT NULL REFERENCES job(number),
    PRIMARY KEY (kind, word, opened_at, job)
) STRICT, WITHOUT ROWID;
CREATE INDEX summary_word_by_job ON summary_word(job);
";

/// Events of kinds and with fields that earlier versions cannot read, so that those refuse the store politely instead of
/// calling it damaged; and list lines that tell more of the car, computed again from the events.
const LATER_EVENTS: &str = "";

/// A digest with every event and every setting (see `digest`, which fills in those of an earlier form). What is sealed stays so.
const DIGESTS: &str = "
ALTER TABLE event ADD COLUMN digest BLOB NOT NULL DEFAULT x'';
ALTER TABLE setting ADD COLUMN digest BLOB NOT NULL DEFAULT x'';
DROP TRIGGER event_is_not_changed;
CREATE TRIGGER event_is_not_changed BEFORE UPDATE OF job, number, at, event ON event
BEGIN SELECT RAISE(ABORT, 'events are never changed'); END;
CREATE TRIGGER event_is_sealed_once BEFORE UPDATE OF digest ON event
WHEN OLD.digest <> x''
BEGIN SELECT RAISE(ABORT, 'events are sealed once'); END;
";

/// Which jobs are about the same car (see `mark`); and a car that lives in several climates, which earlier versions cannot read.
const MARKS: &str = "
CREATE TABLE mark (
    mark BLOB NOT NULL,
    job  INTEGER NOT NULL REFERENCES job(number),
    PRIMARY KEY (mark, job)
) STRICT, WITHOUT ROWID;
";

/// What the file is, as far as its marks tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Form {
    /// Nothing in it yet.
    Blank,
    /// A store in that form.
    Store(i64),
    /// A database of something else.
    Other,
}

/// Reads the marks.
pub(super) fn form(connection: &Connection) -> rusqlite::Result<Form> {
    let id: i64 = connection.query_row("PRAGMA application_id", [], |r| r.get(0))?;
    let version: i64 = connection.query_row("PRAGMA user_version", [], |r| r.get(0))?;
    if id == APPLICATION_ID {
        return Ok(Form::Store(version));
    }
    let tables: i64 = connection.query_row("SELECT COUNT(*) FROM sqlite_schema", [], |r| r.get(0))?;
    Ok(if id == 0 && version == 0 && tables == 0 { Form::Blank } else { Form::Other })
}

/// Tables, indexes and triggers as SQLite notes them.
pub(super) fn shape(connection: &Connection) -> rusqlite::Result<Vec<(String, Option<String>)>> {
    let mut all =
        connection.prepare("SELECT name, sql FROM sqlite_schema WHERE name <> 'sqlite_stat1' ORDER BY name")?;
    all.query_map([], |r| Ok((r.get(0)?, r.get(1)?)))?.collect()
}

/// The shape of a new store.
pub(super) fn shape_of_new() -> rusqlite::Result<Vec<(String, Option<String>)>> {
    let new = Connection::open_in_memory()?;
    bring_forward(&new, STEPS)?;
    shape(&new)
}

/// Takes the steps that are missing, inside the caller's transaction. Answers whether there were any.
pub(super) fn bring_forward(connection: &Connection, steps: &[&str]) -> rusqlite::Result<bool> {
    let had = match form(connection)? {
        Form::Store(version) => usize::try_from(version).unwrap_or(0),
        Form::Blank | Form::Other => 0,
    };
    if had >= steps.len() {
        return Ok(false);
    }
    for step in &steps[had..] {
        connection.execute_batch(step)?;
    }
    connection
        .execute_batch(&format!("PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {};", steps.len()))?;
    Ok(true)
}

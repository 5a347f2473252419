//! Schemas that somebody else had a hand in.

use super::super::tests::small_log;
use super::super::{Reader, StoreError, Writer};
use super::is_tick_table;
use std::path::{Path, PathBuf};

fn altered(folder: &Path, sql: &str) -> PathBuf {
    let path = folder.join("a.db");
    small_log(&path);
    let connection = rusqlite::Connection::open(&path).expect("opens");
    connection.execute_batch(sql).expect(sql);
    path
}

/// Rebuild a table from a definition of one's own, as an attacker would.
fn redefined(folder: &Path, table: &str, from: &str, to: &str) -> PathBuf {
    altered(
        folder,
        &format!(
            "PRAGMA writable_schema = ON;
             UPDATE sqlite_schema SET sql = replace(sql, '{from}', '{to}') WHERE name = '{table}';"
        ),
    )
}

fn assert_refused(path: &Path, what: &str) {
    let reader = Reader::open(path).map(drop);
    let writer = Writer::open(path).map(drop);
    for done in [reader, writer] {
        let said = match done {
            Err(e @ StoreError::Trap { .. }) => e.to_string(),
            other => panic!("{what}: {other:?}"),
        };
        assert!(said.contains(what), "{said}");
    }
}

#[test]
fn code_in_the_schema_is_refused_by_reader_and_writer() {
    for (sql, what) in [
        (
            "CREATE TRIGGER swallow BEFORE INSERT ON tick BEGIN SELECT RAISE(IGNORE); END",
            "DROP TRIGGER \"swallow\"",
        ),
        ("CREATE VIEW mine AS SELECT 1", "DROP VIEW \"mine\""),
        (
            "CREATE UNIQUE INDEX one ON tick(t_ms, 1)",
            "DROP INDEX \"one\"",
        ),
        (
            "CREATE INDEX slow ON gap(abs(from_t_ms))",
            "DROP INDEX \"slow\"",
        ),
        (
            "ALTER TABLE tick ADD COLUMN made AS (t_ms * 2)",
            "`tick` is not as seepd makes it",
        ),
        (
            "ALTER TABLE notice ADD COLUMN more TEXT",
            "`notice` is not as seepd makes it",
        ),
    ] {
        let folder = tempfile::tempdir().expect("scratch");
        assert_refused(&altered(folder.path(), sql), what);
    }
}

#[test]
fn a_table_that_swallows_rows_is_refused() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = redefined(
        folder.path(),
        "tick",
        "t_ms INTEGER PRIMARY KEY",
        "t_ms INTEGER PRIMARY KEY ON CONFLICT IGNORE",
    );
    assert_refused(&path, "`tick` is not as seepd makes it");
}

#[test]
fn a_table_of_somebody_elses_own_harms_nothing() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = altered(folder.path(), "CREATE TABLE remarks (text TEXT)");
    Reader::open(&path).map(drop).expect("is read");
    Writer::open(&path).map(drop).expect("is gone on with");
}

#[test]
fn a_trigger_made_while_recording_swallows_nothing() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    let (mut writer, session) = super::super::tests::begun(&path);
    let other = rusqlite::Connection::open(&path).expect("opens");
    other
        .execute_batch(
            "CREATE TRIGGER swallow BEFORE INSERT ON tick BEGIN SELECT RAISE(IGNORE); END",
        )
        .expect("made");
    let rows = vec![super::super::tests::tick(5_000, &[Some(1), None])];
    writer
        .append(session, &super::super::tests::batch(rows))
        .expect("stored");
    let count = "SELECT count(*) FROM tick WHERE t_ms = 5000";
    let found: i64 = other.query_row(count, [], |row| row.get(0)).expect("read");
    assert_eq!(found, 1);
}

#[test]
fn names_with_quotes_and_commas_are_columns() {
    let made = "CREATE TABLE tick (t_ms INTEGER PRIMARY KEY)";
    let with = |columns: &str| format!("CREATE TABLE tick (t_ms INTEGER PRIMARY KEY{columns})");
    assert!(is_tick_table(made, &with("")));
    assert!(is_tick_table(
        made,
        &with(", \"a\" INTEGER, \"b\"\", \"\"c\" INTEGER")
    ));
    for bad in [
        ", \"a\" INTEGER NOT NULL",
        ", \"a\" TEXT",
        ", a INTEGER",
        "x",
        ", \"a",
    ] {
        assert!(!is_tick_table(made, &with(bad)), "{bad}");
    }
}

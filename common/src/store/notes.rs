//! Notes of a person: readings taken by hand, and free text.
//!
//! They are dated in wall time, as people date them, and kept beside the recording in a
//! table of their own. One is added by a short transaction of a second connection,
//! whether a recorder runs or not: the recorder's lock on the file is never taken, so a
//! recorder that starts meanwhile is not refused, and one that runs waits at most for
//! that transaction.

use super::anchor::is_being_written;
use super::connection::LogConnection;
use super::error::Doing;
use super::foreign::check_schema;
use super::open::{check_identity, check_tables, is_unfinished};
use super::{SCHEMA_VERSION, StoreError, Writer};
use crate::time::WallMs;
use rusqlite::config::DbConfig;
use rusqlite::{OpenFlags, params};
use std::path::Path;
use std::time::Duration;

/// First schema that has the table.
pub(super) const SINCE_VERSION: i64 = 3;

/// How long another writer's transaction is waited for: a recorder's takes milliseconds,
/// seconds on a card that is slow.
const PATIENCE: Duration = Duration::from_secs(10);

/// A note.
#[derive(Debug, Clone, PartialEq)]
pub struct Note {
    /// Wall time that it is about, Unix ms.
    pub at_unix_ms: WallMs,
    /// Wall time when it was entered, Unix ms.
    pub noted_unix_ms: WallMs,
    /// A reading by hand; `None` for words alone.
    pub reading: Option<HandReading>,
    /// Words; empty beside a reading without any.
    pub text: String,
}

/// A reading by hand: a tape measure, a gauge, the odometer.
#[derive(Debug, Clone, PartialEq)]
pub struct HandReading {
    /// Name of a channel (`front_left_mm`), or `odometer_km`.
    pub name: String,
    /// Value in the unit that the name ends in.
    pub value: f64,
    /// Standard error, in the same unit.
    pub error: f64,
}

/// What became of notes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Noted {
    /// Stored; no recorder wrote the log.
    Stored,
    /// Stored beside a running recorder.
    BesideRecorder,
    /// Not stored: a recorder of an older version runs, whose log has no table for them.
    OlderRecorder,
}

/// Adds notes to a log, all or none; on the disk when this returns. A log of an older
/// schema that nobody writes is copied aside and migrated first.
///
/// # Errors
/// Those of [`Writer::open`] for a file that is no log or is damaged; SQLite's, such as
/// another connection that does not let go for ten seconds.
pub fn add_notes(path: &Path, notes: &[Note]) -> Result<Noted, StoreError> {
    if is_unfinished(path)? {
        return Err(StoreError::NothingYet { path: path.into() });
    }
    let recorded = is_being_written(path);
    if version(path)? < SINCE_VERSION {
        if recorded {
            return Ok(Noted::OlderRecorder);
        }
        Writer::open(path)?.close()?;
    }
    insert(path, notes)?;
    Ok(if recorded {
        Noted::BesideRecorder
    } else {
        Noted::Stored
    })
}

fn version(path: &Path) -> Result<i64, StoreError> {
    super::Reader::open(path).map(|reader| reader.schema_version())
}

fn insert(path: &Path, notes: &[Note]) -> Result<(), StoreError> {
    let doing = "storing a note";
    let mut connection = LogConnection::open(path, path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    connection.busy_timeout(PATIENCE).doing(path, doing)?;
    // The write-ahead log is the recorder's to copy into the file, and to end.
    connection
        .set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)
        .and_then(|_| {
            connection.execute_batch("PRAGMA wal_autocheckpoint = 0; PRAGMA synchronous = FULL;")
        })
        .doing(path, doing)?;
    let version = check_identity(&connection, path)?;
    check_tables(&connection, path, version)?;
    check_schema(&connection, path)?;
    debug_assert!((SINCE_VERSION..=SCHEMA_VERSION).contains(&version));
    let transaction = connection.transaction().doing(path, doing)?;
    for note in notes {
        let reading = note.reading.as_ref();
        transaction
            .execute(
                "INSERT INTO note(at_unix_ms, noted_unix_ms, name, value, error, text)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                params![
                    note.at_unix_ms,
                    note.noted_unix_ms,
                    reading.map(|r| &r.name),
                    reading.map(|r| r.value),
                    reading.map(|r| r.error),
                    note.text
                ],
            )
            .doing(path, doing)?;
    }
    transaction.commit().doing(path, doing)?;
    connection.close(path)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::Reader;

    fn note(at_unix_ms: WallMs, text: &str) -> Note {
        Note {
            at_unix_ms,
            noted_unix_ms: at_unix_ms.plus(1),
            reading: Some(HandReading {
                name: "front_left_mm".into(),
                value: 412.0,
                error: 3.0,
            }),
            text: text.into(),
        }
    }

    #[test]
    fn notes_are_read_back_in_time_order_and_leave_nothing_beside() {
        let folder = tempfile::tempdir().expect("folder");
        let path = folder.path().join("a.db");
        Writer::create(&path)
            .expect("creates")
            .close()
            .expect("closes");
        let (late, early) = (note(WallMs(2_000), "morning"), note(WallMs(1_000), ""));
        let words = Note {
            reading: None,
            ..note(WallMs(3_000), "fitting replaced")
        };
        assert_eq!(
            add_notes(&path, &[late.clone(), early.clone()]).expect("stored"),
            Noted::Stored
        );
        assert_eq!(
            add_notes(&path, std::slice::from_ref(&words)).expect("stored"),
            Noted::Stored
        );
        let reader = Reader::open(&path).expect("a log");
        assert_eq!(reader.notes().expect("read"), [early, late, words]);
        assert_eq!(std::fs::read_dir(folder.path()).expect("listed").count(), 1);
    }

    #[test]
    fn a_running_writer_goes_on_undisturbed() {
        let folder = tempfile::tempdir().expect("folder");
        let path = folder.path().join("a.db");
        let mut writer = Writer::create(&path).expect("creates");
        for i in 0..50 {
            assert_eq!(
                add_notes(&path, &[note(WallMs(i), "")]).expect("stored"),
                Noted::BesideRecorder
            );
            assert_eq!(writer.file_change().expect("looks"), None);
            assert_ne!(writer.holds_lock(), Some(false));
        }
        writer.close().expect("closes");
        assert_eq!(
            Reader::open(&path)
                .expect("a log")
                .notes()
                .expect("read")
                .len(),
            50
        );
    }

    #[test]
    fn what_is_no_log_is_refused_and_left_alone() {
        let folder = tempfile::tempdir().expect("folder");
        let path = folder.path().join("a.db");
        assert!(matches!(
            add_notes(&path, &[]),
            Err(StoreError::NotFound { .. })
        ));
        std::fs::write(&path, "words").expect("written");
        assert!(add_notes(&path, &[note(WallMs(1), "")]).is_err());
        assert_eq!(std::fs::read(&path).expect("read"), b"words");
    }
}

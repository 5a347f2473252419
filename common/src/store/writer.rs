//! The one writer of a log.

mod channels;
mod file_watch;
mod keep;
mod leave;
mod plausible;
mod side_files;
mod small_rows;
mod trouble;

use crate::time::LogMs;
pub(super) use channels::renew_view;

use super::anchor::Anchor;
use super::connection::LogConnection;
use super::error::Doing;
use super::foreign::check_schema;
use super::hash::sha256_hex;
use super::identity::has_torn_head;
use super::open::{check_identity, check_tables, is_unfinished, migrate, pragma};
use super::readable::read_through;
use super::rows::{Batch, EndReason, SessionId, SessionStart};
use super::whole_copy::{copy_whole, with_ending};
use super::{SCHEMA_VERSION, StoreError};
use crate::rig::Rig;
pub use file_watch::FileChange;
use file_watch::FileWatch;
pub use keep::Oldest;
pub use leave::Left;
use rusqlite::{Connection, OpenFlags, params};
pub use side_files::MovedAside;
use small_rows::insert_small_rows;
use std::path::{Path, PathBuf};
use std::time::Duration;
pub use trouble::set_aside;

/// How long a statement waits for another connection, unless it is told less.
const PATIENCE: Duration = Duration::from_secs(30);

/// Writes a log: one connection, one thread, every batch one transaction.
///
/// `synchronous=FULL` with a write-ahead log: once [`Writer::append`] has
/// returned, the batch survives a power cut.
///
/// ```
/// use seep_common::rig::Rig;
/// use seep_common::store::{Batch, EndReason, Reader, SessionStart, Writer};
/// use seep_common::tick::Tick;
/// use seep_common::time::LogMs;
/// let folder = tempfile::tempdir().unwrap();
/// let path = folder.path().join("trip.db");
/// let rig = Rig::parse(r#"
/// [vehicle]
/// name = "invented"
/// [[source]]
/// name = "box"
/// kind = "nmea"
/// [[channel]]
/// name = "tank_kpa_gauge"
/// source = "box"
/// transducer = "TANK"
/// "#).unwrap();
/// let mut writer = Writer::create(&path).unwrap();
/// let start = SessionStart { boot_id: "b".into(), t_ms: LogMs(1_000), program: "doc".into(), origin: "live".into(), start_boot_ms: None };
/// let session = writer.begin_session(&start, &rig).unwrap();
/// let mut batch = Batch::default();
/// batch.ticks.push(Tick { t_ms: LogMs(1_000), counts: vec![Some(17_000)] });
/// writer.append(session, &batch).unwrap();
/// writer.end_session(session, LogMs(2_000), EndReason::Stopped).unwrap();
/// writer.close().unwrap();
/// let reader = Reader::open(&path).unwrap();
/// let columns = reader.columns(&["tank_kpa_gauge"], LogMs::MIN, LogMs::MAX).unwrap();
/// assert_eq!(columns.values[0], [850.0]);
/// ```
#[derive(Debug)]
pub struct Writer {
    // Closed before the anchor lets go of the file.
    connection: LogConnection,
    anchor: Anchor,
    watch: FileWatch,
    path: PathBuf,
    /// How long a statement waits for another connection.
    patience: Duration,
    last_t_ms: LogMs,
    insert_tick: String,
    moved_aside: Vec<MovedAside>,
}

impl Writer {
    /// Create a new log.
    ///
    /// # Errors
    /// [`StoreError::Exists`] when the file is there already; SQLite's and the
    /// file system's errors.
    pub fn create(path: &Path) -> Result<Self, StoreError> {
        let anchor = Anchor::create(path)?;
        let moved_aside = side_files::clear_for_new(path)?;
        let writer = Self::attach(path, anchor)?;
        Ok(Writer {
            moved_aside,
            ..writer
        })
    }

    /// What stood in the place of SQLite's files beside the log when it was opened,
    /// and where it is now.
    #[must_use]
    pub fn moved_aside(&self) -> &[MovedAside] {
        &self.moved_aside
    }

    /// Open a log to add to it; an older schema is copied aside, then migrated.
    ///
    /// # Errors
    /// Everything that [`StoreError`] names; nothing is written before the
    /// file is known to be a log.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        if has_torn_head(path)? {
            // SQLite would refuse it for ever; it is kept, as everything is.
            set_aside(path)?;
            return Self::create(path);
        }
        let mut moved_aside = Vec::new();
        let mut once = || {
            let anchor = Anchor::hold(path)?;
            moved_aside.extend(side_files::clear(path)?);
            look_over(path)?;
            Self::attach(path, anchor)
        };
        let mut done = once();
        for _ in 0..2 {
            if !matches!(done, Err(StoreError::Damaged { .. })) {
                break;
            }
            // The disk may have failed to give a page for a moment.
            read_through(path)?;
            done = once();
        }
        Ok(Writer {
            moved_aside,
            ..done?
        })
    }

    fn attach(path: &Path, anchor: Anchor) -> Result<Self, StoreError> {
        let mut connection = connect(path, PATIENCE)?;
        migrate(&mut connection, path)?;
        // A new file cut before its first checkpoint would have no table in the
        // database file itself; put the schema there before the first sample.
        connection
            .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
            .doing(path, "setting up")?;
        // A session cut before its first commit ended where it began.
        let last_t_ms = last_t_ms(&connection, path)?.max(last_start_t_ms(&connection, path)?);
        let watch = FileWatch::begin(path, &anchor);
        Ok(Writer {
            connection,
            anchor,
            watch,
            path: path.into(),
            patience: PATIENCE,
            last_t_ms,
            insert_tick: String::new(),
            moved_aside: Vec::new(),
        })
    }

    /// Last log time stored, ms; a new session must start after it.
    /// `None` in an empty log.
    #[must_use]
    pub fn last_t_ms(&self) -> Option<LogMs> {
        (self.last_t_ms != LogMs::MIN).then_some(self.last_t_ms)
    }

    /// Begin a session. Sessions that never noted their end are closed as
    /// power lost; columns for new channels are added.
    ///
    /// # Errors
    /// [`StoreError::OutOfOrder`] when the start is not after the last tick.
    pub fn begin_session(
        &mut self,
        start: &SessionStart,
        rig: &Rig,
    ) -> Result<SessionId, StoreError> {
        if start.t_ms <= self.last_t_ms {
            return Err(StoreError::OutOfOrder {
                t_ms: start.t_ms,
                last_ms: self.last_t_ms,
            });
        }
        let path = self.path.clone();
        let last_t_ms = self.last_t_ms;
        let transaction = self
            .connection
            .transaction()
            .doing(&path, "starting a session")?;
        close_lost_sessions(&transaction, &path, last_t_ms)?;
        let rig_id = rig_id(&transaction, &path, rig)?;
        transaction
            .execute(
                "INSERT INTO session(boot_id, start_t_ms, program, origin, rig_id, start_boot_ms)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                params![
                    start.boot_id,
                    start.t_ms,
                    start.program,
                    start.origin,
                    rig_id,
                    start.start_boot_ms
                ],
            )
            .doing(&path, "starting a session")?;
        let id = SessionId(transaction.last_insert_rowid());
        let columns = channels::ensure(&transaction, &path, rig)?;
        transaction.commit().doing(&path, "starting a session")?;
        self.insert_tick = channels::insert_statement(&columns);
        self.last_t_ms = self.last_t_ms.max(start.t_ms.plus(-1));
        Ok(id)
    }

    /// Store a batch in one transaction; when this returns it is on the disk.
    ///
    /// # Errors
    /// [`StoreError::OutOfOrder`] for ticks that do not rise; SQLite's errors.
    /// On error nothing of the batch is stored.
    pub fn append(&mut self, session: SessionId, batch: &Batch) -> Result<(), StoreError> {
        if batch.is_empty() {
            return Ok(());
        }
        let path = self.path.clone();
        let mut last = self.last_t_ms;
        let transaction = self.connection.transaction().doing(&path, "storing")?;
        if !batch.ticks.is_empty() {
            let mut insert = transaction
                .prepare(&self.insert_tick)
                .doing(&path, "storing ticks")?;
            for tick in &batch.ticks {
                if tick.t_ms <= last {
                    return Err(StoreError::OutOfOrder {
                        t_ms: tick.t_ms,
                        last_ms: last,
                    });
                }
                last = tick.t_ms;
                insert
                    .raw_bind_parameter(1, tick.t_ms)
                    .doing(&path, "storing ticks")?;
                for (i, count) in tick.counts.iter().enumerate() {
                    insert
                        .raw_bind_parameter(i + 2, count)
                        .doing(&path, "storing ticks")?;
                }
                insert.raw_execute().doing(&path, "storing ticks")?;
            }
        }
        insert_small_rows(&transaction, &path, session, batch)?;
        transaction.commit().doing(&path, "storing")?;
        self.last_t_ms = last;
        Ok(())
    }

    /// Note the end of a session.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn end_session(
        &mut self,
        session: SessionId,
        t_ms: LogMs,
        reason: EndReason,
    ) -> Result<(), StoreError> {
        let end_t_ms = t_ms.max(self.last_t_ms);
        self.connection
            .execute(
                "UPDATE session SET end_t_ms = ?2, end_reason = ?3 WHERE id = ?1",
                params![session.0, end_t_ms, reason.word()],
            )
            .doing(&self.path, "ending a session")?;
        self.last_t_ms = end_t_ms;
        Ok(())
    }

    /// Close the file so that it can be read anywhere, from read-only media too.
    ///
    /// # Errors
    /// SQLite's errors; a reader still holding the file only means that its
    /// write-ahead log stays beside it.
    pub fn close(self) -> Result<(), StoreError> {
        let checkpointed = self
            .connection
            .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| {
                row.get::<_, i64>(0)
            })
            .doing(&self.path, "closing")?;
        if checkpointed == 0 {
            // Leaving WAL mode needs the file alone; a reader in the way is no fault.
            let _ = self
                .connection
                .busy_timeout(std::time::Duration::from_millis(200));
            let _ = self
                .connection
                .query_row("PRAGMA journal_mode = DELETE", [], |_| Ok(()));
        }
        self.connection.close(&self.path)
    }
}

fn connect(path: &Path, patience: Duration) -> Result<LogConnection, StoreError> {
    let connection = LogConnection::open(path, path, OpenFlags::default())?;
    connection
        .busy_timeout(patience)
        .doing(path, "setting up")?;
    // Both must be chosen before the first table exists. Incremental vacuum lets
    // retention give space back without rewriting the file. A commit writes every
    // page it touches, whole: small pages wear a card less (tests/peers/wear.py),
    // for a twelfth more time to read them all.
    connection
        .execute_batch(
            "PRAGMA page_size = 1024;
             PRAGMA auto_vacuum = INCREMENTAL;
             PRAGMA journal_mode = WAL;
             PRAGMA wal_autocheckpoint = 4096;
             PRAGMA synchronous = FULL;
             PRAGMA journal_size_limit = 8388608;
             PRAGMA foreign_keys = ON;",
        )
        .doing(path, "setting up")?;
    Ok(connection)
}

/// Whether the file is a sound log of a known version; an older one is copied.
fn look_over(path: &Path) -> Result<(), StoreError> {
    if is_unfinished(path)? {
        return Ok(());
    }
    let connection = LogConnection::open(path, path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    let version = check_identity(&connection, path)?;
    check_tables(&connection, path, version)?;
    check_schema(&connection, path)?;
    quick_check(&connection, path)?;
    plausible::check_times(&connection, path)?;
    if version < SCHEMA_VERSION {
        copy_aside(&connection, path, version)?;
    }
    Ok(())
}

fn quick_check(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    let said: String = connection
        .query_row("PRAGMA quick_check(1)", [], |row| row.get(0))
        .doing(path, "checking the log")?;
    if said == "ok" {
        return Ok(());
    }
    Err(StoreError::Damaged {
        path: path.into(),
        detail: said,
    })
}

/// A full copy beside the log before its schema is changed.
fn copy_aside(connection: &Connection, path: &Path, version: i64) -> Result<(), StoreError> {
    let copy = with_ending(path, &format!(".schema-{version}"));
    match copy_whole(connection, &copy, "copying the log before migrating it") {
        // Made before the power went.
        Err(StoreError::Exists { .. }) => Ok(()),
        done => done,
    }
}

fn last_t_ms(connection: &Connection, path: &Path) -> Result<LogMs, StoreError> {
    debug_assert!(pragma(connection, path, "user_version").is_ok());
    connection
        .query_row(
            "SELECT max(coalesce((SELECT max(t_ms) FROM tick), -9223372036854775808),
                        coalesce((SELECT max(end_t_ms) FROM session), -9223372036854775808))",
            [],
            |row| row.get(0),
        )
        .doing(path, "finding the end of the log")
}

fn last_start_t_ms(connection: &Connection, path: &Path) -> Result<LogMs, StoreError> {
    connection
        .query_row(
            "SELECT coalesce(max(start_t_ms), -9223372036854775808) FROM session",
            [],
            |row| row.get(0),
        )
        .doing(path, "finding the end of the log")
}

fn close_lost_sessions(
    transaction: &rusqlite::Transaction,
    path: &Path,
    last_t_ms: LogMs,
) -> Result<(), StoreError> {
    transaction
        .execute(
            "UPDATE session SET end_t_ms = max(start_t_ms, ?1), end_reason = ?2 WHERE end_t_ms IS NULL",
            params![last_t_ms, EndReason::PowerLost.word()],
        )
        .doing(path, "closing a session that lost power")?;
    Ok(())
}

fn rig_id(transaction: &rusqlite::Transaction, path: &Path, rig: &Rig) -> Result<i64, StoreError> {
    let sha256 = sha256_hex(&rig.text);
    transaction
        .execute(
            "INSERT OR IGNORE INTO rig(sha256, toml) VALUES (?1, ?2)",
            params![sha256, rig.text],
        )
        .doing(path, "storing the rig")?;
    transaction
        .query_row("SELECT id FROM rig WHERE sha256 = ?1", [&sha256], |row| {
            row.get(0)
        })
        .doing(path, "storing the rig")
}

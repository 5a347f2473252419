//! Opening a log: identity, version, damage, and reading without leaving a trace.

use super::connection::LogConnection;
use super::error::Doing;
use super::file_state::FileState;
use super::foreign::check_schema;
use super::identity::{Identity, identify};
use super::raw_file::RawFile;
use super::schema::{APPLICATION_ID, SCHEMA_VERSION};
use super::wal::{WAL_ENDING, is_pending, resolved, wal_path};
use super::whole_copy::with_ending;
use super::{StoreError, schema};
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags};
use std::io::Read;
use std::path::{Path, PathBuf};

/// Version of the SQLite inside, such as `3.54.1`.
#[must_use]
pub fn sqlite_version() -> &'static str {
    rusqlite::version()
}

/// Refuse anything that is not a log of a known version.
pub(super) fn check_identity(connection: &Connection, path: &Path) -> Result<i64, StoreError> {
    let found: i64 = pragma(connection, path, "application_id")?;
    if found != APPLICATION_ID {
        return Err(StoreError::OtherApplication {
            path: path.into(),
            found,
            expected: APPLICATION_ID,
        });
    }
    let version: i64 = pragma(connection, path, "user_version")?;
    if version > SCHEMA_VERSION {
        return Err(StoreError::NewerSchema {
            path: path.into(),
            found: version,
            known: SCHEMA_VERSION,
        });
    }
    if version < 1 {
        return Err(StoreError::Damaged {
            path: path.into(),
            detail: format!("its schema version {version} does not exist"),
        });
    }
    Ok(version)
}

/// Whether a file is a log whose creation was cut short: no byte in it yet, or
/// SQLite's own first page and not one table. Nothing can be lost by going on
/// with it, and refusing it would end all recording to that name.
///
/// Only reads, whatever the file is.
///
/// # Errors
/// SQLite's and the file system's errors, such as for a file of another kind.
pub(super) fn is_unfinished(path: &Path) -> Result<bool, StoreError> {
    match identify(path)? {
        Identity::Log => Ok(false),
        Identity::Unfinished => Ok(true),
        Identity::Pending => {
            let copy = ScratchCopy::of(path, &wal_path(path))?;
            let connection = copy.connect()?;
            let tables: i64 = connection
                .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))
                .doing(path, "reading the schema")?;
            let unfinished = tables == 0
                && pragma(&connection, path, "application_id")? == 0
                && pragma(&connection, path, "user_version")? == 0;
            if !unfinished {
                check_identity(&connection, path)?;
            }
            Ok(unfinished)
        }
    }
}

pub(super) fn pragma(
    connection: &Connection,
    path: &Path,
    name: &'static str,
) -> Result<i64, StoreError> {
    connection
        .query_row(&format!("PRAGMA {name}"), [], |row| row.get(0))
        .doing(path, "reading the file header")
}

/// Open for reading; see [`super::Reader::open`] for what is promised.
pub(super) fn read_only(path: &Path) -> Result<(LogConnection, Option<ScratchCopy>), StoreError> {
    open_checked(path, check_readable)
}

/// Open for reading a file that may be damaged: only its identity is asked for.
pub(super) fn read_only_as_is(
    path: &Path,
) -> Result<(LogConnection, Option<ScratchCopy>), StoreError> {
    open_checked(path, |connection, path| {
        // Without this SQLite refuses a file that was cut short whole; on a
        // read-only connection it allows nothing else.
        connection
            .set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, false)
            .and_then(|_| connection.execute_batch("PRAGMA writable_schema = ON"))
            .doing(path, "opening the log")?;
        check_identity(connection, path)?;
        // What cannot be read is for the caller to tell.
        match check_no_traps(connection, path) {
            Err(trap @ StoreError::Trap { .. }) => Err(trap),
            _ => Ok(()),
        }
    })
}

fn open_checked(
    path: &Path,
    check: fn(&Connection, &Path) -> Result<(), StoreError>,
) -> Result<(LogConnection, Option<ScratchCopy>), StoreError> {
    let mut opened = open_once(path, check);
    for again in 1..MOST_TRIES {
        if !opened.as_ref().is_err_and(may_pass)
            || !std::fs::metadata(path).is_ok_and(|m| m.is_file())
        {
            break;
        }
        // A recorder that starts or stops makes and removes files beside the log.
        std::thread::sleep(BETWEEN_TRIES * again);
        opened = open_once(path, check);
    }
    opened
}

/// How often a log is opened that another program is just changing.
const MOST_TRIES: u32 = 4;
const BETWEEN_TRIES: std::time::Duration = std::time::Duration::from_millis(30);

/// Errors that a recorder which starts or stops at this moment can cause.
fn may_pass(e: &StoreError) -> bool {
    matches!(
        e,
        StoreError::Sqlite { .. }
            | StoreError::Io { .. }
            | StoreError::Damaged { .. }
            | StoreError::NotFound { .. }
    )
}

/// How a log can be read.
enum Way {
    /// Together with whoever writes it, by SQLite's locks.
    InPlace,
    /// Nobody writes it, and locks would need files beside it that are not there.
    AsItLies,
    /// From a private copy.
    Copy,
}

fn way(path: &Path, identity: Identity) -> Way {
    let path = resolved(path);
    let beside = |ending| with_ending(&path, ending);
    // An unfinished change of the file itself is undone before it is read.
    if identity == Identity::Pending || is_pending(&beside("-journal")) {
        return Way::Copy;
    }
    let wal = beside(WAL_ENDING);
    if is_pending(&wal) || (wal.exists() && beside("-shm").exists()) {
        return Way::InPlace;
    }
    match uses_wal(&path) {
        Ok(false) => Way::InPlace,
        _ => Way::AsItLies,
    }
}

/// Whether SQLite would look for, and make, a write-ahead log.
///
/// **Source**: SQLite file format, section 1.3: read version at 19, 2 for a log
/// with a write-ahead log.
fn uses_wal(path: &Path) -> std::io::Result<bool> {
    let mut head = [0; 20];
    RawFile::open(path)?.read_exact(&mut head)?;
    Ok(head[19] != 1)
}

fn open_once(
    path: &Path,
    check: fn(&Connection, &Path) -> Result<(), StoreError>,
) -> Result<(LogConnection, Option<ScratchCopy>), StoreError> {
    let identity = identify(path)?;
    let wal = wal_path(path);
    if identity == Identity::Unfinished || (identity == Identity::Pending && is_unfinished(path)?) {
        return Err(StoreError::NothingYet { path: path.into() });
    }
    let whole = |connection: LogConnection| check(&connection, path).map(|()| (connection, None));
    match way(path, identity) {
        Way::Copy => copied(path, &wal, check),
        Way::AsItLies => connect(path, true).and_then(whole),
        Way::InPlace => match connect(path, false).and_then(whole) {
            // Read-only medium or another user's file: SQLite cannot set up
            // its shared memory there, so work on a copy that it can.
            Err(StoreError::Sqlite { .. }) => copied(path, &wal, check),
            done => done,
        },
    }
}

/// Open a private copy.
fn copied(
    path: &Path,
    wal: &Path,
    check: fn(&Connection, &Path) -> Result<(), StoreError>,
) -> Result<(LogConnection, Option<ScratchCopy>), StoreError> {
    let copy = ScratchCopy::of(path, wal)?;
    let connection = copy.connect()?;
    check(&connection, path)?;
    Ok((connection, Some(copy)))
}

pub(super) fn connect(path: &Path, immutable: bool) -> Result<LogConnection, StoreError> {
    let uri = format!(
        "file:{}?mode=ro{}",
        percent_encoded(path),
        if immutable { "&immutable=1" } else { "" }
    );
    // A connection is used by one thread at a time, which the type enforces;
    // SQLite's own lock around each column of each row costs a tenth of a scan.
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
        | OpenFlags::SQLITE_OPEN_URI
        | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = LogConnection::open(path, uri, flags)?;
    Ok(if immutable {
        connection.lying_still()
    } else {
        connection
    })
}

fn check_readable(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    let version = check_identity(connection, path)?;
    check_tables(connection, path, version)?;
    check_schema(connection, path)
}

/// Under the names of our tables lie nothing but plain tables: a view, a virtual
/// table or a computed column could run for ever or fill the memory when read.
fn check_no_traps(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    for table in schema::tables(SCHEMA_VERSION) {
        let count = |sql: &str| -> Result<i64, StoreError> {
            connection
                .query_row(sql, [table], |row| row.get(0))
                .doing(path, "reading the schema")
        };
        let not_plain = count(
            "SELECT count(*) FROM sqlite_schema WHERE name = ?1 COLLATE NOCASE
             AND (type <> 'table' OR rootpage < 1)",
        )?;
        if not_plain == 0
            && count("SELECT count(*) FROM pragma_table_xinfo(?1) WHERE hidden <> 0")? == 0
        {
            continue;
        }
        return Err(StoreError::Trap {
            path: path.into(),
            what: format!("its `{table}` is computed, not stored"),
        });
    }
    Ok(())
}

/// Every table of this version is there, or the file is damaged.
pub(super) fn check_tables(
    connection: &Connection,
    path: &Path,
    version: i64,
) -> Result<(), StoreError> {
    for table in schema::tables(version) {
        let there: i64 = connection
            .query_row(
                "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = ?1",
                [table],
                |row| row.get(0),
            )
            .doing(path, "reading the schema")?;
        if there == 0 {
            return Err(StoreError::Damaged {
                path: path.into(),
                detail: format!("its table `{table}` is missing"),
            });
        }
    }
    Ok(())
}

/// Bring an empty or older file to the newest schema.
pub(super) fn migrate(connection: &mut Connection, path: &Path) -> Result<(), StoreError> {
    let version = pragma(connection, path, "user_version")?;
    for step in usize::try_from(version).unwrap_or(0)..schema::STEPS.len() {
        let transaction = connection.transaction().doing(path, "migrating")?;
        transaction
            .execute_batch(schema::STEPS[step])
            .doing(path, "migrating")?;
        transaction
            .pragma_update(None, "user_version", step as i64 + 1)
            .doing(path, "migrating")?;
        transaction
            .pragma_update(None, "application_id", APPLICATION_ID)
            .doing(path, "migrating")?;
        transaction.commit().doing(path, "migrating")?;
    }
    Ok(())
}

/// Characters that mean something in a URI are escaped.
fn percent_encoded(path: &Path) -> String {
    use std::fmt::Write;
    let mut out = String::new();
    for &byte in path.as_os_str().as_encoded_bytes() {
        if byte.is_ascii_alphanumeric() || b"/._-~".contains(&byte) {
            out.push(char::from(byte));
        } else {
            let _ = write!(out, "%{byte:02X}");
        }
    }
    out
}

fn copy_file(from: &Path, to: &Path) -> std::io::Result<()> {
    let mut from = RawFile::open(from)?;
    std::io::copy(&mut from, &mut std::fs::File::create(to)?).map(drop)
}

/// A private copy of a log and its write-ahead log, removed when dropped.
#[derive(Debug)]
pub(super) struct ScratchCopy {
    folder: PathBuf,
}

impl ScratchCopy {
    fn of(path: &Path, wal: &Path) -> Result<Self, StoreError> {
        let base = std::env::temp_dir();
        let stem = format!("seep-{}", std::process::id());
        let folder = (0..1000)
            .map(|n| base.join(format!("{stem}-{n}")))
            .find(|candidate| std::fs::create_dir(candidate).is_ok())
            .ok_or_else(|| StoreError::Io {
                path: base.clone(),
                doing: "making a scratch folder",
                cause: std::io::Error::other("no free name"),
            })?;
        let copy = ScratchCopy { folder };
        for _ in 0..MOST_TRIES {
            let before = FileState::of_database(path);
            copy.fill(path, wal)?;
            // The log was not copied into, nor its write-ahead log begun again.
            if FileState::of_database(path) == before {
                break;
            }
        }
        Ok(copy)
    }

    fn fill(&self, path: &Path, wal: &Path) -> Result<(), StoreError> {
        let doing = "copying the log to scratch";
        copy_file(path, &self.log()).doing(path, doing)?;
        let path = resolved(path);
        for (from, to) in [
            (wal, wal_path(&self.log())),
            (
                &with_ending(&path, "-journal"),
                with_ending(&self.log(), "-journal"),
            ),
        ] {
            match copy_file(from, &to) {
                Err(e) if e.kind() == std::io::ErrorKind::NotFound => {
                    let _ = std::fs::remove_file(&to);
                }
                done => done.doing(from, doing)?,
            }
        }
        Ok(())
    }

    /// Open the copy; a change that was cut short is undone in it first.
    fn connect(&self) -> Result<LogConnection, StoreError> {
        let log = self.log();
        if is_pending(&with_ending(&log, "-journal")) {
            let mended = LogConnection::open(&log, &log, OpenFlags::default())?;
            pragma(&mended, &log, "schema_version")?;
        }
        connect(&log, false)
    }

    fn log(&self) -> PathBuf {
        self.folder.join("log.db")
    }
}

impl Drop for ScratchCopy {
    fn drop(&mut self) {
        // Best effort: a scratch folder left behind harms nothing.
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

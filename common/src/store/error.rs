//! What can go wrong with a log file.

use crate::time::LogMs;
use std::path::{Path, PathBuf};

/// Trouble with a log.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The file is not there.
    #[error("{}: no such log; check the path, or record one with `seepd run` or `seepd replay`", path.display())]
    NotFound {
        /// The path asked for.
        path: PathBuf,
    },
    /// This user has no right to read it.
    #[error("{}: this user may not read it; {allowed}", path.display())]
    NotAllowed {
        /// The path asked for.
        path: PathBuf,
        /// Who may, and what to do.
        allowed: String,
    },
    /// The file exists but is no SQLite database.
    #[error("{}: not a seep log (it is not an SQLite database); give the file that seepd wrote", path.display())]
    NotSqlite {
        /// The path asked for.
        path: PathBuf,
    },
    /// A symbolic link whose target is not there.
    #[error("{}: a link whose target is not there; mount or make what it leads to, or remove the link", path.display())]
    DeadLink {
        /// The path asked for.
        path: PathBuf,
    },
    /// A folder, a pipe or a device.
    #[error("{}: a folder, pipe or device, not a file; give the file that seepd wrote", path.display())]
    NotAFile {
        /// The path asked for.
        path: PathBuf,
    },
    /// Made, but cut short before anything was stored.
    #[error("{}: nothing has been recorded in it yet; let `seepd run` or `seepd replay --append` record into it", path.display())]
    NothingYet {
        /// The path asked for.
        path: PathBuf,
    },
    /// An SQLite database of another program.
    #[error("{}: not a seep log (an SQLite database with application id {found:#010x}, a log has {expected:#010x}); give the file that seepd wrote", path.display())]
    OtherApplication {
        /// The path asked for.
        path: PathBuf,
        /// Application id found.
        found: i64,
        /// Application id of a log.
        expected: i64,
    },
    /// Written by a later version.
    #[error("{}: written by a newer seep (schema {found}, this program knows up to {known}); use the newer program", path.display())]
    NewerSchema {
        /// The path asked for.
        path: PathBuf,
        /// Schema version found.
        found: i64,
        /// Newest schema version known here.
        known: i64,
    },
    /// The target exists and must not be written over.
    #[error("{}: exists already and is not written over; choose another name, or add to it with --append", path.display())]
    Exists {
        /// The path asked for.
        path: PathBuf,
    },
    /// The database is damaged.
    #[error("{}: damaged: {detail}; keep the file, run `seep verify` on it", path.display())]
    Damaged {
        /// The path asked for.
        path: PathBuf,
        /// What SQLite said.
        detail: String,
    },
    /// Its schema holds something that no log of seepd's making has.
    #[error("{}: not to be trusted: {what}; give the file as seepd wrote it", path.display())]
    Trap {
        /// The path asked for.
        path: PathBuf,
        /// What was found, and how to remove it.
        what: String,
    },
    /// Another writer holds the log, under this name or another.
    #[error("{}: another seepd records to it; stop that one first", path.display())]
    Locked {
        /// The path asked for.
        path: PathBuf,
    },
    /// A row that would break the order of log time.
    #[error("log time {t_ms} ms does not come after {last_ms} ms")]
    OutOfOrder {
        /// The time offered.
        t_ms: LogMs,
        /// The last time stored.
        last_ms: LogMs,
    },
    /// The disk does not give what the file holds.
    #[error("{}: cannot be read at byte {at}: {cause}; the disk may be at fault, not the log: try again, then copy the file to another disk", path.display())]
    Unreadable {
        /// The log, or its write-ahead log.
        path: PathBuf,
        /// Where reading failed, bytes from the start.
        at: u64,
        /// The system's error.
        cause: std::io::Error,
    },
    /// SQLite reports an error.
    #[error("{}: {doing}: {cause}", path.display())]
    Sqlite {
        /// The log.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// SQLite's error.
        cause: rusqlite::Error,
    },
    /// The file system refuses to create a file.
    #[error("{}: {doing}: {cause}", path.display())]
    NotCreated {
        /// The file.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// The system's error.
        cause: std::io::Error,
    },
    /// The file system reports an error.
    #[error("{}: {doing}: {cause}", path.display())]
    Io {
        /// The log.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// The system's error.
        cause: std::io::Error,
    },
}

/// What an error of a log calls for; each program has an exit code for each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StoreErrorClass {
    /// There is no such log, or this user may not read it.
    NotThere,
    /// The file is no sound log.
    NotALog,
    /// The log cannot be created, or exists already.
    NotCreated,
    /// Another writer holds it.
    Held,
    /// Reading or writing failed.
    InputOutput,
}

impl StoreError {
    /// Returns the class of the error.
    #[must_use]
    pub fn class(&self) -> StoreErrorClass {
        match self {
            StoreError::NotFound { .. } | StoreError::NotAllowed { .. } => {
                StoreErrorClass::NotThere
            }
            StoreError::NotSqlite { .. }
            | StoreError::NotAFile { .. }
            | StoreError::NothingYet { .. }
            | StoreError::Trap { .. }
            | StoreError::OtherApplication { .. }
            | StoreError::NewerSchema { .. }
            | StoreError::Damaged { .. }
            | StoreError::OutOfOrder { .. } => StoreErrorClass::NotALog,
            StoreError::Exists { .. }
            | StoreError::DeadLink { .. }
            | StoreError::NotCreated { .. } => StoreErrorClass::NotCreated,
            StoreError::Locked { .. } => StoreErrorClass::Held,
            StoreError::Sqlite { .. } | StoreError::Io { .. } | StoreError::Unreadable { .. } => {
                StoreErrorClass::InputOutput
            }
        }
    }
}

impl StoreError {
    /// True when the medium is full; the connection is still good.
    #[must_use]
    pub fn is_full(&self) -> bool {
        self.has_code(rusqlite::ErrorCode::DiskFull)
    }

    /// True when another connection is in the way; trying again may help.
    #[must_use]
    pub fn is_busy(&self) -> bool {
        self.has_code(rusqlite::ErrorCode::DatabaseBusy)
            || self.has_code(rusqlite::ErrorCode::DatabaseLocked)
    }

    /// True when rows that somebody else added stand where the next ones belong.
    #[must_use]
    pub fn is_in_the_way(&self) -> bool {
        matches!(self, StoreError::OutOfOrder { .. })
            || self.has_code(rusqlite::ErrorCode::ConstraintViolation)
    }

    /// True when the disk did not give what the file holds: a fault that may pass,
    /// and no damage of the log.
    #[must_use]
    pub fn is_unreadable(&self) -> bool {
        use rusqlite::ffi;
        let reading = |e: &ffi::Error| {
            [ffi::SQLITE_IOERR_READ, ffi::SQLITE_IOERR_CORRUPTFS].contains(&e.extended_code)
        };
        match self {
            StoreError::Unreadable { .. } => true,
            StoreError::Sqlite { cause, .. } => cause.sqlite_error().is_some_and(reading),
            _ => false,
        }
    }

    fn has_code(&self, code: rusqlite::ErrorCode) -> bool {
        matches!(self, StoreError::Sqlite { cause, .. }
            if cause.sqlite_error_code() == Some(code))
    }
}

/// Adds the path and the deed to an SQLite error.
pub(super) trait Doing<T> {
    /// Say what was being done when it failed.
    fn doing(self, path: &Path, doing: &'static str) -> Result<T, StoreError>;
}

impl<T> Doing<T> for rusqlite::Result<T> {
    fn doing(self, path: &Path, doing: &'static str) -> Result<T, StoreError> {
        self.map_err(|cause| match cause.sqlite_error_code() {
            Some(rusqlite::ErrorCode::NotADatabase) => StoreError::NotSqlite { path: path.into() },
            Some(rusqlite::ErrorCode::DatabaseCorrupt) => StoreError::Damaged {
                path: path.into(),
                detail: cause.to_string(),
            },
            _ => StoreError::Sqlite {
                path: path.into(),
                doing,
                cause,
            },
        })
    }
}

impl<T> Doing<T> for std::io::Result<T> {
    fn doing(self, path: &Path, doing: &'static str) -> Result<T, StoreError> {
        self.map_err(|cause| StoreError::Io {
            path: path.into(),
            doing,
            cause,
        })
    }
}

/// Adds the path and the deed to an error while reading what a log holds.
pub(super) trait Reading<T> {
    /// As [`Doing::doing`]; that a table, a column or a value is not what the
    /// schema says it is means damage.
    fn reading(self, path: &Path, doing: &'static str) -> Result<T, StoreError>;
}

impl<T> Reading<T> for rusqlite::Result<T> {
    fn reading(self, path: &Path, doing: &'static str) -> Result<T, StoreError> {
        use rusqlite::Error;
        match self {
            Err(
                cause @ (Error::InvalidColumnType(..)
                | Error::FromSqlConversionFailure(..)
                | Error::IntegralValueOutOfRange(..)
                | Error::Utf8Error(..)
                | Error::SqlInputError { .. }),
            ) => Err(StoreError::Damaged {
                path: path.into(),
                detail: format!("{doing}: {cause}"),
            }),
            Err(cause) if cause.sqlite_error_code() == Some(rusqlite::ErrorCode::Unknown) => {
                Err(StoreError::Damaged {
                    path: path.into(),
                    detail: format!("{doing}: {cause}"),
                })
            }
            other => other.doing(path, doing),
        }
    }
}

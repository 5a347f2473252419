//! Connections to a log, set up as SQLite advises for files that may come from
//! anybody.

use super::StoreError;
use super::error::Doing;
use super::raw_file::{FileId, InUse};
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags};
use std::ops::{Deref, DerefMut};
use std::path::Path;

/// A connection to a log. While it exists, no other descriptor of the log is
/// closed in this process.
#[derive(Debug)]
pub(super) struct LogConnection {
    // Dropped in this order.
    connection: Connection,
    in_use: InUse,
    lies_still: bool,
}

impl LogConnection {
    /// Open `name`, a path or a URI of it, with everything in the file distrusted.
    ///
    /// # Errors
    /// SQLite's and the file system's errors.
    pub(super) fn open(
        path: &Path,
        name: impl AsRef<Path>,
        flags: OpenFlags,
    ) -> Result<Self, StoreError> {
        let in_use = InUse::begin(path).doing(path, "opening the log")?;
        let connection = Connection::open_with_flags(name, flags).doing(path, "opening the log")?;
        distrust(&connection).doing(path, "opening the log")?;
        Ok(LogConnection {
            connection,
            in_use,
            lies_still: false,
        })
    }

    /// The same, of a file that SQLite was told nobody writes.
    pub(super) fn lying_still(self) -> Self {
        LogConnection {
            lies_still: true,
            ..self
        }
    }

    /// Whether SQLite was told that nobody writes the file.
    pub(super) fn lies_still(&self) -> bool {
        self.lies_still
    }

    /// The file that it was opened for.
    pub(super) fn file(&self) -> FileId {
        self.in_use.file()
    }

    /// Close it.
    ///
    /// # Errors
    /// SQLite's errors.
    pub(super) fn close(self, path: &Path) -> Result<(), StoreError> {
        let LogConnection {
            connection,
            in_use: _in_use,
            lies_still: _,
        } = self;
        connection
            .close()
            .map_err(|(_, e)| e)
            .doing(path, "closing")
    }
}

impl Deref for LogConnection {
    type Target = Connection;
    fn deref(&self) -> &Connection {
        &self.connection
    }
}

impl DerefMut for LogConnection {
    fn deref_mut(&mut self) -> &mut Connection {
        &mut self.connection
    }
}

/// No code stored in the file runs: no trigger, no view, no function of the
/// schema; nothing rewrites the schema behind SQLite's back; cells are checked.
///
/// **Source**: SQLite documentation, "Defense Against The Dark Arts", section 1.2.
fn distrust(connection: &Connection) -> rusqlite::Result<()> {
    for (setting, on) in [
        (DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true),
        (DbConfig::SQLITE_DBCONFIG_TRUSTED_SCHEMA, false),
        (DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false),
        (DbConfig::SQLITE_DBCONFIG_ENABLE_VIEW, false),
    ] {
        connection.set_db_config(setting, on)?;
    }
    connection.execute_batch("PRAGMA cell_size_check = ON; PRAGMA mmap_size = 0;")
}

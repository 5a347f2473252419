//! Reading a log, without leaving a trace beside it.

mod gather;
mod leaves;
mod lists;

use super::connection::LogConnection;
use super::error::Reading;
use super::open::{ScratchCopy, pragma, read_only};
use super::{Columns, StoreError};
use crate::time::LogMs;
use leaves::RowLeaves;
use std::cell::OnceCell;
use std::path::{Path, PathBuf};

/// Reads a log. Never writes to it.
///
/// A log closed in order is read as it lies, with no helper files made. A log
/// whose recorder runs, or lost power, has a write-ahead log beside it: that is
/// read too, in place where the folder allows it, else from a private copy.
#[derive(Debug)]
pub struct Reader {
    connection: LogConnection,
    path: PathBuf,
    version: i64,
    scratch: Option<ScratchCopy>,
    /// Looked for when rows are first asked for.
    leaves: OnceCell<Option<RowLeaves>>,
}

impl Reader {
    /// Open a log for reading.
    ///
    /// # Errors
    /// [`StoreError`] says whether it is missing, foreign, newer or damaged.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        let (connection, scratch) = read_only(path)?;
        let version = pragma(&connection, path, "user_version")?;
        Ok(Reader {
            connection,
            path: path.into(),
            version,
            scratch,
            leaves: OnceCell::new(),
        })
    }

    /// The file asked for.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// True when a private copy is read, as where no helper file can be made
    /// beside the log.
    #[must_use]
    pub fn is_copy(&self) -> bool {
        self.scratch.is_some()
    }

    /// Schema version of the file; older ones are read as they are.
    #[must_use]
    pub fn schema_version(&self) -> i64 {
        self.version
    }

    /// How many rows of readings the log holds.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn tick_count(&self) -> Result<u64, StoreError> {
        self.connection
            .query_row("SELECT count(*) FROM tick", [], |row| row.get::<_, i64>(0))
            .map(|n| u64::try_from(n).unwrap_or(0))
            .reading(&self.path, "counting rows")
    }

    /// Readings of channels over `[from_t_ms, to_t_ms)`, one column per name,
    /// `NaN` where silent. A name the log does not have gives a silent column.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn columns<S: AsRef<str>>(
        &self,
        names: &[S],
        from_t_ms: LogMs,
        to_t_ms: LogMs,
    ) -> Result<Columns, StoreError> {
        self.columns_into(Columns::default(), names, from_t_ms, to_t_ms)
    }

    /// The same in the room of columns that are read no more: where one stretch is read
    /// after the other, the system need not clear new memory for each.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn columns_into<S: AsRef<str>>(
        &self,
        room: Columns,
        names: &[S],
        from_t_ms: LogMs,
        to_t_ms: LogMs,
    ) -> Result<Columns, StoreError> {
        let names: Vec<&str> = names.iter().map(AsRef::as_ref).collect();
        let leaves = self.leaves.get_or_init(|| RowLeaves::of(self)).as_ref();
        if let Some(read) = leaves.and_then(|l| l.columns(self, room, &names, from_t_ms..to_t_ms)) {
            return Ok(read);
        }
        let stored = self.channels()?;
        gather::columns(&self.connection, &stored, &names, from_t_ms, to_t_ms)
            .reading(&self.path, "reading ticks")
    }
}

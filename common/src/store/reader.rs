//! Reading a log, without leaving a trace beside it.

mod lists;

use super::error::Reading;
use super::open::{ScratchCopy, pragma, read_only};
use super::schema::quoted;
use super::{ClockMap, Columns, StoreError, StoredChannel};
use rusqlite::Connection;
use rusqlite::types::ValueRef;
use std::path::{Path, PathBuf};

/// Reads a log. Never writes to it.
///
/// A log closed in order is read as it lies, with no helper files made. A log
/// whose recorder runs, or lost power, has a write-ahead log beside it: that is
/// read too, in place where the folder allows it, else from a private copy.
#[derive(Debug)]
pub struct Reader {
    connection: Connection,
    path: PathBuf,
    version: i64,
    scratch: Option<ScratchCopy>,
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

    /// The clock, as known last.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn clock(&self) -> Result<ClockMap, StoreError> {
        Ok(ClockMap::new(&self.clock_rows()?))
    }

    /// Readings of channels over `[from_t_ms, to_t_ms)`, one column per name,
    /// `NaN` where silent. A name the log does not have gives a silent column.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn columns<S: AsRef<str>>(
        &self,
        names: &[S],
        from_t_ms: i64,
        to_t_ms: i64,
    ) -> Result<Columns, StoreError> {
        let stored = self.channels()?;
        let Wanted {
            select,
            resolutions,
        } = Wanted::of(&stored, names);
        let mut out = Columns {
            t_ms: Vec::new(),
            names: names.iter().map(|n| n.as_ref().to_string()).collect(),
            values: vec![Vec::new(); names.len()],
        };
        let mut statement = self
            .connection
            .prepare(&select)
            .reading(&self.path, "reading ticks")?;
        let mut rows = statement
            .query([from_t_ms, to_t_ms])
            .reading(&self.path, "reading ticks")?;
        while let Some(row) = rows.next().reading(&self.path, "reading ticks")? {
            out.t_ms
                .push(row.get(0).reading(&self.path, "reading ticks")?);
            let mut position = 0;
            for (column, resolutions) in out.values.iter_mut().zip(&resolutions) {
                let mut value = f32::NAN;
                for resolution in resolutions {
                    position += 1;
                    // Anything but an integer is no reading: a foreign hand wrote it.
                    if let Ok(ValueRef::Integer(count)) = row.get_ref(position) {
                        value = (count as f64 * resolution) as f32;
                    }
                }
                column.push(value);
            }
        }
        Ok(out)
    }
}

/// What is read of each row.
struct Wanted {
    select: String,
    /// By name, the resolutions of the columns that hold it, in the order of
    /// the selection behind the time.
    resolutions: Vec<Vec<f64>>,
}

impl Wanted {
    fn of<S: AsRef<str>>(stored: &[StoredChannel], names: &[S]) -> Self {
        let mut select = String::from("SELECT t_ms");
        let mut resolutions = Vec::new();
        for name in names {
            let own = || stored.iter().filter(|c| c.name == name.as_ref());
            for channel in own() {
                select.push_str(", ");
                select.push_str(&quoted(&channel.column));
            }
            resolutions.push(own().map(|c| c.resolution).collect());
        }
        select.push_str(" FROM tick WHERE t_ms >= ?1 AND t_ms < ?2 ORDER BY t_ms");
        Wanted {
            select,
            resolutions,
        }
    }
}

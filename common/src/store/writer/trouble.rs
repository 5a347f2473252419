//! What a recorder does when the file under it misbehaves.

use super::super::StoreError;
use super::super::error::Doing;
use super::super::raw_file::FileId;
use super::super::rows::SessionId;
use super::super::wal::{resolved, wal_path};
use super::super::whole_copy::{sync_folder, with_ending};
use super::plausible::check_times;
use super::{Writer, connect, last_t_ms};
use crate::tick::Tick;
use crate::time::{BootMs, LogMs};
use std::path::{Path, PathBuf};

impl Writer {
    /// Throw the connection away and make a new one on the same file, as after
    /// an input/output error or a read-only remount. The session goes on.
    ///
    /// A commit that failed may have reached the disk after all:
    /// [`Writer::holds`] tells the truth afterwards.
    ///
    /// # Errors
    /// SQLite's errors; the old connection is kept then.
    pub fn reconnect(&mut self) -> Result<(), StoreError> {
        let name = std::fs::metadata(&self.path).doing(&self.path, "opening the log")?;
        if FileId::of(&name) != self.anchor.id() {
            return Err(StoreError::Io {
                path: self.path.clone(),
                doing: "opening the log",
                cause: std::io::Error::other("another file has its name now"),
            });
        }
        let fresh = connect(&self.path, self.patience)?;
        check_times(&fresh, &self.path)?;
        self.last_t_ms = last_t_ms(&fresh, &self.path)?.max(self.last_t_ms);
        self.connection = fresh;
        Ok(())
    }

    /// Whether every one of these rows is stored; asked when a commit failed in a
    /// way that leaves it open. A commit stores all rows of a batch or none.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn holds(&self, ticks: &[Tick]) -> Result<bool, StoreError> {
        let mut statement = self
            .connection
            .prepare("SELECT EXISTS (SELECT 1 FROM tick WHERE t_ms = ?1)")
            .doing(&self.path, "looking for rows")?;
        for tick in ticks {
            let there: bool = statement
                .query_row([tick.t_ms], |row| row.get(0))
                .doing(&self.path, "looking for rows")?;
            if !there {
                return Ok(false);
            }
        }
        Ok(!ticks.is_empty())
    }

    /// How many rows lie in `[from_t_ms, to_t_ms]`.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn rows_between(&self, from_t_ms: LogMs, to_t_ms: LogMs) -> Result<u64, StoreError> {
        self.connection
            .query_row(
                "SELECT count(*) FROM tick WHERE t_ms BETWEEN ?1 AND ?2",
                [from_t_ms, to_t_ms],
                |row| row.get::<_, i64>(0),
            )
            .map(|rows| u64::try_from(rows).unwrap_or(0))
            .doing(&self.path, "counting rows")
    }

    /// Take up rows that another program added after ours.
    ///
    /// # Errors
    /// [`StoreError::Damaged`] for a time that cannot be meant; SQLite's errors.
    pub fn find_end(&mut self) -> Result<(), StoreError> {
        check_times(&self.connection, &self.path)?;
        self.last_t_ms = last_t_ms(&self.connection, &self.path)?.max(self.last_t_ms);
        Ok(())
    }

    /// How long a statement waits for another connection before it fails.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn wait_for_others(&mut self, time: std::time::Duration) -> Result<(), StoreError> {
        self.patience = time;
        self.connection
            .busy_timeout(time)
            .doing(&self.path, "setting up")
    }

    /// Sessions of one boot: first log time and `CLOCK_BOOTTIME` there, ms, in
    /// the order recorded.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn sessions_of_boot(
        &self,
        boot_id: &str,
    ) -> Result<Vec<(SessionId, LogMs, BootMs)>, StoreError> {
        self.connection
            .prepare(
                "SELECT id, start_t_ms, start_boot_ms FROM session
                 WHERE boot_id = ?1 AND start_boot_ms IS NOT NULL ORDER BY id",
            )
            .and_then(|mut statement| {
                statement
                    .query_map([boot_id], |row| {
                        Ok((SessionId(row.get(0)?), row.get(1)?, row.get(2)?))
                    })?
                    .collect()
            })
            .doing(&self.path, "reading sessions of this boot")
    }
}

/// Move a damaged log, with what lies beside it, out of the way; never deletes.
/// Returns its new name.
///
/// # Errors
/// The file system's.
pub fn set_aside(path: &Path) -> Result<PathBuf, StoreError> {
    let path = &resolved(path);
    let target = free_name(path, "damaged")?;
    for (from, to) in [
        (wal_path(path), wal_path(&target)),
        (path.to_path_buf(), target.clone()),
    ] {
        if from.exists() {
            std::fs::rename(&from, &to).doing(path, "setting a damaged log aside")?;
        }
    }
    // Shared memory is rebuilt from the others; an orphan would confuse.
    let _ = std::fs::remove_file(with_ending(path, "-shm"));
    sync_folder(path).doing(path, "setting a damaged log aside")?;
    Ok(target)
}

/// The first name `PATH.WHAT-1`, `PATH.WHAT-2`, … that nobody has.
pub(super) fn free_name(path: &Path, what: &str) -> Result<PathBuf, StoreError> {
    let numbered = |n: u32| with_ending(path, &format!(".{what}-{n}"));
    let free = (1..10_000)
        .map(numbered)
        .find(|p| p.symlink_metadata().is_err());
    free.ok_or_else(|| StoreError::Io {
        path: path.into(),
        doing: "looking for a free name beside the log",
        cause: std::io::Error::other("no free name left"),
    })
}

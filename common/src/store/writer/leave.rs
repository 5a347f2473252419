//! Leaving a log that another program has changed, with everything saved that
//! still can be.

use super::super::StoreError;
use super::super::error::Doing;
use super::super::wal::wal_path;
use super::super::whole_copy::{copy_whole, sync_folder, with_ending};
use super::file_watch::FileChange;
use super::trouble::free_name;
use super::{Writer, set_aside};
use rusqlite::config::DbConfig;
use std::path::{Path, PathBuf};

/// Where what was stored is now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Left {
    /// Still under the log's name, complete as far as can be told.
    InPlace,
    /// Complete in another file.
    Complete(PathBuf),
    /// In another file, as it was found; parts may be lost.
    AsFound(PathBuf),
    /// Not saved, and why.
    Lost(String),
}

impl Writer {
    /// Leave the log after a change; afterwards its name is free, or leads to a
    /// file that can be opened.
    ///
    /// A write-ahead log of another file is never applied to the log: it is moved
    /// aside.
    ///
    /// # Errors
    /// The file system's and SQLite's errors, where not even the name could be
    /// made free.
    pub fn leave(self, change: &FileChange) -> Result<Left, StoreError> {
        let path = self.path.clone();
        // Closing would copy into, and delete, files that may not be ours.
        self.connection
            .set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)
            .doing(&path, "leaving the log")?;
        let left = match change {
            FileChange::Deleted | FileChange::Replaced(None) => self.rescue(None),
            FileChange::Renamed(to) | FileChange::Replaced(Some(to)) => self.rescue(Some(to)),
            FileChange::WalMissing | FileChange::WalReplaced | FileChange::LockLost => {
                if self.checkpoint()? {
                    Left::InPlace
                } else {
                    self.rescue(None)
                }
            }
            FileChange::WalCutShort => Left::InPlace,
            FileChange::Overwritten => Left::AsFound(set_aside(&path)?),
        };
        let own_wal = self.owns_wal();
        drop(self);
        let in_place = matches!(left, Left::InPlace);
        if !own_wal || !in_place {
            move_wal_aside(&path)?;
        }
        if !in_place {
            make_folder(&path)?;
            // Belonged to the file that was left; SQLite makes it again.
            let _ = std::fs::remove_file(with_ending(&path, "-shm"));
        }
        Ok(left)
    }

    /// Copy the write-ahead log into the database; true when nothing is left.
    fn checkpoint(&self) -> Result<bool, StoreError> {
        self.connection
            .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| {
                Ok((
                    row.get::<_, i64>(0)?,
                    row.get::<_, i64>(1)?,
                    row.get::<_, i64>(2)?,
                ))
            })
            .map(|(busy, written, copied)| busy == 0 || written == copied)
            .doing(&self.path, "leaving the log")
    }

    /// The log is complete under its new name, or a complete copy is made beside
    /// its old one.
    fn rescue(&self, renamed: Option<&PathBuf>) -> Left {
        if let Some(to) = renamed
            && self.checkpoint().is_ok_and(|complete| complete)
        {
            return Left::Complete(to.clone());
        }
        let copied = make_folder(&self.path).and_then(|()| {
            let to = free_name(&self.path, "rescued")?;
            copy_whole(&self.connection, &to, "saving the log").map(|()| to)
        });
        match copied {
            Ok(to) => Left::Complete(to),
            Err(e) => Left::Lost(e.to_string()),
        }
    }
}

/// The folder may have gone with the log.
fn make_folder(path: &Path) -> Result<(), StoreError> {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => {
            std::fs::create_dir_all(folder).doing(path, "making the folder again")
        }
        _ => Ok(()),
    }
}

/// A write-ahead log that belongs to another file would be taken for the log's
/// own; it is kept under another name.
fn move_wal_aside(path: &Path) -> Result<(), StoreError> {
    let wal = wal_path(path);
    if std::fs::metadata(&wal).is_ok_and(|m| m.len() > 0) {
        let to = free_name(&wal, "set-aside")?;
        std::fs::rename(&wal, to).doing(&wal, "moving a foreign write-ahead log aside")?;
        sync_folder(path).doing(path, "moving a foreign write-ahead log aside")?;
    }
    Ok(())
}

//! Makes room for the files that SQLite keeps beside a log.

use super::super::StoreError;
use super::super::error::Doing;
use super::super::wal::{SIDE_FILE_ENDINGS, is_pending, resolved, wal_path};
use super::super::wal_owner::is_foreign_wal;
use super::super::whole_copy::{sync_folder, with_ending};
use super::trouble::free_name;
use std::path::{Path, PathBuf};

/// Something that stood in the place of one of SQLite's files and was renamed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MovedAside {
    /// Its name before.
    pub from: PathBuf,
    /// Its name now.
    pub to: PathBuf,
    /// What it was.
    pub what: &'static str,
}

/// Moves aside whatever has the name of one of SQLite's files and is no file, and a
/// write-ahead log of another log.
///
/// # Errors
/// [`StoreError::Io`] when it cannot be renamed, such as in a folder of another
/// user.
pub(super) fn clear(path: &Path) -> Result<Vec<MovedAside>, StoreError> {
    let mut moved = Vec::new();
    for ending in SIDE_FILE_ENDINGS {
        let name = with_ending(&resolved(path), ending);
        if name.symlink_metadata().is_ok_and(|m| !m.is_file()) {
            moved.push(move_aside(name, "a link, folder, pipe or device")?);
        }
    }
    if is_foreign_wal(path) {
        moved.push(move_wal(path, "the write-ahead log of another log")?);
    }
    Ok(moved)
}

/// The same for a log that is not there yet: SQLite would delete a write-ahead log
/// that was left of an earlier one.
///
/// # Errors
/// As [`clear`].
pub(super) fn clear_for_new(path: &Path) -> Result<Vec<MovedAside>, StoreError> {
    let mut moved = clear(path)?;
    if is_pending(&wal_path(path)) {
        moved.push(move_wal(path, "the write-ahead log of a log that is gone")?);
    }
    Ok(moved)
}

fn move_wal(path: &Path, what: &'static str) -> Result<MovedAside, StoreError> {
    let moved = move_aside(wal_path(path), what)?;
    // SQLite makes the index of the write-ahead log anew.
    let _ = std::fs::remove_file(with_ending(&resolved(path), "-shm"));
    Ok(moved)
}

fn move_aside(from: PathBuf, what: &'static str) -> Result<MovedAside, StoreError> {
    let doing = "moving aside what stands in the place of a file of SQLite's";
    let to = free_name(&from, "aside")?;
    std::fs::rename(&from, &to).doing(&from, doing)?;
    sync_folder(&from).doing(&from, doing)?;
    Ok(MovedAside { from, to, what })
}

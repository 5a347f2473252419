//! A copy that is there whole or not at all, whenever the power goes.

use super::StoreError;
use super::error::Doing;
use rusqlite::Connection;
use std::path::{Path, PathBuf};

/// Copy a log as this connection sees it to `to`, through a file beside it that
/// gets its name once it is on the disk. A file of that name is replaced.
pub(super) fn copy_whole(
    connection: &Connection,
    to: &Path,
    doing: &'static str,
) -> Result<(), StoreError> {
    let part = with_ending(to, ".part");
    // Left behind by a power cut; a journal of it would spoil the next one.
    for old in [with_ending(&part, "-journal"), part.clone()] {
        if old.exists() {
            std::fs::remove_file(&old).doing(&old, doing)?;
        }
    }
    let copied = connection
        .execute("VACUUM INTO ?1", [part.to_string_lossy()])
        .doing(to, doing)
        .and_then(|_| publish(&part, to).doing(to, doing));
    if copied.is_err() {
        let _ = std::fs::remove_file(&part);
    }
    copied
}

/// Make an empty file of a name that nobody has yet: from then on nothing that
/// appears meanwhile can be written over.
///
/// # Errors
/// [`StoreError::Exists`] when the name is taken.
pub(super) fn take_name(to: &Path, doing: &'static str) -> Result<(), StoreError> {
    std::fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(to)
        .map(drop)
        .map_err(|e| match e.kind() {
            std::io::ErrorKind::AlreadyExists => StoreError::Exists { path: to.into() },
            _ => StoreError::Io {
                path: to.into(),
                doing,
                cause: e,
            },
        })
}

fn publish(part: &Path, to: &Path) -> std::io::Result<()> {
    std::fs::File::open(part)?.sync_all()?;
    std::fs::rename(part, to)?;
    sync_folder(to)
}

/// Make sure that the names in a file's folder are on the disk.
pub(super) fn sync_folder(of: &Path) -> std::io::Result<()> {
    let folder = match of.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    match std::fs::File::open(folder)?.sync_all() {
        // Some file systems cannot sync a folder; there is no more to be done.
        Err(e) if e.kind() == std::io::ErrorKind::InvalidInput => Ok(()),
        other => other,
    }
}

pub(super) fn with_ending(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

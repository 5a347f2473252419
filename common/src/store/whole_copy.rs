//! A new file that is there whole or not at all, whenever the power goes.

use super::StoreError;
use super::error::Doing;
use rusqlite::Connection;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// Copy a log as this connection sees it to `to`, a name that nobody has yet.
///
/// # Errors
/// As [`make_whole`]; SQLite's.
pub(super) fn copy_whole(
    connection: &Connection,
    to: &Path,
    doing: &'static str,
) -> Result<(), StoreError> {
    make_whole(to, doing, |part| {
        connection
            .execute("VACUUM INTO ?1", [part.to_string_lossy()])
            .doing(to, doing)
            .map(drop)
    })
}

/// Make a file of a name that nobody has yet. `make` fills a part beside it,
/// `NAME.part-…`; once that is on the disk it gets the name, and nothing that
/// appeared meanwhile is written over. A part that a power cut left behind is
/// removed the next time.
///
/// # Errors
/// [`StoreError::Exists`] when the name is taken; what `make` says; the file
/// system's. No part is left then.
pub(super) fn make_whole<T>(
    to: &Path,
    doing: &'static str,
    make: impl FnOnce(&Path) -> Result<T, StoreError>,
) -> Result<T, StoreError> {
    remove_leftovers(to);
    if to.symlink_metadata().is_ok() {
        return Err(StoreError::Exists { path: to.into() });
    }
    let part = Part::begin(to).map_err(|cause| StoreError::NotCreated {
        path: to.into(),
        doing: "creating the file",
        cause,
    })?;
    let made = make(&part.path)?;
    publish(&part.path, to).map_err(|cause| match cause.kind() {
        ErrorKind::AlreadyExists => StoreError::Exists { path: to.into() },
        _ => StoreError::NotCreated {
            path: to.into(),
            doing,
            cause,
        },
    })?;
    drop(part);
    sync_folder(to).doing(to, doing)?;
    Ok(made)
}

/// A part being filled. The lock tells another process that it is no leftover.
struct Part {
    path: PathBuf,
    _locked: File,
}

impl Part {
    fn begin(to: &Path) -> io::Result<Self> {
        for n in 0..1_000 {
            let path = with_ending(to, &format!(".part-{}-{n}", std::process::id()));
            match OpenOptions::new().write(true).create_new(true).open(&path) {
                Ok(file) => {
                    // Where files cannot be locked, nobody removes leftovers either.
                    let _ = file.try_lock();
                    return Ok(Part {
                        path,
                        _locked: file,
                    });
                }
                Err(e) if e.kind() == ErrorKind::AlreadyExists => {}
                Err(e) => return Err(e),
            }
        }
        Err(io::Error::other("no free name for the unfinished file"))
    }
}

impl Drop for Part {
    fn drop(&mut self) {
        // Best effort: a leftover goes the next time.
        let _ = std::fs::remove_file(&self.path);
        let _ = std::fs::remove_file(with_ending(&self.path, "-journal"));
    }
}

/// Remove parts of this name that nobody is filling.
fn remove_leftovers(to: &Path) {
    let Some(name) = to.file_name() else { return };
    let start = [name.as_encoded_bytes(), b".part-"].concat();
    let Ok(entries) = std::fs::read_dir(folder_of(to)) else {
        return;
    };
    for entry in entries.flatten() {
        let named_so = entry.file_name().as_encoded_bytes().starts_with(&start);
        if !named_so || !entry.file_type().is_ok_and(|t| t.is_file()) {
            continue;
        }
        let path = entry.path();
        let abandoned = File::open(&path).is_ok_and(|file| match file.try_lock() {
            Ok(()) => true,
            Err(TryLockError::WouldBlock | TryLockError::Error(_)) => false,
        });
        if abandoned {
            // Best effort: it only takes space.
            let _ = std::fs::remove_file(&path);
        }
    }
}

/// Give the finished part its name, unless somebody has it.
fn publish(part: &Path, to: &Path) -> io::Result<()> {
    File::open(part)?.sync_all()?;
    match std::fs::hard_link(part, to) {
        Err(e) if e.kind() != ErrorKind::AlreadyExists && e.kind() != ErrorKind::NotFound => {
            // A file system without links, such as that of most memory sticks:
            // looking and taking the name are two steps there.
            if to.symlink_metadata().is_ok() {
                return Err(ErrorKind::AlreadyExists.into());
            }
            std::fs::rename(part, to)
        }
        done => done,
    }
}

fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// Make sure that the names in a file's folder are on the disk.
pub(super) fn sync_folder(of: &Path) -> io::Result<()> {
    match File::open(folder_of(of))?.sync_all() {
        // Some file systems cannot sync a folder; there is no more to be done.
        Err(e) if e.kind() == ErrorKind::InvalidInput => Ok(()),
        other => other,
    }
}

pub(super) fn with_ending(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

#[cfg(test)]
mod tests;

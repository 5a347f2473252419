//! Scratch folders and what lies in them.

use std::collections::BTreeMap;
use std::path::Path;
use tempfile::TempDir;

/// A folder for a test whose subject is not durability: in memory where the
/// system has such a place, so that thousands of logs cost no disk syncs.
///
/// # Panics
/// When no folder can be made.
#[must_use]
pub fn scratch() -> TempDir {
    tempfile::tempdir_in("/dev/shm")
        .or_else(|_| tempfile::tempdir())
        .expect("a scratch folder")
}

/// Every entry of a folder with its bytes (no subfolders): two equal listings
/// mean that nothing was written, made or removed.
///
/// # Panics
/// When the folder cannot be read.
#[must_use]
pub fn listing(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    std::fs::read_dir(folder)
        .expect("a folder")
        .map(|entry| {
            let entry = entry.expect("an entry");
            let bytes = std::fs::read(entry.path()).unwrap_or_default();
            (entry.file_name().to_string_lossy().into_owned(), bytes)
        })
        .collect()
}

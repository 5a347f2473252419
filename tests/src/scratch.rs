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
            let is_file = entry.file_type().is_ok_and(|t| t.is_file());
            let bytes = match is_file {
                true => std::fs::read(entry.path()).expect("readable"),
                false => Vec::new(),
            };
            (entry.file_name().to_string_lossy().into_owned(), bytes)
        })
        .collect()
}

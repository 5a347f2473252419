//! Damage told apart from a disk that does not give what it holds.

use super::StoreError;
use super::raw_file::RawFile;
use super::wal::{is_pending, wal_path};
use std::io::Read;
use std::path::Path;

/// Read a log and its write-ahead log from end to end. SQLite's checks word a
/// page that the disk did not give as damage of the file.
///
/// # Errors
/// [`StoreError::Unreadable`] with the place where the disk fails.
pub(super) fn read_through(path: &Path) -> Result<(), StoreError> {
    read_one(path)?;
    let wal = wal_path(path);
    if is_pending(&wal) {
        read_one(&wal)?;
    }
    Ok(())
}

fn read_one(path: &Path) -> Result<(), StoreError> {
    let mut at = 0;
    let failed = |at: u64| {
        move |cause| StoreError::Unreadable {
            path: path.into(),
            at,
            cause,
        }
    };
    let mut file = RawFile::open(path).map_err(failed(0))?;
    let mut buffer = vec![0; 1 << 12];
    loop {
        match file.read(&mut buffer).map_err(failed(at))? {
            0 => return Ok(()),
            n => at += n as u64,
        }
    }
}

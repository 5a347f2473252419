//! The write-ahead log that SQLite keeps beside a database.

use super::whole_copy::with_ending;
use std::path::{Path, PathBuf};

/// What SQLite adds to the name of a database for the files it keeps beside it.
///
/// **Source**: SQLite documentation, "Temporary Files Used By SQLite".
pub const SIDE_FILE_ENDINGS: [&str; 3] = [WAL_ENDING, "-shm", "-journal"];

pub(super) const WAL_ENDING: &str = "-wal";

/// SQLite's name for the write-ahead log of a database: beside the file itself,
/// wherever a link to it lies.
pub(super) fn wal_path(path: &Path) -> PathBuf {
    with_ending(&resolved(path), WAL_ENDING)
}

/// The path without a link as its last part.
pub(super) fn resolved(path: &Path) -> PathBuf {
    let is_link = path.symlink_metadata().is_ok_and(|m| m.is_symlink());
    let target = is_link.then(|| std::fs::canonicalize(path).ok()).flatten();
    target.unwrap_or_else(|| path.into())
}

/// Size of the write-ahead log beside a log, bytes. A recorder keeps it below
/// some MB; it grows on while another program keeps one view of the log open,
/// and nothing is lost by that.
#[must_use]
pub fn write_ahead_bytes(path: &Path) -> u64 {
    std::fs::metadata(wal_path(path)).map_or(0, |m| m.len())
}

/// Whether something waits in a write-ahead log.
pub(super) fn is_pending(wal: &Path) -> bool {
    std::fs::metadata(wal).is_ok_and(|m| m.len() > 0)
}

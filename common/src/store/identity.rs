//! What a file is, told from its first bytes before SQLite opens it: opening a
//! database of another program could finish or undo that program's work.

use super::StoreError;
use super::access::not_allowed;
use super::error::Doing;
use super::raw_file::RawFile;
use super::schema::APPLICATION_ID;
use super::wal::{is_pending, wal_path};
use std::io::{ErrorKind, Read};
use std::path::Path;

/// What a file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Identity {
    /// A log; its version is still to be looked at.
    Log,
    /// A log whose creation was cut short: no byte in it yet, SQLite's own first
    /// page and not one table, or that page without its first sector.
    Unfinished,
    /// Only the write-ahead log beside it can tell.
    Pending,
}

/// Bytes of the database header and of the head of the first page.
const HEAD_BYTES: usize = 108;

/// A file this short holds no more than the first pages of a log being made.
const FIRST_PAGES_BYTES: u64 = 65_536;

/// Whether the power went while the first page of a log was on its way to the
/// disk: some of its sectors are there and the first is not. SQLite writes
/// nothing else before that page is safe, so nothing can have been recorded.
fn is_torn(head: &[u8], bytes: u64) -> bool {
    bytes > 0 && bytes <= FIRST_PAGES_BYTES && head.iter().all(|byte| *byte == 0)
}

/// Whether a file is such a torn beginning; only reads it.
///
/// # Errors
/// The file system's.
pub(super) fn has_torn_head(path: &Path) -> Result<bool, StoreError> {
    if !std::fs::metadata(path).is_ok_and(|m| m.is_file() && m.len() > 0) {
        return Ok(false);
    }
    let mut head = Vec::with_capacity(HEAD_BYTES);
    let file = RawFile::open(path).doing(path, "opening the log")?;
    let bytes = std::fs::metadata(path)
        .doing(path, "opening the log")?
        .len();
    // A disk that does not give the page is another matter, told elsewhere.
    let read = file.take(HEAD_BYTES as u64).read_to_end(&mut head);
    Ok(read.is_ok() && is_torn(&head, bytes))
}

/// Tell what a file is; only reads it.
///
/// **Source**: SQLite file format, sections 1.3 (header: magic at 0, user version
/// at 60, application id at 68) and 1.6 (page head: number of cells at 3).
///
/// # Errors
/// [`StoreError`] says that it is missing, no file, or of another kind.
pub(super) fn identify(path: &Path) -> Result<Identity, StoreError> {
    let refused = |cause: std::io::Error| match cause.kind() {
        ErrorKind::NotFound => StoreError::NotFound { path: path.into() },
        ErrorKind::PermissionDenied => not_allowed(path),
        _ => StoreError::Io {
            path: path.into(),
            doing: "opening the log",
            cause,
        },
    };
    let facts = std::fs::metadata(path).map_err(refused)?;
    if !facts.is_file() {
        return Err(StoreError::NotAFile { path: path.into() });
    }
    let mut head = Vec::with_capacity(HEAD_BYTES);
    let file = RawFile::open(path).map_err(refused)?;
    file.take(HEAD_BYTES as u64)
        .read_to_end(&mut head)
        .map_err(|cause| StoreError::Unreadable {
            path: path.into(),
            at: 0,
            cause,
        })?;
    let pending = is_pending(&wal_path(path));
    if head.is_empty() {
        return Ok(if pending {
            Identity::Pending
        } else {
            Identity::Unfinished
        });
    }
    if is_torn(&head, facts.len()) {
        return Ok(Identity::Unfinished);
    }
    if head.len() < HEAD_BYTES || !head.starts_with(b"SQLite format 3\0") {
        return Err(StoreError::NotSqlite { path: path.into() });
    }
    let number = |at: usize| {
        let bytes = [head[at], head[at + 1], head[at + 2], head[at + 3]];
        i64::from(i32::from_be_bytes(bytes))
    };
    let tables = u16::from_be_bytes([head[103], head[104]]);
    match number(68) {
        APPLICATION_ID => Ok(Identity::Log),
        0 if pending => Ok(Identity::Pending),
        0 if tables == 0 && number(60) == 0 => Ok(Identity::Unfinished),
        found => Err(StoreError::OtherApplication {
            path: path.into(),
            found,
            expected: APPLICATION_ID,
        }),
    }
}

//! Whether the files that SQLite writes are still the ones that the log's name
//! leads to, whole and locked.

use super::super::StoreError;
use super::super::anchor::Anchor;
use super::super::error::Doing;
use super::super::raw_file::{FileId, RawFile};
use super::super::wal::wal_path;
use super::Writer;
use std::fmt;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};

/// Bytes of the header of a write-ahead log, and of the head of a frame in it.
///
/// **Source**: SQLite file format, sections 4.1 and 4.2.
const WAL_HEADER_BYTES: u64 = 32;
const FRAME_HEAD_BYTES: u64 = 24;

/// What another program did to a log while it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FileChange {
    /// The log has no name any more.
    Deleted,
    /// The log has another name.
    Renamed(PathBuf),
    /// Another file has the log's name; the log has none, or this one.
    Replaced(Option<PathBuf>),
    /// The log was cut short or written over.
    Overwritten,
    /// The write-ahead log was deleted or renamed.
    WalMissing,
    /// Another file has the name of the write-ahead log.
    WalReplaced,
    /// The write-ahead log was cut short.
    WalCutShort,
    /// SQLite's lock on the log is gone.
    LockLost,
}

impl fmt::Display for FileChange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            FileChange::Deleted => f.write_str("the log was deleted"),
            FileChange::Renamed(to) => write!(f, "the log was renamed to {}", to.display()),
            FileChange::Replaced(_) => f.write_str("another file was put in the place of the log"),
            FileChange::Overwritten => f.write_str("the log was cut short or written over"),
            FileChange::WalMissing => f.write_str("the write-ahead log was deleted or renamed"),
            FileChange::WalReplaced => {
                f.write_str("another file was put in the place of the write-ahead log")
            }
            FileChange::WalCutShort => f.write_str("the write-ahead log was cut short"),
            FileChange::LockLost => f.write_str("the lock on the log was lost"),
        }
    }
}

/// What was seen at the last look.
#[derive(Debug)]
pub(super) struct FileWatch {
    wal: Option<FileId>,
    /// Pages that the header named, and pages of the database as SQLite saw it.
    pages: Option<(u64, u64)>,
}

impl FileWatch {
    pub(super) fn begin(path: &Path, anchor: &Anchor) -> Self {
        FileWatch {
            wal: identity(&wal_path(path)).ok().flatten(),
            pages: anchor.header().map(|h| (h.pages, h.pages)),
        }
    }
}

/// `None` when nothing has this name.
fn identity(path: &Path) -> std::io::Result<Option<FileId>> {
    match std::fs::metadata(path) {
        Ok(metadata) => Ok(Some(FileId::of(&metadata))),
        Err(e) if matches!(e.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => Ok(None),
        Err(e) => Err(e),
    }
}

/// **Source**: SQLite file format, section 4.1: the magic number, whose last bit
/// tells the byte order of the checksums.
fn begins_as_wal(path: &Path) -> std::io::Result<bool> {
    const MAGIC: u32 = 0x377f_0682;
    let mut start = [0; 4];
    match RawFile::open(path)?.read_exact(&mut start) {
        Ok(()) => Ok(u32::from_be_bytes(start) & !1 == MAGIC),
        Err(e) if e.kind() == ErrorKind::UnexpectedEof => Ok(false),
        Err(e) => Err(e),
    }
}

impl Writer {
    /// Compare the log's name with the files that SQLite writes; to be called
    /// before and after each commit.
    ///
    /// # Errors
    /// The file system's, such as for a folder that may not be entered any more;
    /// SQLite's.
    pub fn file_change(&mut self) -> Result<Option<FileChange>, StoreError> {
        let doing = "looking after the log";
        let path = self.path.clone();
        let found = identity(&path).doing(&path, doing)?;
        if found != Some(self.anchor.id()) {
            let name = self
                .anchor
                .current_name()
                .filter(|_| self.anchor.names() > 0);
            return Ok(Some(match (found, name) {
                (None, None) => FileChange::Deleted,
                (None, Some(name)) => FileChange::Renamed(name),
                (Some(_), name) => FileChange::Replaced(name),
            }));
        }
        if self.is_overwritten()? {
            return Ok(Some(FileChange::Overwritten));
        }
        self.wal_change()
    }

    /// Space was given back: the file may be shorter than before.
    pub(super) fn expect_shorter(&mut self) {
        self.watch.pages = None;
    }

    /// Frames in the write-ahead log, asked for without a checkpoint.
    fn frames(&self) -> Result<u64, StoreError> {
        self.connection
            .query_row("PRAGMA wal_checkpoint(NOOP)", [], |row| {
                row.get::<_, i64>(1)
            })
            .map(|frames| u64::try_from(frames).unwrap_or(0))
            .doing(&self.path, "looking after the log")
    }

    fn is_overwritten(&mut self) -> Result<bool, StoreError> {
        let Some(header) = self.anchor.header() else {
            return Ok(false);
        };
        if !header.is_log || header.file_bytes < header.pages * header.page_bytes {
            return Ok(true);
        }
        let pages: i64 = self
            .connection
            .query_row("PRAGMA page_count", [], |row| row.get(0))
            .doing(&self.path, "looking after the log")?;
        let pages = u64::try_from(pages).unwrap_or(0);
        let before = self.watch.pages.replace((header.pages, pages));
        // The file gets shorter only by a checkpoint of a shorter database.
        Ok(before.is_some_and(|(in_header, seen)| header.pages < in_header.min(seen).min(pages)))
    }

    fn wal_change(&mut self) -> Result<Option<FileChange>, StoreError> {
        let doing = "looking after the write-ahead log";
        let wal = wal_path(&self.path);
        let found = identity(&wal).doing(&wal, doing)?;
        let Some(known) = self.watch.wal else {
            self.watch.wal = found;
            return Ok(None);
        };
        match found {
            None => return Ok(Some(FileChange::WalMissing)),
            Some(id) if id != known => return Ok(Some(FileChange::WalReplaced)),
            Some(_) => {}
        }
        let page_bytes = self.anchor.header().map_or(0, |h| h.page_bytes);
        let frames = self.frames()?;
        if frames == 0 {
            return Ok(None);
        }
        let needed = WAL_HEADER_BYTES + frames * (FRAME_HEAD_BYTES + page_bytes);
        let bytes = std::fs::metadata(&wal).doing(&wal, doing)?.len();
        // A frame written after the cut makes the file long again, with a hole.
        if !begins_as_wal(&wal).doing(&wal, doing)? {
            return Ok(Some(FileChange::WalCutShort));
        }
        Ok((bytes < needed).then_some(FileChange::WalCutShort))
    }

    /// Whether the write-ahead log by name is the one that SQLite writes.
    pub(super) fn owns_wal(&self) -> bool {
        let found = identity(&wal_path(&self.path)).ok().flatten();
        found == self.watch.wal
    }

    /// Whether SQLite still holds its lock on the log, as the kernel lists it;
    /// `None` where the kernel does not say.
    ///
    /// The kernel hands the list out in pieces and lets go of it between them: a lock
    /// is missed when another one goes at that moment. Only a lock missing from every
    /// one of several readings is gone.
    ///
    /// **Source**: Linux manual, `proc_locks(5)`; SQLite, `os.h` (`SHARED_FIRST`,
    /// `SHARED_SIZE`).
    #[must_use]
    pub fn holds_lock(&self) -> Option<bool> {
        const READINGS: usize = 20;
        let mut held = None;
        for _ in 0..READINGS {
            held = held.max(self.lock_in_list());
            if held == Some(true) {
                break;
            }
        }
        held
    }

    /// What one reading of the kernel's list says.
    fn lock_in_list(&self) -> Option<bool> {
        /// First and last of the bytes that SQLite locks to read.
        const SHARED: [&str; 2] = ["1073741826", "1073742335"];
        let locks = std::fs::read_to_string("/proc/locks").ok()?;
        let process = std::process::id().to_string();
        let inode = self.anchor.id().inode().to_string();
        let fields = locks
            .lines()
            .map(|l| l.split_whitespace().collect::<Vec<_>>());
        let mut own_flock = false;
        for lock in fields {
            let [_, kind, _, _, owner, file, from, to] = lock[..] else {
                continue;
            };
            if owner != process || file.rsplit(':').next() != Some(inode.as_str()) {
                continue;
            }
            own_flock |= kind == "FLOCK";
            if kind == "POSIX" && [from, to] == SHARED {
                return Some(true);
            }
        }
        // The lock of the anchor proves that the list names our locks on this file.
        own_flock.then_some(false)
    }
}

#[cfg(test)]
mod tests;

//! The file of a log, held open for as long as it is written: who may write it,
//! and which file it is whatever becomes of its name.

use super::StoreError;
use super::access::not_allowed;
use super::error::Doing;
use super::raw_file::{FileId, RawFile};
use std::fs::{OpenOptions, TryLockError};
use std::io::ErrorKind;
use std::os::fd::AsRawFd;
use std::os::unix::fs::{FileExt, MetadataExt};
use std::path::{Path, PathBuf};

/// Bytes of the database header.
const HEADER_BYTES: usize = 100;

/// Holds a log for one writer. The lock (`flock`) belongs to the file itself: a
/// link to the log, another name of it or a removed file beside it changes
/// nothing. SQLite uses locks of another kind, so readers are not concerned.
///
/// **Source**: Linux manual, `flock(2)`.
#[derive(Debug)]
pub(super) struct Anchor(RawFile);

/// What the header of the file says, and how long the file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Header {
    /// Pages that the file should have.
    pub(super) pages: u64,
    /// Bytes of a page.
    pub(super) page_bytes: u64,
    /// Bytes that the file has.
    pub(super) file_bytes: u64,
    /// Begins as a database of our application does.
    pub(super) is_log: bool,
}

impl Anchor {
    /// Hold an existing file.
    ///
    /// # Errors
    /// [`StoreError::Locked`] when another writer holds it; the file system's.
    pub(super) fn hold(path: &Path) -> Result<Self, StoreError> {
        Self::open(path, OpenOptions::new().read(true).write(true), false)
    }

    /// Make the file and hold it.
    ///
    /// # Errors
    /// [`StoreError::Exists`] when the name is taken, [`StoreError::DeadLink`] when
    /// it is by a link that leads nowhere; the file system's.
    pub(super) fn create(path: &Path) -> Result<Self, StoreError> {
        let mut options = OpenOptions::new();
        options.read(true).write(true).create_new(true);
        Self::open(path, &options, true)
    }

    fn open(path: &Path, options: &OpenOptions, is_new: bool) -> Result<Self, StoreError> {
        let doing = if is_new {
            "creating the log"
        } else {
            "opening the log"
        };
        let opened = RawFile::open_with(options, path);
        let raw = opened.map_err(|cause| match cause.kind() {
            ErrorKind::AlreadyExists if !path.exists() => {
                StoreError::DeadLink { path: path.into() }
            }
            ErrorKind::AlreadyExists => StoreError::Exists { path: path.into() },
            ErrorKind::NotFound if path.parent().is_none_or(Path::exists) => {
                StoreError::NotFound { path: path.into() }
            }
            ErrorKind::PermissionDenied if path.exists() => not_allowed(path),
            _ if is_new => StoreError::NotCreated {
                path: path.into(),
                doing,
                cause,
            },
            _ => StoreError::Io {
                path: path.into(),
                doing,
                cause,
            },
        })?;
        let file = raw.file().doing(path, doing)?;
        if !file.metadata().is_ok_and(|m| m.is_file()) {
            return Err(StoreError::NotAFile { path: path.into() });
        }
        match file.try_lock() {
            Err(TryLockError::WouldBlock) => Err(StoreError::Locked { path: path.into() }),
            // A medium without locks must not stop recording.
            Ok(()) | Err(TryLockError::Error(_)) => Ok(Anchor(raw)),
        }
    }

    pub(super) fn id(&self) -> FileId {
        self.0.id()
    }

    /// How many names the file has.
    pub(super) fn names(&self) -> u64 {
        let metadata = self.0.file().and_then(std::fs::File::metadata);
        metadata.map_or(0, |m| m.nlink())
    }

    /// The name that the file has now, as the kernel knows it.
    pub(super) fn current_name(&self) -> Option<PathBuf> {
        let descriptor = self.0.file().ok()?.as_raw_fd();
        let name = std::fs::read_link(format!("/proc/self/fd/{descriptor}")).ok()?;
        name.is_absolute().then_some(name)
    }

    /// The header, read from the file itself; `None` when it cannot be read.
    ///
    /// **Source**: SQLite file format, section 1.3: page size at 16, pages at 28,
    /// application id at 68.
    pub(super) fn header(&self) -> Option<Header> {
        let file = self.0.file().ok()?;
        let file_bytes = file.metadata().ok()?.len();
        let mut head = [0; HEADER_BYTES];
        if file_bytes < HEADER_BYTES as u64 {
            return Some(Header {
                pages: 0,
                page_bytes: 0,
                file_bytes,
                is_log: false,
            });
        }
        file.read_exact_at(&mut head, 0).ok()?;
        let number =
            |at: usize| u32::from_be_bytes([head[at], head[at + 1], head[at + 2], head[at + 3]]);
        let page_bytes = match u16::from_be_bytes([head[16], head[17]]) {
            // The value 1 stands for a size that does not fit.
            1 => 65_536,
            bytes => u64::from(bytes),
        };
        let is_log = head.starts_with(b"SQLite format 3\0")
            && i64::from(number(68)) == super::APPLICATION_ID;
        Some(Header {
            pages: u64::from(number(28)),
            page_bytes,
            file_bytes,
            is_log,
        })
    }
}

impl Drop for Anchor {
    fn drop(&mut self) {
        // The descriptor itself may outlive this, see `RawFile`.
        if let Ok(file) = self.0.file() {
            let _ = file.unlock();
        }
    }
}

/// Whether another writer, such as a running recorder, holds a log. A file that
/// cannot be opened is held by nobody as far as can be told.
#[must_use]
pub fn is_being_written(path: &Path) -> bool {
    let Ok(raw) = RawFile::open(path) else {
        return false;
    };
    let locked = raw.file().map(std::fs::File::try_lock_shared);
    let _ = raw.file().map(std::fs::File::unlock);
    matches!(locked, Ok(Err(TryLockError::WouldBlock)))
}

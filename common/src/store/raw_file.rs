//! Log files opened by other means than SQLite, without harm to SQLite.
//!
//! When a process closes any descriptor of a file, the kernel drops every POSIX
//! lock that the process has on that file. SQLite's locks are of that kind: once
//! they are gone, another program may take the log for one that nobody uses and
//! delete its write-ahead log. A [`RawFile`] therefore stays open until this
//! process has no SQLite connection to the same file.
//!
//! **Source**: SQLite documentation, "How To Corrupt An SQLite Database File",
//! section 2.2; POSIX.1-2017, `fcntl`.

use std::fs::{File, Metadata, OpenOptions};
use std::io::{self, Read};
use std::os::unix::fs::MetadataExt;
use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// What a file is, whatever it is called.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct FileId {
    device: u64,
    inode: u64,
}

impl FileId {
    pub(super) fn of(metadata: &Metadata) -> Self {
        FileId {
            device: metadata.dev(),
            inode: metadata.ino(),
        }
    }

    pub(super) fn inode(self) -> u64 {
        self.inode
    }
}

/// Databases that this process has open, and the files that must outlive them.
static DATABASES: Mutex<Vec<OpenDatabase>> = Mutex::new(Vec::new());

struct OpenDatabase {
    id: FileId,
    connections: usize,
    kept_open: Vec<File>,
}

fn databases() -> MutexGuard<'static, Vec<OpenDatabase>> {
    DATABASES.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Exists while SQLite has a database open.
#[derive(Debug)]
pub(super) struct InUse(FileId);

impl InUse {
    /// To be made before SQLite opens the file.
    ///
    /// # Errors
    /// The file system's.
    pub(super) fn begin(path: &Path) -> io::Result<Self> {
        let id = FileId::of(&std::fs::metadata(path)?);
        let mut databases = databases();
        match databases.iter_mut().find(|d| d.id == id) {
            Some(database) => database.connections += 1,
            None => databases.push(OpenDatabase {
                id,
                connections: 1,
                kept_open: Vec::new(),
            }),
        }
        Ok(InUse(id))
    }

    /// The database.
    pub(super) fn file(&self) -> FileId {
        self.0
    }
}

impl Drop for InUse {
    fn drop(&mut self) {
        let mut databases = databases();
        if let Some(at) = databases.iter().position(|d| d.id == self.0) {
            databases[at].connections -= 1;
            if databases[at].connections == 0 {
                databases.swap_remove(at);
            }
        }
    }
}

/// An open file that may be a log. Dropping it closes the file only when that
/// costs SQLite no lock; until then it stays open.
///
/// ```
/// use seep_common::store::RawFile;
/// use std::io::Read;
/// let file = tempfile::NamedTempFile::new().unwrap();
/// std::fs::write(file.path(), "abc").unwrap();
/// let mut text = String::new();
/// RawFile::open(file.path()).unwrap().read_to_string(&mut text).unwrap();
/// assert_eq!(text, "abc");
/// ```
#[derive(Debug)]
pub struct RawFile(Option<File>, FileId);

impl RawFile {
    /// Open a regular file for reading. A pipe or a device is refused before it is opened:
    /// opening a pipe that nobody writes to waits for ever.
    ///
    /// # Errors
    /// The file system's; `InvalidInput` for what is no regular file.
    pub fn open(path: &Path) -> io::Result<Self> {
        if !std::fs::metadata(path)?.is_file() {
            return Err(io::Error::new(
                io::ErrorKind::InvalidInput,
                "not a regular file",
            ));
        }
        Self::open_with(OpenOptions::new().read(true), path)
    }

    pub(super) fn open_with(options: &OpenOptions, path: &Path) -> io::Result<Self> {
        let file = options.open(path)?;
        let id = FileId::of(&file.metadata()?);
        Ok(RawFile(Some(file), id))
    }

    pub(super) fn id(&self) -> FileId {
        self.1
    }

    /// The file; it is there until the drop.
    pub(super) fn file(&self) -> io::Result<&File> {
        self.0
            .as_ref()
            .ok_or_else(|| io::ErrorKind::NotFound.into())
    }
}

impl Read for RawFile {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.file()?.read(buffer)
    }
}

impl Drop for RawFile {
    fn drop(&mut self) {
        let mut databases = databases();
        if let Some(database) = databases.iter_mut().find(|d| d.id == self.1) {
            database.kept_open.extend(self.0.take());
        }
        // Closed while the list is locked: SQLite cannot open the file meanwhile.
        self.0 = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn open_files_of(id: FileId) -> usize {
        let entries = std::fs::read_dir("/proc/self/fd").expect("Linux");
        let same = |path| std::fs::metadata(path).is_ok_and(|m| FileId::of(&m) == id);
        entries.flatten().filter(|e| same(e.path())).count()
    }

    #[test]
    fn a_pipe_or_folder_is_refused_before_it_is_opened() {
        let folder = tempfile::tempdir().expect("scratch");
        let pipe = folder.path().join("pipe.db");
        let made = std::process::Command::new("mkfifo").arg(&pipe).status();
        assert!(made.expect("mkfifo").success());
        for path in [pipe.as_path(), folder.path(), Path::new("/dev/zero")] {
            let refused = RawFile::open(path).expect_err("no regular file");
            assert_eq!(refused.kind(), io::ErrorKind::InvalidInput, "{path:?}");
        }
    }

    #[test]
    fn a_raw_file_is_closed_no_sooner_than_the_database() {
        let folder = tempfile::tempdir().expect("scratch");
        let path = folder.path().join("a.db");
        std::fs::write(&path, "x").expect("written");
        let id = RawFile::open(&path).expect("opens").id();
        assert_eq!(open_files_of(id), 0, "nothing in use: closed at once");
        let first = InUse::begin(&path).expect("there");
        let second = InUse::begin(&path).expect("there");
        drop(RawFile::open(&path).expect("opens"));
        drop(first);
        assert_eq!(open_files_of(id), 1, "one connection is left");
        drop(second);
        assert_eq!(open_files_of(id), 0);
    }
}

//! Whether the files of a log changed while they were read.

use super::raw_file::{FileId, RawFile};
use super::wal::{SIDE_FILE_ENDINGS, resolved};
use super::whole_copy::with_ending;
use std::io::Read;
use std::path::Path;
use std::time::SystemTime;

/// Bytes of the header of a write-ahead log, whose salts change with each round.
///
/// **Source**: SQLite file format, section 4.1.
const WAL_HEADER_BYTES: usize = 32;

/// A log and the files beside it, as far as the file system tells them apart.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct FileState {
    files: Vec<Option<(FileId, u64, Option<SystemTime>)>>,
    wal_header: Option<[u8; WAL_HEADER_BYTES]>,
}

impl FileState {
    /// Everything: two looks at equal states saw the same.
    pub(super) fn of(path: &Path) -> Self {
        let path = resolved(path);
        let beside = SIDE_FILE_ENDINGS.map(|ending| with_ending(&path, ending));
        let known = |path: &Path| {
            let metadata = std::fs::metadata(path).ok()?;
            Some((
                FileId::of(&metadata),
                metadata.len(),
                metadata.modified().ok(),
            ))
        };
        let files = std::iter::once(&path).chain(&beside);
        FileState {
            files: files.map(|path| known(path)).collect(),
            wal_header: wal_header(&beside[0]),
        }
    }

    /// The database file, and which round of the write-ahead log: a copy made
    /// between two equal states is whole, whatever was added meanwhile.
    pub(super) fn of_database(path: &Path) -> Self {
        let mut state = Self::of(path);
        state.files.truncate(1);
        state
    }
}

fn wal_header(wal: &Path) -> Option<[u8; WAL_HEADER_BYTES]> {
    let mut header = [0; WAL_HEADER_BYTES];
    RawFile::open(wal).ok()?.read_exact(&mut header).ok()?;
    Some(header)
}

//! What tells that a log is byte for byte the one read before, without reading it.

use super::raw_file::RawFile;
use super::wal::{WAL_ENDING, resolved};
use super::whole_copy::with_ending;
use std::fs::Metadata;
use std::io::Read;
use std::os::unix::fs::MetadataExt;
use std::path::Path;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

/// First bytes of a database, its change counter among them (at 24).
///
/// **Source**: SQLite file format, section 1.3.
const DATABASE_HEADER_BYTES: u64 = 100;

/// Header of a write-ahead log, whose salts change with each round.
///
/// **Source**: SQLite file format, section 4.1.
const WAL_HEADER_BYTES: u64 = 32;

/// Files beside a log that hold rows of it. The shared-memory file holds none.
const FILES_WITH_ROWS: [&str; 3] = ["", WAL_ENDING, "-journal"];

/// Age from which the times of a file prove that nothing was written since, by the coarsest
/// clock of a file system in use. **Source**: FAT stores seconds in steps of two (Microsoft
/// FAT specification, "Date and Time Formats").
const SETTLED: Duration = Duration::from_millis(2_500);

/// State of a log as the file system and SQLite's own headers show it: device, inode, size,
/// times of data and of inode, and the headers of the database and its write-ahead log.
///
/// **Domain**: equal fingerprints prove equal bytes as long as the kernel keeps the inode's
/// change time, which no program can set. It proves nothing against a clock set back, writes
/// to the disk below the file system, or a network file system whose server is behind.
#[derive(Debug, Clone)]
pub struct Fingerprint {
    bytes: Vec<u8>,
    is_settled: bool,
}

impl PartialEq for Fingerprint {
    fn eq(&self, other: &Self) -> bool {
        self.bytes == other.bytes
    }
}

impl Fingerprint {
    /// Of a log with everything that belongs to it; `None` where it cannot be read.
    #[must_use]
    pub fn of_log(path: &Path) -> Option<Self> {
        Self::of_files(path, &FILES_WITH_ROWS)
    }

    /// Of the database file alone, without its write-ahead log.
    #[must_use]
    pub fn of_file(path: &Path) -> Option<Self> {
        Self::of_files(path, &FILES_WITH_ROWS[..1])
    }

    fn of_files(path: &Path, endings: &[&str]) -> Option<Self> {
        let path = resolved(path);
        let mut found = FileFacts {
            bytes: Vec::new(),
            newest: UNIX_EPOCH,
        };
        for (i, ending) in endings.iter().enumerate() {
            let file = with_ending(&path, ending);
            match std::fs::metadata(&file) {
                Ok(metadata) => found.push(&file, &metadata, i == 0)?,
                Err(_) if i > 0 => found.bytes.push(0),
                Err(_) => return None,
            }
        }
        Some(Fingerprint {
            is_settled: found.is_settled(SystemTime::now()),
            bytes: found.bytes,
        })
    }

    /// All of it as bytes, to take into a key.
    #[must_use]
    pub fn as_bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// Whether the last change was so long ago, when this was taken, that every later one
    /// has other times. A clock that stands before the times of the files proves nothing.
    ///
    /// ```
    /// use seep_common::store::Fingerprint;
    /// let file = tempfile::NamedTempFile::new().unwrap();
    /// let print = Fingerprint::of_file(file.path()).unwrap();
    /// assert!(!print.is_settled(), "it was made just now");
    /// ```
    #[must_use]
    pub fn is_settled(&self) -> bool {
        self.is_settled
    }
}

/// What is gathered of the files, and the latest of their times.
struct FileFacts {
    bytes: Vec<u8>,
    newest: SystemTime,
}

impl FileFacts {
    fn push(&mut self, path: &Path, metadata: &Metadata, is_database: bool) -> Option<()> {
        self.bytes.push(1);
        let numbers = [
            metadata.dev(),
            metadata.ino(),
            metadata.len(),
            metadata.mtime().cast_unsigned(),
            metadata.mtime_nsec().cast_unsigned(),
            metadata.ctime().cast_unsigned(),
            metadata.ctime_nsec().cast_unsigned(),
        ];
        (self.bytes).extend(numbers.into_iter().flat_map(u64::to_le_bytes));
        let most = if is_database {
            DATABASE_HEADER_BYTES
        } else {
            WAL_HEADER_BYTES
        };
        let mut head = Vec::new();
        let file = RawFile::open(path).ok()?;
        file.take(most).read_to_end(&mut head).ok()?;
        self.bytes.push(head.len() as u8);
        self.bytes.extend(head);
        for (s, ns) in [
            (metadata.mtime(), metadata.mtime_nsec()),
            (metadata.ctime(), metadata.ctime_nsec()),
        ] {
            self.newest = self.newest.max(time(s, ns)?);
        }
        Some(())
    }

    fn is_settled(&self, now: SystemTime) -> bool {
        now.duration_since(self.newest)
            .is_ok_and(|age| age >= SETTLED)
    }
}

fn time(s: i64, ns: i64) -> Option<SystemTime> {
    let s = Duration::from_secs(u64::try_from(s).ok()?);
    UNIX_EPOCH.checked_add(s + Duration::from_nanos(u64::try_from(ns).ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs::File;

    #[test]
    fn a_byte_changed_under_the_same_size_and_time_shows() {
        let folder = tempfile::tempdir().expect("scratch");
        let path = folder.path().join("a.db");
        std::fs::write(&path, [0; 200]).expect("written");
        let before = Fingerprint::of_log(&path).expect("there");
        assert_eq!(Fingerprint::of_log(&path), Some(before.clone()));
        let times = std::fs::metadata(&path).expect("there").modified();
        std::thread::sleep(Duration::from_millis(20));
        let mut bytes = [0; 200];
        bytes[150] = 1;
        std::fs::write(&path, bytes).expect("written");
        let file = File::options().write(true).open(&path).expect("opens");
        file.set_modified(times.expect("known")).expect("set back");
        assert_ne!(Fingerprint::of_log(&path), Some(before));
    }

    #[test]
    fn what_waits_beside_the_log_counts_for_the_log_and_not_for_the_file() {
        let folder = tempfile::tempdir().expect("scratch");
        let path = folder.path().join("a.db");
        std::fs::write(&path, [0; 200]).expect("written");
        let (log, file) = (Fingerprint::of_log(&path), Fingerprint::of_file(&path));
        std::fs::write(folder.path().join("a.db-wal"), [1; 40]).expect("written");
        assert_ne!(Fingerprint::of_log(&path), log);
        assert_eq!(Fingerprint::of_file(&path), file);
        assert_eq!(Fingerprint::of_log(&folder.path().join("none")), None);
    }

    #[test]
    fn only_old_times_prove_something() {
        let file = tempfile::NamedTempFile::new().expect("scratch");
        let print = Fingerprint::of_file(file.path()).expect("there");
        assert!(!print.is_settled());
        let now = SystemTime::now();
        let at = |newest| FileFacts {
            bytes: Vec::new(),
            newest,
        };
        assert!(at(now - SETTLED).is_settled(now));
        assert!(!at(now - SETTLED / 2).is_settled(now));
        assert!(!at(now + SETTLED).is_settled(now), "times of the future");
    }
}

//! What the kernel says of a recorder's hold on its log: the lock of SQLite and
//! the files it has open.

use std::os::unix::fs::MetadataExt;
use std::path::Path;

/// The bytes that SQLite locks while it reads, and all the time in WAL mode.
///
/// **Source**: SQLite, `os.h`: `PENDING_BYTE` 0x40000000, `SHARED_FIRST` two
/// bytes after it, `SHARED_SIZE` 510.
const SHARED: (u64, u64) = (0x4000_0002, 0x4000_0002 + 510 - 1);

/// True while SQLite in this process holds its lock on the log.
pub(crate) fn holds_lock(pid: u32, log: &Path) -> bool {
    let inode = std::fs::metadata(log).map_or(0, |m| m.ino());
    let locks = std::fs::read_to_string("/proc/locks").expect("Linux");
    locks.lines().any(|line| {
        // 1: POSIX  ADVISORY  READ 4711 08:02:1234 1073741826 1073742335
        let fields: Vec<&str> = line.split_whitespace().collect();
        let [_, "POSIX", _, "READ", owner, file, from, to] = fields[..] else {
            return false;
        };
        owner.parse() == Ok(pid)
            && file.rsplit(':').next().and_then(|i| i.parse().ok()) == Some(inode)
            && (from.parse(), to.parse()) == (Ok(SHARED.0), Ok(SHARED.1))
    })
}

/// Files of the log that this process has open and that have lost their name.
pub(crate) fn deleted_files(pid: u32, log: &Path) -> Vec<String> {
    let log = log.display().to_string();
    std::fs::read_dir(format!("/proc/{pid}/fd"))
        .into_iter()
        .flatten()
        .flatten()
        .filter_map(|entry| std::fs::read_link(entry.path()).ok())
        .map(|target| target.display().to_string())
        .filter(|target| target.starts_with(&log) && target.ends_with(" (deleted)"))
        .collect()
}

/// Asserts that the recorder holds its log as it should.
pub(crate) fn assert_held(pid: u32, log: &Path, after: &str) {
    assert!(
        holds_lock(pid, log),
        "after {after}: the recorder has lost its lock on the log"
    );
    let deleted = deleted_files(pid, log);
    assert!(deleted.is_empty(), "after {after}: {deleted:?}");
}

//! Changes behind the writer's back are seen, and what was stored is saved.

use super::super::super::tests::{batch, begun, tick};
use super::super::super::{Left, Reader, SessionId};
use super::*;
use std::fs;

const ROWS: u64 = 500;

struct Bench {
    folder: tempfile::TempDir,
    writer: Writer,
    session: SessionId,
}

impl Bench {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("scratch");
        let home = folder.path().join("logs");
        fs::create_dir(&home).expect("made");
        let (writer, session) = begun(&home.join("a.db"));
        let mut bench = Bench {
            folder,
            writer,
            session,
        };
        for t_ms in 0..ROWS as i64 {
            bench.append(10_000 + t_ms);
            assert_eq!(bench.writer.file_change().expect("looked"), None);
        }
        bench
    }

    fn append(&mut self, t_ms: i64) {
        let rows = vec![tick(t_ms, &[Some(t_ms), Some(1)])];
        self.writer
            .append(self.session, &batch(rows))
            .expect("stored");
    }

    fn log(&self) -> PathBuf {
        self.folder.path().join("logs/a.db")
    }

    fn other(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The change that is seen, and where the rows are afterwards.
    fn leave(mut self) -> (FileChange, Left, tempfile::TempDir) {
        let change = self.writer.file_change().expect("looked").expect("seen");
        let left = self.writer.leave(&change).expect("left");
        (change, left, self.folder)
    }
}

fn rows_in(path: &Path) -> u64 {
    Reader::open(path)
        .and_then(|r| r.tick_count())
        .expect("a log")
}

fn complete(left: &Left) -> &Path {
    match left {
        Left::Complete(path) => path,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_deleted_log_is_saved_whole_beside_its_place() {
    let bench = Bench::new();
    let log = bench.log();
    fs::remove_file(&log).expect("deleted");
    let (change, left, _folder) = bench.leave();
    assert_eq!(change, FileChange::Deleted);
    assert_eq!(rows_in(complete(&left)), ROWS);
    assert!(!log.exists() && !wal_path(&log).metadata().is_ok_and(|m| m.len() > 0));
}

#[test]
fn a_log_whose_folder_is_removed_is_saved_whole() {
    let bench = Bench::new();
    fs::remove_dir_all(bench.folder.path().join("logs")).expect("removed");
    let (change, left, _folder) = bench.leave();
    assert_eq!(change, FileChange::Deleted);
    assert_eq!(rows_in(complete(&left)), ROWS);
}

#[test]
fn a_renamed_log_is_complete_under_its_new_name() {
    let bench = Bench::new();
    let to = bench.other("moved.db");
    fs::rename(bench.log(), &to).expect("renamed");
    let (change, left, _folder) = bench.leave();
    assert_eq!(change, FileChange::Renamed(to.clone()));
    assert_eq!(left, Left::Complete(to.clone()));
    assert_eq!(rows_in(&to), ROWS);
}

#[test]
fn a_replaced_log_is_saved_and_the_other_file_is_not_touched() {
    let bench = Bench::new();
    let log = bench.log();
    let other = bench.other("other.db");
    let (writer, _) = begun(&other);
    writer.close().expect("closes");
    let before = fs::read(&other).expect("there");
    fs::rename(&other, &log).expect("replaced");
    let (change, left, _folder) = bench.leave();
    assert_eq!(change, FileChange::Replaced(None));
    assert_eq!(rows_in(complete(&left)), ROWS);
    assert_eq!(fs::read(&log).expect("there"), before);
    assert_eq!(rows_in(&log), 0, "no write-ahead log of another file");
}

#[test]
fn a_log_that_was_cut_short_or_written_over_is_kept_as_it_is() {
    for content in [
        "",
        "something else altogether, and longer than any header of a database file would be, by far",
    ] {
        let bench = Bench::new();
        let log = bench.log();
        fs::write(&log, content).expect("written");
        let (change, left, _folder) = bench.leave();
        assert_eq!(change, FileChange::Overwritten);
        let Left::AsFound(aside) = left else {
            panic!("{left:?}");
        };
        assert_eq!(fs::read(&aside).expect("there"), content.as_bytes());
        assert!(
            wal_path(&aside).metadata().is_ok_and(|m| m.len() > 0),
            "frames are kept"
        );
        assert!(!log.exists());
    }
}

#[test]
fn an_older_copy_put_over_the_log_is_seen() {
    let folder = tempfile::tempdir().expect("scratch");
    let older = folder.path().join("older.db");
    let mut bench = Bench::new();
    fs::copy(bench.log(), &older).expect("copied");
    for t_ms in 20_000..26_000 {
        bench.append(t_ms);
    }
    bench.writer.give_back().expect("copied into the database");
    bench.append(30_000);
    assert_eq!(bench.writer.file_change().expect("looked"), None);
    fs::copy(&older, bench.log()).expect("put over it");
    let change = bench.writer.file_change().expect("looked");
    assert_eq!(change, Some(FileChange::Overwritten));
}

#[test]
fn a_lost_write_ahead_log_costs_nothing() {
    let bench = Bench::new();
    let log = bench.log();
    fs::remove_file(wal_path(&log)).expect("deleted");
    let (change, left, _folder) = bench.leave();
    assert_eq!((change, left), (FileChange::WalMissing, Left::InPlace));
    assert_eq!(rows_in(&log), ROWS);
}

#[test]
fn a_foreign_write_ahead_log_is_moved_aside_not_applied() {
    let bench = Bench::new();
    let log = bench.log();
    let foreign = bench.other("foreign-wal");
    fs::write(&foreign, "not a write-ahead log of this file").expect("written");
    fs::rename(&foreign, wal_path(&log)).expect("replaced");
    let (change, left, _folder) = bench.leave();
    assert_eq!((change, left), (FileChange::WalReplaced, Left::InPlace));
    assert_eq!(rows_in(&log), ROWS);
    let aside = wal_path(&log).with_extension("db-wal.set-aside-1");
    assert!(aside.exists(), "{}", aside.display());
}

#[test]
fn a_write_ahead_log_that_was_cut_short_is_seen() {
    let bench = Bench::new();
    let log = bench.log();
    let wal = fs::OpenOptions::new()
        .write(true)
        .open(wal_path(&log))
        .expect("there");
    wal.set_len(4_000).expect("cut");
    let (change, left, _folder) = bench.leave();
    assert_eq!((change, left), (FileChange::WalCutShort, Left::InPlace));
    assert!(rows_in(&log) < ROWS);
}

#[test]
fn space_given_back_is_no_change() {
    let mut bench = Bench::new();
    let connection = rusqlite::Connection::open(bench.log()).expect("opens");
    connection
        .execute_batch("DELETE FROM tick WHERE t_ms < 10400")
        .expect("deleted");
    bench.writer.give_back().expect("given back");
    for t_ms in 20_000..20_100 {
        bench.append(t_ms);
        assert_eq!(bench.writer.file_change().expect("looked"), None);
    }
}

#[test]
fn the_lock_is_seen_and_a_closed_descriptor_does_not_cost_it() {
    let bench = Bench::new();
    assert_eq!(bench.writer.holds_lock(), Some(true));
    super::super::super::sha256_file(&bench.log()).expect("read");
    assert_eq!(bench.writer.holds_lock(), Some(true));
    // The fault itself: a descriptor that nothing keeps open.
    drop(fs::File::open(bench.log()).expect("there"));
    assert_eq!(bench.writer.holds_lock(), Some(false));
}

/// The guard of the guard: locks of others come and go while the list is read.
#[test]
fn a_lock_is_not_missed_while_others_come_and_go() {
    let bench = Bench::new();
    let stop = std::sync::atomic::AtomicBool::new(false);
    let churn = || {
        let others: Vec<_> = (0..60)
            .map(|_| tempfile::tempfile().expect("scratch"))
            .collect();
        while !stop.load(std::sync::atomic::Ordering::Relaxed) {
            for other in &others {
                other.lock().expect("locked");
            }
            for other in &others {
                other.unlock().expect("let go");
            }
        }
    };
    std::thread::scope(|threads| {
        threads.spawn(churn);
        let seen = (0..500).filter(|_| bench.writer.holds_lock() != Some(true));
        let missed = seen.count();
        stop.store(true, std::sync::atomic::Ordering::Relaxed);
        assert_eq!(missed, 0);
    });
}

#[test]
fn two_writers_of_one_file_are_impossible_by_any_name() {
    let bench = Bench::new();
    let link = bench.other("link.db");
    std::os::unix::fs::symlink(bench.log(), &link).expect("linked");
    let hard = bench.other("hard.db");
    fs::hard_link(bench.log(), &hard).expect("linked");
    for name in [bench.log(), link, hard] {
        let second = Writer::open(&name).map(drop);
        assert!(
            matches!(second, Err(StoreError::Locked { .. })),
            "{second:?}"
        );
        assert!(super::super::super::is_being_written(&name));
    }
    assert_eq!(bench.writer.holds_lock(), Some(true), "nothing closed it");
    let log = bench.log();
    drop(bench.writer);
    assert!(!super::super::super::is_being_written(&log));
}

//! What the storage thread promises.

use super::*;
use crate::clock::VirtualClock;
use crate::time::ClockNote;
use seep_common::rig::Rig;
use seep_common::store::cause::NOT_STORED;
use seep_common::store::{Batch, ClockMap, ClockState, EndReason, Reader};
use seep_common::tick::Tick;
use seep_common::time::{LogMs, WallMs};
use std::path::Path;

const RIG: &str = r#"
[vehicle]
name = "invented"
[[source]]
name = "box"
kind = "nmea"
[[channel]]
name = "tank_kpa_gauge"
source = "box"
transducer = "TANK"
"#;

fn rig() -> Box<Rig> {
    Box::new(Rig::parse(RIG).expect("valid"))
}

fn handle(path: &Path, boot_id: &str) -> StorageHandle {
    let clock = Arc::new(VirtualClock::at(BootMs(0), WallMs(0)));
    start(LogFile::new(path.into(), boot_id.into()), clock).expect("a thread")
}

/// A whole life of the thread: these orders, then the end.
fn life(
    path: &Path,
    boot_id: &str,
    commands: impl IntoIterator<Item = StorageCommand>,
) -> StorageState {
    let handle = handle(path, boot_id);
    for command in commands {
        handle.send(command);
    }
    handle.finish()
}

/// A session with ten rows stored.
fn begun(path: &Path) -> StorageHandle {
    let handle = handle(path, "b1");
    handle.send(begin(0, 1_000));
    handle.send(rows(0..10));
    wait_for(&handle, |s| s.stored_ticks == 10);
    handle
}

fn begin(boot_ms: i64, wall_ms: i64) -> StorageCommand {
    StorageCommand::Begin {
        rig: rig(),
        boot_ms: BootMs(boot_ms),
        wall_ms: WallMs(wall_ms),
    }
}

fn rows(boot_ms: std::ops::Range<i64>) -> StorageCommand {
    StorageCommand::Store(Batch {
        ticks: boot_ms
            .map(|t| Tick {
                t_ms: BootMs(t),
                counts: vec![Some(t)],
            })
            .collect(),
        ..Batch::default()
    })
}

fn end(boot_ms: i64) -> StorageCommand {
    StorageCommand::End {
        boot_ms: BootMs(boot_ms),
        reason: EndReason::Stopped,
    }
}

fn synced(boot_ms: i64, wall_ms: i64, whole_boot: bool) -> StorageCommand {
    StorageCommand::Clock(ClockNote {
        noted_boot_ms: BootMs(boot_ms),
        from_boot_ms: BootMs(boot_ms),
        whole_boot,
        offset_ms: wall_ms - boot_ms,
        state: ClockState::Synced,
    })
}

/// Another program that holds the write lock until it is dropped.
fn in_the_way(path: &Path) -> rusqlite::Connection {
    let other = rusqlite::Connection::open(path).expect("opens");
    other
        .execute_batch("BEGIN IMMEDIATE")
        .expect("takes the lock");
    other
}

fn wait_for(handle: &StorageHandle, what: impl Fn(&StorageState) -> bool) {
    for _ in 0..2_000 {
        if what(&handle.state()) {
            return;
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    panic!("did not happen: {:?}", handle.state());
}

#[test]
fn a_session_is_stored_and_the_file_closed() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("a.db");
    let state = life(
        &path,
        "b1",
        [
            begin(1_000, 1_700_000_001_000),
            synced(1_000, 1_700_000_001_000, false),
            rows(1_000..1_050),
            end(1_100),
        ],
    );
    assert_eq!(
        (state.stored_ticks, state.lost_ticks, state.trouble),
        (50, 0, None)
    );
    let reader = Reader::open(&path).expect("opens");
    let columns = reader
        .columns(&["tank_kpa_gauge"], LogMs::MIN, LogMs::MAX)
        .expect("read");
    assert_eq!(columns.t_ms[0], 1_700_000_001_000);
    assert_eq!(columns.t_ms.len(), 50);
    assert_eq!(std::fs::read_dir(folder.path()).expect("lists").count(), 1);
}

#[test]
fn another_connection_in_the_way_delays_and_loses_nothing() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("a.db");
    let handle = begun(&path);
    let other = Reader::open(&path).expect("a reader is no obstacle");
    let held = in_the_way(&path);
    handle.send(rows(10..20));
    wait_for(&handle, |s| s.trouble.is_some());
    assert_eq!(handle.state().stored_ticks, 10);
    drop(held);
    wait_for(&handle, |s| s.stored_ticks == 20 && s.trouble.is_none());
    handle.send(end(30));
    drop(other);
    let state = handle.finish();
    assert_eq!(state.lost_ticks, 0);
}

#[test]
fn a_damaged_log_is_set_aside_and_recording_goes_on() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("a.db");
    life(&path, "b1", [begin(0, 1_000), rows(0..2_000), end(3_000)]);
    let mut bytes = std::fs::read(&path).expect("bytes");
    let middle = bytes.len() / 2;
    bytes[middle..].fill(0xA5);
    std::fs::write(&path, &bytes).expect("damaged");
    let state = life(&path, "b2", [begin(0, 900_000), rows(0..10), end(20)]);
    assert_eq!(state.stored_ticks, 10);
    let aside = state.set_aside.expect("set aside");
    assert_eq!(std::fs::read(aside).expect("kept"), bytes);
    let reader = Reader::open(&path).expect("opens");
    let notices = reader.notices(LogMs::MIN, LogMs::MAX).expect("read");
    assert!(notices[0].text.contains("set aside"), "{notices:?}");
}

#[test]
fn sessions_of_one_boot_share_a_scale_and_a_late_sync_redates_them_all() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("a.db");
    let wrong = 86_400_000; // 1970-01-02, no battery
    let right = 1_790_000_000_000;
    let unsynced = |boot_ms: i64| {
        StorageCommand::Clock(ClockNote {
            noted_boot_ms: BootMs(boot_ms),
            from_boot_ms: BootMs(boot_ms),
            whole_boot: false,
            offset_ms: wrong,
            state: ClockState::Unsynced,
        })
    };
    life(
        &path,
        "b1",
        [
            begin(5_000, wrong + 5_000),
            unsynced(5_000),
            rows(5_000..5_010),
            end(6_000),
        ],
    );
    life(
        &path,
        "b1",
        [
            begin(20_000, wrong + 20_000),
            unsynced(20_000),
            rows(20_000..20_010),
            synced(30_000, right + 30_000, true),
            rows(30_000..30_010),
            end(31_000),
        ],
    );
    let reader = Reader::open(&path).expect("opens");
    let clock = ClockMap::new(&reader.clock_rows().expect("clock"));
    let t = reader
        .columns(&["tank_kpa_gauge"], LogMs::MIN, LogMs::MAX)
        .expect("read")
        .t_ms;
    assert_eq!(t.len(), 30);
    for (i, boot_ms) in [(0, 5_000), (10, 20_000), (20, 30_000)] {
        assert_eq!(clock.wall_ms(t[i]), Some(right + boot_ms), "row {i}");
    }
    let gaps = reader.gaps(LogMs::MIN, LogMs::MAX).expect("gaps");
    assert_eq!(gaps[0].cause, "recorder not running");
    assert_eq!(gaps[0].to_t_ms.since(gaps[0].from_t_ms), 14_000);
}

/// Rows that wait while the clock is stepped and the log is moved are stored in the
/// new file: each is dated by the clock of its own time.
#[test]
fn rows_stored_in_a_new_file_keep_the_date_of_the_clock_they_were_read_under() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("a.db");
    let handle = handle(&path, "b1");
    let (first, stepped) = (1_790_000_000_000, 1_790_003_600_000);
    handle.send(begin(5_000, first + 5_000));
    handle.send(synced(5_000, first + 5_000, false));
    handle.send(rows(5_000..5_010));
    wait_for(&handle, |s| s.stored_ticks == 10);
    handle.send(synced(6_000, stepped + 6_000, false));
    std::fs::rename(&path, folder.path().join("moved.db")).expect("renamed");
    handle.send(rows(5_500..5_510));
    handle.send(rows(6_500..6_510));
    wait_for(&handle, |s| s.stored_ticks == 30);
    let state = handle.finish();
    assert!(state.log_changed.is_some(), "{state:?}");
    let reader = Reader::open(&path).expect("a new log");
    let clock = ClockMap::new(&reader.clock_rows().expect("clock"));
    let t = reader
        .columns(&["tank_kpa_gauge"], LogMs::MIN, LogMs::MAX)
        .expect("read")
        .t_ms;
    let wall: Vec<_> = t.iter().filter_map(|t| clock.wall_ms(*t)).collect();
    let expected = (5_500..5_510).map(|t| first + t);
    let expected = expected.chain((6_500..6_510).map(|t| stepped + t));
    assert_eq!(wall, expected.collect::<Vec<i64>>());
}

#[test]
fn what_memory_could_not_hold_leaves_a_gap_and_a_count() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("a.db");
    let handle = begun(&path);
    let held = in_the_way(&path);
    let batches = MOST_CELLS as i64 / 3 / 10_000 + 3;
    for i in 0..batches {
        handle.send(rows(100 + i * 10_000..100 + (i + 1) * 10_000));
    }
    wait_for(&handle, |s| s.lost_ticks > 0);
    drop(held);
    wait_for(&handle, |s| s.waiting_ticks == 0 && s.trouble.is_none());
    handle.send(end(100 + batches * 10_000));
    let state = handle.finish();
    assert_eq!(
        state.stored_ticks + state.lost_ticks,
        10 + batches as u64 * 10_000
    );
    let reader = Reader::open(&path).expect("opens");
    let gaps = reader.gaps(LogMs::MIN, LogMs::MAX).expect("gaps");
    let lost: i64 = gaps
        .iter()
        .filter(|g| g.cause == NOT_STORED)
        .map(|g| g.to_t_ms.since(g.from_t_ms))
        .sum();
    assert_eq!(lost as u64, state.lost_ticks);
    let counted = reader.counters(LogMs::MIN, LogMs::MAX).expect("counters");
    let counted: i64 = counted
        .iter()
        .filter(|c| c.name.starts_with("rows lost"))
        .map(|c| c.count)
        .sum();
    assert_eq!(counted as u64, state.lost_ticks);
}

#[test]
fn rows_given_up_before_the_log_could_be_made_are_told_in_it() {
    let folder = tempfile::tempdir().expect("folder");
    let missing = folder.path().join("not yet");
    let path = missing.join("a.db");
    let handle = handle(&path, "b1");
    handle.send(begin(0, 1_000));
    let batches = MOST_CELLS as i64 / 3 / 10_000 + 3;
    for i in 0..batches {
        handle.send(rows(100 + i * 10_000..100 + (i + 1) * 10_000));
    }
    wait_for(&handle, |s| s.lost_ticks > 0 && s.trouble.is_some());
    std::fs::create_dir(&missing).expect("made");
    wait_for(&handle, |s| s.waiting_ticks == 0 && s.trouble.is_none());
    handle.send(end(100 + batches * 10_000));
    let state = handle.finish();
    assert_eq!(
        state.stored_ticks + state.lost_ticks,
        batches as u64 * 10_000
    );
    let reader = Reader::open(&path).expect("opens");
    let gaps = reader.gaps(LogMs::MIN, LogMs::MAX).expect("gaps");
    let told = gaps.iter().filter(|g| g.cause == NOT_STORED);
    let told: i64 = told.map(|g| g.to_t_ms.since(g.from_t_ms)).sum();
    assert_eq!(told as u64, state.lost_ticks);
}

#[test]
fn a_thread_that_fails_says_so_and_counts_what_it_did_not_store() {
    let folder = tempfile::tempdir().expect("scratch");
    let handle = begun(&folder.path().join("a.db"));
    // An impossible time overflows a sum: any panic will do.
    handle.send(StorageCommand::Clock(ClockNote {
        noted_boot_ms: BootMs::MAX,
        from_boot_ms: BootMs::MAX,
        whole_boot: false,
        offset_ms: i64::MIN,
        state: ClockState::Synced,
    }));
    handle.send(rows(10..20));
    wait_for(&handle, |s| s.ended.is_some());
    assert!(handle.has_ended());
    let state = handle.finish();
    let ended = state.ended.expect("ended");
    assert!(ended.reason.contains("storage thread failed"), "{ended:?}");
    assert_eq!(ended.exit, crate::exit::Exit::Io);
    assert!(state.trouble.is_some());
    assert_eq!((state.stored_ticks, state.lost_ticks), (10, 10));
}

#[test]
fn a_log_with_a_time_at_the_end_of_the_range_is_set_aside_and_recording_goes_on() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    life(&path, "b1", [begin(0, 1_000), rows(0..10), end(10)]);
    let connection = rusqlite::Connection::open(&path).expect("opens");
    connection
        .execute("INSERT INTO tick(t_ms) VALUES (?1)", [i64::MAX - 1])
        .expect("stored");
    drop(connection);
    let state = life(&path, "b2", [begin(0, 2_000), rows(0..10), end(10)]);
    assert_eq!((state.ended, state.stored_ticks), (None, 10));
    let said = state.log_changed.expect("told");
    assert!(said.contains("no time that can be meant"), "{said}");
    assert!(state.set_aside.expect("kept").exists());
    assert_eq!(
        Reader::open(&path)
            .and_then(|r| r.tick_count())
            .expect("a log"),
        10
    );
}

#[test]
fn rows_that_another_program_adds_ahead_of_ours_swallow_nothing() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    let handle = begun(&path);
    let other = rusqlite::Connection::open(&path).expect("opens");
    for t_ms in [1_012, 1_500] {
        other
            .execute("INSERT INTO tick(t_ms) VALUES (?1)", [t_ms])
            .expect("stored");
    }
    drop(other);
    handle.send(rows(10..20));
    wait_for(&handle, |s| s.stored_ticks == 20);
    let state = handle.finish();
    assert!(
        state
            .log_changed
            .is_some_and(|t| t.contains("another program"))
    );
    let reader = Reader::open(&path).expect("a log");
    let counts = reader
        .columns(&["tank_kpa_gauge"], LogMs(1_501), LogMs::MAX)
        .expect("read");
    assert_eq!(counts.t_ms, (1_501..1_511).collect::<Vec<i64>>());
    // The wall time of a row is what it was, wherever it lies in log time.
    assert_eq!(reader.sessions().expect("read").len(), 2);
}

#[test]
fn a_log_that_another_recorder_holds_ends_the_thread_with_its_reason() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    let first = begun(&path);
    let link = folder.path().join("link.db");
    std::os::unix::fs::symlink(&path, &link).expect("linked");
    let second = handle(&link, "b1");
    second.send(begin(0, 1_000));
    second.send(rows(0..10));
    wait_for(&second, |s| s.ended.is_some());
    let ended = second.finish().ended.expect("ended");
    assert_eq!(ended.exit, crate::exit::Exit::Temporary);
    assert_eq!(first.finish().stored_ticks, 10);
}

//! What a log promises.

use super::open::is_unfinished;
use super::*;
use crate::rig::Rig;
use crate::tick::Tick;
use crate::time::{BootMs, LogMs};
use std::path::Path;

pub(super) const RIG: &str = r#"
[vehicle]
name = "invented"
[[circuit]]
name = "front_left"
[[source]]
name = "box"
kind = "nmea"
[[channel]]
name = "front_left_kpa_gauge"
source = "box"
transducer = "P"
[[channel]]
name = "ambient_c"
source = "box"
transducer = "T"
"#;

pub(super) fn start(t_ms: i64) -> SessionStart {
    SessionStart {
        boot_id: "boot".into(),
        t_ms: LogMs(t_ms),
        program: "seep test".into(),
        origin: "live".into(),
        start_boot_ms: Some(BootMs(5)),
    }
}

pub(super) fn tick(t_ms: i64, counts: &[Option<i64>]) -> Tick {
    Tick {
        t_ms: LogMs(t_ms),
        counts: counts.to_vec(),
    }
}

pub(super) fn batch(ticks: Vec<Tick>) -> Batch {
    Batch {
        ticks,
        ..Batch::default()
    }
}

/// The files of a log as they lie on the disk at this moment, under another name.
fn as_the_power_goes(path: &Path) -> std::path::PathBuf {
    let cut = path.with_file_name("cut.db");
    let beside = |path: &Path| path.with_extension("db-wal");
    std::fs::copy(path, &cut).expect("copied");
    std::fs::copy(beside(path), beside(&cut)).expect("copied");
    cut
}

/// A new log with a session and no row.
pub(super) fn begun(path: &Path) -> (Writer, SessionId) {
    let rig = Rig::parse(RIG).expect("valid");
    let mut writer = Writer::create(path).expect("created");
    let session = writer.begin_session(&start(1_000), &rig).expect("session");
    (writer, session)
}

pub(super) fn small_log(path: &Path) {
    let rig = Rig::parse(RIG).expect("valid");
    let mut writer = Writer::create(path).expect("created");
    let session = writer.begin_session(&start(1_000), &rig).expect("session");
    let mut b = batch(vec![
        tick(1_000, &[Some(10_000), Some(2_000)]),
        tick(2_000, &[Some(10_001), None]),
    ]);
    b.events.push(Event {
        t_ms: LogMs(1_500),
        kind: EventKind::Fill,
        place: "front_left".into(),
        on: true,
        wired: true,
    });
    b.gaps.push(Gap {
        from_t_ms: LogMs(1_100),
        to_t_ms: LogMs(1_200),
        cause: "source silent".into(),
        what: Some("box".into()),
    });
    for count in [2, 3] {
        b.counters.push(Counter {
            t_ms: LogMs(1_900),
            name: "bad checksum".into(),
            source: "box".into(),
            count,
        });
    }
    b.clock.push(ClockRow {
        noted_t_ms: LogMs(1_000),
        from_t_ms: LogMs(1_000),
        offset_ms: 1_754_820_000_000,
        state: ClockState::Synced,
    });
    writer.append(session, &b).expect("stored");
    writer
        .end_session(session, LogMs(3_000), EndReason::Stopped)
        .expect("ended");
    writer.close().expect("closed");
}

#[test]
fn what_goes_in_comes_out() {
    let folder = tempfile::tempdir().expect("temp");
    let path = folder.path().join("a b%?#.db");
    small_log(&path);
    let reader = Reader::open(&path).expect("opens");
    let columns = reader
        .columns(
            &["ambient_c", "front_left_kpa_gauge", "absent_c"],
            LogMs(0),
            LogMs(10_000),
        )
        .expect("columns");
    assert_eq!(columns.t_ms, [1_000, 2_000]);
    assert_eq!(columns.values[0][..1], [20.0]);
    assert!(columns.values[0][1].is_nan());
    assert_eq!(columns.values[1], [500.0, 500.05]);
    assert!(columns.values[2].iter().all(|v| v.is_nan()));
    let sessions = reader.sessions().expect("sessions");
    assert_eq!(sessions.len(), 1);
    assert_eq!(sessions[0].end_reason, Some(EndReason::Stopped));
    assert_eq!(
        reader
            .events(LogMs(0), LogMs(10_000))
            .expect("events")
            .len(),
        1
    );
    assert_eq!(
        reader.gaps(LogMs(1_150), LogMs(1_160)).expect("gaps").len(),
        1
    );
    assert_eq!(
        reader.counters(LogMs(0), LogMs(10_000)).expect("counters")[0].count,
        5
    );
    assert_eq!(
        ClockMap::new(&reader.clock_rows().expect("clock")).wall_ms(1_000),
        Some(1_754_820_001_000)
    );
    assert_eq!(reader.rigs().expect("rigs")[0].1, RIG);
}

#[test]
fn hundreds_of_channels_none_and_an_empty_span_are_read_alike() {
    let folder = tempfile::tempdir().expect("temp");
    let path = folder.path().join("log.db");
    small_log(&path);
    let reader = Reader::open(&path).expect("opens");
    let names = ["front_left_kpa_gauge", "absent_c", "ambient_c"].repeat(117);
    let many = reader
        .columns(&names, LogMs(0), LogMs(10_000))
        .expect("columns");
    assert_eq!((many.t_ms.len(), many.names.len()), (2, 351));
    assert_eq!(many.values.len(), 351);
    for three in many.values.chunks(3) {
        assert_eq!(three[0], [500.0, 500.05]);
        assert!(three[1].iter().all(|v| v.is_nan()) && three[1].len() == 2);
        assert_eq!(three[2][0], 20.0);
    }
    let none = reader
        .columns::<&str>(&[], LogMs(0), LogMs(10_000))
        .expect("columns");
    assert_eq!((none.t_ms.len(), none.values.len()), (2, 0));
    let empty = reader
        .columns(&names, LogMs(5_000), LogMs(10_000))
        .expect("columns");
    assert!(empty.is_empty() && empty.values.len() == 351);
}

#[test]
fn a_closed_log_is_read_without_litter_even_from_a_read_only_folder() {
    let folder = tempfile::tempdir().expect("temp");
    let path = folder.path().join("log.db");
    small_log(&path);
    let reader = Reader::open(&path).expect("opens");
    reader.sessions().expect("sessions");
    let names: Vec<_> = std::fs::read_dir(folder.path())
        .expect("list")
        .map(|e| e.expect("entry").file_name())
        .collect();
    assert_eq!(names.len(), 1, "{names:?}");
}

#[test]
fn the_reading_view_is_for_people() {
    let folder = tempfile::tempdir().expect("temp");
    let path = folder.path().join("log.db");
    small_log(&path);
    let connection = rusqlite::Connection::open(&path).expect("opens");
    let (utc, kpa): (String, f64) = connection
        .query_row(
            "SELECT utc, front_left_kpa_gauge FROM reading LIMIT 1",
            [],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .expect("view");
    assert_eq!(utc, "2025-08-10 10:00:01.000");
    assert!((kpa - 500.0).abs() < 1e-9);
}

#[test]
fn an_unfinished_session_is_closed_as_power_lost_and_its_rows_are_there() {
    let folder = tempfile::tempdir().expect("temp");
    let path = folder.path().join("log.db");
    let rig = Rig::parse(RIG).expect("valid");
    let mut writer = Writer::create(&path).expect("created");
    let session = writer.begin_session(&start(0), &rig).expect("session");
    writer
        .append(session, &batch(vec![tick(5, &[Some(1), None])]))
        .expect("stored");
    // The process dies here: neither end nor close. A reader sees the row.
    let live = Reader::open(&path).expect("opens beside a writer");
    assert_eq!(
        live.columns(&["ambient_c"], LogMs(0), LogMs(10))
            .expect("read")
            .len(),
        1
    );
    drop(live);
    let path = as_the_power_goes(&path);
    let mut again = Writer::open(&path).expect("opens");
    assert_eq!(again.last_t_ms(), Some(LogMs(5)));
    again.begin_session(&start(100), &rig).expect("session");
    again.close().expect("closed");
    let sessions = Reader::open(&path)
        .expect("opens")
        .sessions()
        .expect("list");
    assert_eq!(sessions[0].end_reason, Some(EndReason::PowerLost));
    assert_eq!(sessions[0].end_t_ms, LogMs(5));
}

#[test]
fn log_time_never_goes_back() {
    let folder = tempfile::tempdir().expect("temp");
    let rig = Rig::parse(RIG).expect("valid");
    let mut writer = Writer::create(&folder.path().join("log.db")).expect("created");
    let session = writer.begin_session(&start(1_000), &rig).expect("session");
    let rising = batch(vec![tick(1_000, &[None, None]), tick(1_000, &[None, None])]);
    assert!(matches!(
        writer.append(session, &rising),
        Err(StoreError::OutOfOrder {
            t_ms: LogMs(1_000),
            ..
        })
    ));
    writer
        .append(session, &batch(vec![tick(2_000, &[None, None])]))
        .expect("the refused batch left nothing behind");
    assert!(writer.begin_session(&start(2_000), &rig).is_err());
}

#[test]
fn a_new_resolution_gets_its_own_column_and_reads_as_one() {
    let folder = tempfile::tempdir().expect("temp");
    let path = folder.path().join("log.db");
    small_log(&path);
    let finer = Rig::parse(&RIG.replace(
        "transducer = \"T\"",
        "transducer = \"T\"\nresolution = 0.001",
    ))
    .expect("valid");
    let mut writer = Writer::open(&path).expect("opens");
    let session = writer
        .begin_session(&start(9_000), &finer)
        .expect("session");
    writer
        .append(session, &batch(vec![tick(9_000, &[None, Some(21_500)])]))
        .expect("stored");
    writer.close().expect("closed");
    let columns = Reader::open(&path)
        .expect("opens")
        .columns(&["ambient_c"], LogMs(0), LogMs(10_000))
        .expect("read");
    assert_eq!(columns.values[0][..1], [20.0]);
    assert_eq!(columns.values[0][2..], [21.5]);
}

#[test]
fn refuses_what_is_not_a_log_and_leaves_it_alone() {
    let folder = tempfile::tempdir().expect("temp");
    let text = folder.path().join("notes.txt");
    std::fs::write(
        &text,
        "these are notes, long enough to be no header of anything".repeat(40),
    )
    .expect("write");
    let before = std::fs::read(&text).expect("read");
    assert!(matches!(
        Reader::open(&text),
        Err(StoreError::NotSqlite { .. })
    ));
    assert!(matches!(
        Writer::open(&text),
        Err(StoreError::NotSqlite { .. })
    ));
    assert_eq!(std::fs::read(&text).expect("read"), before);

    let other = folder.path().join("other.db");
    rusqlite::Connection::open(&other)
        .expect("opens")
        .execute_batch("CREATE TABLE t(x); PRAGMA application_id = 77;")
        .expect("made");
    let before = std::fs::read(&other).expect("read");
    assert!(matches!(
        Reader::open(&other),
        Err(StoreError::OtherApplication { found: 77, .. })
    ));
    assert!(matches!(
        Writer::open(&other),
        Err(StoreError::OtherApplication { .. })
    ));
    assert_eq!(std::fs::read(&other).expect("read"), before);
    assert!(matches!(
        Writer::create(&other),
        Err(StoreError::Exists { .. })
    ));
    assert!(matches!(
        Reader::open(&folder.path().join("none.db")),
        Err(StoreError::NotFound { .. })
    ));
}

/// A log on a volume that is not mounted: told as that, and nothing is made.
#[test]
fn a_link_that_leads_nowhere_is_told_as_one() {
    let folder = tempfile::tempdir().expect("scratch");
    let (link, target) = (
        folder.path().join("trip.db"),
        folder.path().join("away/trip.db"),
    );
    for to in [&target, &link] {
        let _ = std::fs::remove_file(&link);
        std::os::unix::fs::symlink(to, &link).expect("linked");
        let refused = Writer::create(&link).expect_err("leads nowhere");
        assert!(matches!(refused, StoreError::DeadLink { .. }), "{refused}");
        assert!(
            refused.to_string().contains("target is not there"),
            "{refused}"
        );
        assert!(!target.exists());
    }
}

/// A log of one session that a recorder was killed in: its rows are in the
/// write-ahead log.
fn killed(path: &Path, boot_id: &str, kpa_counts: i64) {
    let made = path.with_extension("made");
    let mut writer = Writer::create(&made).expect("a log");
    let start = SessionStart {
        boot_id: boot_id.into(),
        ..start(1_000)
    };
    let rig = Rig::parse(RIG).expect("valid");
    let session = writer.begin_session(&start, &rig).expect("a session");
    let mut rows = batch(vec![tick(1_000, &[Some(kpa_counts), None])]);
    rows.clock.push(ClockRow {
        noted_t_ms: LogMs(1_000),
        from_t_ms: LogMs(1_000),
        offset_ms: 0,
        state: ClockState::Synced,
    });
    writer.append(session, &rows).expect("stored");
    for ending in ["", "-wal"] {
        let from = super::whole_copy::with_ending(&made, ending);
        let to = super::whole_copy::with_ending(path, ending);
        std::fs::copy(from, to).expect("copied");
    }
    drop(writer);
}

/// A file put back from a copy, beside the write-ahead log of what was there before:
/// SQLite would replay that over it.
#[test]
fn the_write_ahead_log_of_another_log_is_moved_aside_and_costs_nothing() {
    let folder = tempfile::tempdir().expect("scratch");
    let (ours, other) = (
        folder.path().join("ours.db"),
        folder.path().join("other.db"),
    );
    killed(&ours, "ours", 100);
    Writer::open(&ours).expect("opens").close().expect("closed");
    let before = std::fs::read(&ours).expect("read");
    killed(&other, "other", 200);
    let wal = folder.path().join("ours.db-wal");
    std::fs::copy(folder.path().join("other.db-wal"), &wal).expect("copied");
    let found = inspect(&ours, 60_000).expect("looked over");
    assert!(!found.is_sound(), "{found:?}");
    assert!(
        found.damage[0].contains("belongs to another log"),
        "{found:?}"
    );
    assert_eq!(std::fs::read(&ours).expect("read"), before);

    let writer = Writer::open(&ours).expect("opens");
    assert_eq!(writer.moved_aside().len(), 1);
    let moved = writer.moved_aside()[0].clone();
    assert_eq!(moved.from, wal);
    writer.close().expect("closed");
    let sessions = Reader::open(&ours)
        .expect("opens")
        .sessions()
        .expect("read");
    assert_eq!(sessions[0].start.boot_id, "ours");
    assert_eq!(
        std::fs::read(moved.to).expect("kept"),
        std::fs::read(folder.path().join("other.db-wal")).expect("read")
    );
    assert!(inspect(&ours, 60_000).expect("looked over").is_sound());
}

/// A recorder's own write-ahead log stays, after a kill too.
#[test]
fn the_own_write_ahead_log_is_replayed() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = folder.path().join("trip.db");
    killed(&log, "ours", 100);
    assert!(inspect(&log, 60_000).expect("looked over").is_sound());
    let writer = Writer::open(&log).expect("opens");
    assert_eq!(writer.moved_aside(), []);
    writer.close().expect("closed");
    assert_eq!(
        Reader::open(&log)
            .expect("opens")
            .tick_count()
            .expect("read"),
        1
    );
}

#[test]
fn a_write_ahead_log_without_its_log_is_kept() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = folder.path().join("trip.db");
    killed(&log, "ours", 100);
    std::fs::remove_file(&log).expect("deleted");
    let wal = std::fs::read(folder.path().join("trip.db-wal")).expect("read");
    let writer = Writer::create(&log).expect("made");
    let kept = writer.moved_aside()[0].to.clone();
    assert_eq!(std::fs::read(kept).expect("kept"), wal);
}

/// What another user or a slip puts in the place of SQLite's files must not end all
/// recording.
#[test]
fn links_folders_and_pipes_in_the_place_of_side_files_are_moved_aside() {
    for ending in super::SIDE_FILE_ENDINGS {
        for kind in ["folder", "link", "pipe"] {
            let folder = tempfile::tempdir().expect("scratch");
            let log = folder.path().join("trip.db");
            killed(&log, "ours", 100);
            Writer::open(&log).expect("opens").close().expect("closed");
            let planted = super::whole_copy::with_ending(&log, ending);
            let target = folder.path().join("precious");
            std::fs::write(&target, "precious").expect("written");
            match kind {
                "folder" => std::fs::create_dir(&planted).expect("made"),
                "link" => std::os::unix::fs::symlink(&target, &planted).expect("made"),
                _ => {
                    let made = std::process::Command::new("mkfifo").arg(&planted).status();
                    assert!(made.expect("mkfifo").success());
                }
            }
            let writer = Writer::open(&log).unwrap_or_else(|e| panic!("{ending} {kind}: {e}"));
            assert_eq!(writer.moved_aside().len(), 1, "{ending} {kind}");
            writer.close().expect("closed");
            let rows = Reader::open(&log).expect("opens").tick_count();
            assert_eq!(rows.expect("read"), 1);
            assert_eq!(std::fs::read(&target).expect("there"), b"precious");
        }
    }
}

#[test]
fn refuses_a_newer_schema() {
    let folder = tempfile::tempdir().expect("temp");
    let path = folder.path().join("log.db");
    small_log(&path);
    rusqlite::Connection::open(&path)
        .expect("opens")
        .execute_batch("PRAGMA user_version = 999;")
        .expect("set");
    assert!(matches!(
        Reader::open(&path),
        Err(StoreError::NewerSchema { found: 999, .. })
    ));
    assert!(matches!(
        Writer::open(&path),
        Err(StoreError::NewerSchema { found: 999, .. })
    ));
}

#[test]
fn the_bundled_sqlite_is_past_the_wal_reset_race() {
    assert!(
        rusqlite::version_number() >= 3_051_003,
        "{}",
        rusqlite::version()
    );
}

#[test]
fn a_schema_1_log_is_read_as_it_is_and_migrated_after_a_copy() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("old.db");
    {
        let c = rusqlite::Connection::open(&path).expect("opens");
        c.execute_batch(super::schema::STEPS[0]).expect("schema 1");
        c.pragma_update(None, "user_version", 1).expect("version");
        c.pragma_update(None, "application_id", APPLICATION_ID)
            .expect("id");
        c.execute_batch(
            "INSERT INTO rig(sha256, toml) VALUES ('00', '');
             INSERT INTO session(boot_id, start_t_ms, end_t_ms, end_reason, program, origin, rig_id)
             VALUES ('b', 1, 9, 'stopped', 'p', 'live', 1);
             INSERT INTO tick(t_ms) VALUES (1), (9);",
        )
        .expect("rows");
    }
    let before = std::fs::read(&path).expect("bytes");
    let reader = Reader::open(&path).expect("older logs are read");
    assert_eq!(reader.schema_version(), 1);
    assert_eq!(
        reader.sessions().expect("sessions")[0].start.start_boot_ms,
        None
    );
    assert!(
        reader
            .notices(LogMs::MIN, LogMs::MAX)
            .expect("none")
            .is_empty()
    );
    drop(reader);
    assert_eq!(std::fs::read(&path).expect("bytes"), before);
    Writer::open(&path)
        .expect("migrates")
        .close()
        .expect("closes");
    assert!(folder.path().join("old.db.schema-1").exists());
    let reader = Reader::open(&path).expect("newest");
    assert_eq!(reader.schema_version(), SCHEMA_VERSION);
    assert_eq!(reader.sessions().expect("sessions").len(), 1);
}

#[test]
fn retention_deletes_the_oldest_and_says_so() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("a.db");
    let mut writer = Writer::create(&path).expect("creates");
    let mut last = SessionId(0);
    for from in [0, 10_000, 20_000] {
        last = writer
            .begin_session(&start(from), &Rig::parse(RIG).expect("valid"))
            .expect("begins");
        let ticks = (from..from + 5_000)
            .map(|t| tick(t, &[Some(1), None]))
            .collect();
        writer.append(last, &batch(ticks)).expect("stores");
        writer
            .end_session(last, LogMs(from + 5_000), EndReason::Stopped)
            .expect("ends");
    }
    let oldest = writer.oldest_deletable(last).expect("reads").expect("one");
    assert_eq!(
        (oldest.from_t_ms, oldest.to_t_ms),
        (LogMs(0), LogMs(10_000))
    );
    writer.delete_readings(oldest).expect("deletes");
    let next = writer.oldest_deletable(last).expect("reads").expect("one");
    assert_eq!(next.from_t_ms, LogMs(10_000));
    writer.delete_readings(next).expect("deletes");
    assert_eq!(writer.oldest_deletable(last).expect("reads"), None);
    writer.close().expect("closes");
    let reader = Reader::open(&path).expect("opens");
    let gaps = reader.gaps(LogMs::MIN, LogMs::MAX).expect("gaps");
    assert_eq!(gaps.iter().filter(|g| g.cause == cause::DELETED).count(), 2);
    assert_eq!(
        reader
            .columns(&["front_left_kpa_gauge"], LogMs::MIN, LogMs::MAX)
            .expect("read")
            .t_ms[0],
        20_000
    );
    assert_eq!(reader.sessions().expect("sessions").len(), 3);
}

#[test]
fn a_snapshot_is_complete_while_the_writer_is_at_work_and_writes_over_nothing() {
    let folder = tempfile::tempdir().expect("folder");
    let (path, copy) = (folder.path().join("a.db"), folder.path().join("copy.db"));
    let mut writer = Writer::create(&path).expect("creates");
    let session = writer
        .begin_session(&start(0), &Rig::parse(RIG).expect("valid"))
        .expect("begins");
    writer
        .append(session, &batch(vec![tick(7, &[Some(1), None])]))
        .expect("stores");
    snapshot(&path, &copy).expect("copies");
    let reader = Reader::open(&copy).expect("opens");
    assert_eq!(
        reader
            .columns(&["front_left_kpa_gauge"], LogMs(0), LogMs(100))
            .expect("read")
            .t_ms,
        [7]
    );
    assert!(matches!(
        snapshot(&path, &copy),
        Err(StoreError::Exists { .. })
    ));
}

#[test]
fn a_new_connection_goes_on_with_the_same_session() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("a.db");
    let mut writer = Writer::create(&path).expect("creates");
    let session = writer
        .begin_session(&start(0), &Rig::parse(RIG).expect("valid"))
        .expect("begins");
    writer
        .append(session, &batch(vec![tick(7, &[Some(1), None])]))
        .expect("stores");
    writer.reconnect().expect("connects");
    assert_eq!(writer.last_t_ms(), Some(LogMs(7)));
    writer
        .append(session, &batch(vec![tick(8, &[Some(1), None])]))
        .expect("stores");
    assert_eq!(
        writer
            .sessions_of_boot(&start(0).boot_id)
            .expect("reads")
            .len(),
        1
    );
}

#[test]
fn a_log_cut_while_it_was_made_is_gone_on_with() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("a.db");
    let first_page = |path: &Path| {
        rusqlite::Connection::open(path)
            .expect("opens")
            .query_row("PRAGMA journal_mode = WAL", [], |_| Ok(()))
            .expect("sets");
    };
    // The first table waits in a write-ahead log whose end is not there.
    let cut_in_first_table = |path: &Path| {
        first_page(path);
        let writing = rusqlite::Connection::open(path).expect("opens");
        writing
            .execute_batch("CREATE TABLE rig(id)")
            .expect("creates");
        let wal = wal::wal_path(path);
        let (file, half) = (
            std::fs::read(path).expect("there"),
            std::fs::read(&wal).expect("there"),
        );
        writing.close().expect("closes");
        std::fs::write(path, file).expect("writes");
        std::fs::write(wal, &half[..half.len() - 8]).expect("writes");
    };
    for make in [
        (&|path: &Path| std::fs::write(path, "").expect("writes")) as &dyn Fn(&Path),
        &first_page,
        &cut_in_first_table,
    ] {
        make(&path);
        assert!(is_unfinished(&path).expect("reads"));
        assert!(matches!(
            Reader::open(&path),
            Err(StoreError::NothingYet { .. })
        ));
        let mut writer = Writer::open(&path).expect("goes on");
        writer
            .begin_session(&start(0), &Rig::parse(RIG).expect("valid"))
            .expect("begins");
        writer.close().expect("closes");
        assert!(!is_unfinished(&path).expect("reads"));
        std::fs::remove_file(&path).expect("removes");
    }
    // Another program's database is not taken for one.
    rusqlite::Connection::open(&path)
        .expect("opens")
        .execute_batch("CREATE TABLE other(x)")
        .expect("creates");
    assert!(matches!(
        Writer::open(&path),
        Err(StoreError::OtherApplication { .. })
    ));
}

#[test]
fn a_session_cut_before_its_first_commit_keeps_its_place_in_time() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("a.db");
    let rig = Rig::parse(RIG).expect("valid");
    let mut writer = Writer::create(&path).expect("creates");
    writer.begin_session(&start(1_000), &rig).expect("begins");
    drop(writer);
    let mut writer = Writer::open(&path).expect("opens");
    assert_eq!(writer.last_t_ms(), Some(LogMs(1_000)));
    assert!(matches!(
        writer.begin_session(&start(900), &rig),
        Err(StoreError::OutOfOrder { .. })
    ));
    writer.begin_session(&start(1_001), &rig).expect("begins");
    let sessions = Reader::open(&path).expect("opens").sessions();
    assert_eq!(sessions.expect("reads")[0].end_t_ms, LogMs(1_000));
}

#[test]
fn a_log_whose_first_sector_never_reached_the_disk_is_set_aside_and_begun_anew() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("a.db");
    let mut torn = vec![0; 1_024];
    torn[512..].fill(0x5A);
    std::fs::write(&path, &torn).expect("written");
    assert!(matches!(
        Reader::open(&path),
        Err(StoreError::NothingYet { .. })
    ));
    let writer = Writer::open(&path).expect("begun anew");
    assert_eq!(writer.last_t_ms(), None);
    writer.close().expect("closes");
    let kept = folder.path().join("a.db.damaged-1");
    assert_eq!(std::fs::read(kept).expect("kept"), torn);
    // A long file that begins with nothing is no beginning.
    std::fs::write(&path, vec![0; 1_000_000]).expect("written");
    assert!(matches!(
        Writer::open(&path),
        Err(StoreError::NotSqlite { .. })
    ));
}

#[test]
fn a_log_with_times_that_cannot_be_meant_is_damaged_not_gone_on_with() {
    for sql in [
        "INSERT INTO tick(t_ms) VALUES (9223372036854775807)",
        "INSERT INTO tick(t_ms) VALUES (-9223372036854775807)",
        "UPDATE session SET end_t_ms = 9223372036854775806",
        "UPDATE session SET start_boot_ms = -9223372036854775806",
        "UPDATE clock SET offset_ms = 1e300",
        "INSERT INTO gap(from_t_ms, to_t_ms, cause) VALUES (0, 9223372036854775807, 'x')",
    ] {
        let folder = tempfile::tempdir().expect("scratch");
        let path = folder.path().join("a.db");
        small_log(&path);
        let connection = rusqlite::Connection::open(&path).expect("opens");
        let rows = connection.execute(sql, []).expect(sql);
        drop(connection);
        if rows == 0 {
            continue;
        }
        let opened = Writer::open(&path).map(drop);
        assert!(
            matches!(&opened, Err(StoreError::Damaged { detail, .. })
            if detail.contains("no time that can be meant")),
            "{sql}: {opened:?}"
        );
    }
}

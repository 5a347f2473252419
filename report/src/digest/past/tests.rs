//! What is read again of a log that an earlier report read. Invented data.

use crate::cache::Cache;
use crate::digest::Digest;
use crate::recording::{Recording, SpanRequest};
use seep_common::rig::Rig;
use seep_common::store::{Batch, ClockRow, ClockState, EndReason, SessionStart, Writer};
use seep_common::tick::Tick;
use seep_common::time::{BootMs, LogMs};
use std::path::Path;

const RIG: &str = r#"
[vehicle]
name = "invented"
[tank]
volume_l = 10
[[source]]
name = "box"
kind = "nmea"
[[channel]]
name = "tank_kpa_gauge"
source = "box"
transducer = "TANK"
"#;

const HOUR_MS: i64 = 3_600_000;

/// Half an hour of a tank that loses air, in each of these hours. The session of the last
/// is left open on demand, and the writer with it.
fn record(path: &Path, hours: std::ops::Range<i64>, kpa: i64, is_open: bool) -> Option<Writer> {
    let rig = Rig::parse(RIG).expect("valid");
    let opened = match path.exists() {
        true => Writer::open(path),
        false => Writer::create(path),
    };
    let mut writer = opened.expect("opens");
    let last = hours.end - 1;
    for hour in hours {
        let t_ms = LogMs(hour * HOUR_MS);
        let start = SessionStart {
            boot_id: hour.to_string(),
            t_ms,
            program: "invented".into(),
            origin: "live".into(),
            start_boot_ms: Some(BootMs(9_000)),
        };
        let session = writer.begin_session(&start, &rig).expect("begins");
        let tick = |s: i64| Tick {
            t_ms: t_ms.plus(s * 1_000),
            counts: vec![Some(10 * kpa - s / 60 + s % 3)],
        };
        let clock = ClockRow {
            noted_t_ms: t_ms,
            from_t_ms: t_ms,
            offset_ms: 1_790_000_000_000,
            state: ClockState::Synced,
        };
        let batch = Batch {
            ticks: (0..1_800).map(tick).collect(),
            clock: vec![clock],
            ..Batch::default()
        };
        writer.append(session, &batch).expect("stored");
        if is_open && hour == last {
            return Some(writer);
        }
        let end = t_ms.plus(1_800_000);
        let ended = writer.end_session(session, end, EndReason::Stopped);
        ended.expect("ended");
    }
    writer.close().expect("closed");
    None
}

/// The sessions that were read, and what came of it, which must be what comes without a
/// cache.
fn read(path: &Path, cache: &Cache) -> Vec<usize> {
    let digested = |cache: Cache| {
        let recording = Recording::open(path, &SpanRequest::default()).expect("opens");
        let mut read = Vec::new();
        let digest = Digest::build(&recording.with_cache(cache), |done| read.push(done));
        (read, format!("{:?}", digest.expect("a sound log")))
    };
    let (read, with) = digested(cache.clone());
    let (_, without) = digested(Cache::none());
    assert!(with == without, "the cache changed the digest");
    assert!(with.contains("RestPoint"), "a rest is found");
    read
}

#[test]
fn closed_sessions_are_read_once() {
    let folder = tempfile::tempdir().expect("scratch");
    let (path, copy) = (folder.path().join("a.db"), folder.path().join("b.db"));
    let cache = Cache::in_folder(&folder.path().join("cache"));
    record(&path, 0..3, 900, false);
    assert_eq!(read(&path, &cache), [1, 2, 3]);
    assert_eq!(read(&path, &cache), Vec::<usize>::new());
    record(&path, 3..5, 880, false);
    std::fs::copy(&path, &copy).expect("copied");
    assert_eq!(read(&copy, &cache), [4, 5], "a copy that grew");
    assert_eq!(read(&path, &cache), Vec::<usize>::new());
}

#[test]
fn the_session_that_is_being_recorded_is_read_each_time() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    let cache = Cache::in_folder(&folder.path().join("cache"));
    let recorder = record(&path, 0..3, 900, true).expect("open");
    assert_eq!(read(&path, &cache), [1, 2, 3]);
    assert_eq!(read(&path, &cache), [3]);
    drop(recorder);
    assert_eq!(read(&path, &cache), [3]);
}

#[test]
fn sessions_with_other_rows_or_another_clock_are_read_again() {
    let folder = tempfile::tempdir().expect("scratch");
    let at = |name: &str| folder.path().join(name);
    let cache = Cache::in_folder(&at("cache"));
    record(&at("a.db"), 0..3, 900, false);
    assert_eq!(read(&at("a.db"), &cache), [1, 2, 3]);
    // The same sessions but for the rows of the second, and one more.
    record(&at("b.db"), 0..1, 900, false);
    record(&at("b.db"), 1..2, 901, false);
    record(&at("b.db"), 2..4, 900, false);
    assert_eq!(read(&at("b.db"), &cache), [1, 2, 3, 4]);
    // The clock was wrong in the second hour, as was learnt later.
    let mut writer = Writer::open(&at("b.db")).expect("opens");
    let rig = Rig::parse(RIG).expect("valid");
    let start = SessionStart {
        boot_id: "late".into(),
        t_ms: LogMs(9 * HOUR_MS),
        program: "invented".into(),
        origin: "live".into(),
        start_boot_ms: None,
    };
    let session = writer.begin_session(&start, &rig).expect("begins");
    let clock = ClockRow {
        noted_t_ms: LogMs(9 * HOUR_MS),
        from_t_ms: LogMs(HOUR_MS),
        offset_ms: 1_790_000_060_000,
        state: ClockState::Synced,
    };
    let batch = Batch {
        clock: vec![clock],
        ..Batch::default()
    };
    writer.append(session, &batch).expect("stored");
    let ended = writer.end_session(session, LogMs(9 * HOUR_MS), EndReason::Stopped);
    ended.expect("ended");
    writer.close().expect("closed");
    assert_eq!(read(&at("b.db"), &cache)[..4], [1, 2, 3, 4]);
}

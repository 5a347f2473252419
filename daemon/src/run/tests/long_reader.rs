//! A reader that keeps one view of the log open for an hour of driving: nothing
//! is lost, what that costs is told, and it is given back. All data invented.

use super::bench::{TestRecorder, set_synced};
use super::drive::rig;
use crate::clock::VirtualClock;
use crate::run::status::held_up_mb;
use seep_common::store::{Reader, write_ahead_bytes};
use seep_common::time::{BootMs, WallMs};
use std::path::Path;
use std::sync::Arc;

/// SQLite cuts a write-ahead log back to this once nobody is in the way, bytes
/// (`journal_size_limit` of the writer).
const CUT_BACK_TO: u64 = 8 * 1024 * 1024;

/// Ten readings of ten channels a second.
fn drive(recorder: &mut TestRecorder, seconds: u64) {
    for i in 0..seconds * 10 {
        recorder.clock.pass(100);
        let wave = (i as f64 / 7.0).sin();
        let mut values = [450.0 + 8.0 * wave; 10];
        values[0] = 80.0 + 5.0 * wave;
        values[1] = 900.0 - (i % 9_000) as f64 / 60.0;
        recorder.say(&values);
        if i % 10 == 9 {
            recorder.pass();
            // A commit every two seconds, as in life: no backlog.
            recorder.store_all();
        }
    }
}

fn rows_seen(reader: &rusqlite::Connection) -> i64 {
    let count = reader.query_row("SELECT count(*) FROM tick", [], |row| row.get(0));
    count.expect("read")
}

fn mb(log: &Path) -> f64 {
    write_ahead_bytes(log) as f64 / 1e6
}

#[test]
fn a_reader_that_holds_on_for_an_hour_costs_space_that_is_told_and_no_row() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = folder.path().join("a.db");
    let clock = Arc::new(VirtualClock::at(BootMs(10_000), WallMs(1_790_000_000_000)));
    set_synced(true);
    let mut recorder = TestRecorder::start(&log, "boot", &rig(), &clock);
    drive(&mut recorder, 300);
    let alone_mb = mb(&log);
    assert_eq!(held_up_mb(&log), None);

    let reader = rusqlite::Connection::open(&log).expect("opens");
    reader.execute_batch("BEGIN").expect("begins");
    let seen = rows_seen(&reader);
    drive(&mut recorder, 3_600);
    let held_mb = mb(&log);
    assert_eq!(rows_seen(&reader), seen, "one view throughout");
    assert!(
        held_up_mb(&log).is_some_and(|mb| mb as f64 <= held_mb),
        "{held_mb:.1} MB untold"
    );
    assert_eq!(recorder.storage().trouble, None);

    reader.execute_batch("COMMIT").expect("lets go");
    drive(&mut recorder, 300);
    let after_mb = mb(&log);
    assert!(write_ahead_bytes(&log) <= CUT_BACK_TO, "{after_mb:.1} MB");
    assert_eq!(held_up_mb(&log), None);

    let state = recorder.stop();
    println!(
        "write-ahead log: {alone_mb:.1} MB alone, {held_mb:.1} MB after an hour with a reader, {after_mb:.1} MB five minutes after it left; {} rows",
        state.stored_ticks
    );
    // 4,200 s at ten a second; the first and last may share a row.
    assert!(state.stored_ticks >= 41_990, "{}", state.stored_ticks);
    assert_eq!((state.lost_ticks, state.trouble), (0, None));
    let stored = Reader::open(&log).expect("a log").tick_count();
    assert_eq!(stored.expect("read"), state.stored_ticks);
}

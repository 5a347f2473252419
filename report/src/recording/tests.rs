//! A machine without a clock battery, parked overnight. Invented data.

use super::*;
use seep_common::store::{Batch, ClockState, EndReason, SessionStart, Writer};
use seep_common::tick::Tick;
use seep_common::time::BootMs;

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

const NIGHT_MS: i64 = 8 * 3_600_000;

/// Two sessions one right after the other in log time, a night apart in truth.
fn log(path: &Path, second: ClockState) {
    let rig = Rig::parse(RIG).expect("valid");
    let mut writer = Writer::create(path).expect("made");
    for (i, (t_ms, offset_ms, state)) in [
        (LogMs(0), 1_000_000, ClockState::Synced),
        (LogMs(600_000), 1_000_000 + NIGHT_MS, second),
    ]
    .into_iter()
    .enumerate()
    {
        let start = SessionStart {
            boot_id: i.to_string(),
            t_ms,
            program: "invented".into(),
            origin: "live".into(),
            start_boot_ms: Some(BootMs(9_000)),
        };
        let session = writer.begin_session(&start, &rig).expect("begins");
        let tick = |s: i64| Tick {
            t_ms: t_ms.plus(s * 1_000),
            counts: vec![Some(16_000)],
        };
        let batch = Batch {
            ticks: (0..500).map(tick).collect(),
            clock: vec![store::ClockRow {
                noted_t_ms: t_ms,
                from_t_ms: t_ms,
                offset_ms,
                state,
            }],
            ..Batch::default()
        };
        writer.append(session, &batch).expect("stored");
        let end = t_ms.plus(500_000);
        writer
            .end_session(session, end, EndReason::Stopped)
            .expect("ended");
    }
    writer.close().expect("closed");
}

#[test]
fn the_night_is_as_long_as_it_was() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    log(&path, ClockState::Synced);
    let recording = Recording::open(&path, &SpanRequest::default()).expect("opens");
    let [first, second] = recording.sessions.as_slice() else {
        panic!("two sessions");
    };
    assert_eq!(second.start.t_ms - first.end_t_ms, NIGHT_MS + 100_000);
    let frame = recording.frame(second).expect("read");
    assert_eq!(frame.t_ms.len(), 500);
    assert_eq!(frame.t_ms[0], second.start.t_ms);
    assert_eq!(
        recording.clock.wall_ms(frame.t_ms[0]),
        Some(600_000 + 1_000_000 + NIGHT_MS)
    );
    assert!(recording.pause_is_known(second));
    assert_eq!(recording.tick_count(second), 500);
    let stored = Recording::open_as_stored(&path, &SpanRequest::default()).expect("opens");
    assert_eq!(stored.sessions[1].start.t_ms, 600_000);
    assert_eq!(
        stored.frame(&stored.sessions[1]).expect("read").t_ms[0],
        600_000
    );
}

#[test]
fn a_pause_of_unknown_length_is_told() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    log(&path, ClockState::Unsynced);
    let recording = Recording::open(&path, &SpanRequest::default()).expect("opens");
    let known: Vec<bool> = (recording.sessions.iter())
        .map(|s| recording.pause_is_known(s))
        .collect();
    assert_eq!(known, [true, false]);
}

#[test]
fn spans_in_words_know_the_night_too() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    log(&path, ClockState::Synced);
    let request = SpanRequest {
        last: Some("4 hours".into()),
        ..SpanRequest::default()
    };
    let recording = Recording::open(&path, &request).expect("opens");
    assert_eq!(
        recording.sessions.len(),
        1,
        "the evening before is longer ago"
    );
    let before = recording
        .other_span("8 hours before", None)
        .expect("a span");
    let [first] = before.sessions.as_slice() else {
        panic!("one session: {:?}", before.sessions);
    };
    assert_eq!(first.start.t_ms, 0);
    assert_eq!(before.frame(first).expect("read").t_ms.len(), 500);
}

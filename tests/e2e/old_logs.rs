//! Logs of every schema version are read as they are and gone on with.

use crate::SEEP;
use seep_common::store::{EndReason, Reader, SCHEMA_VERSION, SessionStart, Writer, inspect};
use seep_common::time::{BootMs, LogMs};
use seep_tests::contents::Contents;
use seep_tests::pattern::{CHANNELS, commit, count, rig};
use seep_tests::scratch::{listing, scratch};
use seep_tests::{code, run};
use std::path::{Path, PathBuf};

fn old_log(version: i64) -> PathBuf {
    let name = format!("data/logs/schema-{version}.db");
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// What the recipe beside the logs says.
fn is_what_was_recorded(contents: &Contents, version: i64) {
    assert_eq!(contents.t_ms.len(), 4_000);
    let firsts = (10_000..210_000).step_by(100);
    let seconds = (400_000..600_000).step_by(100);
    assert!(contents.t_ms.iter().copied().eq(firsts.chain(seconds)));
    for (i, channel) in contents.channels.iter().enumerate() {
        assert_eq!(channel.name, CHANNELS[i]);
        for (t_ms, bits) in contents.t_ms.iter().zip(&contents.readings[i]) {
            let value = (count(*t_ms, i) as f64 * channel.resolution) as f32;
            assert_eq!(*bits, value.to_bits(), "{} at {t_ms} ms", channel.name);
        }
    }
    assert_eq!(contents.sessions.len(), 2);
    assert_eq!(contents.sessions[0].end_reason, Some(EndReason::Stopped));
    assert_eq!((contents.gaps.len(), contents.clock.len()), (2, 2));
    assert_eq!(contents.events.len(), 200);
    assert_eq!(contents.counters.values().sum::<i64>(), 4_000);
    assert_eq!(contents.notices.len(), if version < 2 { 0 } else { 2 });
}

#[test]
fn every_version_is_read_as_it_is() {
    for version in 1..=SCHEMA_VERSION {
        let folder = scratch();
        let log = folder.path().join("old.db");
        std::fs::copy(old_log(version), &log).expect("a log of every version");
        let before = listing(folder.path());
        let reader = Reader::open(&log).expect("a log");
        assert_eq!(reader.schema_version(), version);
        is_what_was_recorded(&Contents::of(&log), version);
        assert!(inspect(&log, i64::MAX).expect("a log").is_sound());
        let name = log.display().to_string();
        for command in ["sessions", "leaks", "trip", "verify"] {
            let done = run(SEEP, &[command, "--log", &name]);
            let said = String::from_utf8_lossy(&done.stderr).into_owned();
            assert_eq!(code(&done), 0, "schema {version}, {command}: {said}");
        }
        drop(reader);
        assert_eq!(listing(folder.path()), before, "reading left a trace");
    }
}

#[test]
fn every_version_is_gone_on_with_after_a_copy() {
    for version in 1..=SCHEMA_VERSION {
        let folder = scratch();
        let log = folder.path().join("old.db");
        std::fs::copy(old_log(version), &log).expect("a log of every version");
        let old = Contents::of(&log);
        let mut writer = Writer::open(&log).expect("gone on with");
        let start = SessionStart {
            boot_id: "boot-3".into(),
            t_ms: LogMs(700_000),
            program: "test".into(),
            origin: "live".into(),
            start_boot_ms: Some(BootMs(5_000)),
        };
        let session = writer.begin_session(&start, &rig(4)).expect("begun");
        writer.append(session, &commit(700_000, 4)).expect("stored");
        writer
            .end_session(session, LogMs(702_000), EndReason::Stopped)
            .expect("ended");
        writer.close().expect("closed");
        let reader = Reader::open(&log).expect("a log");
        assert_eq!(reader.schema_version(), SCHEMA_VERSION);
        let now = Contents::of(&log);
        assert_eq!(now.t_ms[..4_000], old.t_ms);
        for (old, now) in old.readings.iter().zip(&now.readings) {
            assert_eq!(now[..4_000], old[..]);
        }
        assert_eq!(now.sessions.len(), 3);
        assert_eq!(now.sessions[1].end_reason, Some(EndReason::PowerLost));
        assert_eq!(now.gaps, old.gaps);
        assert_eq!(now.notices, old.notices);
        let copy = folder.path().join(format!("old.db.schema-{version}"));
        assert_eq!(copy.exists(), version < SCHEMA_VERSION);
        if version < SCHEMA_VERSION {
            assert_eq!(Contents::of(&copy), old);
        }
    }
}

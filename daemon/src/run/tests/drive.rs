//! Hours of driving on a clock that runs as fast as it can: memory and
//! descriptors stay flat. In a process of its own, so that other tests do not
//! weigh in.

use super::bench::{TestRecorder, set_synced};
use crate::clock::VirtualClock;
use seep_common::rig::Rig;
use seep_common::store::Reader;
use seep_common::time::{BootMs, WallMs};
use std::fmt::Write;
use std::process::Command;
use std::sync::Arc;

/// Hours of the test run; the long run is asked for by the environment.
const HOURS: u64 = 2;

/// Growth allowed over the second half, MB: allocators keep some.
const GROWTH_MB: f64 = 4.0;

pub(super) fn rig() -> Rig {
    let mut text = String::from(
        "[vehicle]\nname = \"invented\"\n[[source]]\nname = \"box\"\nkind = \"nmea\"\ndevice = \"/dev/null\"\n\
         [[channel]]\nname = \"vehicle_kmh\"\nsource = \"box\"\ntransducer = \"V\"\n\
         [[channel]]\nname = \"tank_kpa_gauge\"\nsource = \"box\"\ntransducer = \"T\"\n",
    );
    for circuit in ["front_left", "front_right", "rear_left", "rear_right"] {
        let _ = writeln!(text, "[[circuit]]\nname = \"{circuit}\"");
        for quantity in ["kpa_gauge", "mm"] {
            let _ = writeln!(
                text,
                "[[channel]]\nname = \"{circuit}_{quantity}\"\nsource = \"box\"\ntransducer = \"{circuit}{quantity}\""
            );
        }
    }
    Rig::parse(&text).expect("valid")
}

fn resident_mb() -> f64 {
    let text = std::fs::read_to_string("/proc/self/status").expect("Linux");
    let line = text.lines().find_map(|l| l.strip_prefix("VmRSS:"));
    let kb = line.and_then(|l| l.trim().trim_end_matches(" kB").parse::<f64>().ok());
    kb.expect("a number") / 1000.0
}

fn descriptors() -> usize {
    std::fs::read_dir("/proc/self/fd").expect("Linux").count()
}

#[test]
#[ignore = "started in a process of its own by the test below"]
fn drive() {
    let hours = std::env::var("SEEP_DRIVE_HOURS").ok();
    let hours: u64 = hours.map_or(HOURS, |h| h.parse().expect("hours"));
    let folder = tempfile::tempdir().expect("scratch");
    let log = folder.path().join("a.db");
    let rig = rig();
    let clock = Arc::new(VirtualClock::at(BootMs(10_000), WallMs(1_790_000_000_000)));
    set_synced(true);
    let mut recorder = TestRecorder::start(&log, "boot", &rig, &clock);
    let steps = hours * 36_000;
    let mut early = None;
    for i in 0..steps {
        clock.pass(100);
        let wave = (i as f64 / 7.0).sin();
        let mut values = [450.0 + 8.0 * wave; 10];
        values[0] = 80.0 + 5.0 * wave;
        values[1] = 900.0 - (i % 9_000) as f64 / 60.0;
        recorder.say(&values);
        if i % 10 == 9 {
            recorder.pass();
            recorder.catch_up();
        }
        if i == steps / 2 {
            early = Some((resident_mb(), descriptors()));
        }
    }
    let (early_mb, early_fds) = early.expect("driven");
    let (late_mb, late_fds) = (resident_mb(), descriptors());
    let state = recorder.stop();
    println!(
        "{hours} h driven, {} rows, memory {early_mb:.1} -> {late_mb:.1} MB, descriptors {early_fds} -> {late_fds}",
        state.stored_ticks
    );
    assert_eq!(state.lost_ticks, 0);
    assert!(state.stored_ticks as f64 > 0.99 * steps as f64);
    assert!(late_mb - early_mb < GROWTH_MB);
    assert_eq!(early_fds, late_fds);
    assert_eq!(
        Reader::open(&log)
            .expect("a log")
            .tick_count()
            .expect("read"),
        state.stored_ticks
    );
}

#[test]
fn memory_and_descriptors_stay_flat_over_hours_of_driving() {
    let done = Command::new(std::env::current_exe().expect("this test"))
        .args([
            "--exact",
            "run::tests::drive::drive",
            "--ignored",
            "--nocapture",
        ])
        .output()
        .expect("starts");
    let said = String::from_utf8_lossy(&done.stdout).into_owned();
    println!(
        "{}",
        said.lines()
            .find(|l| l.contains("h driven"))
            .unwrap_or("nothing said")
    );
    assert!(
        done.status.success(),
        "{said}{}",
        String::from_utf8_lossy(&done.stderr)
    );
    assert!(said.contains("h driven"), "{said}");
}

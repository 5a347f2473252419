//! Old sessions go by age or for space, the newest stays, and a report tells.

use super::line::{Device, wait};
use super::process::{Bench, Recorder};
use crate::shim::clock_shim;
use crate::{SEEP, SEEPD};
use seep_common::time::LogMs;
use seep_tests::{code, run};
use std::fmt::Write;
use std::path::Path;
use std::time::{SystemTime, UNIX_EPOCH};

const A_DAY_S: u64 = 86_400;

/// Readings of an old session, one a second.
const OLD: u64 = 600;

fn checksum(body: &str) -> u8 {
    body.bytes().fold(0, |sum, byte| sum ^ byte)
}

/// A capture of a tank at rest, so many days ago, replayed into the log.
fn recorded_days_ago(bench: &Bench, days: u64) {
    let now = SystemTime::now().duration_since(UNIX_EPOCH);
    let from = now.expect("after 1970").as_secs() - days * A_DAY_S;
    let mut capture = String::new();
    for i in 0..OLD {
        let tag = format!("c:{}", from + i);
        let body = format!("YXXDR,P,{:.3},B,TKP", 8.0 + i as f64 / 1e4);
        let (tag_sum, sum) = (checksum(&tag), checksum(&body));
        let _ = write!(capture, "\\{tag}*{tag_sum:02X}\\${body}*{sum:02X}\r\n");
    }
    let file = bench.folder.path().join("capture.nmea");
    std::fs::write(&file, capture).expect("written");
    let shown = |path: &Path| path.display().to_string();
    let (rig, log, file) = (shown(&bench.rig()), shown(&bench.log()), shown(&file));
    let done = run(
        SEEPD,
        &["replay", "--rig", &rig, "--log", &log, "--append", &file],
    );
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
}

/// A log of 40, 35 and 5 days ago, and a recorder that goes on with it.
fn recorder_on_an_old_log(
    limits: &str,
    synced: &str,
    test: &str,
) -> Option<(Bench, Device, Recorder)> {
    let shim = clock_shim(test)?;
    let (bench, socket) = Bench::on_a_line();
    let device = socket.plug();
    let rig = std::fs::read_to_string(bench.rig()).expect("a rig");
    bench.write_rig(&format!("{rig}[recorder]\n{limits}\n"));
    for days in [40, 35, 5] {
        recorded_days_ago(&bench, days);
    }
    let recorder = bench.start_with(|command| {
        command
            .env("LD_PRELOAD", shim)
            .env("SEEP_SHIM_SYNCED", synced);
    });
    Some((bench, device, recorder))
}

/// Rows of every session, oldest first.
fn rows(bench: &Bench) -> Vec<u64> {
    let reader = bench.reader();
    let sessions = reader.sessions().expect("read");
    let ends = sessions
        .iter()
        .skip(1)
        .map(|s| s.start.t_ms)
        .chain([LogMs::MAX]);
    let spans = sessions.iter().map(|s| s.start.t_ms).zip(ends);
    let count = |(from, to)| {
        let columns = reader.columns(&["tank_kpa_gauge"], from, to);
        columns.expect("read").t_ms.len() as u64
    };
    spans.map(count).collect()
}

/// Record until so many sessions have gone, and some rows more.
fn record_until_gone(bench: &Bench, device: &mut Device, gone: usize) {
    device.wait_for_reader();
    wait(|| rows(bench).iter().filter(|n| **n == 0).count() >= gone);
    let stored = || bench.status().and_then(|s| s["stored_rows"].as_u64());
    let enough = stored().unwrap_or(0) + 3;
    while stored() < Some(enough) {
        device.say_tank(850.0);
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
}

/// What the report and the look at the file itself say of a whole log.
fn told(bench: &Bench) -> String {
    let log = bench.log().display().to_string();
    let say = |command: &str| {
        let done = run(SEEP, &[command, "--log", &log, "--format", "json"]);
        assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
        String::from_utf8_lossy(&done.stdout).into_owned()
    };
    say("trip") + &say("verify")
}

#[test]
fn sessions_older_than_the_limit_go_the_others_stay_and_the_report_says_so() {
    let asked = recorder_on_an_old_log("keep_days = 30", "1", "sessions_older_than_the_limit_go");
    let Some((bench, mut device, recorder)) = asked else {
        return;
    };
    record_until_gone(&bench, &mut device, 2);
    let (code, said) = recorder.stop();
    assert_eq!(code, 0, "{said}");
    let rows = rows(&bench);
    assert_eq!(rows[..3], [0, 0, OLD], "{said}");
    assert!(rows[3] >= 3, "{rows:?}");
    // What went is told: in the log, by the program as it went, in the report.
    let notices = bench
        .reader()
        .notices(LogMs::MIN, LogMs::MAX)
        .expect("read");
    for session in [1, 2] {
        let told = format!("600 rows of session {session} were deleted: older than keep_days = 30");
        assert!(notices.iter().any(|n| n.text == told), "{notices:?}");
        assert!(said.contains(&told), "{said}");
    }
    assert_eq!(bench.reader().sessions().expect("read").len(), 4);
    let told = told(&bench);
    assert!(told.contains("\"deleted to keep space\""), "{told}");
    assert!(
        told.contains("600 rows of session 1 were deleted"),
        "{told}"
    );
}

#[test]
fn a_limit_of_free_space_that_no_deletion_can_reach_deletes_nothing_and_is_told() {
    let limits = "keep_free_mb = 1_000_000_000";
    let asked = recorder_on_an_old_log(limits, "0", "a_limit_of_free_space_that_no_deletion");
    let Some((bench, mut device, recorder)) = asked else {
        return;
    };
    record_until_gone(&bench, &mut device, 0);
    wait(|| bench.status().is_some_and(|s| !s["space_short"].is_null()));
    let why = bench.status().expect("told")["space_short"].to_string();
    assert!(why.contains("none is deleted"), "{why}");
    let (code, said) = recorder.stop();
    assert_eq!(code, 0, "{said}");
    assert!(said.contains("none is deleted"), "{said}");
    assert_eq!(rows(&bench)[..3], [OLD, OLD, OLD], "{said}");
}

#[test]
fn a_clock_that_nobody_vouches_for_deletes_nothing() {
    if Path::new("/run/systemd/timesync/synchronized").exists() {
        eprintln!("SKIPPED LOUDLY: a clock that nobody vouches for: systemd vouches for this one");
        return;
    }
    let asked = recorder_on_an_old_log("keep_days = 30", "0", "a_clock_that_nobody_vouches_for");
    let Some((bench, mut device, recorder)) = asked else {
        return;
    };
    record_until_gone(&bench, &mut device, 0);
    let (code, said) = recorder.stop();
    assert_eq!(code, 0, "{said}");
    assert_eq!(rows(&bench)[..3], [OLD, OLD, OLD], "{said}");
}

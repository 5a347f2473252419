//! A recording from start to end.

use super::line::wait;
use super::process::Bench;
use crate::SEEPD;
use rustix::process::Signal;
use seep_common::store::EndReason;
use seep_common::time::LogMs;
use seep_tests::{code, run};
use std::time::{Duration, Instant};

fn words(bench: &Bench, command: &[&str]) -> Vec<String> {
    let paths = |w: &str| match w {
        "LOG" => bench.log().display().to_string(),
        "STATUS" => bench.status_file().display().to_string(),
        "COPY" => bench.folder.path().join("copy.db").display().to_string(),
        word => word.to_string(),
    };
    command.iter().map(|w| paths(w)).collect()
}

fn seepd(bench: &Bench, command: &[&str]) -> std::process::Output {
    let words = words(bench, command);
    run(SEEPD, &words.iter().map(String::as_str).collect::<Vec<_>>())
}

#[test]
fn everything_said_before_sigterm_is_stored_within_five_seconds() {
    let (bench, socket) = Bench::on_a_line();
    let mut device = socket.plug();
    let recorder = bench.start();
    device.wait_for_reader();
    for i in 0..200 {
        device.say_tank(800.0 + f64::from(i) / 10.0);
    }
    bench.wait_for_readings(200);
    let asked = Instant::now();
    let (code, said) = recorder.stop();
    assert_eq!(code, 0, "{said}");
    // The bound of the stop is a promise to the service manager, not a speed.
    assert!(asked.elapsed() < Duration::from_secs(5));
    assert_eq!(bench.counted("readings"), 200);
    let sessions = bench.reader().sessions().expect("read");
    assert_eq!(sessions[0].end_reason, Some(EndReason::Stopped));
    assert!(sessions[0].start.start_boot_ms.is_some());
    let columns = bench
        .reader()
        .columns(&["tank_kpa_gauge"], LogMs::MIN, LogMs::MAX)
        .expect("read");
    assert!(
        columns.values[0]
            .iter()
            .all(|v| (800.0..=820.0).contains(v))
    );
}

#[test]
fn status_tells_value_age_and_silence_and_a_snapshot_is_complete() {
    let (bench, socket) = Bench::on_a_line();
    let mut device = socket.plug();
    assert_eq!(
        code(&seepd(&bench, &["status", "--status-file", "STATUS"])),
        69
    );
    let recorder = bench.start();
    device.wait_for_reader();
    device.say_tank(811.0);
    wait(|| {
        bench
            .status()
            .is_some_and(|s| s["channels"][0]["value"] == 811.0)
    });
    device.say_tank(811.0);
    let shown = seepd(&bench, &["status", "--status-file", "STATUS"]);
    let text = String::from_utf8_lossy(&shown.stdout);
    assert!(
        text.contains("tank_kpa_gauge") && text.contains("811.0"),
        "{text}"
    );
    wait(|| {
        bench
            .status()
            .is_some_and(|s| s["channels"][0]["silent"] == true)
    });
    let silent = seepd(&bench, &["status", "--status-file", "STATUS"]);
    assert_eq!(code(&silent), 1);
    assert!(String::from_utf8_lossy(&silent.stdout).contains("SILENT"));
    wait(|| {
        bench
            .status()
            .is_some_and(|s| s["stored_rows"].as_u64() > Some(0))
    });
    assert_eq!(
        code(&seepd(&bench, &["snapshot", "--log", "LOG", "COPY"])),
        0
    );
    assert_eq!(
        code(&seepd(&bench, &["snapshot", "--log", "LOG", "COPY"])),
        73
    );
    let copy = bench.folder.path().join("copy.db");
    let copy = seep_common::store::Reader::open(&copy).expect("a log");
    assert!(copy.tick_count().expect("read") > 0);
    assert_eq!(recorder.stop().0, 0);
    let gone = seepd(&bench, &["status", "--status-file", "STATUS"]);
    assert!([0, 1, 69].contains(&code(&gone)));
}

#[test]
fn a_reload_keeps_a_bad_rig_out_and_begins_a_session_with_a_good_one() {
    let (bench, socket) = Bench::on_a_line();
    let good = std::fs::read_to_string(bench.rig()).expect("rig");
    let mut device = socket.plug();
    let recorder = bench.start();
    device.wait_for_reader();
    device.say_tank(800.0);
    wait(|| {
        bench
            .status()
            .is_some_and(|s| s["channels"][0]["value"] == 800.0)
    });
    bench.write_rig(&good.replacen("transducer", "transduser", 1));
    recorder.signal(Signal::HUP);
    wait(|| bench.status().is_some_and(|s| !s["rig_problem"].is_null()));
    device.say_tank(801.0);
    wait(|| {
        bench
            .status()
            .is_some_and(|s| s["channels"][0]["value"] == 801.0)
    });
    bench.write_rig(&format!("{good}unit = \"bar\"\n"));
    recorder.signal(Signal::HUP);
    wait(|| bench.status().is_some_and(|s| s["session"] == 2));
    device.wait_for_reader();
    std::thread::sleep(Duration::from_millis(300));
    device.say_tank(802.0);
    wait(|| {
        bench
            .status()
            .is_some_and(|s| s["channels"][0]["value"] == 802.0)
    });
    assert_eq!(recorder.stop().0, 0);
    let reader = bench.reader();
    assert_eq!(reader.sessions().expect("read").len(), 2);
    let notices = reader.notices(LogMs::MIN, LogMs::MAX).expect("read");
    let said = |word: &str| notices.iter().any(|n| n.text.contains(word));
    assert!(said("not reloaded") && said("was reloaded"), "{notices:?}");
    assert_eq!(bench.counted("readings"), 3);
}

#[test]
fn one_recorder_per_log() {
    let (bench, socket) = Bench::on_a_line();
    let _device = socket.plug();
    let first = bench.start();
    wait(|| bench.status().is_some());
    let (code, said) = bench.start().outcome();
    assert_eq!(code, 75, "{said}");
    assert!(said.contains("another seepd"), "{said}");
    assert_eq!(first.stop().0, 0);
}

//! The recorder stands still (stopped by a signal, as by a machine that stalls):
//! what it cannot date any more is counted, never stored at a wrong time.

use super::line::wait;
use super::process::Bench;
use rustix::process::Signal;
use seep_common::store::cause::{NOT_RUNNING, RECORDER_PAUSED, SOURCE_SILENT};
use seep_common::time::LogMs;
use std::time::Duration;

#[test]
fn readings_of_a_pause_are_counted_and_the_gap_has_its_true_cause() {
    let (bench, socket) = Bench::on_a_line();
    let mut device = socket.plug();
    let recorder = bench.start();
    device.wait_for_reader();
    for _ in 0..10 {
        device.say_tank(800.0);
        std::thread::sleep(Duration::from_millis(100));
    }
    bench.wait_for_readings(10);
    recorder.signal(Signal::STOP);
    // More than the recorder may be late by, and more than the line may be silent.
    for _ in 0..100 {
        device.say_tank(900.0);
        std::thread::sleep(Duration::from_millis(60));
    }
    recorder.signal(Signal::CONT);
    let fresh = |kpa: f64| {
        wait(|| {
            let status = bench.status();
            status.is_some_and(|s| s["channels"][0]["value"] == kpa)
        });
    };
    std::thread::sleep(Duration::from_secs(2));
    for _ in 0..10 {
        device.say_tank(700.0);
        std::thread::sleep(Duration::from_millis(100));
    }
    fresh(700.0);
    let (code, said) = recorder.stop();
    assert_eq!(code, 0, "{said}");
    let reader = bench.reader();
    let (readings, undated) = (
        bench.counted("readings"),
        bench.counted("readings not dated"),
    );
    let gaps = reader.gaps(LogMs::MIN, LogMs::MAX).expect("read");
    println!("{readings} readings dated, {undated} not; gaps {gaps:?}");
    assert_eq!(readings + undated, 120, "each in exactly one count");
    assert!((100..=102).contains(&undated), "{undated}");
    assert!(!gaps.iter().any(|g| g.cause == SOURCE_SILENT), "{gaps:?}");
    let paused: Vec<_> = gaps.iter().filter(|g| g.cause == RECORDER_PAUSED).collect();
    assert_eq!(paused.len(), 1, "{gaps:?}");
    let s = paused[0].to_t_ms.since(paused[0].from_t_ms) as f64 / 1000.0;
    assert!((5.0..=20.0).contains(&s), "{s}");
    let notices = reader.notices(LogMs::MIN, LogMs::MAX).expect("read");
    assert!(
        notices.iter().any(|n| n.text.contains("was paused for")),
        "{notices:?}"
    );
    // No row of the pause holds a reading.
    let stored = std::process::Command::new(crate::SEEP)
        .args(["sessions", "--log"])
        .arg(bench.log())
        .output()
        .expect("starts");
    assert!(stored.status.success());
}

/// Stopped, then killed: what came meanwhile waits in the line when the next
/// recorder opens it.
#[test]
fn what_waited_for_a_recorder_that_was_killed_is_counted_and_not_dated() {
    let (bench, socket) = Bench::on_a_line();
    let mut device = socket.plug();
    let first = bench.start();
    device.wait_for_reader();
    for _ in 0..10 {
        device.say_tank(800.0);
        std::thread::sleep(Duration::from_millis(100));
    }
    bench.wait_for_readings(10);
    first.signal(Signal::STOP);
    for _ in 0..40 {
        device.say_tank(900.0);
        std::thread::sleep(Duration::from_millis(100));
    }
    first.kill();
    let second = bench.start();
    device.wait_for_reader();
    for _ in 0..10 {
        device.say_tank(700.0);
        std::thread::sleep(Duration::from_millis(100));
    }
    bench.wait_for_readings(10);
    let (code, said) = second.stop();
    assert_eq!(code, 0, "{said}");
    let columns = (bench.reader()).columns(&["tank_kpa_gauge"], LogMs::MIN, LogMs::MAX);
    let values = columns.expect("read").values.remove(0);
    let late = values
        .iter()
        .filter(|v| (850.0..950.0).contains(*v))
        .count();
    assert_eq!(late, 0, "rows with what waited in the line: {values:?}");
    let undated = bench.counted("readings not dated");
    assert_eq!(undated, 40);
    let gaps = bench.reader().gaps(LogMs::MIN, LogMs::MAX).expect("read");
    assert!(gaps.iter().any(|g| g.cause == NOT_RUNNING), "{gaps:?}");
}

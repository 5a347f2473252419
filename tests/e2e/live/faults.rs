//! The faults of a vehicle.

use super::line::wait;
use super::process::Bench;
use seep_common::store::EndReason;
use seep_common::time::LogMs;
use std::time::Duration;

#[test]
fn what_was_committed_survives_a_kill_and_the_next_start_tells_it() {
    let (bench, socket) = Bench::on_a_line();
    let mut device = socket.plug();
    let mut committed = 0;
    for round in 0..8 {
        let recorder = bench.start();
        wait(|| bench.status().is_some_and(|s| s["pid"] == recorder.id()));
        while bench.status().is_none_or(|s| s["stored_rows"] == 0) {
            device.say_tank(800.0 + f64::from(round));
            std::thread::sleep(Duration::from_millis(50));
        }
        let acknowledged = bench.status().and_then(|s| s["stored_rows"].as_u64());
        recorder.kill();
        committed += acknowledged.expect("told");
        assert!(bench.reader().tick_count().expect("read") >= committed);
        committed = bench.reader().tick_count().expect("read");
    }
    let last = bench.start();
    wait(|| {
        bench
            .status()
            .is_some_and(|s| s["pid"] == last.id() && !s["session"].is_null())
    });
    assert_eq!(last.stop().0, 0);
    let sessions = bench.reader().sessions().expect("read");
    assert_eq!(sessions.len(), 9);
    for session in &sessions[..8] {
        assert_eq!(session.end_reason, Some(EndReason::PowerLost));
    }
    let gaps = bench.reader().gaps(LogMs::MIN, LogMs::MAX).expect("read");
    let between = gaps.iter().filter(|g| g.cause == "recorder not running");
    assert_eq!(between.count(), 8);
}

#[test]
fn noise_and_half_lines_are_counted_and_cost_nothing_else() {
    let (bench, socket) = Bench::on_a_line();
    let mut device = socket.plug();
    let recorder = bench.start();
    device.wait_for_reader();
    device.write(b"R,P,8.1,B,TKP*00\r\n");
    for i in 0..50 {
        device.write(b"\xff\x00\x13$YXXDR,P,8.\r\n");
        device.say_tank(800.0 + f64::from(i));
        device.write(b"$YXXDR,P,8.0000,B,TKP*00\r\n");
    }
    device.say_tank(850.0);
    bench.wait_for_readings(51);
    let (code, said) = recorder.stop();
    assert_eq!(code, 0, "{said}");
    assert_eq!(bench.counted("readings"), 51);
    let counters = bench
        .reader()
        .counters(LogMs::MIN, LogMs::MAX)
        .expect("read");
    let bad: i64 = counters
        .iter()
        .filter(|c| c.name.contains("checksum"))
        .map(|c| c.count)
        .sum();
    assert!(bad >= 50, "{counters:?}");
}

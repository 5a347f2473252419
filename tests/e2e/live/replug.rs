//! Plugged and unplugged, again and again.

use super::process::Bench;
use seep_common::time::LogMs;

/// Cycles of the test run; the long run is asked for by the environment.
const CYCLES: u32 = 12;

/// Sentences said in each cycle.
const SAID: u32 = 20;

#[test]
fn no_sample_is_lost_outside_the_outages() {
    let asked = std::env::var("SEEP_REPLUG_CYCLES").ok();
    let cycles = asked.map_or(CYCLES, |n| n.parse().expect("a number of cycles"));
    let (bench, socket) = Bench::on_a_line();
    let mut device = socket.plug();
    let recorder = bench.start();
    for cycle in 0..cycles {
        device.wait_for_reader();
        for i in 0..SAID {
            device.say_tank(800.0 + f64::from(i));
        }
        bench.wait_for_readings(u64::from((cycle + 1) * SAID));
        if cycle + 1 < cycles {
            socket.unplug(device);
            device = socket.plug();
        }
    }
    let descriptors = std::fs::read_dir(format!("/proc/{}/fd", recorder.id()))
        .expect("Linux")
        .count();
    let (code, said) = recorder.stop();
    assert_eq!(code, 0, "{said}");
    let stored = bench.counted("readings");
    let gaps = bench.reader().gaps(LogMs::MIN, LogMs::MAX).expect("read");
    let told = gaps
        .iter()
        .filter(|g| g.what.as_deref() == Some("box"))
        .count();
    println!("{cycles} cycles: {stored} samples stored, {told} gaps, {descriptors} descriptors");
    assert_eq!(stored, i64::from(cycles * SAID));
    assert_eq!(told, cycles as usize - 1, "{said}");
    assert!(descriptors < 40, "descriptors leak: {descriptors}");
}

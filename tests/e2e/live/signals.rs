//! A signal ends the recorder in every state, and a reload never freezes it.

use super::line::wait;
use super::process::{Bench, Recorder};
use crate::shim::{preload, shim};
use rustix::process::Signal;
use seep_common::store::{EndReason, Reader};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Promised is 2 s; a machine busy with other tests gets more before it is a fault.
const LONGEST_STOP: Duration = Duration::from_secs(8);

/// SIGTERM ends it with this code, soon.
fn ends(state: &str, recorder: Recorder, code: i32) {
    let begun = Instant::now();
    let (ended, said) = recorder.stop();
    let took = begun.elapsed();
    println!("{state}: ended {:.2} s after SIGTERM", took.as_secs_f64());
    assert_eq!(ended, code, "{state}: {said}");
    assert!(took < LONGEST_STOP, "{state}: took {took:?}");
}

fn wait_for_status(bench: &Bench, recorder: &Recorder) {
    let pid = recorder.id();
    wait(|| bench.status().is_some_and(|s| s["pid"] == pid));
}

/// Make a FIFO in place of a file.
fn fifo(path: &std::path::Path) {
    let _ = std::fs::remove_file(path);
    let mode = rustix::fs::Mode::from_raw_mode(0o600);
    let kind = rustix::fs::FileType::Fifo;
    rustix::fs::mknodat(rustix::fs::CWD, path, kind, mode, 0).expect("a FIFO");
}

#[test]
fn sigterm_ends_it_without_a_source_that_speaks() {
    let (bench, _socket) = Bench::on_a_line();
    let recorder = bench.start();
    wait_for_status(&bench, &recorder);
    ends("every source fails", recorder, 0);
    let (bench, socket) = Bench::on_a_line();
    let device = socket.plug();
    let recorder = bench.start();
    device.wait_for_reader();
    wait_for_status(&bench, &recorder);
    ends("the line is silent", recorder, 0);
}

#[test]
fn sigterm_ends_it_in_a_flood_and_beside_a_station_that_is_silent() {
    let (bench, socket) = Bench::on_a_line();
    let device = socket.plug();
    let recorder = bench.start();
    device.wait_for_reader();
    let flood = device.flood();
    bench.wait_for_readings(2_000);
    ends("a flood", recorder, 0);
    drop(flood);
    let (bench, socket) = Bench::on_a_line();
    let text = std::fs::read_to_string(bench.rig()).expect("rig");
    let station = text
        .replace("\"nmea\"", "\"modbus\"")
        .replace("silence_s = 3", "unit_id = 3")
        .replace("transducer = \"TKP\"", "register = 4\nunit = \"bar\"");
    assert_ne!(station, text);
    bench.write_rig(&station);
    let device = socket.plug();
    let recorder = bench.start();
    device.wait_for_reader();
    wait_for_status(&bench, &recorder);
    ends("a station does not answer", recorder, 0);
}

/// Without a source that can be read live there is nothing to run: it says so and
/// ends by itself.
#[test]
fn it_does_not_start_without_a_live_source() {
    let (bench, _socket) = Bench::on_a_line();
    let text = std::fs::read_to_string(bench.rig()).expect("rig");
    bench.write_rig(&text.replace("device", "#device"));
    let (code, said) = bench.start().outcome();
    assert_eq!(code, 78, "{said}");
    assert!(said.contains("no source can be read live"), "{said}");
    assert!(!bench.log().exists());
}

/// Many reloads of a rig that changes with each: the last change counts.
#[test]
fn the_last_of_many_reloads_counts() {
    let (bench, socket) = Bench::on_a_line();
    let device = socket.plug();
    let recorder = bench.start();
    device.wait_for_reader();
    wait_for_status(&bench, &recorder);
    let text = std::fs::read_to_string(bench.rig()).expect("rig");
    for i in 0..30 {
        bench.write_rig(&text.replace("12.0", &format!("{}.0", 13 + i)));
        recorder.signal(Signal::HUP);
    }
    let last = || {
        // The first of them may still be making the log.
        let Ok(reader) = Reader::open(&bench.log()) else {
            return false;
        };
        let rigs = reader.rigs().expect("read");
        rigs.iter()
            .any(|(_, text)| text.contains("volume_l = 42.0"))
    };
    wait(last);
    ends("after 30 reloads", recorder, 0);
}

/// Nobody reads what the recorder says: it goes on, and a signal ends it.
#[test]
fn a_journal_that_stands_still_freezes_nothing() {
    let (bench, socket) = Bench::on_a_line();
    let mut device = socket.plug();
    // Its standard error is a pipe that this test does not read.
    let recorder = bench.start();
    device.wait_for_reader();
    wait_for_status(&bench, &recorder);
    let good = std::fs::read_to_string(bench.rig()).expect("rig");
    bench.write_rig("no rig");
    // Each refusal takes a line; a pipe takes 64 KiB.
    for _ in 0..1_200 {
        recorder.signal(Signal::HUP);
        std::thread::sleep(Duration::from_millis(2));
    }
    bench.write_rig(&good);
    device.say_tank(800.0);
    device.say_tank(801.0);
    bench.wait_for_readings(2);
    let begun = Instant::now();
    recorder.signal(Signal::TERM);
    assert_eq!(recorder.code_unread(), 0);
    let took = begun.elapsed();
    println!(
        "nobody reads: ended {:.2} s after SIGTERM",
        took.as_secs_f64()
    );
    assert!(took < LONGEST_STOP, "{took:?}");
    assert_eq!(bench.counted("readings"), 2);
}

/// A status that would be written over the rig or the log is refused.
#[test]
fn the_status_is_written_over_nothing_that_is_needed() {
    let (mut bench, _socket) = Bench::on_a_line();
    let rig = std::fs::read(bench.rig()).expect("rig");
    for name in ["status.json", "status.json-wal"] {
        bench.log_name = Some(name.trim_end_matches("-wal").into());
        let mut command = std::process::Command::new(crate::SEEPD);
        command.args(["run", "--rig"]).arg(bench.rig());
        command.arg("--log").arg(bench.log()).arg("--status-file");
        let done = command.arg(bench.folder.path().join(name)).output();
        let done = done.expect("runs");
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        assert_eq!(seep_tests::code(&done), 73, "{name}: {said}");
        assert!(said.contains("--status-file"), "{said}");
    }
    let mut command = std::process::Command::new(crate::SEEPD);
    command.args(["run", "--rig"]).arg(bench.rig());
    command.arg("--log").arg(bench.log()).arg("--status-file");
    let done = command.arg(bench.rig()).output().expect("runs");
    assert_eq!(seep_tests::code(&done), 73);
    assert_eq!(std::fs::read(bench.rig()).expect("rig"), rig);
    assert!(!bench.log().exists());
}

/// The rig loses its live source, or becomes a FIFO that nobody writes: the rig
/// is kept, recording goes on, and a signal still ends it.
#[test]
fn a_reload_that_run_would_refuse_keeps_the_rig_and_the_recording() {
    let (bench, socket) = Bench::on_a_line();
    let mut device = socket.plug();
    let recorder = bench.start();
    device.wait_for_reader();
    device.say_tank(800.0);
    bench.wait_for_readings(1);
    let good = std::fs::read_to_string(bench.rig()).expect("rig");
    let without_device = good.replace("device", "#device");
    assert_ne!(without_device, good);
    bench.write_rig(&without_device);
    recorder.signal(Signal::HUP);
    wait(|| bench.status().is_some_and(|s| !s["rig_problem"].is_null()));
    let problem = bench.status().expect("a status")["rig_problem"].to_string();
    assert!(problem.contains("no source can be read live"), "{problem}");
    device.say_tank(801.0);
    bench.wait_for_readings(2);
    fifo(&bench.rig());
    recorder.signal(Signal::HUP);
    let refused = |s: serde_json::Value| s["rig_problem"].to_string().contains("regular file");
    wait(|| bench.status().is_some_and(refused));
    device.say_tank(802.0);
    bench.wait_for_readings(3);
    ends("after refused reloads", recorder, 0);
    assert_eq!(bench.counted("readings"), 3);
    assert_eq!(bench.reader().sessions().expect("read").len(), 1);
}

/// Reloads one after the other, then SIGTERM in the midst of them.
#[test]
fn sigterm_ends_it_while_it_reloads() {
    let (bench, socket) = Bench::on_a_line();
    let device = socket.plug();
    let recorder = bench.start();
    device.wait_for_reader();
    wait_for_status(&bench, &recorder);
    for _ in 0..20 {
        recorder.signal(Signal::HUP);
        std::thread::sleep(Duration::from_millis(5));
    }
    ends("reloading", recorder, 0);
}

/// A status file that cannot be written must not hold anything up.
#[test]
fn a_status_file_that_hangs_freezes_nothing() {
    let (bench, socket) = Bench::on_a_line();
    fifo(&bench.status_file());
    fifo(&bench.status_file().with_extension("json.new"));
    let mut device = socket.plug();
    let recorder = bench.start();
    device.wait_for_reader();
    device.say_tank(800.0);
    // To read the FIFO would hang the test.
    wait(|| bench.status_file().is_file());
    wait_for_status(&bench, &recorder);
    bench.wait_for_readings(1);
    ends("the status file was a FIFO", recorder, 0);
}

/// Starts a recorder whose disk does what the returned file says; nothing at first.
fn start_on_a_disk_with_faults(bench: &Bench, shim: &Path) -> (Recorder, PathBuf) {
    let folder = bench.folder.path().canonicalize().expect("there");
    let faults = folder.join("faults.txt");
    std::fs::write(&faults, "").expect("written");
    let recorder = bench.start_with(|command| {
        preload(command, shim, &folder, ("SEEP_SHIM_FAULTS", &faults));
    });
    (recorder, faults)
}

/// The disk hangs in a sync: the first signal stores what it can while the disk
/// has time to come back, the second ends it at once.
#[test]
fn a_second_sigterm_ends_it_while_the_disk_hangs() {
    let Some(shim) = shim("a_second_sigterm_ends_it_while_the_disk_hangs") else {
        return;
    };
    let (bench, socket) = Bench::on_a_line();
    let mut device = socket.plug();
    let (recorder, faults) = start_on_a_disk_with_faults(&bench, shim);
    device.wait_for_reader();
    device.say_tank(800.0);
    bench.wait_for_readings(1);
    wait(|| {
        bench
            .status()
            .is_some_and(|s| s["stored_rows"].as_u64() > Some(0))
    });
    std::fs::write(&faults, "sync +600000 1 trip.db\n").expect("written");
    for i in 0..20 {
        device.say_tank(801.0 + f64::from(i));
        std::thread::sleep(Duration::from_millis(200));
    }
    bench.wait_for_readings(21);
    recorder.signal(Signal::TERM);
    std::thread::sleep(Duration::from_secs(4));
    let begun = Instant::now();
    recorder.signal(Signal::TERM);
    let (code, _) = recorder.outcome();
    let took = begun.elapsed();
    println!(
        "the disk hangs: ended {:.2} s after the second SIGTERM",
        took.as_secs_f64()
    );
    assert_eq!(code, 143);
    assert!(took < LONGEST_STOP, "{took:?}");
}

/// `timeout`, `sudo` and terminals signal the recorder and then its group: a double
/// within a moment is one request, and everything is stored.
#[test]
fn a_doubled_request_to_end_stores_everything() {
    let Some(shim) = shim("a_doubled_request_to_end_stores_everything") else {
        return;
    };
    let (bench, socket) = Bench::on_a_line();
    let mut device = socket.plug();
    let (recorder, faults) = start_on_a_disk_with_faults(&bench, shim);
    device.wait_for_reader();
    for i in 0..5 {
        device.say_tank(800.0 + f64::from(i));
    }
    bench.wait_for_readings(5);
    // Every sync takes 300 ms, so that the double comes while rows are stored.
    std::fs::write(&faults, "sync +300 1 trip.db\n").expect("written");
    recorder.signal(Signal::TERM);
    std::thread::sleep(Duration::from_millis(100));
    recorder.signal(Signal::TERM);
    let (code, said) = recorder.outcome();
    assert_eq!(code, 0, "{said}");
    assert!(said.contains("rows stored"), "{said}");
    let ended = bench.reader().sessions().expect("read")[0].end_reason;
    assert_eq!(ended, Some(EndReason::Stopped));
}

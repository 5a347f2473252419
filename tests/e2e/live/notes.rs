//! Readings by hand while a recorder writes the same log.

use super::process::Bench;
use crate::{SEEP, SEEPD};
use seep_common::store::inspect;
use seep_common::time::LogMs;
use seep_tests::{code, run};

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn notes_are_taken_while_it_is_recorded_and_nothing_of_the_recording_is_lost() {
    let (bench, socket) = Bench::on_a_line();
    let log = bench.log().display().to_string();
    let note = |more: &[&str]| {
        run(
            SEEPD,
            &[&["note", "--log", &log, "--zone", "UTC"], more].concat(),
        )
    };
    let mut device = socket.plug();
    assert_eq!(code(&note(&["too early"])), 66);
    let recorder = bench.start();
    device.wait_for_reader();
    device.say_tank(800.0);
    bench.wait_for_readings(1);
    for i in 0..40 {
        device.say_tank(800.0 + f64::from(i) / 10.0);
        let reading = format!("tank_kpa_gauge={}", 800 + i);
        let done = note(&["--reading", &reading, "by the gauge"]);
        assert_eq!(code(&done), 0, "{}", text(&done.stderr));
        assert!(text(&done.stdout).contains("beside the running recorder"));
    }
    let bad = note(&["--reading", "front_left_mm=412"]);
    assert_eq!(code(&bad), 2);
    assert!(
        text(&bad.stderr).contains("there is tank_kpa_gauge"),
        "{}",
        text(&bad.stderr)
    );
    assert_eq!(code(&note(&["--at", "2999-01-01", "ahead"])), 2);
    bench.wait_for_readings(41);
    // What was noted shows while it is recorded.
    let done = run(SEEP, &["sessions", "--log", &log, "--zone", "UTC"]);
    assert!(
        text(&done.stdout).contains("by the gauge"),
        "{}",
        text(&done.stdout)
    );
    let (status, said) = recorder.stop();
    assert_eq!(status, 0, "{said}");
    assert_eq!(bench.counted("readings"), 41);
    let reader = bench.reader();
    assert_eq!(reader.notes().expect("read").len(), 40);
    // The recorder saw no change of its file, lost no lock and began no second session.
    assert!(
        reader
            .notices(LogMs::MIN, LogMs::MAX)
            .expect("read")
            .is_empty()
    );
    assert_eq!(reader.sessions().expect("read").len(), 1);
    assert!(inspect(&bench.log(), i64::MAX).expect("a log").is_sound());
    // And with no recorder.
    let done = note(&["--at", "06:00", "fitting replaced, rear left"]);
    assert_eq!(code(&done), 0, "{}", text(&done.stderr));
    assert!(!text(&done.stdout).contains("beside"));
    let beside = std::fs::read_dir(bench.folder.path()).expect("listed");
    let names: Vec<String> = beside
        .map(|e| e.expect("entry").file_name().to_string_lossy().into_owned())
        .collect();
    assert!(
        !names
            .iter()
            .any(|n| n.ends_with("-wal") || n.ends_with("-journal")),
        "{names:?}"
    );
}

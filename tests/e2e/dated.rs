//! A leak that began or ended on a day is told with that day.

use super::{SEEP, SEEPD};
use seep_sample_logs::files::{BOX, BUS, RIG};
use seep_sample_logs::generate;
use seep_sample_logs::scenario::{Fault, FaultKind, builtin};
use seep_tests::{code, run, run_as_typed};
use serde_json::Value;
use std::path::Path;

/// Monday, 5 October 2026, 05:00 UTC.
const START_UNIX_S: i64 = 1_791_176_400;
const FIRST_DAY: i64 = 5;

const PLACE: &str = "rear_left";

/// Fourteen days, invented; the corner leaks within these hours only.
fn log(folder: &Path, leaks_h: [f64; 2]) -> String {
    let mut car = builtin("healthy-road-trip").expect("comes with the project");
    car.start_unix_s = START_UNIX_S;
    let trip = car.stages.clone();
    while car.seconds() < 14.0 * 86_400.0 {
        car.stages.extend(trip.iter().cloned());
    }
    car.faults = vec![Fault {
        spans_h: vec![leaks_h],
        ..Fault::leak(FaultKind::CornerLeak, PLACE, 8.0)
    }];
    generate(&car).write(folder).expect("written");
    let at = |file: &str| folder.join(file).display().to_string();
    let (rig, bus, wire, log) = (at(RIG), at(BUS), at(BOX), at("trip.db"));
    let done = run(
        SEEPD,
        &["replay", "--rig", &rig, "--log", &log, &bus, &wire],
    );
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    log
}

fn told(log: &str, format: &[&str]) -> String {
    let args = [&["leaks", "--log", log, "--zone", "UTC"], format].concat();
    String::from_utf8_lossy(&run_as_typed(SEEP, &args).stdout).into_owned()
}

/// The one finding about the corner, and the short answer.
fn found(log: &str) -> (Value, String) {
    let json: Value = serde_json::from_str(&told(log, &["--format", "json"])).expect("JSON");
    let findings = json["findings"].as_array().expect("findings");
    let [one] = findings.as_slice() else {
        panic!("not one finding: {findings:#?}");
    };
    assert_eq!(one["place"], PLACE);
    let words = told(log, &[]).replace(['\u{a0}', '\n'], " ");
    (one.clone(), words)
}

/// The middle of the log: the days on which a park borders on it.
const HALF_H: f64 = 7.0 * 24.0;

#[test]
fn what_was_repaired_is_told_as_over_and_what_began_as_a_leak() {
    let folder = tempfile::tempdir().expect("scratch");
    let made = |name: &str, leaks_h| {
        let own = folder.path().join(name);
        std::fs::create_dir_all(&own).expect("made");
        log(&own, leaks_h)
    };
    let (ended, words) = found(&made("ended", [0.0, HALF_H]));
    assert_eq!(ended["kind"], "leak_ended");
    assert_eq!(ended["severity"], "watch");
    assert!(
        words.starts_with("WATCH: The rear left corner lost air until"),
        "{words}"
    );
    assert!(words.contains("holds since"), "{words}");
    let day = FIRST_DAY + 7;
    assert!(
        (day - 1..=day + 1).any(|d| words.contains(&format!("{d} October 2026"))),
        "{words}"
    );
    let (began, words) = found(&made("began", [HALF_H, 1e6]));
    assert_eq!(began["kind"], "corner_leak");
    assert!(words.contains("loses air since"), "{words}");
    assert!(words.contains("held before"), "{words}");
}

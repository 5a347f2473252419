//! `seep verify`: sound, damaged, salvaged, with the real programs.

use super::{SEEP, replayed};
use seep_tests::{code, run};
use serde_json::Value;

fn verify(log: &str, more: &[&str]) -> (i32, Value) {
    let mut args = vec!["verify", "--log", log, "--format", "json", "--zone", "UTC"];
    args.extend(more);
    let done = run(SEEP, &args);
    let report = serde_json::from_slice(&done.stdout).unwrap_or(Value::Null);
    (code(&done), report)
}

#[test]
fn a_sound_log_is_fine() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let (code, report) = verify(&log, &[]);
    assert_eq!(code, 0);
    assert_eq!(report["verdict"]["severity"], "fine", "{report}");
}

/// A worn card: noise where pages of ticks were. The answer of the trip
/// outlives it, and the damaged file is never touched.
#[test]
fn a_damaged_log_is_said_to_be_and_what_is_left_still_answers() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let mut bytes = std::fs::read(&log).expect("there");
    for byte in &mut bytes[60 * 4096..63 * 4096] {
        *byte = byte.wrapping_mul(181).wrapping_add(71);
    }
    std::fs::write(&log, &bytes).expect("written");
    let (code_before, report) = verify(&log, &[]);
    assert_eq!(code_before, 65);
    assert_eq!(report["verdict"]["severity"], "act");
    let new = folder.path().join("saved.db").display().to_string();
    assert_eq!(verify(&log, &["--salvage", &new]).0, 0);
    assert_eq!(
        verify(&log, &["--salvage", &new]).0,
        73,
        "never written over"
    );
    let (code_after, report) = verify(&new, &[]);
    assert_eq!(
        (code_after, &report["verdict"]["severity"]),
        (0, &"fine".into())
    );
    let causes = report["health"]["gaps"].as_array().expect("gaps");
    assert!(
        causes
            .iter()
            .any(|g| g["cause"] == "not readable: damaged file")
    );
    let done = run(
        SEEP,
        &["trip", "--log", &new, "--format", "json", "--zone", "UTC"],
    );
    let trip: Value = serde_json::from_slice(&done.stdout).expect("JSON");
    assert_eq!(trip["findings"][0]["kind"], "corner_leak");
    assert_eq!(std::fs::read(&log).expect("there"), bytes, "untouched");
}

#[test]
fn what_is_no_log_is_refused() {
    let folder = tempfile::tempdir().expect("scratch");
    let text = folder.path().join("notes.txt");
    std::fs::write(&text, "not a database, only words ".repeat(100)).expect("written");
    assert_eq!(verify(&text.display().to_string(), &[]).0, 65);
    assert_eq!(verify("/none/such.db", &[]).0, 66);
}

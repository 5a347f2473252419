//! `--against`: two spans of one log beside each other.

use super::{SEEP, replayed};
use seep_tests::{code, run};
use serde_json::Value;

fn compared(log: &str, more: &[&str]) -> Value {
    let args = [
        &["trip", "--log", log, "--zone", "UTC", "--format", "json"][..],
        more,
    ]
    .concat();
    let done = run(SEEP, &args);
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    serde_json::from_slice(&done.stdout).expect("JSON")
}

/// Rows of the comparison: what, difference low and high, beyond chance.
fn rows(report: &Value) -> Vec<(String, f64, f64, String)> {
    let section = &report["sections"][0];
    assert_eq!(section["id"], "against");
    let tables = section["tables"].as_array().expect("tables");
    tables
        .iter()
        .flat_map(|t| t["rows"].as_array().cloned().unwrap_or_default())
        .map(|r| {
            let end = |key: &str| r[3][key].as_f64().expect("an interval");
            let word = |i: usize| r[i]["text"].as_str().expect("text").to_string();
            (word(0), end("low"), end("high"), word(4))
        })
        .collect()
}

/// The line of the front right corner kinks during the log: its two paths are
/// worse in the second half, and nothing else is.
#[test]
fn what_changed_is_named_with_its_interval_and_nothing_else() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("kinked-line", folder.path());
    let report = compared(&log, &["--last", "day", "--against", "before"]);
    let changed: Vec<_> = rows(&report).into_iter().filter(|r| r.3 != "no").collect();
    let names: Vec<&str> = changed.iter().map(|r| r.0.as_str()).collect();
    assert_eq!(
        names,
        ["front right dump", "front right fill"],
        "{changed:?}"
    );
    assert!(
        changed.iter().all(|r| r.3 == "yes, worse" && r.2 < -20.0),
        "{changed:?}"
    );
    let said = report["verdict"]["sentence"].as_str().expect("words");
    assert!(
        said.contains("Against the other span the conductance of front right"),
        "{said}"
    );
}

/// A steady leak is no change, however large.
#[test]
fn a_steady_leak_has_not_changed() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let report = compared(&log, &["--last", "day", "--against", "before"]);
    let rows = rows(&report);
    assert!(
        rows.len() >= 5 && rows.iter().all(|r| r.3 == "no"),
        "{rows:?}"
    );
}

#[test]
fn the_same_span_twice_is_no_difference_and_nonsense_is_told() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let report = compared(&log, &["--against", "2026-10-01..2026-11-01"]);
    assert!(
        rows(&report)
            .iter()
            .all(|r| r.1 <= 0.0 && r.2 >= 0.0 && r.3 == "no")
    );
    for words in ["yesterday", "2026-13-45..", "session 77", "week before"] {
        let done = run(SEEP, &["trip", "--log", &log, "--against", words]);
        assert_eq!(code(&done), 2, "{words}");
    }
}

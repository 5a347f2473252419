//! Lists by time begin with the newest row, in every report.

use super::{SEEP, replayed};
use seep_tests::{code, run};
use serde_json::Value;

/// Tables with a row for each moment, and the column of the moment.
const BY_TIME: [(&str, usize); 9] = [
    ("parked", 1),
    ("rests", 1),
    ("rests-pressure", 1),
    ("rest-figures", 1),
    ("move-list", 0),
    ("sessions", 1),
    ("transfers", 0),
    ("ledger-days", 0),
    ("notices", 0),
];

/// The wall time of a cell as written, which sorts as text within one zone.
fn time_of(cell: &Value) -> Option<String> {
    cell["at"].as_str().map(String::from)
}

#[test]
fn lists_begin_with_the_newest_row() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let mut seen = Vec::new();
    for command in [
        "leaks", "moves", "sessions", "volumes", "verify", "duty", "trip",
    ] {
        let args = [command, "--log", &log, "--zone", "UTC", "--format", "json"];
        let done = run(SEEP, &args);
        assert_eq!(code(&done), 0);
        let report: Value = serde_json::from_slice(&done.stdout).expect("JSON");
        let sections = report["sections"].as_array().expect("sections");
        let tables = sections
            .iter()
            .flat_map(|s| s["tables"].as_array().expect("tables"));
        for table in tables {
            let id = table["id"].as_str().expect("id");
            let Some((_, column)) = BY_TIME.iter().find(|b| b.0 == id) else {
                continue;
            };
            let rows = table["rows"].as_array().expect("rows");
            let times: Vec<String> = rows.iter().filter_map(|r| time_of(&r[*column])).collect();
            assert_eq!(
                times.len(),
                rows.len(),
                "{command} {id}: {:?}",
                rows.first()
            );
            assert!(
                times.is_sorted_by(|a, b| a >= b),
                "{command} {id}: {times:?}"
            );
            if times.len() > 1 {
                seen.push(id.to_string());
            }
        }
    }
    for id in ["parked", "rests", "move-list", "sessions", "ledger-days"] {
        assert!(seen.iter().any(|s| s == id), "{id} was compared: {seen:?}");
    }
}

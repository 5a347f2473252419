//! Cells of a log with counts that no sensor gives: every command judges or
//! refuses them, none panics.

use super::{SEEP, replayed};
use seep_tests::scratch::scratch;
use seep_tests::{code, run};

/// Values for cells, in SQL; `{}` is the cell.
const VALUES: [&str; 9] = [
    "100000000",
    "-100000000",
    "1000000000000000",
    "9223372036854775807",
    "(-9223372036854775807 - 1)",
    "{} * 100000",
    "t_ms * 1000",
    "-{}",
    "0",
];

/// Which rows, in SQL: all, some between sound ones, whole stretches, one row.
const ROWS: [&str; 4] = [
    "1",
    "(t_ms / 1000) % 5 = 3",
    "(t_ms / 60000) % 2 = 0",
    "t_ms = (SELECT max(t_ms) FROM tick)",
];

#[test]
fn cells_beyond_any_sensor_are_judged_without_a_panic() {
    let folder = scratch();
    let sound = replayed("kinked-line", folder.path());
    let log = folder.path().join("wild.db");
    let path = log.to_str().expect("UTF-8");
    let mut wrong = Vec::new();
    let mut edits = 0;
    for rows in ROWS {
        for value in VALUES {
            std::fs::copy(&sound, &log).expect("copied");
            let db = rusqlite::Connection::open(&log).expect("opens");
            let columns: Vec<String> = db
                .prepare("SELECT name FROM pragma_table_info('tick') WHERE name <> 't_ms'")
                .and_then(|mut s| s.query_map([], |row| row.get(0))?.collect())
                .expect("columns");
            let set: Vec<String> = (columns.iter())
                .map(|c| format!("\"{c}\" = {}", value.replace("{}", &format!("\"{c}\""))))
                .collect();
            let statement = format!("UPDATE tick SET {} WHERE {rows}", set.join(", "));
            assert!(db.execute(&statement, []).expect("edited") > 0);
            drop(db);
            // Both judge everything; each takes half of the edits.
            let command = ["trip", "diagnose"][edits % 2];
            edits += 1;
            let done = run(SEEP, &[command, "--log", path, "--format", "html"]);
            let said = String::from_utf8_lossy(&done.stderr);
            if ![0, 1, 65].contains(&code(&done)) || said.contains("panicked") {
                wrong.push(format!("{command}: {statement}: {said}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

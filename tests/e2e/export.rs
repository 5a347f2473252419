//! `seep export`: the rows that other programs read. The Parquet data set is
//! read by two engines that are not ours.

use super::{SEEP, replayed};
use seep_common::time::LogMs;
use seep_tests::{code, python_with, run};
use std::path::Path;
use std::process::Command;

fn export(log: &str, more: &[&str]) -> std::process::Output {
    let mut args = vec!["export", "--log", log, "--zone", "UTC"];
    args.extend(more);
    run(SEEP, &args)
}

fn text(done: &std::process::Output) -> String {
    assert_eq!(code(done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    String::from_utf8(done.stdout.clone()).expect("text")
}

/// Every tick of the log, every channel, values to the channel's resolution.
#[test]
fn csv_and_json_lines_hold_every_tick() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let reader = seep_common::store::Reader::open(Path::new(&log)).expect("opens");
    let stored = reader
        .columns(&["tank_kpa_gauge"], LogMs::MIN, LogMs::MAX)
        .expect("reads");
    let csv = text(&export(&log, &[]));
    assert_eq!(csv.lines().count(), stored.len() + 1);
    let head: Vec<&str> = csv.lines().next().expect("head").split(',').collect();
    let tank = head
        .iter()
        .position(|h| *h == "tank_kpa_gauge")
        .expect("tank");
    for (line, value) in csv.lines().skip(1).zip(&stored.values[0]) {
        let cell = line.split(',').nth(tank).expect("cell");
        match cell.parse::<f32>() {
            Ok(read) => assert!((read - value).abs() < 1e-3, "{read} {value}"),
            Err(_) => assert!(cell.is_empty() && value.is_nan(), "{line}"),
        }
    }
    let json = text(&export(&log, &["--format", "json"]));
    assert_eq!(json.lines().count(), stored.len());
    let first: serde_json::Value =
        serde_json::from_str(json.lines().next().expect("a line")).expect("JSON");
    assert_eq!(first["utc"], "2026-10-16T15:20:00.001Z");
}

#[test]
fn the_small_tables_come_out_too() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    for (table, word) in [
        ("events", "fill"),
        ("gaps", "power off"),
        ("sessions", "log ended"),
        ("counters", "readings"),
    ] {
        let csv = text(&export(&log, &["--table", table]));
        assert!(csv.lines().count() > 2 && csv.contains(word), "{table}");
    }
}

#[test]
fn wrong_use_is_told_and_nothing_is_written_over() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("kinked-line", folder.path());
    let there = folder.path().join("rows");
    let out = there.display().to_string();
    assert_eq!(code(&export(&log, &["--format", "parquet"])), 2);
    assert_eq!(
        code(&export(
            &log,
            &["--format", "csv", "--by-day", "--out", &out]
        )),
        2
    );
    assert_eq!(code(&export(&log, &["--format", "candump"])), 2);
    assert_eq!(code(&export(&log, &["--out", &log])), 73);
    let by_day = ["--format", "parquet", "--by-day", "--out", out.as_str()];
    assert_eq!(code(&export(&log, &by_day)), 0);
    assert_eq!(code(&export(&log, &by_day)), 73, "the days are there");
    let again = [&by_day[..], &["--replace"]].concat();
    assert_eq!(code(&export(&log, &again)), 0);
    let left: Vec<_> = std::fs::read_dir(&there).expect("there").collect();
    assert_eq!(left.len(), 1, "only vehicle=…: {left:?}");
}

/// Counts, sums and days of the data set as DuckDB and the Python polars see
/// them, against the log itself.
#[test]
fn other_engines_read_the_data_set_as_it_is() {
    let Some(python) = python_with("duckdb, polars") else {
        eprintln!(
            "SKIPPED LOUDLY: other_engines_read_the_data_set_as_it_is: no python3 with duckdb and \
             polars; `tests/run` installs them, or set SEEP_TEST_PYTHON"
        );
        return;
    };
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let rows = folder.path().join("rows").display().to_string();
    let by_day = ["--format", "parquet", "--by-day", "--out", rows.as_str()];
    assert_eq!(code(&export(&log, &by_day)), 0);
    let one = folder.path().join("one.parquet").display().to_string();
    assert_eq!(
        code(&export(&log, &["--format", "parquet", "--out", &one])),
        0
    );
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("e2e/read_rows.py");
    let done = Command::new(python)
        .arg(script)
        .args([&rows, &one, &log])
        .output()
        .expect("python runs");
    assert!(
        done.status.success(),
        "{}{}",
        String::from_utf8_lossy(&done.stdout),
        String::from_utf8_lossy(&done.stderr)
    );
}

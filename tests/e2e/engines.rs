//! The worked queries of `tests/peers/queries` on the Parquet data set of two
//! cars, by three engines that are not ours, against what was put into the logs.

use super::SEEP;
use seep_tests::{code, python_with, run};
use serde_json::Value;
use std::path::Path;
use std::process::Command;

const PEER_LOGS: &str = env!("CARGO_BIN_EXE_peer-logs");

/// The invented cars: loss of 6 and 1 kPa an hour of 478.5 kPa, and compressors that lose
/// nothing and 2 % a day.
const CARS: [(&str, f64, f64); 2] = [
    ("Grey van (invented)", 6.0, 0.0),
    ("Blue coupe (invented)", 1.0, 2.0),
];
const PARKED_KPA_ABS: f64 = 478.5;

#[test]
fn the_worked_queries_rank_cars_alike_in_all_engines() {
    let Some(python) = python_with("duckdb, datafusion, pyarrow, polars") else {
        eprintln!(
            "SKIPPED LOUDLY: the_worked_queries_rank_cars_alike_in_all_engines: no \
             python3 with duckdb, datafusion, polars and pyarrow; `tests/run` installs them, or set \
             SEEP_TEST_PYTHON"
        );
        return;
    };
    let folder = tempfile::tempdir().expect("scratch");
    let rows = folder.path().join("rows").display().to_string();
    for (name, leak, worn) in CARS {
        let log = folder
            .path()
            .join(format!("{leak}.db"))
            .display()
            .to_string();
        let (leak, worn) = (leak.to_string(), worn.to_string());
        let args = [
            "--days", "2", "--name", name, "--leak", &leak, "--worn", &worn, "--out", &log,
        ];
        assert_eq!(code(&run(PEER_LOGS, &args)), 0);
        let args = [
            "export", "--log", &log, "--format", "parquet", "--by-day", "--out", &rows,
        ];
        assert_eq!(code(&run(SEEP, &args)), 0);
    }
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("peers/ask_engines.py");
    let done = Command::new(python)
        .arg(script)
        .arg(&rows)
        .output()
        .expect("python runs");
    let said = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{said}");
    let told: Value = serde_json::from_slice(&done.stdout).expect("JSON");
    let ranking = told["leak_ranking"].as_array().expect("rows");
    assert_eq!(ranking.len(), 8, "four corners of two cars");
    for (row, (name, kpa_per_h, _)) in ranking.iter().zip(CARS) {
        assert_eq!((&row[0], &row[1]), (&name.into(), &"front_left".into()));
        let expected = 100.0 * kpa_per_h / PARKED_KPA_ABS;
        let found = row[2].as_f64().expect("a number");
        assert!((found - expected).abs() < 0.1, "{found} for {expected} %/h");
    }
    let duty = told["duty_by_week"].as_array().expect("rows");
    assert_eq!(duty.len(), 2, "one week of two cars");
    assert!(duty.iter().all(|row| {
        let percent = row[2].as_f64().expect("a number");
        (2.0..12.0).contains(&percent)
    }));
    let supply = told["drift_of_supply"].as_array().expect("rows");
    let per_week: Vec<f64> = supply.iter().filter_map(|row| row[2].as_f64()).collect();
    // By name: the worn one first. Wear comes in steps of a day, drives twice a day.
    assert!((-17.0..-11.0).contains(&per_week[0]), "{per_week:?}");
    assert!(per_week[1].abs() < 1.5, "{per_week:?}");
}

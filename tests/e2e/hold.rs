//! `seep hold` on a table of a bench, by the ordinary replay.
//!
//! The tables of two tests are recordings made by others, CC0-1.0
//! (github EvaZillen/3D-printed-pneumatic-actuator, 6e0bcb46), which stay outside the
//! project: the tests are skipped loudly where `SEEP_REAL_RECORDINGS` or the folder
//! beside the project does not hold them. The others are invented.

use super::{SEEP, SEEPD};
use seep_tests::{code, run};
use serde_json::Value;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

const RIG: &str = r#"
[vehicle]
name = "Bench (invented)"

[tank]
volume_l = 10.0

[[source]]
name = "bench"
kind = "csv"
time_column = "t"
silence_s = 30.0

[[channel]]
name = "tank_kpa_gauge"
source = "bench"
column = "bar"
unit = "bar"
period_s = 0.1
"#;

struct Bench {
    folder: tempfile::TempDir,
    log: String,
}

impl Bench {
    /// Rows of seconds and bar gauge, replayed.
    fn new(rows: impl Iterator<Item = (f64, f64)>) -> Self {
        let folder = tempfile::tempdir().expect("scratch");
        let at = |name: &str| folder.path().join(name).display().to_string();
        let mut table = String::from("t,bar\n");
        for (t, bar) in rows {
            writeln!(table, "{:.3},{bar:.4}", 1_786_700_000.0 + t).expect("a row");
        }
        let (rig, csv, log) = (at("rig.toml"), at("bench.csv"), at("bench.db"));
        std::fs::write(&rig, RIG).expect("written");
        std::fs::write(&csv, table).expect("written");
        let done = run(SEEPD, &["replay", "--rig", &rig, "--log", &log, &csv]);
        assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
        Bench { folder, log }
    }

    fn print(&self, format: &str, more: &[&str]) -> String {
        let mut args = vec![
            "hold", "--log", &self.log, "--format", format, "--zone", "UTC",
        ];
        args.extend(more);
        let done = run(SEEP, &args);
        assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
        String::from_utf8(done.stdout).expect("UTF-8")
    }

    fn report(&self, more: &[&str]) -> Value {
        serde_json::from_str(&self.print("json", more)).expect("JSON")
    }
}

/// The cell of the only row of a table under a heading.
fn cell<'a>(report: &'a Value, table: &str, column: &str) -> &'a Value {
    let tables = report["sections"][0]["tables"].as_array().expect("tables");
    let table = tables.iter().find(|t| t["id"] == table).expect("the table");
    let columns = table["columns"].as_array().expect("columns");
    let i = columns
        .iter()
        .position(|c| c["name"] == column)
        .expect("the column");
    &table["rows"][0][i]
}

/// A leak of 1e-4 of the air per second, 48 cm³/min ANR of 10 L at 800 kPa (p·V·k), and
/// none; noise of a tenth of a kPa.
fn invented(per_s: f64) -> Bench {
    Bench::new((0..3000).map(|i| {
        let t = 0.1 * f64::from(i);
        let noise = 0.1 * (f64::from(i) * 12.9898).sin();
        let kpa = 801.325 * (-per_s * t).exp() + noise;
        (t, (kpa - 101.325) / 100.0)
    }))
}

#[test]
fn a_leak_of_five_minutes_is_named_with_its_size() {
    let bench = invented(1e-4);
    let report = bench.report(&["--settled", "60"]);
    let loss = cell(&report, "hold", "loss");
    let (low, high) = (
        loss["low"].as_f64().expect("low"),
        loss["high"].as_f64().expect("high"),
    );
    // 288.15 K where no temperature is recorded.
    let truth = 1e-4 * 10.0 * 8.01325 * (-0.015_f64).exp() * 293.15 / 288.15 * 60_000.0 / 1000.0;
    let truth = truth * 1000.0;
    assert!(
        low < truth && truth < high && high < 2.0 * low,
        "{low} {truth} {high}"
    );
    assert_eq!(report["findings"][0]["kind"], "tank_leak");
    assert_eq!(cell(&report, "hold", "verdict")["text"], "leak");
    let text = bench.print("text", &["--settled", "60", "--unit", "psi"]);
    assert!(
        text.contains("Tank loses") && text.contains("psi/h"),
        "{text}"
    );
    let page = bench.print("html", &["--settled", "60"]);
    assert!(page.contains("<table") && page.contains("smallest leak shown"));
    // Just filled, for all the log knows: settling could do as much.
    let fresh = bench.report(&[]);
    let limit = |r: &Value| {
        cell(r, "hold", "smallest leak shown")["value"]
            .as_f64()
            .expect("a limit")
    };
    assert!(
        limit(&fresh) > 3.0 * limit(&report),
        "{} {}",
        limit(&fresh),
        limit(&report)
    );
}

#[test]
fn a_tight_tank_is_never_fine_only_below_the_limit() {
    let bench = invented(0.0);
    let report = bench.report(&["--settled", "60"]);
    assert_eq!(
        report["findings"].as_array().map(Vec::len),
        Some(0),
        "{report}"
    );
    assert_eq!(report["verdict"]["severity"], "unknown");
    let limit = cell(&report, "hold", "smallest leak shown")["value"]
        .as_f64()
        .expect("a limit");
    let below = cell(&report, "hold", "loss");
    assert_eq!(below["kind"], "upper_bound");
    assert!(
        below["value"].as_f64().expect("a bound") >= 0.9 * limit,
        "{below} {limit}"
    );
}

#[test]
fn what_cannot_be_held_is_told() {
    let bench = invented(0.0);
    let ask = |more: &[&str]| {
        let mut args = vec!["hold", "--log", &bench.log];
        args.extend(more);
        let done = run(SEEP, &args);
        (
            code(&done),
            String::from_utf8_lossy(&done.stderr).into_owned(),
        )
    };
    let (status, why) = ask(&["--place", "front_left"]);
    assert!(status == 2 && why.contains("there is tank"), "{why}");
    let (status, why) = ask(&["--settled", "-3"]);
    assert!(status == 2 && why.contains("--settled"), "{why}");
    let long = Bench::new((0..500).map(|i| (10.0 * f64::from(i), 7.0)));
    let done = run(SEEP, &["hold", "--log", &long.log]);
    assert_eq!(code(&done), 2);
    assert!(String::from_utf8_lossy(&done.stderr).contains("seep leaks"));
    drop(long.folder);
}

fn recorded(name: &str) -> Option<Vec<(f64, f64)>> {
    let folder = std::env::var_os("SEEP_REAL_RECORDINGS").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared/reference/real"),
        PathBuf::from,
    );
    let Ok(text) = std::fs::read_to_string(folder.join(name)) else {
        eprintln!(
            "SKIPPED: {name} is not there; `seep hold` was not run on recordings made by others \
             (set SEEP_REAL_RECORDINGS to their folder)"
        );
        return None;
    };
    let row = |row: &str| {
        let cells: Vec<&str> = row.split(';').collect();
        let us: f64 = cells[0].replace('.', "").parse().expect("µs");
        (us * 1e-6, cells[2].parse().expect("bar"))
    };
    Some(text.lines().map(row).collect())
}

/// Through the recorder and back: SciPy 1.17.1 gives 2.34e-5 /s from 60 s on.
#[test]
fn the_settling_reference_is_no_leak_and_its_slope_is_scipys() {
    let Some(rows) = recorded("hold_aluminium_reference.csv") else {
        return;
    };
    let bench = Bench::new(rows.into_iter().filter(|r| r.0 >= 60.0));
    let report = bench.report(&[]);
    assert_eq!(cell(&report, "hold", "verdict")["text"], "no leak seen");
    let fall = cell(&report, "hold-evidence", "fall as it stands");
    let kpa_abs = cell(&report, "hold-evidence", "pressure")["value"]
        .as_f64()
        .expect("kPa");
    let scipy = 2.34e-5 * kpa_abs * 3600.0;
    let (low, high) = (
        fall["low"].as_f64().expect("low"),
        fall["high"].as_f64().expect("high"),
    );
    assert!(low < scipy && scipy < high, "{low} {scipy} {high}");
}

#[test]
fn the_recorded_blow_down_is_followed() {
    let Some(rows) = recorded("hold_blowdown.csv") else {
        return;
    };
    let bench = Bench::new(rows.into_iter());
    let report = bench.report(&[]);
    let of = |column: &str| cell(&report, "hold-emptying", column);
    assert!(
        of("way out")["text"]
            .as_str()
            .expect("words")
            .contains("gap"),
        "{report}"
    );
    for side in ["residual above", "residual below"] {
        // Of 767 kPa.
        assert!(
            of(side)["value"].as_f64().expect("a residual") < 2.0,
            "{report}"
        );
    }
    assert_eq!(report["findings"][0]["severity"], "act");
}

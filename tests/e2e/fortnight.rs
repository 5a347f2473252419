//! A report on two weeks: small enough for a phone, and no extreme is lost.

use super::{SEEP, SEEPD};
use seep_sample_logs::files::{BOX, BUS, RIG};
use seep_sample_logs::generate;
use seep_sample_logs::scenario::builtin;
use seep_tests::{code, run};
use serde_json::Value;
use std::path::Path;

/// Largest page that opens well on a phone, bytes.
const MOST_BYTES: usize = 2_000_000;

/// One reading that stands alone among a quarter of a million, kPa.
const SPIKE_KPA: f64 = 1_393.5;

/// Seven times the sample trip of two days, all of it invented.
fn fortnight(folder: &Path) -> String {
    let mut car = builtin("healthy-road-trip").expect("comes with the project");
    let trip = car.stages.clone();
    while car.seconds() < 14.0 * 86_400.0 {
        car.stages.extend(trip.iter().cloned());
    }
    generate(&car).write(folder).expect("written");
    let at = |file: &str| folder.join(file).display().to_string();
    let (rig, bus, wire, log) = (at(RIG), at(BUS), at(BOX), at("trip.db"));
    let args = ["replay", "--rig", &rig, "--log", &log, &bus, &wire];
    let done = run(SEEPD, &args);
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    log
}

/// Put the spike into a row in the middle of the log.
fn spike(log: &str) {
    let db = rusqlite::Connection::open(log).expect("opens");
    let step: f64 = db
        .query_row(
            "SELECT resolution FROM channel WHERE name = 'tank_kpa_gauge'",
            [],
            |row| row.get(0),
        )
        .expect("a channel");
    let changed = db
        .execute(
            "UPDATE tick SET tank_kpa_gauge = ?1 WHERE t_ms = (SELECT t_ms FROM tick \
             WHERE tank_kpa_gauge NOT NULL ORDER BY t_ms \
             LIMIT 1 OFFSET (SELECT count(*) / 2 FROM tick))",
            [(SPIKE_KPA / step).round() as i64],
        )
        .expect("changed");
    assert_eq!(changed, 1);
}

fn page(log: &str, command: &str) -> String {
    let args = [
        command, "--log", log, "--zone", "UTC", "--format", "html", "--unit", "kpa",
    ];
    let done = run(SEEP, &args);
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    String::from_utf8_lossy(&done.stdout).into_owned()
}

/// Highest value of a trace in the data behind the zoom, and how many it has.
fn zoomed(page: &str, name: &str) -> (f64, usize) {
    let start = page.find("application/json\">").expect("data") + 18;
    let end = start + page[start..].find("</script>").expect("closed");
    let data: Value = serde_json::from_str(&page[start..end]).expect("JSON");
    let panel = &data["panels"][0];
    let decimals = panel["decimals"].as_i64().expect("a number") as i32;
    let traces = panel["traces"].as_array().expect("traces");
    let trace = traces.iter().find(|t| t["name"] == name).expect("there");
    let values: Vec<f64> = trace["v"]
        .as_array()
        .expect("values")
        .iter()
        .filter_map(Value::as_f64)
        .collect();
    let highest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    (highest / 10_f64.powi(decimals), values.len())
}

#[test]
fn two_weeks_fit_two_megabytes_and_keep_a_lone_extreme() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = fortnight(folder.path());
    spike(&log);
    let mut sizes = Vec::new();
    for command in ["trip", "diagnose", "moves", "leaks", "duty", "verify"] {
        let page = page(&log, command);
        sizes.push((command, page.len()));
        assert!(page.len() < MOST_BYTES, "{command}: {} bytes", page.len());
        if ["trip", "diagnose"].contains(&command) {
            let (highest, points) = zoomed(&page, "tank");
            assert!(
                (highest - SPIKE_KPA).abs() < 0.5,
                "{command}: {highest} kPa"
            );
            assert!(points < 20_000, "{command}: thinned, {points} points");
            // The table behind the plot has it too: its highest reading of that span.
            let printed = format!("{:.0}", SPIKE_KPA.floor());
            assert!(page.contains(&printed), "{command}: {printed} in the table");
        }
    }
    println!("bytes: {sizes:?}");
}

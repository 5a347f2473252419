//! A simulated car, recorded and reported by the real programs.

use super::super::{SEEP, SEEPD};
use seep_sample_logs::files::{BOX, BUS, RIG};
use seep_sample_logs::generate;
use seep_sample_logs::scenario::Scenario;
use seep_sample_logs::truth::Truth;
use seep_tests::{code, run, sample};
use serde_json::Value;
use std::path::Path;

/// A car with its log and its answer sheet.
pub(super) struct Car {
    pub(super) name: String,
    pub(super) truth: Truth,
    log: String,
    /// Keeps the folder.
    _folder: tempfile::TempDir,
}

impl Car {
    /// Record a scenario; from the logs in the tree where they are kept.
    pub(super) fn of(scenario: &Scenario) -> Car {
        let folder = tempfile::tempdir().expect("scratch");
        let kept = sample(&scenario.name);
        let answers = kept.join("truth.json");
        let of_the_tree = std::fs::read_to_string(&answers)
            .ok()
            .and_then(|text| serde_json::from_str::<Truth>(&text).ok())
            .filter(|truth| truth.seed == scenario.seed);
        let (from, truth) = match of_the_tree {
            Some(truth) => (kept, truth),
            None => {
                let logs = generate(scenario);
                logs.write(folder.path()).expect("written");
                (folder.path().to_path_buf(), logs.truth)
            }
        };
        Car {
            name: format!("{} of seed {}", scenario.name, scenario.seed),
            log: replay(&from, &folder.path().join("trip.db")),
            truth,
            _folder: folder,
        }
    }

    /// A report of the car as JSON.
    pub(super) fn report(&self, command: &str) -> Value {
        let args = [
            command, "--log", &self.log, "--format", "json", "--zone", "UTC",
        ];
        let done = run(SEEP, &args);
        assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
        serde_json::from_slice(&done.stdout).expect("JSON")
    }

    /// Hours of the whole log.
    pub(super) fn hours(&self) -> f64 {
        hours(self.truth.start_ms, self.truth.end_ms)
    }
}

pub(super) fn hours(from_ms: i64, to_ms: i64) -> f64 {
    (to_ms - from_ms) as f64 / 3.6e6
}

fn replay(from: &Path, log: &Path) -> String {
    let at = |file: &str| from.join(file).display().to_string();
    let log = log.display().to_string();
    let (rig, bus, wire) = (at(RIG), at(BUS), at(BOX));
    let done = run(
        SEEPD,
        &["replay", "--rig", &rig, "--log", &log, &bus, &wire],
    );
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    log
}

/// Rows of a table of a report, by its id.
pub(super) fn rows<'a>(report: &'a Value, id: &str) -> &'a [Value] {
    let sections = report["sections"].as_array().expect("sections");
    sections
        .iter()
        .flat_map(|s| s["tables"].as_array().into_iter().flatten())
        .find(|t| t["id"] == id)
        .and_then(|t| t["rows"].as_array())
        .unwrap_or_else(|| panic!("no table {id}"))
}

/// A number with its interval, open ends infinite.
#[derive(Debug, Clone, Copy)]
pub(super) struct Told {
    pub(super) value: f64,
    pub(super) low: f64,
    pub(super) high: f64,
    /// *Below* so much.
    pub(super) is_bound: bool,
}

impl Told {
    pub(super) fn of(cell: &Value) -> Option<Told> {
        Some(Told {
            value: cell["value"].as_f64()?,
            low: cell["low"].as_f64().unwrap_or(f64::NEG_INFINITY),
            high: cell["high"].as_f64().unwrap_or(f64::INFINITY),
            is_bound: cell["kind"] == "upper_bound",
        })
    }

    pub(super) fn holds(&self, truth: f64) -> bool {
        self.low <= truth && truth <= self.high
    }
}

//! Invented cars written as a table, row by row, and replayed by the recorder.

use super::super::{SEEP, SEEPD};
use seep_tests::lift_bench::{Bench, Recorded};
use seep_tests::{code, run};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Channels by name, each with its cell per time in ms; what is not given is silent.
pub(super) struct Rows {
    channels: Vec<&'static str>,
    cells: BTreeMap<i64, Vec<Option<f64>>>,
}

impl Rows {
    pub(super) fn new(channels: &[&'static str]) -> Self {
        Rows {
            channels: channels.to_vec(),
            cells: BTreeMap::new(),
        }
    }

    pub(super) fn put(&mut self, t_s: f64, channel: &str, value: f64) {
        let column = self.channels.iter().position(|c| *c == channel);
        let row = self
            .cells
            .entry((1000.0 * t_s).round() as i64)
            .or_insert_with(|| vec![None; self.channels.len()]);
        row[column.unwrap_or_else(|| panic!("no channel {channel}"))] = Some(value);
    }

    fn table(&self) -> String {
        let mut out = format!("t,{}\n", self.channels.join(","));
        for (t_ms, cells) in &self.cells {
            write!(out, "{:.3}", 1_786_700_000.0 + *t_ms as f64 / 1000.0).expect("a cell");
            for cell in cells {
                match cell {
                    Some(value) => write!(out, ",{value:.4}").expect("a cell"),
                    None => out.push(','),
                }
            }
            out.push('\n');
        }
        out
    }

    fn rig(&self, vehicle: &str) -> String {
        let mut out = format!(
            "[vehicle]\nname = \"Bench (invented)\"\n{vehicle}\n[[source]]\nname = \"bench\"\n\
             kind = \"csv\"\ntime_column = \"t\"\nsilence_s = 600.0\n"
        );
        for name in &self.channels {
            write!(
                out,
                "[[channel]]\nname = \"{name}\"\nsource = \"bench\"\ncolumn = \"{name}\"\nperiod_s = 2.0\n"
            )
            .expect("a channel");
        }
        out
    }

    /// Record them with the ordinary replay; `vehicle` is the rest of the rig.
    pub(super) fn recorded(&self, vehicle: &str) -> Log {
        Log::recorded(&self.rig(vehicle), &self.table())
    }
}

/// A car of the lift bench with wires and heights at 50 Hz, moved without pulses, two hours
/// between one turn of moves and the next.
pub(super) fn drives(seed: u64) -> Bench {
    let recorded = Recorded {
        wired: true,
        heights: true,
        raster_s: 0.02,
    };
    Bench {
        longest_s: 10.0,
        moves: 12,
        apart_s: 7_200.0,
        ..Bench::drawn(seed, recorded)
    }
}

/// A recorded log, and what seep says of it.
pub(super) struct Log {
    pub(super) folder: tempfile::TempDir,
    pub(super) log: String,
}

impl Log {
    /// Record a table with the ordinary replay.
    pub(super) fn recorded(rig_text: &str, table: &str) -> Log {
        let folder = tempfile::tempdir().expect("scratch");
        let at = |name: &str| folder.path().join(name).display().to_string();
        let (rig, csv, log) = (at("rig.toml"), at("bench.csv"), at("bench.db"));
        std::fs::write(&rig, rig_text).expect("written");
        std::fs::write(&csv, table).expect("written");
        let done = run(SEEPD, &["replay", "--rig", &rig, "--log", &log, &csv]);
        assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
        Log { folder, log }
    }

    pub(super) fn report(&self, command: &str, more: &[&str]) -> Value {
        let mut args = vec![
            command, "--log", &self.log, "--format", "json", "--zone", "UTC",
        ];
        args.extend(more);
        let done = run(SEEP, &args);
        assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
        serde_json::from_slice(&done.stdout).expect("JSON")
    }

    /// The report of a plan.
    pub(super) fn proof(&self, plan: &str) -> Value {
        let path = self.folder.path().join("plan.toml");
        std::fs::write(&path, plan).expect("written");
        self.report("proof", &["--plan", &path.display().to_string()])
    }
}

/// Rows of a table by its id.
pub(super) fn rows<'a>(report: &'a Value, id: &str) -> &'a [Value] {
    let sections = report["sections"].as_array().expect("sections");
    let tables = sections
        .iter()
        .flat_map(|s| s["tables"].as_array().expect("tables"));
    let table = tables.into_iter().find(|t| t["id"] == id);
    let table = table.unwrap_or_else(|| panic!("no table {id}"));
    table["rows"].as_array().expect("rows")
}

/// Second cell of the row whose first cell begins with these words.
pub(super) fn value<'a>(rows: &'a [Value], begins: &str) -> &'a Value {
    let own = |r: &&Value| {
        r[0]["text"]
            .as_str()
            .is_some_and(|text| text.starts_with(begins))
    };
    let row = rows.iter().find(own);
    &row.unwrap_or_else(|| panic!("no row {begins} in {rows:?}"))[1]
}

/// True when a finding of this kind is told.
pub(super) fn finds(report: &Value, kind: &str) -> bool {
    let findings = report["findings"].as_array().expect("findings");
    findings.iter().any(|f| f["kind"] == kind)
}

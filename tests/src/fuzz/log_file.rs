//! Logs that a hostile hand has edited, opened by every command of `seep`: loaded,
//! judged, rendered, exported, salvaged.
//!
//! Four bytes are one edit of a small sound log: what, which table, which column,
//! which value. The edits are done by SQLite, so that the file is well formed and
//! the hostility reaches past its checks; some flip raw bytes afterwards.

use super::{Target, with_folder};
use crate::scratch::{listing, scratch};
use crate::{replay_in_process, sample};
use rusqlite::Connection;
use seep_report::commands::export::{self, RowForm};
use seep_report::commands::{diagnose, duty, leaks, moves, proof, sessions, trip, verify};
use seep_report::export::{ExportTable, ForPeople};
use seep_report::proof::LimitPlan;
use seep_report::recording::{Recording, SpanRequest};
use seep_report::render::{Format, RenderOptions, render};
use std::path::Path;
use std::sync::OnceLock;

pub(super) const TARGET: Target = Target {
    name: "log",
    run,
    words: &[],
    rounds: 60,
};

/// Edits of one input; more only take longer.
const MOST_EDITS: usize = 24;

const TABLES: [&str; 10] = [
    "session", "clock", "channel", "tick", "event", "gap", "counter", "rig", "notice", "note",
];

/// Values that fit no column, or only just.
const VALUES: [&str; 24] = [
    "NULL",
    "0",
    "-1",
    "1",
    "9223372036854775807",
    "-9223372036854775808",
    "1e308",
    "-1e308",
    "9e999",
    "100000000",
    "'text'",
    "''",
    "x'00ff'",
    "1099511627776",
    "253402300800000",
    "-62135596800001",
    "4102444800000",
    "printf('%.*c', 100000, 'x')",
    "'[vehicle]' || char(10) || 'name = \"x\"'",
    "'power off'",
    "'\"; DROP TABLE tick; --'",
    "'tank_kpa_gauge'",
    "'as recorded'",
    "char(27) || '[2J'",
];

fn run(data: &[u8]) {
    with_folder(|folder| {
        let log = folder.join("in.db");
        std::fs::write(&log, sound()).expect("written");
        let flips = edit(&log, data);
        let mut bytes = std::fs::read(&log).expect("there");
        for (at, value) in flips {
            let i = 100 + at % (bytes.len() - 100);
            bytes[i] = value;
        }
        std::fs::write(&log, &bytes).expect("written");
        let out = folder.join("out");
        std::fs::create_dir(&out).expect("made");
        read_by_every_command(&log, &out);
        std::fs::remove_dir_all(&out).expect("removed");
        let left = listing(folder);
        assert!(left["in.db"] == bytes, "the log was changed");
        assert_eq!(left.len(), 1, "{:?}", left.keys());
    });
}

/// A small sound log.
fn sound() -> &'static [u8] {
    static SOUND: OnceLock<Vec<u8>> = OnceLock::new();
    SOUND.get_or_init(|| {
        let folder = scratch();
        let log = folder.path().join("sound.db");
        let mut inputs = Vec::new();
        for (file, bytes) in [("bus.candump.log", 20_000), ("box.nmea.log", 200_000)] {
            let whole = std::fs::read(sample("kinked-line").join(file)).expect("checked in");
            let input = folder.path().join(file);
            std::fs::write(&input, &whole[..bytes]).expect("written");
            inputs.push(input);
        }
        let inputs: Vec<&Path> = inputs.iter().map(std::path::PathBuf::as_path).collect();
        let rig = sample("kinked-line").join("rig.toml");
        let (code, said) = replay_in_process(&rig, &log, &inputs);
        assert_eq!(code, 0, "{said}");
        std::fs::read(&log).expect("made")
    })
}

/// Carry the edits out as far as SQLite allows; returns bytes to be flipped.
fn edit(log: &Path, data: &[u8]) -> Vec<(usize, u8)> {
    let connection = Connection::open(log).expect("opens");
    let _ = connection.execute_batch("PRAGMA foreign_keys = OFF; PRAGMA synchronous = OFF;");
    let mut flips = Vec::new();
    for edit in data.chunks_exact(4).take(MOST_EDITS) {
        let (table, value) = (
            TABLES[usize::from(edit[1]) % TABLES.len()],
            VALUES[usize::from(edit[3]) % VALUES.len()],
        );
        let columns = columns(&connection, table);
        let Some(column) = columns.get(usize::from(edit[2]) % columns.len().max(1)) else {
            continue;
        };
        let statement = match edit[0] % 12 {
            0..=2 => format!("UPDATE {table} SET \"{column}\" = {value}"),
            3 => format!(
                "UPDATE {table} SET \"{column}\" = {value} WHERE rowid = (SELECT max(rowid) FROM {table})"
            ),
            4 => format!(
                "UPDATE {table} SET \"{column}\" = {value} WHERE rowid = (SELECT min(rowid) FROM {table})"
            ),
            5 => format!("UPDATE {table} SET \"{column}\" = {value} WHERE rowid % 5 = 3"),
            6 => format!("UPDATE {table} SET \"{column}\" = -\"{column}\""),
            7 => format!("DELETE FROM {table} WHERE rowid % 2 = {}", edit[3] % 3),
            8 => format!("ALTER TABLE {table} DROP COLUMN \"{column}\""),
            9 => format!("DROP TABLE {table}"),
            10 => format!(
                "ALTER TABLE {table} RENAME TO aside; CREATE VIEW {table} AS WITH RECURSIVE
                 n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT i AS \"{column}\" FROM n"
            ),
            _ => {
                let at = edit[1..].iter().fold(0, |n, b| n * 256 + usize::from(*b));
                flips.push((at * 7, edit[3]));
                continue;
            }
        };
        // What SQLite refuses is no edit.
        let _ = connection.execute_batch(&statement);
    }
    flips
}

fn columns(connection: &Connection, table: &str) -> Vec<String> {
    connection
        .prepare("SELECT name FROM pragma_table_info(?1)")
        .and_then(|mut s| s.query_map([table], |row| row.get(0))?.collect())
        .unwrap_or_default()
}

/// The report library on a log, from opening it to the last page and table.
fn read_by_every_command(log: &Path, out: &Path) {
    let request = SpanRequest {
        zone: Some("UTC".into()),
        ..SpanRequest::default()
    };
    let mut reports = Vec::new();
    match Recording::open(log, &request) {
        Ok(recording) => {
            for make in [
                sessions::report,
                leaks::report,
                duty::report,
                moves::report,
                trip::report,
                diagnose::report,
            ] {
                reports.extend(make(&recording));
            }
            let (plan, text) = plan();
            reports.extend(proof::report(&recording, plan, text));
            exported(&recording, out);
        }
        Err(error) => assert!(!error.to_string().is_empty()),
    }
    let saved = out.join("saved.db");
    reports.extend(verify::report(log, &request, Some(&saved)).map(|v| v.report));
    for report in &reports {
        for format in [Format::Text, Format::Html, Format::Json, Format::Csv] {
            let text = render(report, format, &RenderOptions::default());
            assert!(!text.is_empty());
        }
    }
}

/// An invented plan of limits.
fn plan() -> (&'static LimitPlan, &'static str) {
    static PLAN: OnceLock<LimitPlan> = OnceLock::new();
    let text = include_str!("../../../sample-logs/plans/autumn-show.toml");
    let parse = || LimitPlan::parse(text, Path::new("plan.toml")).expect("checked in");
    (PLAN.get_or_init(parse), text)
}

/// Readings in every form, the small tables in one.
const EXPORTS: [(ExportTable, RowForm); 7] = [
    (ExportTable::Readings, RowForm::Csv),
    (ExportTable::Readings, RowForm::JsonLines),
    (ExportTable::Readings, RowForm::Parquet),
    (ExportTable::Events, RowForm::Csv),
    (ExportTable::Gaps, RowForm::Csv),
    (ExportTable::Sessions, RowForm::JsonLines),
    (ExportTable::Counters, RowForm::Csv),
];

fn exported(recording: &Recording, out: &Path) {
    for (n, (table, form)) in EXPORTS.into_iter().enumerate() {
        let to = out.join(n.to_string());
        let target = export::OutFile {
            out: Some(&to),
            replace: true,
        };
        if let Err(error) = export::run(recording, table, form, &target, &ForPeople::default()) {
            assert!(!error.to_string().is_empty());
        }
    }
}

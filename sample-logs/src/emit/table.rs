//! The box as a logger that writes a table: one column per transducer.

use super::short_names;
use crate::scenario::Scenario;
use seep_common::codec::nmea::XdrReading;
use std::fmt::Write as _;

/// Columns of the table, in order.
#[derive(Debug)]
pub(super) struct Table {
    columns: Vec<String>,
}

impl Table {
    pub(super) fn new(scenario: &Scenario) -> Self {
        let watch = &scenario.watch;
        let places: Vec<&str> = scenario.circuits.iter().map(|c| c.name.as_str()).collect();
        let compressors: Vec<&str> = scenario
            .compressors
            .iter()
            .map(|c| c.name.as_str())
            .collect();
        let mut columns = vec!["TKP".to_string()];
        for s in short_names(&places) {
            for letter in ["P", "H", "F", "D", "T"] {
                columns.push(format!("{s}{letter}"));
            }
        }
        columns.extend(short_names(&compressors));
        columns.extend(["AMB", "TKT", "VOLT"].map(String::from));
        let kept = |column: &String| {
            let of_circuit = |letter| column.len() > 1 && column.ends_with(letter);
            let bag = watch.temperatures && watch.bag_temperatures;
            match column.as_str() {
                "VOLT" => true,
                "AMB" => watch.temperatures,
                "TKT" => watch.temperatures && watch.tank_temperature,
                _ => {
                    (watch.heights || !of_circuit('H'))
                        && (bag || !of_circuit('T'))
                        && (watch.switches || !(of_circuit('F') || of_circuit('D')))
                }
            }
        };
        columns.retain(kept);
        Table { columns }
    }

    /// The heading line.
    pub(super) fn heading(&self) -> String {
        format!("unix_ms,{}\n", self.columns.join(","))
    }

    /// One row: what was read; other cells stay empty.
    pub(super) fn append(&self, out: &mut Vec<u8>, unix_ms: i64, readings: &[XdrReading<'_>]) {
        if readings.is_empty() {
            return;
        }
        let mut row = unix_ms.to_string();
        for column in &self.columns {
            row.push(',');
            let found = readings.iter().find(|r| r.name == column);
            if let Some((value, r)) = found.and_then(|r| Some((r.value?, r))) {
                let _ = write!(row, "{value:.0$}", r.decimals);
            }
        }
        row.push('\n');
        out.extend_from_slice(row.as_bytes());
    }
}

//! What a report prints of a lift bench.

use serde_json::Value;

/// A conductance as printed, L/(s·bar).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Printed {
    /// With its interval: value, low, high.
    Interval(f64, f64, f64),
    /// At least this.
    AtLeast(f64),
    /// Nothing.
    Missing,
}

/// Rows of a table of a report by its id; empty without that table.
#[must_use]
pub fn rows<'a>(report: &'a Value, id: &str) -> &'a [Value] {
    let sections = report["sections"].as_array().map_or(&[][..], Vec::as_slice);
    sections
        .iter()
        .flat_map(|s| s["tables"].as_array().map_or(&[][..], Vec::as_slice))
        .find(|t| t["id"] == id)
        .and_then(|t| t["rows"].as_array())
        .map_or(&[][..], Vec::as_slice)
}

/// Conductance of each path by `place direction`, as `seep moves` prints it.
#[must_use]
pub fn conductances(moves: &Value) -> Vec<(String, Printed)> {
    let named = |row: &Value| {
        let words = row[0]["text"].as_str().unwrap_or("");
        let (place, direction) = words.rsplit_once(' ').unwrap_or((words, ""));
        format!("{} {direction}", place.replace(' ', "_"))
    };
    rows(moves, "paths")
        .iter()
        .map(|row| (named(row), printed(&row[2])))
        .collect()
}

fn printed(cell: &Value) -> Printed {
    let number = |key: &str| cell[key].as_f64();
    match (number("value"), number("low"), number("high")) {
        (Some(value), Some(low), Some(high)) => Printed::Interval(value, low, high),
        (Some(value), _, None) if cell["kind"] == "lower_bound" => Printed::AtLeast(value),
        _ => Printed::Missing,
    }
}

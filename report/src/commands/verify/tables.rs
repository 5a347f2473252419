//! The tables of `seep verify`.

use super::super::head;
use crate::model::{Cell, Column, Measured, Table, Unit};
use crate::recording::ClockRow;
use crate::recording::Recording;
use seep_common::store::{Inspection, Salvaged};

/// Rows per table of the file.
pub(super) fn rows(seen: &Inspection) -> Table {
    let columns = vec![Column::text("what"), Column::mixed("rows")];
    let mut table = Table::new("rows", "What the file holds", columns);
    for (name, counted) in &seen.rows {
        table.push(vec![
            Cell::text(meaning(name)),
            match counted {
                Ok(n) => Cell::count(*n),
                Err(_) => Cell::missing("cannot be read to the end"),
            },
        ]);
    }
    let bytes = Measured::exact(seen.file_bytes as f64, Unit::Bytes);
    table.push(vec![Cell::text("size"), Cell::Number(bytes)]);
    table
}

fn meaning(table: &str) -> &str {
    match table {
        "rig" => "rigs recorded with",
        "session" => "sessions",
        "clock" => "clock records",
        "channel" => "channels",
        "tick" => "ticks",
        "event" => "valve and compressor changes",
        "gap" => "gaps with their cause",
        "notice" => "notices of the recorder",
        "note" => "notes and readings by hand",
        "counter" => "counts of lost and bad items",
        other => other,
    }
}

/// SQLite's complaints, word for word.
pub(super) fn damage(seen: &Inspection) -> Table {
    let mut table = Table::new(
        "damage",
        "What SQLite's integrity check says",
        vec![Column::text("complaint")],
    );
    for line in &seen.damage {
        table.push(vec![Cell::text(line)]);
    }
    table
}

/// What was copied of each table.
pub(super) fn saved(saved: &Salvaged) -> Table {
    let columns = vec![
        Column::text("what"),
        Column::mixed("rows copied"),
        Column::mixed("stretches lost"),
    ];
    let mut table = Table::new("saved", "Rows copied, table by table", columns);
    for (name, copied, lost) in &saved.tables {
        table.push(vec![
            Cell::text(meaning(name)),
            Cell::count(*copied),
            Cell::count(*lost as u64),
        ]);
    }
    if saved.sessions_added > 0 {
        table.push(vec![
            Cell::text("sessions made up for ticks without one"),
            Cell::count(saved.sessions_added),
            Cell::count(0),
        ]);
    }
    table
}

/// Where log time was tied to wall time.
pub(super) fn clock(recording: &Recording) -> Table {
    let columns = vec![
        Column::text("valid from"),
        Column::text("state"),
        Column::mixed("change of date"),
        Column::mixed("learnt after"),
    ];
    let caption =
        "Clock records: each ties the log's own time to the date; later ones correct earlier ones";
    let mut table = Table::new("clock", caption, columns);
    let mut before: Option<ClockRow> = None;
    for row in &recording.clock_rows {
        let change = before.map_or_else(
            || Cell::missing("the first record"),
            |b| Cell::duration((row.offset_ms - b.offset_ms) as f64 / 1000.0),
        );
        table.push(vec![
            head::wall_cell(recording, row.from_t_ms),
            Cell::text(row.state.word()),
            change,
            Cell::duration((row.noted_t_ms - row.from_t_ms) as f64 / 1000.0),
        ]);
        before = Some(*row);
    }
    table
}

/// Gaps by cause; nothing without a gap.
pub(super) fn causes(recording: &Recording) -> Option<Table> {
    let columns = vec![
        Column::text("cause"),
        Column::text("of"),
        Column::mixed("gaps"),
        Column::mixed("together"),
        Column::mixed("longest"),
    ];
    let mut table = Table::new("causes", "Gaps by cause", columns);
    let mut kinds: Vec<(&str, &str)> = recording
        .gaps
        .iter()
        .map(|g| (g.cause.as_str(), g.what.as_deref().unwrap_or("all")))
        .collect();
    kinds.sort_unstable();
    kinds.dedup();
    for (cause, what) in kinds {
        let lengths: Vec<f64> = recording
            .gaps
            .iter()
            .filter(|g| g.cause == cause && g.what.as_deref().unwrap_or("all") == what)
            .map(|g| (g.to_t_ms - g.from_t_ms) as f64 / 1000.0)
            .collect();
        table.push(vec![
            Cell::text(cause),
            Cell::text(what),
            Cell::count(lengths.len() as u64),
            Cell::duration(lengths.iter().sum()),
            Cell::duration(lengths.iter().copied().fold(0.0, f64::max)),
        ]);
    }
    (!table.rows.is_empty()).then_some(table)
}

/// Silences that no gap record explains.
pub(super) fn holes(recording: &Recording, seen: &Inspection) -> Table {
    let columns = vec![
        Column::text("from"),
        Column::text("to"),
        Column::mixed("length"),
    ];
    let mut table = Table::new("holes", "Silence without a noted cause", columns);
    for &(from, to) in seen.unexplained_holes.iter().rev() {
        table.push(vec![
            head::wall_cell(recording, from),
            head::wall_cell(recording, to),
            Cell::duration((to - from) as f64 / 1000.0),
        ]);
    }
    table
}

/// Notices shown at most.
const MOST_NOTICES: usize = 200;

/// What the recorder noted; nothing without a notice.
pub(super) fn notices(recording: &Recording) -> Option<Table> {
    let columns = vec![
        Column::text("when"),
        Column::text("source"),
        Column::text("what"),
    ];
    let caption = match recording.notices.len().saturating_sub(MOST_NOTICES) {
        0 => "What the recorder noted".to_string(),
        more => format!("What the recorder noted; {more} earlier notices are not shown"),
    };
    let mut table = Table::new("notices", &caption, columns);
    let skip = recording.notices.len().saturating_sub(MOST_NOTICES);
    for notice in recording.notices.iter().skip(skip).rev() {
        table.push(vec![
            head::wall_cell(recording, notice.t_ms),
            Cell::text(notice.source.as_deref().unwrap_or("recorder")),
            Cell::text(&notice.text),
        ]);
    }
    (!table.rows.is_empty()).then_some(table)
}

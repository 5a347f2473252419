//! `seep sessions`: what was recorded.

use super::head;
use crate::model::{Align, Cell, Column, Report, Section, Severity, Table, Verdict};
use crate::plain_units::PlainUnits;
use crate::recording::{Recording, RecordingError};

/// The report.
///
/// # Errors
/// The log's errors.
pub fn report(recording: &Recording, _: PlainUnits) -> Result<Report, RecordingError> {
    let count = recording.sessions.len();
    let sentence = format!(
        "{count} session{} with {} channels {} recorded.",
        if count == 1 { "" } else { "s" },
        recording.channels.len(),
        if count == 1 { "is" } else { "are" },
    );
    let verdict = Verdict::new(Severity::Fine, 1.0, &sentence);
    let mut report = head::report(recording, "sessions", "What was recorded", verdict, None);
    let mut section = Section::new("sessions", "Sessions");
    section.tables.push(sessions(recording));
    report.sections.push(section);
    let mut section = Section::new("channels", "Channels");
    section.tables.push(channels(recording));
    report.sections.push(section);
    Ok(report)
}

fn sessions(recording: &Recording) -> Table {
    let mut table = Table::new(
        "sessions",
        "Continuous stretches of recording, in the order recorded",
        vec![
            Column::mixed("number"),
            Column::text("from"),
            Column::mixed("length"),
            Column::text("ended by"),
            Column::text("recorded from"),
        ],
    );
    for s in &recording.sessions {
        let from = head::wall_cell(recording, s.start.t_ms);
        table.push(vec![
            Cell::count(u64::try_from(s.id.0).unwrap_or(0)),
            from,
            Cell::duration((s.end_t_ms - s.start.t_ms) as f64 / 1000.0),
            Cell::text(
                s.end_reason
                    .map_or("still running, or power lost", |r| r.word()),
            ),
            Cell::text(&s.start.origin),
        ]);
    }
    table
}

fn channels(recording: &Recording) -> Table {
    let mut table = Table::new(
        "channels",
        "What each column of the log means",
        vec![
            Column::text("channel"),
            Column::text("unit"),
            Column {
                name: "step".into(),
                unit: None,
                align: Align::Right,
            },
            Column::text("source"),
            Column::text("from"),
        ],
    );
    for c in &recording.channels {
        table.push(vec![
            Cell::text(&c.name),
            Cell::text(&c.unit),
            Cell::text(&format!("{}", c.resolution)),
            Cell::text(&c.source),
            Cell::text(&c.decode),
        ]);
    }
    table
}

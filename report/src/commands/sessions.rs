//! `seep sessions`: what was recorded.

use super::{brief, head};
use crate::model::{
    Cell, Column, Measured, Report, Section, Severity, Table, Unit, Verdict, WallTime,
};
use crate::recording::{Recording, RecordingError};
use seep_common::channel::{ChannelName, Quantity};
use seep_common::store::{HandReading, Note, StoredChannel};

/// The report.
///
/// # Errors
/// The log's errors.
pub fn report(recording: &Recording) -> Result<Report, RecordingError> {
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
    let table = sessions(recording);
    report.brief = Some(brief::columns(
        &table,
        &[0, 1, 2, 3],
        "Continuous stretches of recording, the newest first",
    ));
    section.tables.push(table);
    report.sections.push(section);
    let notes = recording.notes()?;
    if !notes.is_empty() {
        let mut section = Section::new("notes", "Notes and readings by hand");
        section.tables.push(notes_table(recording, &notes));
        report.sections.push(section);
    }
    let mut section = Section::new("channels", "Channels");
    section.tables.push(channels(recording));
    report.sections.push(section);
    Ok(report)
}

fn sessions(recording: &Recording) -> Table {
    let mut table = Table::new(
        "sessions",
        "Continuous stretches of recording, the newest first",
        vec![
            Column::mixed("number"),
            Column::text("from"),
            Column::mixed("length"),
            Column::text("ended by"),
            Column::text("recorded from"),
        ],
    );
    for s in recording.sessions.iter().rev() {
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

fn notes_table(recording: &Recording, notes: &[Note]) -> Table {
    let mut table = Table::new(
        "notes",
        "What `seepd note` entered, by the time it is about, the newest first",
        vec![
            Column::text("at"),
            Column::text("reading"),
            Column::mixed("value"),
            Column::text("words"),
        ],
    );
    for note in notes.iter().rev() {
        let at = WallTime::from_unix_ms(note.at_unix_ms.0, &recording.span.zone);
        let reading = note.reading.as_ref();
        table.push(vec![
            at.map_or_else(|| Cell::missing("no such time"), Cell::WallTime),
            reading.map_or_else(|| Cell::missing("words alone"), |r| Cell::text(&r.name)),
            reading.map_or_else(|| Cell::missing("words alone"), by_hand),
            Cell::text(&note.text),
        ]);
    }
    table
}

/// The value with its 95 % interval, in the unit of its name.
fn by_hand(reading: &HandReading) -> Cell {
    let half_width = 1.96 * reading.error;
    let quantity = ChannelName::parse(&reading.name).ok().map(|n| n.quantity);
    let unit = match quantity {
        Some(Quantity::GaugePressure) => Unit::KpaGauge,
        Some(Quantity::AbsolutePressure) => Unit::KpaAbs,
        Some(Quantity::Height) => Unit::Mm,
        Some(Quantity::Temperature) => Unit::Celsius,
        _ => return Cell::text(&format!("{} ± {half_width}", reading.value)),
    };
    Cell::Number(Measured::plus_minus(reading.value, half_width, unit))
}

fn channels(recording: &Recording) -> Table {
    let mut table = Table::new(
        "channels",
        "What each column of the log means",
        vec![
            Column::text("channel"),
            Column::mixed("step"),
            Column::text("source"),
            Column::text("from"),
        ],
    );
    for c in &recording.channels {
        table.push(vec![
            Cell::text(&c.name),
            step(c),
            Cell::text(&c.source),
            Cell::text(&c.decode),
        ]);
    }
    table
}

/// The smallest difference that is stored.
fn step(channel: &StoredChannel) -> Cell {
    let quantity = ChannelName::parse(&channel.name).ok().map(|n| n.quantity);
    let unit = match quantity {
        Some(Quantity::GaugePressure | Quantity::AbsolutePressure) => Unit::KpaDifference,
        Some(Quantity::Height) => Unit::Mm,
        Some(Quantity::Temperature) => Unit::KelvinDifference,
        Some(Quantity::Voltage) => Unit::Volt,
        Some(Quantity::Current) => Unit::Ampere,
        Some(Quantity::Speed) => Unit::KmPerHour,
        Some(Quantity::FillValve | Quantity::DumpValve | Quantity::Running) => {
            return Cell::text("on or off");
        }
        None => return Cell::text(&format!("{} {}", channel.resolution, channel.unit)),
    };
    Cell::Number(Measured::exact(channel.resolution, unit))
}

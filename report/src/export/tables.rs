//! Which rows there are to export.

use super::chunk::{Chunk, Data, decimals, recorded};
use crate::recording::Session;
use crate::recording::{Recording, RecordingError};

/// A table of the log.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExportTable {
    /// One row per tick, one column per channel.
    Readings,
    /// Valve and compressor changes.
    Events,
    /// Stretches without data.
    Gaps,
    /// Sessions.
    Sessions,
    /// Counts of lost and bad items.
    Counters,
}

/// Hand every chunk of a table to `take`, session by session.
///
/// # Errors
/// The log's errors, and those of `take`.
pub fn chunks<E: From<RecordingError>>(
    recording: &Recording,
    table: ExportTable,
    mut take: impl FnMut(&Chunk) -> Result<(), E>,
) -> Result<(), E> {
    match table {
        ExportTable::Readings => {
            for session in &recording.sessions {
                take(&readings(recording, session)?)?;
            }
            Ok(())
        }
        ExportTable::Events => take(&events(recording)),
        ExportTable::Gaps => take(&gaps(recording)),
        ExportTable::Sessions => take(&sessions(recording)),
        ExportTable::Counters => take(&counters(recording)),
    }
}

fn readings(recording: &Recording, session: &Session) -> Result<Chunk, RecordingError> {
    let frame = recording.frame_of_all(session)?;
    let t_ms = &frame.t_ms;
    let mut columns = vec![
        ("t_ms".to_string(), Data::Int(t_ms.to_vec())),
        ("utc".to_string(), wall(recording, t_ms.iter().copied())),
        (
            "session".to_string(),
            Data::Int(vec![session.id.0; t_ms.len()]),
        ),
    ];
    for name in recording.channel_names() {
        // A channel whose resolution was changed has two; show the finer one.
        let decimals = recording
            .channels
            .iter()
            .filter(|c| c.name == name)
            .map(|c| decimals(c.resolution))
            .max()
            .unwrap_or(9);
        let values = frame.column(&name).unwrap_or(&[]);
        let numbers = values.iter().map(|v| recorded(*v, decimals)).collect();
        columns.push((name, Data::Number(numbers, decimals)));
    }
    Ok(Chunk {
        session: session.id.0,
        columns,
    })
}

fn events(recording: &Recording) -> Chunk {
    let e = recording.events_in_span();
    table(vec![
        ("t_ms", Data::Int(e.iter().map(|e| e.t_ms).collect())),
        ("utc", wall(recording, e.iter().map(|e| e.t_ms))),
        ("kind", words(e.iter().map(|e| e.kind.word()))),
        ("place", words(e.iter().map(|e| e.place.as_str()))),
        ("on", Data::Flag(e.iter().map(|e| e.on).collect())),
        ("wired", Data::Flag(e.iter().map(|e| e.wired).collect())),
    ])
}

fn gaps(recording: &Recording) -> Chunk {
    let g = &recording.gaps;
    table(vec![
        (
            "from_t_ms",
            Data::Int(g.iter().map(|g| g.from_t_ms).collect()),
        ),
        ("to_t_ms", Data::Int(g.iter().map(|g| g.to_t_ms).collect())),
        ("from_utc", wall(recording, g.iter().map(|g| g.from_t_ms))),
        ("to_utc", wall(recording, g.iter().map(|g| g.to_t_ms))),
        ("cause", words(g.iter().map(|g| g.cause.as_str()))),
        (
            "what",
            Data::Text(g.iter().map(|g| g.what.clone()).collect()),
        ),
    ])
}

fn sessions(recording: &Recording) -> Chunk {
    let s = &recording.sessions;
    table(vec![
        ("session", Data::Int(s.iter().map(|s| s.id.0).collect())),
        (
            "from_t_ms",
            Data::Int(s.iter().map(|s| s.start.t_ms).collect()),
        ),
        ("to_t_ms", Data::Int(s.iter().map(|s| s.end_t_ms).collect())),
        ("from_utc", wall(recording, s.iter().map(|s| s.start.t_ms))),
        ("to_utc", wall(recording, s.iter().map(|s| s.end_t_ms))),
        (
            "ended_by",
            Data::Text(
                s.iter()
                    .map(|s| s.end_reason.map(|r| r.word().to_string()))
                    .collect(),
            ),
        ),
        (
            "recorded_from",
            words(s.iter().map(|s| s.start.origin.as_str())),
        ),
        ("program", words(s.iter().map(|s| s.start.program.as_str()))),
        ("rig_sha256", words(s.iter().map(|s| s.rig_sha256.as_str()))),
    ])
}

fn counters(recording: &Recording) -> Chunk {
    let c = &recording.counters;
    table(vec![
        ("name", words(c.iter().map(|c| c.name.as_str()))),
        ("source", words(c.iter().map(|c| c.source.as_str()))),
        ("count", Data::Int(c.iter().map(|c| c.count).collect())),
    ])
}

fn table(columns: Vec<(&str, Data)>) -> Chunk {
    Chunk {
        session: 0,
        columns: columns
            .into_iter()
            .map(|(n, d)| (n.to_string(), d))
            .collect(),
    }
}

fn words<'a>(all: impl Iterator<Item = &'a str>) -> Data {
    Data::Text(all.map(|w| Some(w.to_string())).collect())
}

fn wall(recording: &Recording, t_ms: impl Iterator<Item = i64>) -> Data {
    Data::Time(t_ms.map(|t| recording.clock.wall_ms(t)).collect())
}

/// `2026-08-14T20:00:00.000Z`; empty outside the years −9999 to 9999.
pub(super) fn utc(unix_ms: i64) -> String {
    jiff::Timestamp::from_millisecond(unix_ms)
        .map(|t| t.strftime("%Y-%m-%dT%H:%M:%S.%3fZ").to_string())
        .unwrap_or_default()
}

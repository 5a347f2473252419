//! What every report says of its log.

use crate::digest::Digest;
use crate::model::{
    Cell, Clock, ClockState, Counter, DataHealth, Finding, GapRow, MadeFrom, Measured, Report,
    SessionRow, Text, Unit, Verdict, WallTime,
};
use crate::recording::Recording;
use crate::text;
use seep_common::store::{ClockState as Stored, EndReason};

/// Gaps listed one by one; more are only counted.
const MOST_GAPS: usize = 30;

/// What was read of the ticks; `None` where a command does not read them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Read<'a> {
    pub session_ticks: &'a [u64],
    pub recorded_s: f64,
}

/// A judged report with its head and findings filled in.
pub(super) fn judged_report(
    recording: &Recording,
    digest: &Digest,
    command: &str,
    title: &str,
    verdict: Verdict,
    findings: Vec<Finding>,
) -> Report {
    let read = Read {
        session_ticks: &digest.session_ticks,
        recorded_s: digest.recorded_s,
    };
    let mut report = report(recording, command, title, verdict, Some(read));
    report.findings = findings;
    report
}

/// A report with its head filled in.
pub(super) fn report(
    recording: &Recording,
    command: &str,
    title: &str,
    verdict: Verdict,
    read: Option<Read>,
) -> Report {
    let health = recording.while_hashing(|| health(recording, read));
    let path = recording.path();
    let made_from = MadeFrom {
        log_file: path
            .file_name()
            .map(|n| n.to_string_lossy().into_owned())
            .unwrap_or_default()
            .into(),
        log_sha256: recording.log_sha256().into(),
        rig_hash: recording.rig_sha256.clone().into(),
        vehicle: recording.rig.vehicle.clone().into(),
        from: wall(recording, recording.span.from_t_ms),
        to: wall(recording, recording.span.to_t_ms - 1),
        zone: zone_name(recording).into(),
        coverage: health.coverage,
        clock: health.clock.state,
        invented: recording.rig.invented.then(|| "invented data".into()),
        places: places(recording),
    };
    Report::new(command, title, made_from, verdict, health)
}

/// Circuits in the rig's order, then the tank.
fn places(recording: &Recording) -> Vec<String> {
    let circuits = recording.rig.circuits.iter().map(|c| c.name.clone());
    circuits.chain(["tank".to_string()]).collect()
}

fn zone_name(recording: &Recording) -> String {
    recording
        .span
        .zone
        .iana_name()
        .unwrap_or("local time of the machine")
        .to_string()
}

/// What the unit of losses and deliveries means.
pub(super) fn reference_air() -> Text {
    text![
        "ANR: air counted at ",
        Measured::exact(20.0, Unit::Celsius),
        " and ",
        Measured::exact(100.0, Unit::KpaAbs),
        " (ISO 8778)."
    ]
}

/// What the words of the usual tables mean, for those who meet them first.
pub(super) fn words_of_tables() -> Text {
    text![
        reference_air(),
        " Conductance: how easily air passes a valve and its line (ISO 6358). Drift: its change per day. \
         Duty: the share of time a compressor runs."
    ]
}

/// Wall time of a log time in the report's zone.
pub(super) fn wall(recording: &Recording, t_ms: i64) -> Option<WallTime> {
    let unix_ms = recording.clock.wall_ms(t_ms)?;
    WallTime::from_unix_ms(unix_ms, &recording.span.zone)
}

/// The same as a cell of a table.
pub(super) fn wall_cell(recording: &Recording, t_ms: i64) -> Cell {
    wall(recording, t_ms).map_or_else(|| Cell::missing("no clock record"), Cell::WallTime)
}

fn health(recording: &Recording, read: Option<Read>) -> DataHealth {
    let span_s = (recording.span.to_t_ms - recording.span.from_t_ms) as f64 / 1000.0;
    let recorded_s = read.map_or_else(
        || {
            recording
                .sessions
                .iter()
                .map(|s| (s.end_t_ms - s.start.t_ms) as f64 / 1000.0)
                .sum()
        },
        |r| r.recorded_s,
    );
    let gaps: Vec<GapRow> = recording
        .gaps
        .iter()
        .filter_map(|g| {
            Some(GapRow {
                from: wall(recording, g.from_t_ms)?,
                to: wall(recording, g.to_t_ms)?,
                seconds: (g.to_t_ms - g.from_t_ms) as f64 / 1000.0,
                cause: g.cause.clone().into(),
                channel: g.what.clone(),
            })
        })
        .collect();
    DataHealth {
        coverage: DataHealth::coverage_of(recorded_s, span_s),
        span_s,
        recorded_s,
        gaps_left_off: gaps.len().saturating_sub(MOST_GAPS) as u64,
        gaps: gaps.into_iter().take(MOST_GAPS).collect(),
        counters: recording
            .counters
            .iter()
            .map(|c| Counter {
                name: c.name.clone(),
                place: c.source.clone(),
                count: u64::try_from(c.count).unwrap_or(0),
                meaning: None,
            })
            .collect(),
        clock: clock(recording),
        sessions: sessions(recording, read),
        notes: Vec::new(),
    }
}

fn clock(recording: &Recording) -> Clock {
    let span = &recording.span;
    let worst = recording
        .clock
        .worst_state(span.from_t_ms, span.to_t_ms)
        .unwrap_or(Stored::Unsynced);
    Clock {
        state: clock_state(worst),
        within_s: None,
        remark: match worst {
            Stored::AsRecorded => Some("Times are those of the replayed log.".into()),
            Stored::Unsynced => {
                Some("Dates may be wrong by any amount; lengths of time are right.".into())
            }
            Stored::Synced | Stored::Stepped => None,
        },
    }
}

fn clock_state(stored: Stored) -> ClockState {
    match stored {
        Stored::Synced => ClockState::Synced,
        Stored::AsRecorded => ClockState::AsRecorded,
        Stored::Unsynced => ClockState::Unsynced,
        Stored::Stepped => ClockState::Stepped,
    }
}

fn sessions(recording: &Recording, read: Option<Read>) -> Vec<SessionRow> {
    recording
        .sessions
        .iter()
        .enumerate()
        .filter_map(|(i, s)| {
            Some(SessionRow {
                number: u64::try_from(s.id.0).unwrap_or(0),
                from: wall(recording, s.start.t_ms)?,
                to: wall(recording, s.end_t_ms)?,
                ticks: read
                    .and_then(|r| r.session_ticks.get(i).copied())
                    .or_else(|| (!recording.is_brief()).then(|| recording.tick_count(s))),
                ended_by: s
                    .end_reason
                    .map_or("still running, or power lost", EndReason::word)
                    .to_string(),
                clock: clock_state(
                    recording
                        .clock
                        .state(s.start.t_ms)
                        .unwrap_or(Stored::Unsynced),
                ),
            })
        })
        .collect()
}

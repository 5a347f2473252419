//! The data's own health: what is missing, and why.

use serde::{Deserialize, Serialize};

use super::{Label, Text, WallTime};

/// State of the recorder's clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ClockState {
    /// Set from a trusted source throughout.
    Synced,
    /// Never set: wall times are a guess, durations are right.
    Unsynced,
    /// Set while recording: earlier wall times were corrected afterwards.
    Stepped,
    /// Taken from a replayed log as it stands there.
    AsRecorded,
}

impl ClockState {
    /// Word as printed.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            ClockState::Synced => "synced",
            ClockState::Unsynced => "not synced",
            ClockState::Stepped => "stepped",
            ClockState::AsRecorded => "as recorded",
        }
    }
}

/// The clock over the span.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Clock {
    /// Its state.
    pub state: ClockState,
    /// Largest uncertainty of a wall time in the span, s; none when unknown.
    pub within_s: Option<f64>,
    /// What happened to it, in a sentence; none when nothing did.
    pub remark: Option<Text>,
}

/// A stretch without data.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GapRow {
    /// Last moment with data.
    pub from: WallTime,
    /// First moment with data again.
    pub to: WallTime,
    /// Length, s, in log time.
    pub seconds: f64,
    /// Why: `power off`, `bus silent`, …
    pub cause: Label,
    /// The channel that was silent; none when all were.
    pub channel: Option<String>,
}

/// Something the recorder or the loader counted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counter {
    /// Stable name.
    pub name: String,
    /// Where: an interface, a tty, `writer`, …
    pub place: String,
    /// How many.
    pub count: u64,
    /// What it means for the answers; none when it is harmless.
    pub meaning: Option<String>,
}

/// One power-on of the recorder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SessionRow {
    /// Number in the log.
    pub number: u64,
    /// First tick.
    pub from: WallTime,
    /// Last tick.
    pub to: WallTime,
    /// Ticks recorded; `None` where the report is one that does not show them.
    pub ticks: Option<u64>,
    /// How it ended: `power cut`, `stopped`, `still running`, …
    pub ended_by: String,
    /// Its clock.
    pub clock: ClockState,
}

/// How far the data can be trusted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DataHealth {
    /// Share of the span that was recorded, 0 to 1.
    pub coverage: f64,
    /// Length of the span, s.
    pub span_s: f64,
    /// Recorded time in it, s.
    pub recorded_s: f64,
    /// Stretches without data, in order. When the list had to be cut,
    /// [`DataHealth::gaps_left_off`] says by how many.
    pub gaps: Vec<GapRow>,
    /// Gaps not listed.
    pub gaps_left_off: u64,
    /// What was counted.
    pub counters: Vec<Counter>,
    /// The clock.
    pub clock: Clock,
    /// The sessions in the span.
    pub sessions: Vec<SessionRow>,
    /// Further remarks.
    pub notes: Vec<Text>,
}

impl DataHealth {
    /// Recorded time as a share of a span, both in s: 0 to 1; 0 of no span.
    #[must_use]
    pub fn coverage_of(recorded_s: f64, span_s: f64) -> f64 {
        if span_s > 0.0 {
            (recorded_s / span_s).min(1.0)
        } else {
            0.0
        }
    }
}

impl Default for DataHealth {
    /// Nothing recorded, clock unknown.
    fn default() -> Self {
        DataHealth {
            coverage: 0.0,
            span_s: 0.0,
            recorded_s: 0.0,
            gaps: Vec::new(),
            gaps_left_off: 0,
            counters: Vec::new(),
            clock: Clock {
                state: ClockState::Unsynced,
                within_s: None,
                remark: None,
            },
            sessions: Vec::new(),
            notes: Vec::new(),
        }
    }
}

//! The rows of a log, as values.
//!
//! A row has the clock of its times as a parameter: [`BootMs`] while it waits for its
//! session, [`LogMs`] in the store, plain numbers (ms) behind a reader that lays
//! sessions on a scale of its own. `laid` goes from one to the other.

use crate::time::{BootMs, LogMs};

/// Identifies a session in one log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SessionId(pub i64);

/// How a session came to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SessionStart<T = LogMs> {
    /// Kernel boot id, or a name for a replay.
    pub boot_id: String,
    /// First log time of the session.
    pub t_ms: T,
    /// Version of the program that recorded it.
    pub program: String,
    /// `live`, or the name of the replayed file.
    pub origin: String,
    /// Boot time at `t_ms`; `None` for a replay.
    pub start_boot_ms: Option<BootMs>,
}

/// Why a session ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EndReason {
    /// The recorder was asked to stop.
    Stopped,
    /// The end of a replayed log, or a power-off seen in it.
    LogEnded,
    /// Power vanished: noted by the next start.
    PowerLost,
    /// Another program moved or deleted the log; recording went on in a new one.
    LogMoved,
}

/// How far the wall clock can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClockState {
    /// Synchronised to a time source.
    Synced,
    /// Not synchronised: dates may be wrong by any amount.
    Unsynced,
    /// Stepped while recording; this row holds from the step on.
    Stepped,
    /// Taken from a replayed log as it stands there.
    AsRecorded,
}

/// From `from_t_ms` on, wall time = log time + `offset_ms`.
///
/// Rows are only ever added. For a log time, the row noted last among those
/// that reach back to it holds, so a later sync re-dates a whole session.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClockRow<T = LogMs> {
    /// Log time when this was learnt.
    pub noted_t_ms: T,
    /// First log time it applies to.
    pub from_t_ms: T,
    /// Wall time minus log time, ms.
    pub offset_ms: i64,
    /// How far it can be trusted.
    pub state: ClockState,
}

/// What changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum EventKind {
    /// A fill valve.
    Fill,
    /// A dump valve.
    Dump,
    /// A compressor.
    Run,
}

/// A valve or compressor changed state.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event<T = LogMs> {
    /// Log time.
    pub t_ms: T,
    /// What changed.
    pub kind: EventKind,
    /// Circuit or compressor.
    pub place: String,
    /// Open or running after the change.
    pub on: bool,
    /// True when a wired channel says so, false when inferred from pressures.
    pub wired: bool,
}

/// A stretch in which something was not recorded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gap<T = LogMs> {
    /// First log time without data.
    pub from_t_ms: T,
    /// First log time with data again.
    pub to_t_ms: T,
    /// Why, in a word or two: `power off`, `source silent`, …
    pub cause: String,
    /// The channel or source concerned; `None` for all.
    pub what: Option<String>,
}

/// Something counted since the previous row of the same name and source.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Counter<T = LogMs> {
    /// Log time at the end of the counted stretch.
    pub t_ms: T,
    /// What was counted, in plain words.
    pub name: String,
    /// The source concerned.
    pub source: String,
    /// How many.
    pub count: i64,
}

/// Something worth knowing that is neither a reading nor a switch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice<T = LogMs> {
    /// Log time.
    pub t_ms: T,
    /// The source concerned; `None` for the recorder itself.
    pub source: Option<String>,
    /// What happened, in plain words.
    pub text: String,
}

/// Rows whose times are laid on another clock, all else as it is.
macro_rules! laid {
    ($( $row:ident: $($time:ident),+ => $($rest:ident),+; )+) => { $(
        impl<T> $row<T> {
            /// Returns the row with its times on another clock.
            #[must_use]
            pub fn laid<U>(self, on: impl Fn(T) -> U) -> $row<U> {
                $row { $($time: on(self.$time),)+ $($rest: self.$rest,)+ }
            }
        }
    )+ };
}

laid! {
    SessionStart: t_ms => boot_id, program, origin, start_boot_ms;
    Event: t_ms => kind, place, on, wired;
    Gap: from_t_ms, to_t_ms => cause, what;
    Counter: t_ms => name, source, count;
    Notice: t_ms => source, text;
}

impl Counter {
    /// True for a count of work done, false for one of trouble: something lost,
    /// bad or refused.
    ///
    /// ```
    /// use seep_common::store::Counter;
    /// assert!(Counter::is_work("readings"));
    /// assert!(!Counter::is_work("bad checksums"));
    /// ```
    #[must_use]
    pub fn is_work(name: &str) -> bool {
        matches!(
            name,
            "bytes"
                | "frames matched"
                | "frames seen"
                | "good sentences"
                | "log comments"
                | "log frames"
                | "log lines"
                | "other multiplex"
                | "readings"
                | "readings passed"
                | "sentences"
                | "table rows"
                | "xdr sentences"
        )
    }
}

/// Everything that goes into one transaction.
#[derive(Debug, Clone, PartialEq)]
pub struct Batch<T = LogMs> {
    /// Rows of readings, log time strictly rising.
    pub ticks: Vec<crate::tick::Tick<T>>,
    /// Valve and compressor changes.
    pub events: Vec<Event<T>>,
    /// Gaps that have ended.
    pub gaps: Vec<Gap<T>>,
    /// Counts.
    pub counters: Vec<Counter<T>>,
    /// Clock rows.
    pub clock: Vec<ClockRow>,
    /// Notices.
    pub notices: Vec<Notice<T>>,
}

impl<T> Default for Batch<T> {
    fn default() -> Self {
        Batch {
            ticks: Vec::new(),
            events: Vec::new(),
            gaps: Vec::new(),
            counters: Vec::new(),
            clock: Vec::new(),
            notices: Vec::new(),
        }
    }
}

impl<T> Batch<T> {
    /// Returns the batch with the times of its rows on another clock; its clock rows
    /// have log times from the start.
    #[must_use]
    pub fn laid<U>(self, on: impl Fn(T) -> U) -> Batch<U> {
        Batch {
            ticks: self.ticks.into_iter().map(|r| r.laid(&on)).collect(),
            events: self.events.into_iter().map(|r| r.laid(&on)).collect(),
            gaps: self.gaps.into_iter().map(|r| r.laid(&on)).collect(),
            counters: self.counters.into_iter().map(|r| r.laid(&on)).collect(),
            clock: self.clock,
            notices: self.notices.into_iter().map(|r| r.laid(&on)).collect(),
        }
    }

    /// True when there is nothing to store.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.ticks.is_empty()
            && self.events.is_empty()
            && self.gaps.is_empty()
            && self.counters.is_empty()
            && self.clock.is_empty()
            && self.notices.is_empty()
    }
}

/// A session as read back.
#[derive(Debug, Clone, PartialEq)]
pub struct Session<T = LogMs> {
    /// Its number in this log.
    pub id: SessionId,
    /// How it came to be.
    pub start: SessionStart<T>,
    /// Log time of its last tick or its recorded end.
    pub end_t_ms: T,
    /// Why it ended; `None` when that was never noted (power lost).
    pub end_reason: Option<EndReason>,
    /// SHA-256 of the rig it was recorded with, hex.
    pub rig_sha256: String,
    /// Kept whatever the retention says.
    pub protected: bool,
}

impl<T> Session<T> {
    /// Returns the session with its times on another clock.
    #[must_use]
    pub fn laid<U>(self, on: impl Fn(T) -> U) -> Session<U> {
        Session {
            id: self.id,
            end_t_ms: on(self.end_t_ms),
            start: self.start.laid(on),
            end_reason: self.end_reason,
            rig_sha256: self.rig_sha256,
            protected: self.protected,
        }
    }
}

/// A channel as read back; everything needed to interpret its column.
#[derive(Debug, Clone, PartialEq)]
pub struct StoredChannel {
    /// Name; two rows share it when the resolution was changed.
    pub name: String,
    /// Column of `tick`.
    pub column: String,
    /// Unit of one resolution step.
    pub unit: String,
    /// Value of one stored count, in the unit.
    pub resolution: f64,
    /// Plausible range.
    pub range: (f64, f64),
    /// Name of its source.
    pub source: String,
    /// Where in the source it comes from.
    pub decode: String,
}

macro_rules! words {
    ($kind:ty, $( $variant:path => $word:literal ),+ $(,)?) => {
        impl $kind {
            /// The word stored in the log.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self { $( $variant => $word ),+ }
            }

            /// From the stored word.
            #[must_use]
            pub fn from_word(word: &str) -> Option<Self> {
                match word { $( $word => Some($variant), )+ _ => None }
            }
        }
    };
}

words!(EndReason,
    EndReason::Stopped => "stopped",
    EndReason::LogEnded => "log ended",
    EndReason::PowerLost => "power lost",
    EndReason::LogMoved => "log moved",
);
words!(ClockState,
    ClockState::Synced => "synced",
    ClockState::Unsynced => "unsynced",
    ClockState::Stepped => "stepped",
    ClockState::AsRecorded => "as recorded",
);
words!(EventKind,
    EventKind::Fill => "fill",
    EventKind::Dump => "dump",
    EventKind::Run => "run",
);

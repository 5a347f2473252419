//! The rows of a log, as values.

/// Identifies a session in one log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SessionId(pub i64);

/// How a session came to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SessionStart {
    /// Kernel boot id, or a name for a replay.
    pub boot_id: String,
    /// First log time of the session, ms.
    pub t_ms: i64,
    /// Version of the program that recorded it.
    pub program: String,
    /// `live`, or the name of the replayed file.
    pub origin: String,
    /// `CLOCK_BOOTTIME` at `t_ms`, ms; `None` for a replay.
    pub start_boot_ms: Option<i64>,
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
pub struct ClockRow {
    /// Log time when this was learnt, ms.
    pub noted_t_ms: i64,
    /// First log time it applies to, ms.
    pub from_t_ms: i64,
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
pub struct Event {
    /// Log time, ms.
    pub t_ms: i64,
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
pub struct Gap {
    /// First log time without data, ms.
    pub from_t_ms: i64,
    /// First log time with data again, ms.
    pub to_t_ms: i64,
    /// Why, in a word or two: `power off`, `source silent`, …
    pub cause: String,
    /// The channel or source concerned; `None` for all.
    pub what: Option<String>,
}

/// Something counted since the previous row of the same name and source.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Counter {
    /// Log time at the end of the counted stretch, ms.
    pub t_ms: i64,
    /// What was counted, in plain words.
    pub name: String,
    /// The source concerned.
    pub source: String,
    /// How many.
    pub count: i64,
}

/// Something worth knowing that is neither a reading nor a switch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// Log time, ms.
    pub t_ms: i64,
    /// The source concerned; `None` for the recorder itself.
    pub source: Option<String>,
    /// What happened, in plain words.
    pub text: String,
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
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Batch {
    /// Rows of readings, log time strictly rising.
    pub ticks: Vec<crate::tick::Tick>,
    /// Valve and compressor changes.
    pub events: Vec<Event>,
    /// Gaps that have ended.
    pub gaps: Vec<Gap>,
    /// Counts.
    pub counters: Vec<Counter>,
    /// Clock rows.
    pub clock: Vec<ClockRow>,
    /// Notices.
    pub notices: Vec<Notice>,
}

impl Batch {
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
pub struct Session {
    /// Its number in this log.
    pub id: SessionId,
    /// How it came to be.
    pub start: SessionStart,
    /// Log time of its last tick or its recorded end, ms.
    pub end_t_ms: i64,
    /// Why it ended; `None` when that was never noted (power lost).
    pub end_reason: Option<EndReason>,
    /// SHA-256 of the rig it was recorded with, hex.
    pub rig_sha256: String,
    /// Kept whatever the retention says.
    pub protected: bool,
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

//! Which bits of an unknown bus carry what a gauge shows.
//!
//! A person notes a few readings of a gauge while the bus is recorded. Every
//! field of every identifier is a hypothesis: reading = scale · field + offset,
//! within the rounding of the note and the error of the person's clock. The
//! hypotheses are ranked by their evidence, and the best one is believed only
//! when it stands far enough above the next, above chance among so many fields,
//! and when it explains every reading.
//!
//! No I/O, no clock. Only the first eight bytes of a CAN FD frame are searched.

mod bus;
mod chance;
mod copies;
mod field;
mod fit;
mod follower;
mod search;
mod window;

pub use bus::{BusRecord, FrameGroup};
pub use field::Field;
pub use search::{Candidate, MatchResult, MatchVerdict, find_gauge};

/// One reading of a gauge, as a person noted it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GaugeReading {
    /// When, Unix ms.
    pub t_ms: i64,
    /// What the gauge showed, in its unit.
    pub value: f64,
}

/// What is known of the person's notes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NoteError {
    /// Step to which readings were rounded, in the gauge's unit; above 0.
    pub rounding: f64,
    /// A noted time is right within ± this, ms.
    pub clock_ms: i64,
}

//! How boot time, log time and wall time belong together.
//!
//! Everything is dated by boot time. The log's own time is boot time plus a
//! constant of the session; wall time is noted beside it and corrected when the
//! clock becomes known, so no row is ever rewritten.

mod clock_tracker;
mod log_time;
mod synced;

pub(crate) use clock_tracker::{ClockNote, ClockTracker};
pub(crate) use log_time::{PreviousSession, log_shift_ms};
pub(crate) use synced::clock_is_synced;

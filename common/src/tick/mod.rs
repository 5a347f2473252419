//! From samples to rows: one tick holds the mean of what arrived in it.

mod activity;
mod assembler;
mod bin;

pub use activity::{Activity, DRIVING_KMH, SwitchChange};
pub use assembler::TickAssembler;

/// One row of the log: counts of each channel's resolution, `None` where the
/// channel said nothing fresh.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tick {
    /// Log time of the start of the tick, ms.
    pub t_ms: i64,
    /// One entry per channel of the rig, in its order.
    pub counts: Vec<Option<i64>>,
}

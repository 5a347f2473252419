//! From samples to rows: one tick holds the mean of what arrived in it.

mod activity;
mod assembler;
mod bin;

pub use activity::{Activity, DRIVING_KMH, SwitchChange};
pub use assembler::TickAssembler;

use crate::time::LogMs;

/// One row of the log: counts of each channel's resolution, `None` where the
/// channel said nothing fresh.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tick<T = LogMs> {
    /// Log time of the start of the tick; boot time before its row is stored.
    pub t_ms: T,
    /// One entry per channel of the rig, in its order.
    pub counts: Vec<Option<i64>>,
}

impl<T> Tick<T> {
    /// Returns the tick with its time on another clock.
    #[must_use]
    pub fn laid<U>(self, on: impl Fn(T) -> U) -> Tick<U> {
        Tick {
            t_ms: on(self.t_ms),
            counts: self.counts,
        }
    }
}

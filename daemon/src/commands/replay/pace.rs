//! Replay at the speed of the recording, or so many times faster.

use seep_common::time::BootMs;
use std::time::{Duration, Instant};

/// Holds items back until their time has come.
pub(super) struct Pace {
    speed: Option<f64>,
    start: Option<(Instant, BootMs)>,
}

/// A stretch without data longer than this is not waited for, ms: nobody
/// watches a parked car in real time.
const LONGEST_WAIT_MS: i64 = 60_000;

impl Pace {
    /// `None`: as fast as possible.
    pub(super) fn new(speed: Option<f64>) -> Self {
        Pace { speed, start: None }
    }

    /// Wait until an item of this time is due.
    #[inline]
    pub(super) fn wait_for(&mut self, t_ms: BootMs) {
        let Some(speed) = self.speed else { return };
        let now = Instant::now();
        let (began, first_ms) = *self.start.get_or_insert((now, t_ms));
        let due = Duration::from_secs_f64(t_ms.since(first_ms).max(0) as f64 / 1000.0 / speed);
        let wait = due.saturating_sub(now - began);
        if wait.as_millis() as i64 > LONGEST_WAIT_MS {
            self.start = Some((now, t_ms));
        } else if !wait.is_zero() {
            std::thread::sleep(wait);
        }
    }
}

//! How long to wait before the next attempt.

use std::time::Duration;

/// Wait before the first new attempt.
const FIRST: Duration = Duration::from_millis(250);

/// Longest wait: a device that comes back is read again within about this time.
const MOST: Duration = Duration::from_secs(2);

/// Waits that double from 0.25 s up to 2 s.
#[derive(Debug, Clone, Copy)]
pub(super) struct Backoff(Duration);

impl Backoff {
    /// Nothing has failed yet.
    pub(super) fn new() -> Self {
        Backoff(FIRST)
    }

    /// How long to wait now; the next wait is longer.
    pub(super) fn next(&mut self) -> Duration {
        let now = self.0;
        self.0 = (now * 2).min(MOST);
        now
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_double_up_to_a_limit() {
        let mut backoff = Backoff::new();
        let ms: Vec<_> = (0..6).map(|_| backoff.next().as_millis()).collect();
        assert_eq!(ms, [250, 500, 1_000, 2_000, 2_000, 2_000]);
    }
}

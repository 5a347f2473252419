//! When to send: ten times a second while anything moves, once a second at rest.

/// Length of one mean, ms.
pub const STEP_MS: u32 = 100;

/// At rest one sentence covers so many means.
pub const STEPS_AT_REST: u8 = 10;

/// The fast rate goes on for so long after the last movement, ms.
pub const FAST_FOR_MS: u32 = 5000;

/// Remembers when something moved last, on a clock that may wrap around.
///
/// ```
/// use seep_board::Pace;
/// let mut pace = Pace::default();
/// assert!(!pace.is_fast(0));
/// pace.moved(u32::MAX);
/// assert!(pace.is_fast(4_999));
/// assert!(!pace.is_fast(5_000));
/// ```
#[derive(Debug, Clone, Copy, Default)]
pub struct Pace {
    moved_at_ms: Option<u32>,
}

impl Pace {
    /// Something moves.
    pub fn moved(&mut self, now_ms: u32) {
        self.moved_at_ms = Some(now_ms);
    }

    /// True while the fast rate is due.
    pub fn is_fast(&mut self, now_ms: u32) -> bool {
        let late = |at_ms: u32| now_ms.wrapping_sub(at_ms) > FAST_FOR_MS;
        if self.moved_at_ms.is_some_and(late) {
            self.moved_at_ms = None;
        }
        self.moved_at_ms.is_some()
    }
}

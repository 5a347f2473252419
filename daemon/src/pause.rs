//! Finds when this program stood still, by the distance of its own heartbeats.

use seep_common::time::BootMs;

/// A loop that runs at least once a second and was not run for this long stood
/// still, ms (common practice, no source): far above what a busy machine delays a
/// task, and the most by which a reading can be dated late without being noticed.
pub(crate) const PAUSE_MS: i64 = 2_500;

/// A stretch in which a loop did not run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Pause {
    /// Its last round before, CLOCK_BOOTTIME in ms.
    pub from_ms: BootMs,
    /// Its first round after, ms.
    pub to_ms: BootMs,
}

/// Watches one loop.
///
/// CLOCK_BOOTTIME goes on while the process is stopped and while the machine is
/// suspended, so both are found.
#[derive(Debug, Clone, Default)]
pub(crate) struct PauseDetector {
    last_ms: Option<BootMs>,
}

impl PauseDetector {
    /// Notes a round at `now_ms`; the pause before it, if there was one.
    pub(crate) fn round(&mut self, now_ms: BootMs) -> Option<Pause> {
        let from_ms = self.last_ms.replace(now_ms)?;
        (now_ms.since(from_ms) > PAUSE_MS).then_some(Pause {
            from_ms,
            to_ms: now_ms,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_late_round_is_no_pause_and_a_missing_one_is() {
        let mut detector = PauseDetector::default();
        assert_eq!(detector.round(BootMs(50_000)), None, "nothing before it");
        assert_eq!(detector.round(BootMs(51_000)), None);
        assert_eq!(detector.round(BootMs(53_500)), None, "late");
        let pause = Pause {
            from_ms: BootMs(53_500),
            to_ms: BootMs(56_001),
        };
        assert_eq!(detector.round(BootMs(56_001)), Some(pause));
        assert_eq!(detector.round(BootMs(56_002)), None);
    }
}

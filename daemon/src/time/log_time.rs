//! Where a session lies in log time.

use seep_common::time::{BootMs, LogMs, WallMs};

/// What the log says of earlier sessions.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct PreviousSession {
    /// Last log time stored, ms.
    pub last_t_ms: Option<LogMs>,
    /// Log time minus boot time of an earlier session of this same boot, ms.
    pub same_boot_shift_ms: Option<i64>,
}

/// Log time minus boot time for a session that starts now, ms.
///
/// Sessions of one boot share one scale, so the pause between them is exact.
/// Otherwise log time equals wall time when that lies after everything stored;
/// a clock that is behind (no battery, a repeated minute) is laid right after
/// the end instead.
pub(crate) fn log_shift_ms(earlier: PreviousSession, boot_ms: BootMs, wall_ms: WallMs) -> i64 {
    let after_ms = earlier.last_t_ms.map_or(LogMs::MIN, |t| t.plus(1));
    if let Some(shift_ms) = earlier.same_boot_shift_ms
        && boot_ms.on_log(shift_ms) >= after_ms
    {
        return shift_ms;
    }
    // Log time begins as wall time does.
    wall_ms.on_log(0).max(after_ms).minus_boot(boot_ms)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn log_time_is_wall_time_when_that_is_later_than_all_before() {
        assert_eq!(
            log_shift_ms(PreviousSession::default(), BootMs(5), WallMs(1_000)),
            995
        );
        let earlier = |last| PreviousSession {
            last_t_ms: Some(last),
            same_boot_shift_ms: None,
        };
        assert_eq!(
            log_shift_ms(earlier(LogMs(900)), BootMs(5), WallMs(1_000)),
            995
        );
        // A repeated minute: right after the end.
        assert_eq!(
            log_shift_ms(earlier(LogMs(2_000)), BootMs(5), WallMs(1_000)),
            1_996
        );
    }

    #[test]
    fn times_of_a_log_edited_by_hand_do_not_overflow() {
        for last in [i64::MIN, -1, i64::MAX] {
            for same_boot_shift_ms in [None, Some(i64::MIN), Some(i64::MAX)] {
                let earlier = PreviousSession {
                    last_t_ms: Some(LogMs(last)),
                    same_boot_shift_ms,
                };
                let shift_ms = log_shift_ms(earlier, BootMs(5_000), WallMs(1_000));
                assert!(last == i64::MAX || 5_000 + i128::from(shift_ms) > i128::from(last));
            }
        }
    }

    #[test]
    fn one_boot_has_one_scale() {
        let earlier = PreviousSession {
            last_t_ms: Some(LogMs(2_000)),
            same_boot_shift_ms: Some(1_000),
        };
        assert_eq!(log_shift_ms(earlier, BootMs(1_500), WallMs(99_000)), 1_000);
        // Not when it would go back, as after a clock of another file.
        assert_eq!(log_shift_ms(earlier, BootMs(500), WallMs(99_000)), 98_500);
    }
}

//! From the kernel's stamps to boot time.
//!
//! The kernel stamps a frame with wall time, which may step at any moment; some
//! controllers add a stamp of a clock of their own, which is even but stands for
//! no time of day. Both are brought to CLOCK_BOOTTIME.

use seep_common::time::BootMs;

/// Wall time minus boot time is taken anew when it has moved by more than this,
/// µs: less is the rounding of the clocks.
const STEADY_US: i64 = 2_000;

/// No frame waits longer in the socket while the program runs, µs.
const LONGEST_WAIT_US: i64 = 300_000_000;

/// A stamp may lie ahead of the look at the clocks by so much, µs: the rounding
/// of the clocks, and their slow drift.
const AHEAD_US: i64 = 5_000;

/// Stamps may go back by so much, µs.
const BACK_US: i64 = 10_000;

/// The controller's stamp is used when it differs from the kernel's by less, µs.
const NEAR_US: i64 = 50_000;

/// The offset of the controller's clock is found from so long, µs.
const WINDOW_US: i64 = 10_000_000;

/// Stamps of one frame, µs.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Stamp {
    /// Of the kernel, wall time.
    pub wall_us: Option<i64>,
    /// Of the controller, time of its own clock.
    pub own_us: Option<i64>,
}

/// Places frames on boot time.
#[derive(Debug, Clone)]
pub(super) struct Stamps {
    now_us: i64,
    /// Wall time minus boot time, and what it was before the last step, µs.
    offset_us: Option<i64>,
    offset_before_us: Option<i64>,
    last_us: i64,
    longest_wait_us: i64,
    own: OwnClock,
    /// Frames without a usable stamp; they get the time at which they were read.
    pub without: u64,
}

impl Stamps {
    pub(super) fn new() -> Self {
        Stamps {
            now_us: 0,
            offset_us: None,
            offset_before_us: None,
            last_us: i64::MIN / 2,
            longest_wait_us: LONGEST_WAIT_US,
            own: OwnClock::default(),
            without: 0,
        }
    }

    /// The clocks at the moment at which a frame is read.
    pub(super) fn look(&mut self, boot_ms: BootMs, wall_minus_boot_ms: i64) {
        self.now_us = boot_ms.0 * 1000 + 999;
        let offset_us = wall_minus_boot_ms * 1000;
        if self
            .offset_us
            .is_none_or(|known| (offset_us - known).abs() > STEADY_US)
        {
            self.offset_before_us = self.offset_us.replace(offset_us);
        }
    }

    /// The program stood still for so long, ms: frames of that time wait in the
    /// socket with their true stamps. 0 ends it.
    pub(super) fn paused(&mut self, pause_ms: i64) {
        self.longest_wait_us = LONGEST_WAIT_US.saturating_add(pause_ms.saturating_mul(1000));
    }

    /// Whether a stamp dates its frame; else only the time of reading could.
    pub(super) fn dates(&self, stamp: Stamp) -> bool {
        stamp.wall_us.is_some_and(|us| self.to_boot(us).is_some())
    }

    /// Boot time of a frame, ms; never before that of an earlier frame.
    pub(super) fn place(&mut self, stamp: Stamp) -> BootMs {
        let kernel_us = stamp.wall_us.and_then(|wall_us| self.to_boot(wall_us));
        if kernel_us.is_none() {
            self.without += 1;
        }
        let kernel_us = kernel_us.unwrap_or(self.now_us);
        let t_us = match stamp.own_us {
            Some(own_us) => self.own.refine(own_us, kernel_us),
            None => kernel_us,
        };
        self.last_us = self.last_us.max(t_us);
        BootMs(self.last_us.div_euclid(1000))
    }

    /// A frame that waited while the wall clock stepped still bears the old time.
    fn to_boot(&self, wall_us: i64) -> Option<i64> {
        let earliest_us = (self.last_us - BACK_US).max(self.now_us - self.longest_wait_us);
        [self.offset_us, self.offset_before_us]
            .into_iter()
            .flatten()
            .map(|offset_us| wall_us - offset_us)
            .find(|&t_us| (earliest_us..=self.now_us + AHEAD_US).contains(&t_us))
    }
}

/// The controller's clock against boot time. The kernel's stamp is late by a
/// varying delay and never early, so the smallest difference is the offset.
#[derive(Debug, Clone, Copy, Default)]
struct OwnClock {
    window_began_us: i64,
    smallest_us: Option<i64>,
    smallest_before_us: Option<i64>,
}

impl OwnClock {
    fn refine(&mut self, own_us: i64, kernel_us: i64) -> i64 {
        let difference_us = kernel_us - own_us;
        let offset_us = self.offset_us().unwrap_or(difference_us);
        if (difference_us - offset_us).abs() > NEAR_US {
            // The controller was started anew, or a frame waited very long.
            *self = OwnClock::default();
        }
        if kernel_us - self.window_began_us > WINDOW_US {
            self.window_began_us = kernel_us;
            self.smallest_before_us = self.smallest_us.take();
        }
        let smallest_us = self.smallest_us.get_or_insert(difference_us);
        *smallest_us = (*smallest_us).min(difference_us);
        own_us + self.offset_us().unwrap_or(difference_us)
    }

    fn offset_us(&self) -> Option<i64> {
        match (self.smallest_us, self.smallest_before_us) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A wall time of 2026, and a machine that started 10 s ago.
    const WALL_MS: i64 = 1_790_000_000_000;
    const BOOT_MS: i64 = 10_000;

    fn at(wall_ms: i64) -> Stamp {
        Stamp {
            wall_us: Some(wall_ms * 1000),
            own_us: None,
        }
    }

    #[test]
    fn a_frame_that_waited_gets_the_time_it_arrived() {
        let mut stamps = Stamps::new();
        stamps.look(BootMs(BOOT_MS), WALL_MS - BOOT_MS);
        assert_eq!(stamps.place(at(WALL_MS - 1_500)), BootMs(8_500));
        assert_eq!(stamps.place(at(WALL_MS)), BootMs(10_000));
        assert_eq!(stamps.without, 0);
    }

    #[test]
    fn steps_of_the_wall_clock_by_years_move_no_frame() {
        for step_ms in [86_400_000 * 3650, -86_400_000 * 3650, 3_600_000, -3_600_000] {
            let mut stamps = Stamps::new();
            stamps.look(BootMs(BOOT_MS), WALL_MS - BOOT_MS);
            assert_eq!(stamps.place(at(WALL_MS)), BootMs(10_000));
            // One second later two frames are read, one from before the step.
            stamps.look(BootMs(BOOT_MS + 1_000), WALL_MS + step_ms - BOOT_MS);
            assert_eq!(stamps.place(at(WALL_MS + 400)), BootMs(10_400), "{step_ms}");
            assert_eq!(
                stamps.place(at(WALL_MS + 900 + step_ms)),
                BootMs(10_900),
                "{step_ms}"
            );
            assert_eq!(stamps.without, 0, "{step_ms}");
        }
    }

    #[test]
    fn frames_of_a_long_pause_keep_their_stamps() {
        let mut stamps = Stamps::new();
        stamps.look(BootMs(BOOT_MS), WALL_MS - BOOT_MS);
        assert_eq!(stamps.place(at(WALL_MS)), BootMs(BOOT_MS));
        let pause_ms = 1_800_000;
        stamps.look(BootMs(BOOT_MS + pause_ms), WALL_MS - BOOT_MS);
        assert!(!stamps.dates(at(WALL_MS + 1_000)), "longer than any wait");
        stamps.paused(pause_ms);
        assert!(stamps.dates(at(WALL_MS + 1_000)) && !stamps.dates(Stamp::default()));
        assert_eq!(stamps.place(at(WALL_MS + 1_000)), BootMs(BOOT_MS + 1_000));
    }

    #[test]
    fn an_impossible_stamp_gives_way_to_the_time_of_reading() {
        let mut stamps = Stamps::new();
        stamps.look(BootMs(BOOT_MS), WALL_MS - BOOT_MS);
        assert_eq!(stamps.place(at(0)), BootMs(10_000));
        assert_eq!(stamps.place(Stamp::default()), BootMs(10_000));
        assert_eq!(stamps.without, 2);
        assert_eq!(stamps.place(at(WALL_MS - 5)), BootMs(10_000), "never back");
    }

    /// A frame every 10 ms by the controller's clock, whose frames the kernel
    /// sees up to 4 ms late: with the controller's stamps the spacing is even.
    #[test]
    fn the_controllers_clock_takes_the_jitter_out() {
        let mut stamps = Stamps::new();
        let delays_us = [900, 2_400, 100, 4_000, 1_300, 0, 3_100];
        let mut placed = Vec::new();
        for n in 0..400 {
            let true_us = BOOT_MS * 1000 + n * 10_000;
            let delay_us = delays_us[n as usize % delays_us.len()];
            let boot_ms = (true_us + delay_us) / 1000;
            stamps.look(BootMs(boot_ms), WALL_MS - BOOT_MS);
            placed.push(stamps.place(Stamp {
                wall_us: Some(true_us + delay_us + (WALL_MS - BOOT_MS) * 1000),
                own_us: Some(n * 10_000 + 77),
            }));
        }
        let uneven = placed[7..].windows(2).filter(|w| w[1].since(w[0]) != 10);
        assert_eq!(uneven.count(), 0);
        // The controller starts anew: nothing is thrown off.
        let t_ms = BOOT_MS + 4_000;
        stamps.look(BootMs(t_ms), WALL_MS - BOOT_MS);
        let placed = stamps.place(Stamp {
            wall_us: Some(t_ms * 1000 + (WALL_MS - BOOT_MS) * 1000),
            own_us: Some(12),
        });
        assert_eq!(placed, BootMs(t_ms));
    }
}

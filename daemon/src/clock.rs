//! The two clocks of a recording.

use seep_common::time::{BootMs, WallMs};

/// Boot time and wall time, the system's or a test's.
///
/// Boot time never steps and goes on through suspend; it dates every reading.
/// Wall time may be wrong after a power cut and may step when the network or a
/// receiver corrects it; it is only ever noted beside boot time.
pub(crate) trait Clock: Send + Sync {
    /// Time since the machine started, suspend included, ms.
    fn boot_ms(&self) -> BootMs;
    /// Time since 1970-01-01 00:00 UTC as the machine believes it, ms.
    fn wall_ms(&self) -> WallMs;
}

/// The clocks of the machine.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct SystemClock;

impl Clock for SystemClock {
    fn boot_ms(&self) -> BootMs {
        let now = rustix::time::clock_gettime(rustix::time::ClockId::Boottime);
        BootMs(now.tv_sec * 1000 + now.tv_nsec / 1_000_000)
    }

    fn wall_ms(&self) -> WallMs {
        let epoch = std::time::UNIX_EPOCH;
        WallMs(match std::time::SystemTime::now().duration_since(epoch) {
            Ok(since) => i64::try_from(since.as_millis()).unwrap_or(i64::MAX),
            // A clock that was never set can lie before 1970.
            Err(before) => i64::try_from(before.duration().as_millis()).map_or(i64::MIN, |ms| -ms),
        })
    }
}

/// Clocks that a test sets.
#[cfg(test)]
#[derive(Debug, Default)]
pub(crate) struct VirtualClock {
    boot_ms: std::sync::atomic::AtomicI64,
    wall_offset_ms: std::sync::atomic::AtomicI64,
}

#[cfg(test)]
impl VirtualClock {
    /// Both clocks at a moment of the test's choice, ms.
    pub(crate) fn at(boot_ms: BootMs, wall_ms: WallMs) -> Self {
        VirtualClock {
            boot_ms: boot_ms.0.into(),
            wall_offset_ms: wall_ms.minus_boot(boot_ms).into(),
        }
    }

    /// Let time pass on both clocks, ms.
    pub(crate) fn pass(&self, ms: i64) {
        self.boot_ms
            .fetch_add(ms, std::sync::atomic::Ordering::SeqCst);
    }

    /// Step the wall clock forward, or back with a negative step, ms.
    pub(crate) fn step_wall(&self, ms: i64) {
        self.wall_offset_ms
            .fetch_add(ms, std::sync::atomic::Ordering::SeqCst);
    }
}

#[cfg(test)]
impl Clock for VirtualClock {
    fn boot_ms(&self) -> BootMs {
        BootMs(self.boot_ms.load(std::sync::atomic::Ordering::SeqCst))
    }

    fn wall_ms(&self) -> WallMs {
        let offset_ms = &self.wall_offset_ms;
        self.boot_ms()
            .on_wall(offset_ms.load(std::sync::atomic::Ordering::SeqCst))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_clocks_of_the_machine_run_and_stand_apart() {
        let first = SystemClock.boot_ms();
        let uptime_s: f64 = std::fs::read_to_string("/proc/uptime")
            .expect("Linux")
            .split(' ')
            .next()
            .and_then(|s| s.parse().ok())
            .expect("a number of seconds");
        let wall_ms = std::time::SystemTime::now()
            .duration_since(std::time::UNIX_EPOCH)
            .expect("after 1970")
            .as_millis() as i64;
        assert!((first.0 as f64 / 1000.0 - uptime_s).abs() < 10.0);
        assert!(SystemClock.wall_ms().since(WallMs(wall_ms)).abs() < 10_000);
        assert!(SystemClock.boot_ms() >= first);
    }

    #[test]
    fn a_step_of_wall_time_leaves_boot_time_alone() {
        let clock = VirtualClock::at(BootMs(5_000), WallMs(1_000_000));
        clock.pass(10);
        clock.step_wall(-400_000);
        assert_eq!(
            (clock.boot_ms(), clock.wall_ms()),
            (BootMs(5_010), WallMs(600_010))
        );
    }
}

//! Tracks the wall clock against boot time and returns what must be noted.
//!
//! Initial state: nothing noted. Question at each look: does wall time still
//! follow boot time as noted, and is it trusted as noted? Policy: a clock that
//! becomes trusted re-dates the whole stretch in which it was not; a step of a
//! trusted clock holds from the step on; a step of an untrusted one re-dates
//! its stretch too, since whoever stepped it knew more than a board without a
//! battery. Slow drift is noted in small pieces.

use seep_common::store::ClockState;
use seep_common::time::{BootMs, WallMs};

/// A change of wall time against boot time above this is a step, ms.
const STEP_MS: i64 = 500;

/// Drift above this is noted anew, ms; keeps dates right to a fifth of a second.
const DRIFT_MS: i64 = 200;

/// From a moment on, wall time is boot time plus an offset.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct ClockNote {
    /// When it was learnt, boot time, ms.
    pub noted_boot_ms: BootMs,
    /// First boot time it holds for, ms.
    pub from_boot_ms: BootMs,
    /// It holds from the start of the boot on: earlier sessions of the same
    /// boot are re-dated too.
    pub whole_boot: bool,
    /// Wall time minus boot time, ms.
    pub offset_ms: i64,
    /// How far it can be trusted.
    pub state: ClockState,
}

/// Watches one session.
#[derive(Debug, Clone, Default)]
pub(crate) struct ClockTracker {
    noted: Option<ClockNote>,
    /// Start of the stretch in which the clock is not trusted; `None` inside
    /// means since the boot.
    untrusted_from_ms: Option<Option<BootMs>>,
}

impl ClockTracker {
    /// Look at the clocks: boot and wall time, ms, and whether the wall clock
    /// is synchronised. Returns what must be noted.
    pub(crate) fn look(
        &mut self,
        boot_ms: BootMs,
        wall_ms: WallMs,
        synced: bool,
    ) -> Option<ClockNote> {
        let offset_ms = wall_ms.minus_boot(boot_ms);
        let note = match self.noted {
            None => self.first(boot_ms, offset_ms, synced),
            Some(noted) => self.next(noted, boot_ms, offset_ms, synced)?,
        };
        self.noted = Some(note);
        Some(note)
    }

    fn first(&mut self, boot_ms: BootMs, offset_ms: i64, synced: bool) -> ClockNote {
        self.untrusted_from_ms = (!synced).then_some(None);
        ClockNote {
            noted_boot_ms: boot_ms,
            from_boot_ms: boot_ms,
            whole_boot: false,
            offset_ms,
            state: state(synced),
        }
    }

    fn next(
        &mut self,
        noted: ClockNote,
        boot_ms: BootMs,
        offset_ms: i64,
        synced: bool,
    ) -> Option<ClockNote> {
        let change_ms = (offset_ms - noted.offset_ms).abs();
        if let Some(from) = self.untrusted_from_ms {
            if !synced && change_ms < STEP_MS {
                return None;
            }
            if synced {
                self.untrusted_from_ms = None;
            }
            return Some(ClockNote {
                noted_boot_ms: boot_ms,
                from_boot_ms: from.unwrap_or(BootMs(0)),
                whole_boot: from.is_none(),
                offset_ms,
                state: state(synced),
            });
        }
        if !synced {
            self.untrusted_from_ms = Some(Some(boot_ms));
        }
        let stepped = change_ms >= STEP_MS;
        let worth_it = stepped || change_ms >= DRIFT_MS || !synced;
        worth_it.then_some(ClockNote {
            noted_boot_ms: boot_ms,
            from_boot_ms: boot_ms,
            whole_boot: false,
            offset_ms,
            state: match (synced, stepped) {
                (false, _) => ClockState::Unsynced,
                (true, true) => ClockState::Stepped,
                (true, false) => ClockState::Synced,
            },
        })
    }
}

fn state(synced: bool) -> ClockState {
    if synced {
        ClockState::Synced
    } else {
        ClockState::Unsynced
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_that_syncs_redates_the_whole_boot() {
        let mut clock_tracker = ClockTracker::default();
        let first = clock_tracker
            .look(BootMs(5_000), WallMs(1_000_000), false)
            .expect("first");
        assert_eq!(first.state, ClockState::Unsynced);
        assert_eq!(
            clock_tracker.look(BootMs(6_000), WallMs(1_001_000), false),
            None
        );
        let synced = clock_tracker
            .look(BootMs(60_000), WallMs(90_000_000), true)
            .expect("noted");
        assert!(synced.whole_boot);
        assert_eq!(
            (synced.offset_ms, synced.state),
            (89_940_000, ClockState::Synced)
        );
        assert_eq!(
            clock_tracker.look(BootMs(61_000), WallMs(90_001_000), true),
            None
        );
    }

    #[test]
    fn a_step_of_a_trusted_clock_holds_from_then_on() {
        let mut clock_tracker = ClockTracker::default();
        clock_tracker.look(BootMs(0), WallMs(1_000_000), true);
        let step = clock_tracker
            .look(BootMs(10_000), WallMs(5_010_000), true)
            .expect("noted");
        assert_eq!(
            (step.from_boot_ms, step.whole_boot, step.state),
            (BootMs(10_000), false, ClockState::Stepped)
        );
    }

    #[test]
    fn trust_lost_and_found_redates_only_the_stretch_between() {
        let mut clock_tracker = ClockTracker::default();
        clock_tracker.look(BootMs(0), WallMs(1_000_000), true);
        let lost = clock_tracker
            .look(BootMs(10_000), WallMs(1_010_000), false)
            .expect("noted");
        assert_eq!(
            (lost.from_boot_ms, lost.state),
            (BootMs(10_000), ClockState::Unsynced)
        );
        let found = clock_tracker
            .look(BootMs(20_000), WallMs(1_020_900), true)
            .expect("noted");
        assert_eq!(
            (found.from_boot_ms, found.whole_boot),
            (BootMs(10_000), false)
        );
    }

    #[test]
    fn slow_drift_is_followed() {
        let mut clock_tracker = ClockTracker::default();
        clock_tracker.look(BootMs(0), WallMs(0), true);
        let mut worst = 0;
        let mut offset = 0;
        for s in 1..20_000_i64 {
            let (boot, wall) = (s * 1_000, s * 1_000 + s / 20);
            if let Some(note) = clock_tracker.look(BootMs(boot), WallMs(wall), true) {
                offset = note.offset_ms;
            }
            worst = worst.max((wall - boot - offset).abs());
        }
        assert!(worst < DRIFT_MS, "{worst}");
    }
}

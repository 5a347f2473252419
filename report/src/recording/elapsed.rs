//! From log time to elapsed time: the same, with the true length of the pauses
//! between sessions.
//!
//! Log time only promises order. A machine without a clock battery starts a
//! session right after the end of the one before, however long it was off; the
//! clock rows, corrected once the clock was known, tell how long. Analyses that
//! look across a pause (an overnight leak) need that length, so the sessions
//! are moved apart by what log time lacks. Where either side's clock was never
//! known the pause stays unknown, and is not looked across.

use super::{ClockRow, Session};
use seep_common::store::{self, ClockMap, ClockState, SessionId};
use seep_common::time::LogMs;

/// How sessions were moved; by default not at all.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Elapsed {
    moved: Vec<SessionTimes>,
}

/// One session.
#[derive(Debug, Clone, Copy, PartialEq)]
struct SessionTimes {
    id: SessionId,
    /// First log time.
    start_ms: LogMs,
    /// Elapsed minus log time, ms.
    shift_ms: i64,
    /// The length of the pause before it is known.
    pause_known: bool,
}

impl Elapsed {
    /// From the sessions of a log and its clock, both in log time.
    pub(super) fn new(sessions: &[store::Session], clock: &ClockMap) -> Self {
        let mut moved: Vec<SessionTimes> = Vec::new();
        let mut last_end: Option<LogMs> = None;
        for session in sessions {
            let start_ms = session.start.t_ms;
            let lacking = last_end.and_then(|end| lacking_ms(clock, end, start_ms));
            moved.push(SessionTimes {
                id: session.id,
                start_ms,
                shift_ms: moved.last().map_or(0, |m| m.shift_ms) + lacking.unwrap_or(0),
                pause_known: last_end.is_none() || lacking.is_some(),
            });
            last_end = Some(session.end_t_ms);
        }
        Elapsed { moved }
    }

    /// Elapsed minus log time at a log time, ms.
    fn shift_ms(&self, log_t_ms: LogMs) -> i64 {
        let after = self.moved.partition_point(|m| m.start_ms <= log_t_ms);
        self.moved[..after].last().map_or(0, |m| m.shift_ms)
    }

    /// Returns the elapsed time of a log time, ms.
    pub(super) fn of_log(&self, log_t_ms: LogMs) -> i64 {
        log_t_ms.0.saturating_add(self.shift_ms(log_t_ms))
    }

    /// The log time of an elapsed time, ms. In a pause that log time does not
    /// have: the start of the session after it.
    pub(super) fn to_log(&self, elapsed_ms: i64) -> LogMs {
        let begun = |m: &SessionTimes| m.start_ms.0 + m.shift_ms <= elapsed_ms;
        let after = self.moved.partition_point(begun);
        let shift_ms = self.moved[..after].last().map_or(0, |m| m.shift_ms);
        let next_ms = self.moved.get(after).map_or(LogMs::MAX, |m| m.start_ms);
        LogMs(elapsed_ms.saturating_sub(shift_ms)).min(next_ms)
    }

    /// Whether it is known how long after the session before it one began.
    pub(super) fn pause_is_known(&self, session: SessionId) -> bool {
        let of = self.moved.iter().find(|m| m.id == session);
        of.is_none_or(|m| m.pause_known)
    }

    /// A session, moved.
    pub(super) fn session(&self, session: store::Session) -> Session {
        session.laid(|t| self.of_log(t))
    }

    /// A clock row, moved: it leads to the same wall times.
    pub(super) fn clock_row(&self, row: &store::ClockRow) -> ClockRow {
        ClockRow {
            noted_t_ms: self.of_log(row.noted_t_ms),
            from_t_ms: self.of_log(row.from_t_ms),
            offset_ms: row.offset_ms - self.shift_ms(row.from_t_ms),
            state: row.state,
        }
    }
}

/// What log time lacks between two sessions, ms; `None` when a clock was not known.
fn lacking_ms(clock: &ClockMap, end_ms: LogMs, start_ms: LogMs) -> Option<i64> {
    let known = |t: LogMs| clock.state(t.0).is_some_and(|s| s != ClockState::Unsynced);
    if !known(end_ms) || !known(start_ms) {
        return None;
    }
    let wall_ms = clock.wall_ms(start_ms.0)? - clock.wall_ms(end_ms.0)?;
    Some((wall_ms - start_ms.since(end_ms)).max(0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::store::SessionStart;
    use seep_common::time::BootMs;

    fn session(id: i64, start: i64, end: i64) -> store::Session {
        store::Session {
            id: SessionId(id),
            start: SessionStart {
                boot_id: id.to_string(),
                t_ms: LogMs(start),
                program: "invented".into(),
                origin: "live".into(),
                start_boot_ms: Some(BootMs(5_000)),
            },
            end_t_ms: LogMs(end),
            end_reason: None,
            rig_sha256: String::new(),
            protected: false,
        }
    }

    fn row(from_t_ms: i64, offset_ms: i64, state: ClockState) -> store::ClockRow {
        store::ClockRow {
            noted_t_ms: LogMs(from_t_ms),
            from_t_ms: LogMs(from_t_ms),
            offset_ms,
            state,
        }
    }

    #[test]
    fn a_night_that_log_time_does_not_know_is_put_back() {
        let night = 8 * 3_600_000;
        let sessions = [
            session(1, 0, 1_000),
            session(2, 1_001, 2_000),
            session(3, 2_001, 3_000),
        ];
        let clock = ClockMap::new(&[
            row(0, 50_000, ClockState::Synced),
            row(1_001, 50_000 + night, ClockState::Synced),
            row(2_001, 0, ClockState::Unsynced),
        ]);
        let elapsed = Elapsed::new(&sessions, &clock);
        assert_eq!(elapsed.of_log(LogMs(500)), 500);
        assert_eq!(elapsed.of_log(LogMs(1_500)), 1_500 + night);
        assert_eq!(elapsed.of_log(LogMs(2_500)), 2_500 + night);
        for (log_ms, elapsed_ms) in [(500, 500), (1_000, 1_000), (1_500, 1_500 + night)] {
            assert_eq!(elapsed.to_log(elapsed_ms), LogMs(log_ms));
        }
        // In the night there is no log time.
        assert_eq!(elapsed.to_log(night / 2), LogMs(1_001));
        let known = [1, 2, 3].map(|id| elapsed.pause_is_known(SessionId(id)));
        assert_eq!(known, [true, true, false]);
    }

    #[test]
    fn a_log_with_true_pauses_is_left_as_it_is() {
        let sessions = [session(1, 0, 1_000), session(2, 90_000, 91_000)];
        let clock = ClockMap::new(&[
            row(0, 7, ClockState::AsRecorded),
            row(90_000, 7, ClockState::AsRecorded),
        ]);
        let elapsed = Elapsed::new(&sessions, &clock);
        assert_eq!(elapsed.of_log(LogMs(90_500)), 90_500);
        assert_eq!(elapsed.to_log(50_000), LogMs(50_000));
        assert!(elapsed.pause_is_known(SessionId(2)));
    }
}

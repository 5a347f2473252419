//! From log time to elapsed time: the same, with the true length of the pauses
//! between sessions.
//!
//! Log time only promises order. A machine without a clock battery starts a
//! session right after the end of the one before, however long it was off; the
//! clock rows, corrected once the clock was known, tell how long. Analyses that
//! look across a pause (an overnight leak) need that length, so the sessions
//! are moved apart by what log time lacks. Where either side's clock was never
//! known the pause stays unknown, and is not looked across.

use super::Recording;
use seep_common::store::{ClockMap, ClockRow, ClockState, Session, SessionId};

/// How sessions were moved.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Elapsed {
    /// First log time of a session, its shift, ms, and whether the length of
    /// the pause before it is known.
    moved: Vec<(i64, i64, bool)>,
}

impl Elapsed {
    /// From the sessions of a log and its clock.
    pub(super) fn new(sessions: &[Session], clock: &ClockMap) -> Self {
        let mut moved: Vec<(i64, i64, bool)> = Vec::new();
        let mut last_end: Option<i64> = None;
        for session in sessions {
            let start = session.start.t_ms;
            let shift = moved.last().map_or(0, |m| m.1);
            let lacking = last_end.and_then(|end| lacking_ms(clock, end, start));
            moved.push((
                start,
                shift + lacking.unwrap_or(0),
                last_end.is_none() || lacking.is_some(),
            ));
            last_end = Some(session.end_t_ms);
        }
        Elapsed { moved }
    }

    /// Elapsed minus log time at a log time, ms.
    pub(super) fn shift_ms(&self, log_t_ms: i64) -> i64 {
        let after = self.moved.partition_point(|m| m.0 <= log_t_ms);
        self.moved.get(after.wrapping_sub(1)).map_or(0, |m| m.1)
    }

    /// Elapsed minus log time for a session that starts at this elapsed time, ms.
    pub(super) fn shift_of(&self, start_elapsed_ms: i64) -> i64 {
        let found = self.moved.iter().find(|m| m.0 + m.1 == start_elapsed_ms);
        found.map_or(0, |m| m.1)
    }

    /// Sessions before which the length of the pause is not known.
    pub(super) fn after_unknown_pause(&self, sessions: &[Session]) -> Vec<SessionId> {
        let unknown = |s: &&Session| self.moved.iter().any(|m| m.0 == s.start.t_ms && !m.2);
        sessions.iter().filter(unknown).map(|s| s.id).collect()
    }

    /// Move everything that was read.
    pub(super) fn apply(&self, recording: &mut Recording) {
        if self.moved.iter().all(|m| m.1 == 0) {
            return;
        }
        let at = |t: i64| t.saturating_add(self.shift_ms(t));
        for s in &mut recording.sessions {
            (s.start.t_ms, s.end_t_ms) = (at(s.start.t_ms), at(s.end_t_ms));
        }
        for e in &mut recording.events {
            e.t_ms = at(e.t_ms);
        }
        for g in &mut recording.gaps {
            (g.from_t_ms, g.to_t_ms) = (at(g.from_t_ms), at(g.to_t_ms));
        }
        for n in &mut recording.notices {
            n.t_ms = at(n.t_ms);
        }
        for c in &mut recording.counters {
            c.t_ms = at(c.t_ms);
        }
        for row in &mut recording.clock_rows {
            *row = ClockRow {
                noted_t_ms: at(row.noted_t_ms),
                from_t_ms: at(row.from_t_ms),
                offset_ms: row.offset_ms - self.shift_ms(row.from_t_ms),
                state: row.state,
            };
        }
        recording.clock = ClockMap::new(&recording.clock_rows);
        let span = &mut recording.span;
        // The end is exclusive: it belongs to what came before it.
        span.to_t_ms = at(span.to_t_ms.saturating_sub(1)).saturating_add(1);
        span.from_t_ms = at(span.from_t_ms);
    }
}

/// What log time lacks between two sessions, ms; `None` when a clock was not known.
fn lacking_ms(clock: &ClockMap, end_ms: i64, start_ms: i64) -> Option<i64> {
    let known = |t: i64| clock.state(t).is_some_and(|s| s != ClockState::Unsynced);
    if !known(end_ms) || !known(start_ms) {
        return None;
    }
    let wall_ms = clock.wall_ms(start_ms)? - clock.wall_ms(end_ms)?;
    Some((wall_ms - (start_ms - end_ms)).max(0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::store::SessionStart;

    fn session(id: i64, start: i64, end: i64) -> Session {
        Session {
            id: SessionId(id),
            start: SessionStart {
                boot_id: id.to_string(),
                t_ms: start,
                program: "invented".into(),
                origin: "live".into(),
                start_boot_ms: Some(5_000),
            },
            end_t_ms: end,
            end_reason: None,
            rig_sha256: String::new(),
            protected: false,
        }
    }

    fn row(from_t_ms: i64, offset_ms: i64, state: ClockState) -> ClockRow {
        ClockRow {
            noted_t_ms: from_t_ms,
            from_t_ms,
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
        assert_eq!(elapsed.shift_ms(500), 0);
        assert_eq!(elapsed.shift_ms(1_500), night);
        assert_eq!(elapsed.shift_ms(2_500), night);
        assert_eq!(elapsed.after_unknown_pause(&sessions), [SessionId(3)]);
        assert_eq!(elapsed.shift_of(1_001 + night), night);
    }

    #[test]
    fn a_log_with_true_pauses_is_left_as_it_is() {
        let sessions = [session(1, 0, 1_000), session(2, 90_000, 91_000)];
        let clock = ClockMap::new(&[
            row(0, 7, ClockState::AsRecorded),
            row(90_000, 7, ClockState::AsRecorded),
        ]);
        let elapsed = Elapsed::new(&sessions, &clock);
        assert_eq!(elapsed.shift_ms(90_500), 0);
        assert!(elapsed.after_unknown_pause(&sessions).is_empty());
    }
}

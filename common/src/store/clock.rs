//! From log time to wall time, with what was learnt last.

use super::{ClockRow, ClockState};

/// Clock rows of a log, ready for look-ups. It works on columns: log times and wall
/// times go in and out as plain numbers, ms.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ClockMap {
    /// Stretches in rising order: from log time on, offset and state.
    stretches: Vec<(i64, i64, ClockState)>,
}

impl ClockMap {
    /// Resolve rows in the order they were noted: a later row holds from its
    /// `from_t_ms` on, over everything noted before it.
    ///
    /// ```
    /// use seep_common::store::{ClockMap, ClockRow, ClockState};
    /// use seep_common::time::LogMs;
    /// let row = |noted, from, offset_ms, state| ClockRow {
    ///     noted_t_ms: LogMs(noted), from_t_ms: LogMs(from), offset_ms, state,
    /// };
    /// let map = ClockMap::new(&[
    ///     row(0, 0, 0, ClockState::Unsynced),
    ///     row(900, 0, 5_000, ClockState::Synced), // the clock synced: re-dates the session
    ///     row(2_000, 2_000, 7_000, ClockState::Synced), // the next session
    /// ]);
    /// assert_eq!(map.wall_ms(100), Some(5_100));
    /// assert_eq!(map.wall_ms(2_100), Some(9_100));
    /// assert_eq!(map.wall_times_ms(&[-5, 100, 2_000, 2_100]), Some(vec![4_995, 5_100, 9_000, 9_100]));
    /// assert_eq!(map.log_ms(9_100), Some(2_100));
    /// assert_eq!(map.state(100), Some(ClockState::Synced));
    /// ```
    #[must_use]
    pub fn new<T: Copy + Into<i64>>(noted_in_order: &[ClockRow<T>]) -> Self {
        let mut stretches: Vec<(i64, i64, ClockState)> = Vec::new();
        for row in noted_in_order {
            let from_t_ms = row.from_t_ms.into();
            let keep = stretches.partition_point(|s| s.0 < from_t_ms);
            stretches.truncate(keep);
            stretches.push((from_t_ms, row.offset_ms, row.state));
        }
        ClockMap { stretches }
    }

    /// What wall times up to a log time depend on: from log time on, offset and state.
    #[must_use]
    pub fn stretches_up_to(&self, t_ms: i64) -> &[(i64, i64, ClockState)] {
        let after = self.stretches.partition_point(|s| s.0 <= t_ms);
        // Before the first stretch its offset holds.
        let first = usize::from(!self.stretches.is_empty());
        &self.stretches[..after.max(first)]
    }

    fn at(&self, t_ms: i64) -> Option<&(i64, i64, ClockState)> {
        let after = self.stretches.partition_point(|s| s.0 <= t_ms);
        self.stretches.get(after.saturating_sub(1))
    }

    /// Wall time, ms since 1970 UTC. `None` when the log has no clock row.
    #[must_use]
    pub fn wall_ms(&self, t_ms: i64) -> Option<i64> {
        self.at(t_ms).map(|s| t_ms.saturating_add(s.1))
    }

    /// The same for log times that never fall; the stretches are gone through
    /// once.
    #[must_use]
    pub fn wall_times_ms(&self, t_ms: &[i64]) -> Option<Vec<i64>> {
        let mut out = Vec::with_capacity(t_ms.len());
        while let Some(&first) = t_ms.get(out.len()) {
            let after = self.stretches.partition_point(|s| s.0 <= first);
            let offset_ms = self.stretches.get(after.saturating_sub(1))?.1;
            let rest = &t_ms[out.len()..];
            let next = self.stretches.get(after.max(1)).map_or(i64::MAX, |s| s.0);
            let end = rest.partition_point(|t| *t < next).max(1);
            out.extend(rest[..end].iter().map(|t| t.saturating_add(offset_ms)));
        }
        Some(out)
    }

    /// State of the clock at a log time.
    #[must_use]
    pub fn state(&self, t_ms: i64) -> Option<ClockState> {
        self.at(t_ms).map(|s| s.2)
    }

    /// First log time whose wall time is not before `wall_ms`.
    #[must_use]
    pub fn log_ms(&self, wall_ms: i64) -> Option<i64> {
        if self.stretches.is_empty() {
            return None;
        }
        for (i, (from, offset, _)) in self.stretches.iter().enumerate() {
            let t_ms = wall_ms.saturating_sub(*offset);
            let lower = if i == 0 { i64::MIN } else { *from };
            let upper = self.stretches.get(i + 1).map_or(i64::MAX, |s| s.0);
            if t_ms < upper {
                return Some(t_ms.max(lower));
            }
        }
        None
    }

    /// The worst state over a span, or `None` without clock rows.
    #[must_use]
    pub fn worst_state(&self, from_t_ms: i64, to_t_ms: i64) -> Option<ClockState> {
        let rank = |s: ClockState| match s {
            ClockState::Synced => 0,
            ClockState::AsRecorded => 1,
            ClockState::Stepped => 2,
            ClockState::Unsynced => 3,
        };
        let first = self
            .stretches
            .partition_point(|s| s.0 <= from_t_ms)
            .saturating_sub(1);
        self.stretches
            .iter()
            .skip(first)
            .take_while(|s| s.0 < to_t_ms)
            .map(|s| s.2)
            .max_by_key(|s| rank(*s))
    }
}

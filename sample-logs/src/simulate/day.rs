//! The stage under way.

use crate::scenario::{Action, Stage, StageKind};
use crate::world::Drive;

/// The stage under way. Times are ms since the scenario's start.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Day {
    /// Kind of stage.
    pub kind: StageKind,
    start_ms: i64,
    length_ms: i64,
    flow_kmh: f64,
    altitude_m: (f64, f64),
    actions: Vec<Action>,
}

impl Default for Day {
    fn default() -> Self {
        Day::new(&Stage::new(StageKind::Off, 0.0), 0, 0, 0.0)
    }
}

impl Day {
    pub(super) fn new(stage: &Stage, start_ms: i64, length_ms: i64, altitude_m: f64) -> Self {
        let mut actions = stage.actions.clone();
        actions.sort_by(|a, b| b.at_min.total_cmp(&a.at_min));
        Day {
            kind: stage.kind,
            start_ms,
            length_ms,
            flow_kmh: stage.kmh,
            altitude_m: (altitude_m, stage.to_altitude_m.unwrap_or(altitude_m)),
            actions,
        }
    }

    fn action_ms(&self, action: &Action) -> i64 {
        self.start_ms + (action.at_min * 60_000.0) as i64
    }

    /// The next action that is due, taken off the list.
    pub(super) fn due_action(&mut self, t_ms: i64) -> Option<Action> {
        let due = self
            .actions
            .last()
            .is_some_and(|a| self.action_ms(a) <= t_ms);
        due.then(|| self.actions.pop()).flatten()
    }

    /// When the next action is due.
    pub(super) fn next_action_ms(&self) -> Option<i64> {
        self.actions.last().map(|a| self.action_ms(a))
    }

    /// What the driver does, when there is one.
    pub(super) fn drive(&self, t_ms: i64) -> Option<Drive> {
        let into_s = (t_ms - self.start_ms) as f64 / 1000.0;
        let share = (t_ms - self.start_ms) as f64 / self.length_ms as f64;
        (self.kind == StageKind::Drive).then(|| Drive {
            flow_kmh: self.flow_kmh,
            into_s,
            left_s: self.length_ms as f64 / 1000.0 - into_s,
            altitude_m: self.altitude_m.0 + share * (self.altitude_m.1 - self.altitude_m.0),
        })
    }
}

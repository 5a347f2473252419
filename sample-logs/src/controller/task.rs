//! Bringing one circuit to its target, in one opening and some short ones after it.

use super::Measured;
use crate::scenario::ControllerSettings;

#[derive(Debug, Clone, Copy, PartialEq, Default)]
enum Phase {
    /// Nothing to do.
    #[default]
    Idle,
    /// Decide at this time.
    Look { at_s: f64 },
    /// A valve is open since then.
    Open { fill: bool, since_s: f64 },
}

/// What the controller does with one circuit.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Task {
    phase: Phase,
    openings: u32,
    off_since_s: Option<f64>,
    give_up_s: f64,
}

/// From a command to the first opening, s: it looks at its sensors first.
const CONSIDER_S: f64 = 1.0;

/// Openings per move at most.
const MOST_OPENINGS: u32 = 4;

/// It waits this long between openings, s.
const SETTLE_S: f64 = 2.5;

/// The valve needs this to close, and the smoothed value runs behind by it, s.
const AHEAD_S: f64 = 0.15;

/// It waits this long for the tank, s.
const PATIENCE_S: f64 = 600.0;

impl Task {
    /// A target was set.
    pub(crate) fn begin(&mut self, t_s: f64) {
        *self = Task {
            phase: Phase::Look {
                at_s: t_s + CONSIDER_S,
            },
            give_up_s: t_s + PATIENCE_S,
            ..Task::default()
        };
    }

    /// Fill valve wanted open.
    #[must_use]
    pub(crate) fn filling(&self) -> bool {
        matches!(self.phase, Phase::Open { fill: true, .. })
    }

    /// Dump valve wanted open.
    #[must_use]
    pub(crate) fn dumping(&self) -> bool {
        matches!(self.phase, Phase::Open { fill: false, .. })
    }

    /// Something is going on.
    #[must_use]
    pub(crate) fn busy(&self) -> bool {
        self.phase != Phase::Idle
    }

    /// A valve may open within moments.
    #[must_use]
    pub(crate) fn expects_move(&self, t_s: f64) -> bool {
        matches!(self.phase, Phase::Look { at_s } if at_s > t_s)
    }

    /// On the road: a deviation that lasts starts a correction.
    pub(crate) fn watch(&mut self, deviation: f64, settings: &ControllerSettings, t_s: f64) {
        if self.busy() || deviation.abs() <= settings.correct_tolerance {
            self.off_since_s = None;
            return;
        }
        let since_s = *self.off_since_s.get_or_insert(t_s);
        if t_s - since_s >= settings.correct_after_s {
            self.begin(t_s);
        }
    }

    /// Decide.
    pub(crate) fn tick(
        &mut self,
        target: f64,
        measured: &Measured,
        settings: &ControllerSettings,
        may_fill: bool,
        t_s: f64,
    ) {
        let error = target - measured.fast;
        match self.phase {
            Phase::Look { at_s } if t_s >= at_s => {
                let close_enough = error.abs() <= settings.move_tolerance;
                if close_enough || self.openings >= MOST_OPENINGS || t_s > self.give_up_s {
                    self.phase = Phase::Idle;
                } else if error < 0.0 || may_fill {
                    self.openings += 1;
                    self.phase = Phase::Open {
                        fill: error > 0.0,
                        since_s: t_s,
                    };
                }
            }
            Phase::Open { fill, since_s } => {
                let towards = if fill { 1.0 } else { -1.0 };
                let left = towards * error - (towards * measured.rate).max(0.0) * AHEAD_S;
                let too_long = t_s - since_s > settings.longest_opening_s;
                if left <= 0.0 || too_long {
                    self.phase = Phase::Look {
                        at_s: t_s + SETTLE_S,
                    };
                }
            }
            Phase::Idle | Phase::Look { .. } => {}
        }
    }
}

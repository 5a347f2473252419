//! A solenoid valve: it answers late, and opens over a few milliseconds.

/// One solenoid valve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Valve {
    /// From the command to the first movement, s.
    pub lag_s: f64,
    /// From the first movement to the end of the stroke, s.
    pub stroke_s: f64,
    /// The coil is driven.
    pub driven: bool,
    /// Opening now, 0 to 1.
    pub opening: f64,
    waiting_s: f64,
}

impl Valve {
    /// A closed valve.
    #[must_use]
    pub fn new(lag_s: f64, stroke_s: f64) -> Self {
        Valve {
            lag_s,
            stroke_s,
            driven: false,
            opening: 0.0,
            waiting_s: 0.0,
        }
    }

    /// Drive the coil or not.
    pub fn drive(&mut self, driven: bool) {
        if self.driven != driven {
            self.driven = driven;
            self.waiting_s = self.lag_s;
        }
    }

    /// Let `dt_s` pass and give the mean opening meanwhile.
    pub fn step(&mut self, dt_s: f64) -> f64 {
        let before = self.opening;
        let waited = self.waiting_s.min(dt_s);
        self.waiting_s -= waited;
        let moved = (dt_s - waited) / self.stroke_s;
        self.opening = if self.driven {
            (self.opening + moved).min(1.0)
        } else {
            (self.opening - moved).max(0.0)
        };
        0.5 * (before + self.opening)
    }

    /// True when nothing passes and nothing is about to.
    #[must_use]
    pub fn is_shut(&self) -> bool {
        !self.driven && self.opening <= 0.0
    }
}

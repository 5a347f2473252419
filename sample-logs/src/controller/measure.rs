//! What the controller believes: readings, smoothed.

/// A smoothed reading of one circuit, mm or kPa.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Measured {
    /// Smoothed over a moment, to stop a move.
    pub(crate) fast: f64,
    /// Smoothed over many seconds, to see a deviation on the road.
    pub(crate) slow: f64,
    /// Speed of [`Measured::fast`], per second.
    pub(crate) rate: f64,
    at_s: Option<f64>,
}

/// Time constants, s: standing, on the road, and of the slow value.
const FAST_STANDING_S: f64 = 0.10;
const FAST_ROAD_S: f64 = 0.6;
const SLOW_S: f64 = 12.0;

impl Measured {
    /// Take a reading.
    pub(crate) fn take(&mut self, value: f64, t_s: f64, driving: bool) {
        let Some(before_s) = self.at_s.replace(t_s) else {
            self.fast = value;
            self.slow = value;
            return;
        };
        let dt_s = t_s - before_s;
        let fast_s = if driving {
            FAST_ROAD_S
        } else {
            FAST_STANDING_S
        };
        let before = self.fast;
        self.fast += (value - self.fast) * dt_s / (dt_s + fast_s);
        self.slow += (value - self.slow) * dt_s / (dt_s + SLOW_S);
        if dt_s > 0.0 {
            let rate = (self.fast - before) / dt_s;
            self.rate += (rate - self.rate) * dt_s / (dt_s + 0.15);
        }
    }
}

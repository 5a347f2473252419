//! Readings of a sensor that sticks while air is moved.

use super::super::OwnMove;
use super::quiet::Quiet;

/// A sensor that reads the same so many times, before, through and after a move, is stuck …
const SAME_READINGS: usize = 8;

/// … where the move lasted as long as this, s, …
const MOVED_S: f64 = 1.0;

/// … and the next reading is further away than this, kPa or mm: what was moved meanwhile comes
/// at once. Coarse sensors read the same through small moves and go on by a count. Common
/// practice, no source: several counts of a coarse sensor.
const COMES_AT_ONCE: f32 = 20.0;

impl Quiet {
    /// Leaves out what a stuck sensor read through `moves` of its own volume, and returns the
    /// number of these readings. One that never comes loose shows no jump; it stays.
    pub(super) fn without_stuck(mut self, moves: &[OwnMove]) -> (Self, u64) {
        let moves: Vec<(i64, i64)> = moves
            .iter()
            .filter(|m| m.duration_s >= MOVED_S)
            .map(|m| {
                let end_ms = m.end_s * 1e3;
                ((end_ms - m.duration_s * 1e3) as i64, end_ms as i64)
            })
            .collect();
        if moves.is_empty() {
            return (self, 0);
        }
        let mut keep = vec![true; self.values.len()];
        let mut from = 0;
        for same in self.values.chunk_by(|a, b| a == b) {
            let to = from + same.len();
            let span = (self.t_ms[from], self.t_ms[to - 1]);
            let through = |m: &(i64, i64)| span.0 <= m.0 && m.1 <= span.1;
            let jumps = |next: &f32| (next - same[0]).abs() > COMES_AT_ONCE;
            if same.len() >= SAME_READINGS
                && self.values.get(to).is_some_and(jumps)
                && moves.iter().any(through)
            {
                keep[from..to].fill(false);
            }
            from = to;
        }
        let left_out = keep.iter().filter(|k| !**k).count() as u64;
        if left_out > 0 {
            self.retain(&keep);
        }
        (self, left_out)
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::OwnMove;
    use super::Quiet;

    /// Invented: a reading every 10 s, a dump from 100 s to 125 s.
    fn left_out(kpa: impl Fn(i64) -> f32) -> u64 {
        let t_s: Vec<i64> = (0..60).map(|i| 10 * i).collect();
        let quiet = Quiet {
            values: t_s.iter().map(|t| kpa(*t)).collect(),
            t_ms: t_s.iter().map(|t| 1_000 * t).collect(),
        };
        let dump = OwnMove {
            end_s: 125.0,
            sign: -1.0,
            duration_s: 25.0,
        };
        let (kept, left_out) = quiet.without_stuck(&[dump]);
        assert_eq!(kept.values.len() as u64, 60 - left_out);
        assert_eq!(kept.t_ms.len(), kept.values.len());
        left_out
    }

    #[test]
    fn what_a_stuck_sensor_read_through_a_dump_is_left_out() {
        let stuck = |t: i64| if t < 400 { 436.3 } else { 4.3 };
        assert_eq!(left_out(stuck), 40);
    }

    #[test]
    fn one_that_follows_the_dump_or_is_only_coarse_stays() {
        assert_eq!(left_out(|t| if t < 120 { 436.3 } else { 4.3 }), 0);
        assert_eq!(left_out(|t| if t < 400 { 436.0 } else { 428.0 }), 0);
        assert_eq!(left_out(|_| 436.3), 0);
    }
}

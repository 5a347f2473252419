//! A slow channel between its readings.

/// A channel that speaks seldom, asked in time order.
#[derive(Debug)]
pub(super) struct Slow<'a> {
    t_ms: &'a [i64],
    values: Option<&'a [f32]>,
    /// Last reading at or before the time asked for.
    before: Option<(i64, f64)>,
    /// First reading after it.
    after: Option<(i64, f64)>,
    next: usize,
    /// Readings further apart than this are not joined by a line, ms.
    join_ms: i64,
}

impl<'a> Slow<'a> {
    /// `before` is the last reading of the session before, if it still stands.
    pub(super) fn new(
        t_ms: &'a [i64],
        values: Option<&'a [f32]>,
        join_ms: i64,
        before: Option<(i64, f64)>,
    ) -> Self {
        Slow {
            t_ms,
            values,
            join_ms,
            before,
            after: None,
            next: 0,
        }
    }

    /// Value at a time not before the last one asked for: on the line between
    /// its neighbours, the last reading where the next is far; `NaN` before the
    /// first reading unless that is near.
    pub(super) fn at(&mut self, t_ms: i64) -> f64 {
        if self.values.is_some() && self.after.is_none_or(|a| a.0 <= t_ms) {
            let passed = self.next..self.first_after(t_ms);
            self.next = passed.end;
            let last = passed.rev().find_map(|i| self.reading(i));
            self.before = last.or(self.after).or(self.before);
            self.after = self.following();
        }
        match (self.before, self.after) {
            (Some(a), Some(b)) if b.0 - a.0 <= self.join_ms => {
                let share = (t_ms - a.0) as f64 / (b.0 - a.0) as f64;
                a.1 + share * (b.1 - a.1)
            }
            (Some(a), _) => a.1,
            (None, Some(b)) if b.0 - t_ms <= self.join_ms => b.1,
            _ => f64::NAN,
        }
    }

    /// Length of the silence around the time last asked for, ms; `None` when no
    /// reading is on one of its sides.
    pub(super) fn silence_ms(&self) -> Option<i64> {
        Some(self.after?.0 - self.before?.0)
    }

    /// Last reading at or before the time last asked for.
    pub(super) fn last_read(&self) -> Option<(i64, f64)> {
        self.before
    }

    /// Index of the first tick after a time, from the next one on; a long drive
    /// in which nobody asked is leapt over.
    fn first_after(&self, t_ms: i64) -> usize {
        let rest = &self.t_ms[self.next..];
        let mut reach = 1;
        while rest.get(reach - 1).is_some_and(|t| *t <= t_ms) {
            reach *= 2;
        }
        let rest = &rest[..reach.min(rest.len())];
        self.next + rest.partition_point(|t| *t <= t_ms)
    }

    fn following(&mut self) -> Option<(i64, f64)> {
        while self.next < self.t_ms.len() {
            self.next += 1;
            if let Some(reading) = self.reading(self.next - 1) {
                return Some(reading);
            }
        }
        None
    }

    fn reading(&self, i: usize) -> Option<(i64, f64)> {
        let value = self.values?[i];
        (!value.is_nan()).then(|| (self.t_ms[i], f64::from(value)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn between_readings_on_the_line_and_held_over_a_long_silence() {
        let t = [0, 300_000, 600_000, 6_000_000, 6_300_000];
        let values = [f32::NAN, 10.0, 20.0, 40.0, f32::NAN];
        let mut slow = Slow::new(&t, Some(&values), 1_800_000, None);
        assert!((slow.at(0) - 10.0).abs() < 1e-9, "the first is near");
        assert!((slow.at(300_000) - 10.0).abs() < 1e-9);
        assert!((slow.at(450_000) - 15.0).abs() < 1e-9);
        assert!((slow.at(600_000) - 20.0).abs() < 1e-9);
        assert!((slow.at(3_000_000) - 20.0).abs() < 1e-9, "silence: held");
        assert_eq!(slow.silence_ms(), Some(5_400_000));
        assert!((slow.at(6_300_000) - 40.0).abs() < 1e-9);
        assert_eq!(slow.silence_ms(), None);
        assert_eq!(slow.last_read(), Some((6_000_000, 40.0)));
    }

    #[test]
    fn nothing_recorded_is_no_number() {
        let at_once = |t: &[i64], v| Slow::new(t, v, 1_800_000, None).at(0);
        assert!(at_once(&[0], None).is_nan());
        assert!(at_once(&[9_000_000], Some(&[1.0])).is_nan());
    }
}

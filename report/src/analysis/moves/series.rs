//! One channel as a series of readings, silence left out.

/// Readings of one channel in time order: a view of columns, which are much
/// larger than the stretches that are asked for.
#[derive(Debug, Clone, Copy, Default)]
pub struct Series<'a> {
    /// Times and values of equal length, `NaN` where silent; both empty when
    /// the channel never spoke.
    t_ms: &'a [i64],
    values: &'a [f32],
    offset: f64,
}

/// Values of single precision that differ by less are one, as a share.
const ROUNDING: f64 = 1e-6;

/// Mean of a window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WindowMean {
    /// Mean value.
    pub mean: f64,
    /// Standard deviation of single readings.
    pub sd: f64,
    /// Number of readings.
    pub n: usize,
}

impl WindowMean {
    /// Standard error of the mean; one reading says nothing about its error.
    #[must_use]
    pub fn standard_error(&self) -> f64 {
        self.sd / (self.n as f64).sqrt()
    }
}

impl<'a> Series<'a> {
    /// From columns of equal length; `offset` is added to each value.
    #[must_use]
    pub fn new(t_ms: &'a [i64], values: &'a [f32], offset: f64) -> Self {
        if values.iter().all(|v| v.is_nan()) {
            return Series::default();
        }
        Series {
            t_ms,
            values,
            offset,
        }
    }

    /// Value at a time, on the straight line between neighbours no further
    /// apart than `most_ms`; `None` outside or over longer silences.
    #[must_use]
    pub fn at(&self, t_ms: i64, most_ms: i64) -> Option<f64> {
        let after = self.t_ms.partition_point(|&t| t <= t_ms);
        // Neighbours further away than they may be apart need not be found.
        let near = |i: &usize| self.t_ms[*i].abs_diff(t_ms) <= most_ms.unsigned_abs();
        let mut before = (0..after).rev().take_while(near);
        let (before_ms, before) = before.find_map(|i| self.reading(i))?;
        if before_ms == t_ms {
            return Some(before);
        }
        let mut behind = (after..self.t_ms.len()).take_while(near);
        let (after_ms, after) = behind.find_map(|i| self.reading(i))?;
        if after_ms - before_ms > most_ms {
            return None;
        }
        let share = (t_ms - before_ms) as f64 / (after_ms - before_ms) as f64;
        Some(before + share * (after - before))
    }

    /// Mean over `[from_ms, to_ms)`; `None` when silent.
    #[must_use]
    pub fn mean(&self, from_ms: i64, to_ms: i64) -> Option<WindowMean> {
        let readings = || self.readings(from_ms, to_ms).map(|(_, v)| v);
        let n = readings().count();
        if n == 0 {
            return None;
        }
        let mean = readings().sum::<f64>() / n as f64;
        let ss: f64 = readings().map(|v| (v - mean).powi(2)).sum();
        let sd = if n > 1 {
            (ss / (n - 1) as f64).sqrt()
        } else {
            0.0
        };
        Some(WindowMean { mean, sd, n })
    }

    /// Readings in `[from_ms, to_ms)`.
    #[must_use]
    pub fn window(&self, from_ms: i64, to_ms: i64) -> (Vec<i64>, Vec<f64>) {
        self.readings(from_ms, to_ms).unzip()
    }

    /// Smallest step between neighbouring readings of a window that differ; 0 where too
    /// few do to tell it.
    #[must_use]
    pub fn raster(&self, from_ms: i64, to_ms: i64) -> f64 {
        const FEWEST: usize = 3;
        let mut before: Option<f64> = None;
        let (mut least, mut steps) = (f64::INFINITY, 0);
        for (_, value) in self.readings(from_ms, to_ms) {
            let step = before.map_or(0.0, |b: f64| (value - b).abs());
            if step > ROUNDING * value.abs() {
                least = least.min(step);
                steps += 1;
            }
            before = Some(value);
        }
        if steps >= FEWEST { least } else { 0.0 }
    }

    /// Time between readings of a switch around a pulse, s. A switch that is asked for
    /// its state answers in a raster, within which the change lies; one that reports
    /// each change is as exact as a tick.
    #[must_use]
    pub fn raster_of_changes_s(&self, from_ms: i64, to_ms: i64) -> f64 {
        const AROUND_MS: i64 = 3_000;
        const FEWEST: usize = 8;
        const TICK_S: f64 = 0.02;
        let (t_ms, values) = self.window(from_ms - AROUND_MS, to_ms + AROUND_MS);
        // A switch that reports changes alone never says the same twice in a row.
        let repeats = |i: &usize| (values[*i] - values[i - 1]).abs() < 0.5;
        let repeated = (1..t_ms.len()).filter(repeats);
        let mut steps: Vec<i64> = repeated.map(|i| t_ms[i] - t_ms[i - 1]).collect();
        steps.sort_unstable();
        match steps.get(steps.len() / 2) {
            Some(step) if steps.len() >= FEWEST => (*step as f64 / 1000.0).max(TICK_S),
            _ => TICK_S,
        }
    }

    /// Typical time between readings, s: the middle one of the first thousand steps.
    #[must_use]
    pub fn typical_step_s(&self) -> f64 {
        const STEPS: usize = 1_000;
        let spoken = (0..self.t_ms.len()).filter_map(|i| self.reading(i));
        let t_ms: Vec<i64> = spoken.map(|r| r.0).take(STEPS).collect();
        let mut steps: Vec<i64> = t_ms.windows(2).map(|w| w[1] - w[0]).collect();
        steps.sort_unstable();
        steps
            .get(steps.len() / 2)
            .map_or(0.0, |ms| *ms as f64 / 1000.0)
    }

    /// True when all readings of a window, at least `fewest`, are one value.
    #[must_use]
    pub fn stands_still(&self, from_ms: i64, to_ms: i64, fewest: usize) -> bool {
        let readings = || self.readings(from_ms, to_ms).map(|(_, v)| v);
        let first = readings().next();
        let same = |v: f64| first.is_some_and(|f| (v - f).abs() <= ROUNDING * f.abs());
        readings().count() >= fewest && readings().all(same)
    }

    /// True when there is no reading at all.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.t_ms.is_empty()
    }

    fn readings(&self, from_ms: i64, to_ms: i64) -> impl Iterator<Item = (i64, f64)> {
        let from = self.t_ms.partition_point(|&t| t < from_ms);
        let to = self.t_ms.partition_point(|&t| t < to_ms).max(from);
        (from..to).filter_map(|i| self.reading(i))
    }

    fn reading(&self, i: usize) -> Option<(i64, f64)> {
        let value = self.values[i];
        (!value.is_nan()).then(|| (self.t_ms[i], f64::from(value) + self.offset))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn interpolates_between_neighbours_and_not_over_silence() {
        let s = Series::new(&[0, 10, 20, 5_000], &[1.0, f32::NAN, 3.0, 9.0], 0.5);
        assert_eq!(s.at(10, 100), Some(2.5));
        assert_eq!(s.at(1_000, 100), None);
        assert_eq!(s.at(-1, 100), None);
        assert_eq!(s.at(12, 19), None, "neighbours 20 ms apart");
        assert_eq!(s.at(20, 0), Some(3.5), "a reading of its own");
        assert_eq!(s.window(0, 5_000), (vec![0, 20], vec![1.5, 3.5]));
        assert_eq!(s.mean(0, 21).map(|m| (m.mean, m.n)), Some((2.5, 2)));
    }

    #[test]
    fn the_raster_is_the_least_step_and_a_stuck_sensor_stands_still() {
        let t: Vec<i64> = (0..12).collect();
        let coarse: Vec<f32> = (0..12_u8).map(|i| 400.0 + 2.0 * f32::from(i / 3)).collect();
        let s = Series::new(&t, &coarse, 100.0);
        assert!((s.raster(0, 12) - 2.0).abs() < 1e-9);
        assert_eq!(s.raster(0, 5), 0.0, "one step tells no raster");
        assert!(s.stands_still(0, 3, 3) && !s.stands_still(0, 3, 4) && !s.stands_still(0, 4, 3));
    }

    #[test]
    fn a_switch_that_reports_changes_is_exact_and_one_that_is_asked_is_not() {
        let polled: Vec<i64> = (0..100).map(|i| i * 100).collect();
        let on: Vec<f32> = (0..100_u8)
            .map(|i| f32::from(u8::from(i / 7 % 2 == 1)))
            .collect();
        let asked = Series::new(&polled, &on, 0.0).raster_of_changes_s(3_000, 6_000);
        assert!((asked - 0.1).abs() < 1e-9, "{asked}");
        let changes: Vec<i64> = (0..20).map(|i| i * 700).collect();
        let on: Vec<f32> = (0..20_u8).map(|i| f32::from(i % 2)).collect();
        let told = Series::new(&changes, &on, 0.0).raster_of_changes_s(3_000, 9_000);
        assert!((told - 0.02).abs() < 1e-9, "{told}");
    }

    #[test]
    fn a_channel_that_never_spoke_is_empty() {
        let s = Series::new(&[0, 10], &[f32::NAN; 2], 0.0);
        assert!(s.is_empty() && s.mean(0, 20).is_none() && s.at(5, 100).is_none());
    }
}

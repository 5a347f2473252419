//! One channel as a series of readings, silence left out.

/// Readings of one channel in time order.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Series {
    t_ms: Vec<i64>,
    values: Vec<f64>,
}

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

impl Series {
    /// From columns of equal length; `offset` is added to each value.
    #[must_use]
    pub fn new(t_ms: &[i64], values: &[f32], offset: f64) -> Self {
        let mut out = Series::default();
        for (&t, &v) in t_ms.iter().zip(values) {
            if !v.is_nan() {
                out.t_ms.push(t);
                out.values.push(f64::from(v) + offset);
            }
        }
        out
    }

    /// Value at a time, on the straight line between neighbours no further
    /// apart than `most_ms`; `None` outside or over longer silences.
    #[must_use]
    pub fn at(&self, t_ms: i64, most_ms: i64) -> Option<f64> {
        let after = self.t_ms.partition_point(|&t| t <= t_ms);
        let i = after.checked_sub(1)?;
        if self.t_ms[i] == t_ms {
            return Some(self.values[i]);
        }
        let j = after;
        if j >= self.t_ms.len() || self.t_ms[j] - self.t_ms[i] > most_ms {
            return None;
        }
        let share = (t_ms - self.t_ms[i]) as f64 / (self.t_ms[j] - self.t_ms[i]) as f64;
        Some(self.values[i] + share * (self.values[j] - self.values[i]))
    }

    /// Mean over `[from_ms, to_ms)`; `None` when silent.
    #[must_use]
    pub fn mean(&self, from_ms: i64, to_ms: i64) -> Option<WindowMean> {
        let (_, values) = self.window(from_ms, to_ms);
        if values.is_empty() {
            return None;
        }
        let n = values.len();
        let mean = values.iter().sum::<f64>() / n as f64;
        let ss: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
        let sd = if n > 1 {
            (ss / (n - 1) as f64).sqrt()
        } else {
            0.0
        };
        Some(WindowMean { mean, sd, n })
    }

    /// Readings in `[from_ms, to_ms)`.
    #[must_use]
    pub fn window(&self, from_ms: i64, to_ms: i64) -> (&[i64], &[f64]) {
        let from = self.t_ms.partition_point(|&t| t < from_ms);
        let to = self.t_ms.partition_point(|&t| t < to_ms).max(from);
        (&self.t_ms[from..to], &self.values[from..to])
    }

    /// True when there is no reading at all.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.t_ms.is_empty()
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
        assert_eq!(s.mean(0, 21).map(|m| (m.mean, m.n)), Some((2.5, 2)));
    }
}

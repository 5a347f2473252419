//! When a volume was not at rest.

use super::OnSpan;

/// Stretches of log time, merged and in order, in which air was moved on purpose.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Busy {
    spans: Vec<(i64, i64)>,
}

impl Busy {
    /// Merge spans that touch or overlap.
    #[must_use]
    pub fn new(spans: impl IntoIterator<Item = (i64, i64)>) -> Self {
        let mut sorted: Vec<(i64, i64)> = spans.into_iter().collect();
        sorted.sort_unstable();
        let mut merged: Vec<(i64, i64)> = Vec::new();
        for (from, to) in sorted {
            match merged.last_mut() {
                Some(last) if from <= last.1 => last.1 = last.1.max(to),
                _ => merged.push((from, to)),
            }
        }
        Busy { spans: merged }
    }

    /// From valve openings and compressor runs.
    #[must_use]
    pub fn from_on_spans<'a>(spans: impl IntoIterator<Item = &'a OnSpan>) -> Self {
        Busy::new(spans.into_iter().map(|s| (s.from_ms, s.to_ms)))
    }

    /// From the readings themselves, where no valve channel exists: a reading
    /// that lies further from its mean of the last 10 s than `step` marks 10 s
    /// before and after it as busy.
    ///
    /// **Units**: `step` in the unit of `values`; times ms.
    #[must_use]
    pub fn from_steps(t_ms: &[i64], values: &[f32], step: f32) -> Self {
        const REACH_MS: i64 = 10_000;
        let mut spans = Vec::new();
        let mut recent: std::collections::VecDeque<(i64, f32)> = std::collections::VecDeque::new();
        let mut sum = 0.0_f64;
        for (&t, &v) in t_ms.iter().zip(values) {
            if v.is_nan() {
                continue;
            }
            while recent.len() > 1 && recent.front().is_some_and(|f| f.0 < t - REACH_MS) {
                sum -= recent.pop_front().map_or(0.0, |f| f64::from(f.1));
            }
            if !recent.is_empty() {
                let mean = (sum / recent.len() as f64) as f32;
                if (v - mean).abs() > step {
                    spans.push((t - REACH_MS, t + REACH_MS));
                }
            }
            recent.push_back((t, v));
            sum += f64::from(v);
        }
        Busy::new(spans)
    }

    /// Busy when either is.
    #[must_use]
    pub fn or(&self, other: &Busy) -> Self {
        Busy::new(self.spans.iter().chain(&other.spans).copied())
    }

    /// True when `t_ms` lies in a busy stretch.
    #[must_use]
    pub fn contains(&self, t_ms: i64) -> bool {
        let after = self.spans.partition_point(|s| s.0 <= t_ms);
        after > 0 && t_ms < self.spans[after - 1].1
    }

    /// End of the last busy stretch that began at or before `t_ms`.
    #[must_use]
    pub fn last_end_before(&self, t_ms: i64) -> Option<i64> {
        let after = self.spans.partition_point(|s| s.0 <= t_ms);
        after.checked_sub(1).map(|i| self.spans[i].1)
    }

    /// The merged stretches.
    #[must_use]
    pub fn spans(&self) -> &[(i64, i64)] {
        &self.spans
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn merges_and_answers() {
        let busy = Busy::new([(50, 60), (0, 10), (5, 20)]);
        assert_eq!(busy.spans(), [(0, 20), (50, 60)]);
        assert!(busy.contains(0) && busy.contains(19) && !busy.contains(20));
        assert_eq!(busy.last_end_before(40), Some(20));
        assert_eq!(busy.last_end_before(-1), None);
    }

    #[test]
    fn a_step_in_pressure_is_busy_and_a_slow_fall_is_not() {
        let t: Vec<i64> = (0..600).map(|s| s * 1000).collect();
        let values: Vec<f32> = (0..600u16)
            .map(|s| 500.0 - 0.01 * f32::from(s) + if s >= 300 { 40.0 } else { 0.0 })
            .collect();
        let busy = Busy::from_steps(&t, &values, 4.0);
        assert_eq!(busy.spans().len(), 1);
        assert!(busy.contains(300_000));
        assert!(!busy.contains(100_000) && !busy.contains(400_000));
    }
}

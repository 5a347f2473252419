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
        let mut spans: Vec<(i64, i64)> = Vec::new();
        // Index of the first of the last 10 s' readings, how many, their sum.
        let (mut first, mut count, mut sum) = (0, 0_usize, 0.0_f64);
        for (i, (&t, &v)) in t_ms.iter().zip(values).enumerate() {
            if v.is_nan() {
                continue;
            }
            while count > 1 && t_ms[first] < t - REACH_MS {
                sum -= f64::from(values[first]);
                count -= 1;
                first += 1;
                while values[first].is_nan() {
                    first += 1;
                }
            }
            if count == 0 {
                first = i;
            } else {
                let mean = (sum / count as f64) as f32;
                if (v - mean).abs() > step {
                    match spans.last_mut() {
                        Some(last) if t - REACH_MS <= last.1 => last.1 = t + REACH_MS,
                        _ => spans.push((t - REACH_MS, t + REACH_MS)),
                    }
                }
            }
            sum += f64::from(v);
            count += 1;
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

    /// Answers [`Busy::contains`] for times that never fall, in one pass.
    pub(super) fn in_order(&self) -> impl FnMut(i64) -> bool {
        let mut next = 0;
        move |t_ms| {
            while self.spans.get(next).is_some_and(|s| s.0 <= t_ms) {
                next += 1;
            }
            next > 0 && t_ms < self.spans[next - 1].1
        }
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
        let mut in_order = busy.in_order();
        for t_ms in -5..70 {
            assert_eq!(in_order(t_ms), busy.contains(t_ms), "{t_ms}");
        }
        assert_eq!(busy.last_end_before(-1), None);
    }

    #[test]
    fn silence_between_readings_is_passed_over() {
        let t: Vec<i64> = (0..600).map(|s| s * 1000).collect();
        let level = |s: u16| if s >= 301 { 540.0 } else { 500.0 };
        let spoken = |s: u16| if s % 3 == 1 { level(s) } else { f32::NAN };
        let values: Vec<f32> = (0..600).map(spoken).collect();
        // The readings after the step that do not yet outweigh those before it.
        assert_eq!(
            Busy::from_steps(&t, &values, 4.0).spans(),
            [(291_000, 317_000)]
        );
        assert_eq!(Busy::from_steps(&t, &[f32::NAN; 600], 4.0).spans(), []);
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

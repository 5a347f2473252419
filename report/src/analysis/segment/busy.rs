//! When a volume was not at rest.

use super::OnSpan;
use seep_common::tick::DRIVING_KMH;

/// A word of driving holds this long, ms.
const DRIVING_HOLDS_MS: i64 = 5_000;

/// Stretches of log time, merged and in order, in which air was moved on purpose,
/// or the car was driven.
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

    /// At no time.
    #[must_use]
    pub fn never() -> &'static Self {
        static NEVER: Busy = Busy { spans: Vec::new() };
        &NEVER
    }

    /// From the speed: driving begins with a reading above [`DRIVING_KMH`] and
    /// ends 5 s after the last.
    ///
    /// **Units**: times ms; `kmh` km/h, `NaN` where none was read.
    #[must_use]
    pub fn from_driving(t_ms: &[i64], kmh: &[f32]) -> Self {
        let fast = |r: &(&i64, &f32)| f64::from(*r.1) > DRIVING_KMH;
        let mut spans: Vec<(i64, i64)> = Vec::new();
        for (&t, _) in t_ms.iter().zip(kmh).filter(fast) {
            match spans.last_mut() {
                Some(last) if t <= last.1 => last.1 = t + DRIVING_HOLDS_MS,
                _ => spans.push((t, t + DRIVING_HOLDS_MS)),
            }
        }
        Busy { spans }
    }

    /// Busy when either is.
    #[must_use]
    pub fn or(&self, other: &Busy) -> Self {
        Busy::new(self.spans.iter().chain(&other.spans).copied())
    }

    /// True when `t_ms` lies in a busy stretch.
    #[cfg(test)]
    pub(super) fn contains(&self, t_ms: i64) -> bool {
        let after = self.spans.partition_point(|s| s.0 <= t_ms);
        after > 0 && t_ms < self.spans[after - 1].1
    }

    /// End of the last busy stretch that began at or before `t_ms`.
    #[must_use]
    pub fn last_end_before(&self, t_ms: i64) -> Option<i64> {
        let after = self.spans.partition_point(|s| s.0 <= t_ms);
        after.checked_sub(1).map(|i| self.spans[i].1)
    }

    /// True when one busy stretch holds both times and all between them.
    #[must_use]
    pub fn covers(&self, from_ms: i64, to_ms: i64) -> bool {
        let after = self.spans.partition_point(|s| s.0 <= from_ms);
        after > 0 && to_ms < self.spans[after - 1].1
    }

    /// For times that never fall, in one pass: the end of the busy stretch a time
    /// lies in.
    pub(super) fn in_order(&self) -> impl FnMut(i64) -> Option<i64> {
        let mut next = 0;
        move |t_ms| {
            while self.spans.get(next).is_some_and(|s| s.0 <= t_ms) {
                next += 1;
            }
            let end = next.checked_sub(1).map(|i| self.spans[i].1);
            end.filter(|end| t_ms < *end)
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
            let end = busy.last_end_before(t_ms).filter(|end| t_ms < *end);
            assert_eq!(end.is_some(), busy.contains(t_ms), "{t_ms}");
            assert_eq!(in_order(t_ms), end, "{t_ms}");
        }
        assert_eq!(busy.last_end_before(-1), None);
        assert!(busy.covers(0, 19) && busy.covers(50, 59));
        assert!(!busy.covers(0, 20) && !busy.covers(15, 55) && !busy.covers(-1, 5));
    }

    #[test]
    fn driving_ends_five_seconds_after_the_last_word_of_it() {
        let t_ms: Vec<i64> = (0..60).map(|s| s * 1_000).collect();
        let kmh: Vec<f32> = (0..60_u8)
            .map(|s| match s {
                10 | 14 | 30 => 60.0,
                12 => 0.0,
                _ => f32::NAN,
            })
            .collect();
        let driving = Busy::from_driving(&t_ms, &kmh);
        assert_eq!(driving.spans(), [(10_000, 19_000), (30_000, 35_000)]);
        assert_eq!(Busy::from_driving(&[], &[]), *Busy::never());
    }
}

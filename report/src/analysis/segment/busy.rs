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
}

//! A trace, and thinning it without losing an extreme.

use serde::{Deserialize, Serialize};
use std::ops::Range;

/// A named line over time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Trace {
    /// Channel or place, as printed.
    pub name: String,
    /// Times, Unix ms, ascending.
    pub t_unix_ms: Vec<i64>,
    /// Values in the panel's unit; none where the channel was silent. The
    /// line is broken there.
    pub values: Vec<Option<f64>>,
    /// How many values the trace had before it was thinned.
    pub thinned_from: u64,
}

impl Trace {
    /// A trace from parallel columns. Non-finite values count as silence.
    ///
    /// The wall clock may have been set back while recording; points are then
    /// put in order of wall time, so the axis never runs backwards.
    ///
    /// ```
    /// use seep_report::model::Trace;
    /// let t = Trace::new("tank", vec![0, 100, 200], vec![Some(1.0), None, Some(3.0)]);
    /// assert_eq!(t.thinned_from, 3);
    /// ```
    #[must_use]
    pub fn new(name: &str, t_unix_ms: Vec<i64>, values: Vec<Option<f64>>) -> Self {
        debug_assert_eq!(t_unix_ms.len(), values.len(), "trace {name}");
        let thinned_from = t_unix_ms.len().min(values.len()) as u64;
        let finite = values.into_iter().map(|v| v.filter(|x| x.is_finite()));
        let mut points: Vec<(i64, Option<f64>)> = t_unix_ms.into_iter().zip(finite).collect();
        if !points.is_sorted_by_key(|p| p.0) {
            points.sort_by_key(|p| p.0);
        }
        let (t_unix_ms, values) = points.into_iter().unzip();
        Trace {
            name: name.to_string(),
            t_unix_ms,
            values,
            thinned_from,
        }
    }

    /// The trace cut into at most `bins` equal spans of time, each keeping its
    /// first, lowest, highest and last value and whether it was silent.
    ///
    /// A line drawn through the result at one bin per pixel covers the same
    /// pixels as the full trace: every extreme is kept, no mean is invented.
    /// A trace of at most four points per bin is returned as it is.
    #[must_use]
    pub fn thinned(&self, bins: usize) -> Trace {
        let of_bin = |bin, keep: &mut Vec<usize>| keep_of_bin(bin, |i| self.values[i], keep);
        let Some(keep) = thin(&self.t_unix_ms, bins, of_bin) else {
            return self.clone();
        };
        Trace {
            name: self.name.clone(),
            t_unix_ms: keep.iter().map(|&i| self.t_unix_ms[i]).collect(),
            values: keep.iter().map(|&i| self.values[i]).collect(),
            thinned_from: self.thinned_from,
        }
    }
}

/// Indices that [`Trace::thinned`] keeps, ascending, of readings in order of
/// time; `None` where all are kept. `keep_of_bin` adds
/// those of one bin, ascending; twice does no harm.
pub(crate) fn thin(
    t_ms: &[i64],
    bins: usize,
    mut keep_of_bin: impl FnMut(Range<usize>, &mut Vec<usize>),
) -> Option<Vec<usize>> {
    let (&first, &last) = (t_ms.first()?, t_ms.last()?);
    if bins == 0 || t_ms.len() <= bins.saturating_mul(4) {
        return None;
    }
    let span = i128::from(last) - i128::from(first) + 1;
    let since = |t: i64| i128::from(t) - i128::from(first);
    let mut keep: Vec<usize> = Vec::with_capacity(bins * 4);
    let mut start = 0;
    while start < t_ms.len() {
        let bin = since(t_ms[start]) * bins as i128 / span;
        // The first time of the bin after it.
        let next = ((bin + 1) * span + bins as i128 - 1) / bins as i128;
        let len = t_ms[start..].partition_point(|&t| since(t) < next);
        keep_of_bin(start..start + len, &mut keep);
        start += len;
    }
    keep.dedup();
    Some(keep)
}

/// Add the indices to keep of one bin, ascending, some maybe twice: first, last,
/// extremes, and one silence so that a break survives.
pub(crate) fn keep_of_bin(
    range: Range<usize>,
    value: impl Fn(usize) -> Option<f64>,
    keep: &mut Vec<usize>,
) {
    let mut ends: Option<(usize, usize)> = None;
    let mut lowest: Option<(usize, f64)> = None;
    let mut highest: Option<(usize, f64)> = None;
    let mut silent = None;
    for i in range {
        let Some(v) = value(i) else {
            silent = silent.or(Some(i));
            continue;
        };
        ends = Some((ends.map_or(i, |e| e.0), i));
        if lowest.is_none_or(|low| v < low.1) {
            lowest = Some((i, v));
        }
        if highest.is_none_or(|high| v >= high.1) {
            highest = Some((i, v));
        }
    }
    let extremes = lowest.into_iter().chain(highest).map(|extreme| extreme.0);
    let from = keep.len();
    keep.extend(ends.into_iter().flat_map(|e| [e.0, e.1]));
    keep.extend(extremes.chain(silent));
    keep[from..].sort_unstable();
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn extremes(t: &Trace) -> (Option<f64>, Option<f64>) {
        let spoken = || t.values.iter().flatten().copied();
        (
            spoken().min_by(f64::total_cmp),
            spoken().max_by(f64::total_cmp),
        )
    }

    #[test]
    fn a_clock_set_back_does_not_turn_the_axis() {
        let t = Trace::new("x", vec![10, 5, 20], vec![Some(1.0), Some(2.0), None]);
        assert_eq!(t.t_unix_ms, [5, 10, 20]);
        assert_eq!(t.values, [Some(2.0), Some(1.0), None]);
    }

    #[test]
    fn one_spike_in_a_million_survives() {
        let n = 1_000_000;
        let mut values = vec![Some(100.0); n];
        values[777_777] = Some(250.0);
        values[333_333] = Some(-3.0);
        let thin = Trace::new("x", (0..n as i64).collect(), values).thinned(500);
        assert!(thin.t_unix_ms.len() <= 500 * 5);
        assert_eq!(extremes(&thin), (Some(-3.0), Some(250.0)));
        assert_eq!(thin.thinned_from, n as u64);
    }

    #[test]
    fn silence_survives_thinning() {
        let mut values = vec![Some(1.0); 1000];
        values[500] = None;
        let thin = Trace::new("x", (0..1000).collect(), values).thinned(10);
        assert_eq!(thin.values.iter().filter(|v| v.is_none()).count(), 1);
    }

    proptest! {
        #[test]
        fn thinning_keeps_extremes_order_and_ends(
            values in proptest::collection::vec(proptest::option::of(-1e6..1e6f64), 1..2000),
            bins in 1usize..50,
        ) {
            let t: Vec<i64> = (0..values.len() as i64).map(|i| i * 7).collect();
            let full = Trace::new("x", t, values);
            let thin = full.thinned(bins);
            prop_assert_eq!(extremes(&thin), extremes(&full));
            prop_assert!(thin.t_unix_ms.is_sorted());
            prop_assert!(thin.t_unix_ms.len() <= (bins * 5).max(bins * 4));
            let spoken = |t: &Trace| t.t_unix_ms.iter().zip(&t.values)
                .filter(|p| p.1.is_some()).map(|p| *p.0).collect::<Vec<_>>();
            prop_assert_eq!(spoken(&thin).first().copied(), spoken(&full).first().copied());
            prop_assert_eq!(spoken(&thin).last().copied(), spoken(&full).last().copied());
        }
    }
}

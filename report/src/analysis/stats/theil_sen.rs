//! The Theil–Sen line: median of all pairwise slopes.

use super::kendall::{group_sizes, tied, variance_of_s};
use super::{Interval, median, normal_quantile};

/// Up to this many points every slope is kept and sorted; above, the slopes
/// wanted are found by counting, without keeping them.
const KEEP_ALL_UP_TO: usize = 1_000;

/// A robust straight line.
///
/// **Units**: slope in y per x.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TheilSen {
    /// Median of the slopes of all pairs with different x.
    pub slope: f64,
    /// median(y) − slope·median(x).
    pub intercept: f64,
    /// Interval of the slope. Open when there are too few points for its level.
    pub interval: Interval,
    /// Number of pairs with different x.
    pub pairs: usize,
}

/// Fit a Theil–Sen line; `None` for fewer than two different x, unequal
/// lengths or a value that is not finite.
///
/// The interval is Sen's: order statistics of the slopes from the normal
/// approximation of Kendall's S. It takes the residuals as independent.
/// When the order statistic it asks for does not exist, that end is open.
/// **Source**: Sen, J. Am. Statist. Assoc. 63 (1968) 1379, eq. 2.6; intercept
/// as in scipy's `theilslopes`.
///
/// ```
/// use seep_report::analysis::stats::theil_sen;
/// let x = [1.0, 2.0, 3.0, 4.0, 5.0];
/// let line = theil_sen(&x, &[5.0, 6.0, 11.0, 8.0, 10.0], 0.95).unwrap();
/// assert!((line.slope - 1.125).abs() < 1e-12);
/// ```
#[must_use]
pub fn theil_sen(x: &[f64], y: &[f64], level: f64) -> Option<TheilSen> {
    let finite = x.iter().chain(y).all(|v| v.is_finite());
    if x.len() != y.len() || !finite {
        return None;
    }
    let slopes = if x.len() <= KEEP_ALL_UP_TO {
        Slopes::kept(x, y)
    } else {
        Slopes::counted(x, y)
    };
    let pairs = slopes.len();
    if pairs == 0 {
        return None;
    }
    let slope = f64::midpoint(slopes.nth((pairs - 1) / 2), slopes.nth(pairs / 2));
    let (below, above) = ranks(x, y, pairs, level);
    let end = |rank: Option<usize>, open: f64| rank.map_or(open, |r| slopes.nth(r));
    Some(TheilSen {
        slope,
        intercept: median(y)? - slope * median(x)?,
        interval: Interval {
            low: end(below, f64::NEG_INFINITY),
            high: end(above, f64::INFINITY),
            level,
        },
        pairs,
    })
}

/// Ranks (from 0) of the slopes at the ends of the interval.
fn ranks(x: &[f64], y: &[f64], pairs: usize, level: f64) -> (Option<usize>, Option<usize>) {
    let mut ties = group_sizes(x);
    ties.extend(group_sizes(y));
    let z = normal_quantile(f64::midpoint(1.0, level));
    let reach = z * variance_of_s(x.len(), &ties).max(0.0).sqrt();
    let below = ((pairs as f64 - reach) / 2.0).round_ties_even() - 1.0;
    let above = ((pairs as f64 + reach) / 2.0).round_ties_even();
    (
        (below >= 0.0).then_some(below as usize),
        (above < pairs as f64).then_some(above as usize),
    )
}

/// The slopes of all pairs, kept in order or counted when asked.
enum Slopes {
    Kept(Vec<f64>),
    Counted {
        points: Vec<(f64, f64)>,
        pairs: usize,
    },
}

impl Slopes {
    fn kept(x: &[f64], y: &[f64]) -> Self {
        let mut slopes = Vec::with_capacity(x.len() * x.len().saturating_sub(1) / 2);
        for i in 0..x.len() {
            for j in i + 1..x.len() {
                let dx = x[j] - x[i];
                if dx.abs() > 0.0 {
                    slopes.push((y[j] - y[i]) / dx);
                }
            }
        }
        slopes.sort_unstable_by(f64::total_cmp);
        Slopes::Kept(slopes)
    }

    fn counted(x: &[f64], y: &[f64]) -> Self {
        let mut points: Vec<(f64, f64)> = x.iter().copied().zip(y.iter().copied()).collect();
        points.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let all = x.len() * (x.len() - 1) / 2;
        let tied: usize = group_sizes(x).iter().map(|t| t * (t - 1) / 2).sum();
        Slopes::Counted {
            points,
            pairs: all - tied,
        }
    }

    fn len(&self) -> usize {
        match self {
            Slopes::Kept(slopes) => slopes.len(),
            Slopes::Counted { pairs, .. } => *pairs,
        }
    }

    /// The slope with `rank` smaller ones.
    fn nth(&self, rank: usize) -> f64 {
        match self {
            Slopes::Kept(slopes) => slopes[rank],
            Slopes::Counted { points, .. } => nth_by_counting(points, rank),
        }
    }
}

/// Halve the range of all floats until one slope is left: at most 64 counts,
/// each n·log n, exact to rounding.
fn nth_by_counting(points: &[(f64, f64)], rank: usize) -> f64 {
    let (mut low, mut high) = (to_key(f64::MIN), to_key(f64::MAX));
    while low < high {
        let middle = low + (high - low) / 2;
        if slopes_up_to(points, from_key(middle)) > rank {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    from_key(low)
}

/// A whole number in the same order as the floats.
fn to_key(v: f64) -> i128 {
    let bits = i128::from(v.abs().to_bits());
    if v.is_sign_negative() { -bits } else { bits }
}

fn from_key(key: i128) -> f64 {
    let size = f64::from_bits(key.unsigned_abs() as u64);
    if key < 0 { -size } else { size }
}

/// Number of pairs of different x (ascending) with slope ≤ `m`: pairs whose
/// y − m·x does not rise.
fn slopes_up_to(points: &[(f64, f64)], m: f64) -> usize {
    let mut rest = Vec::with_capacity(points.len());
    let mut same_x = 0;
    for group in points.chunk_by(|a, b| tied(a.0, b.0)) {
        let start = rest.len();
        rest.extend(group.iter().map(|(x, y)| y - m * x));
        // Ascending inside equal x: only equal ones then count as not rising,
        // and those are taken off.
        rest[start..].sort_unstable_by(f64::total_cmp);
        same_x += rest[start..]
            .chunk_by(|a, b| tied(*a, *b))
            .map(|g| g.len() * (g.len() - 1) / 2)
            .sum::<usize>();
    }
    let mut work = vec![0.0; rest.len()];
    not_rising(&mut rest, &mut work) - same_x
}

/// Pairs i < j with v[i] ≥ v[j]; sorts `v`.
fn not_rising(v: &mut [f64], work: &mut [f64]) -> usize {
    let n = v.len();
    if n < 2 {
        return 0;
    }
    let half = n / 2;
    let mut count = not_rising(&mut v[..half], &mut work[..half]);
    count += not_rising(&mut v[half..], &mut work[half..]);
    let (mut i, mut j) = (0, half);
    for slot in work.iter_mut() {
        let take_right = i == half || (j < n && v[j] <= v[i]);
        if take_right {
            count += half - i;
            *slot = v[j];
            j += 1;
        } else {
            *slot = v[i];
            i += 1;
        }
    }
    v.copy_from_slice(work);
    count
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: f64, b: f64, tolerance: f64) {
        assert!((a - b).abs() <= tolerance, "{a} is not {b}");
    }

    #[test]
    fn epa_five_values() {
        // Data: EPA QA/G-9 small-sample example (from memory); scipy 1.17.1.
        let y = [5.0, 6.0, 11.0, 8.0, 10.0];
        let from_one = theil_sen(&[1.0, 2.0, 3.0, 4.0, 5.0], &y, 0.95).unwrap();
        close(from_one.slope, 1.125, 1e-12);
        close(from_one.intercept, 4.625, 1e-12);
        let from_nought = theil_sen(&[0.0, 1.0, 2.0, 3.0, 4.0], &y, 0.95).unwrap();
        close(from_nought.intercept, 5.75, 1e-12);
    }

    #[test]
    fn helsel_and_hirsch_seven_values() {
        // Data: Helsel & Hirsch, Statistical Methods in Water Resources,
        // section on the Theil line (from memory); interval: scipy 1.17.1.
        let x = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0];
        let y = [1.0, 2.0, 3.0, 4.0, 5.0, 16.0, 7.0];
        let line = theil_sen(&x, &y, 0.95).unwrap();
        assert_eq!(line.pairs, 21);
        close(line.slope, 1.0, 1e-12);
        close(line.intercept, 0.0, 1e-12);
        close(line.interval.low, 1.0, 1e-12);
        close(line.interval.high, 3.5, 1e-12);
    }

    #[test]
    fn counting_finds_the_slopes_that_sorting_finds() {
        // Invented data with ties in x, in y and in both.
        let x: Vec<f64> = (0..90).map(|i| f64::from(i * 37 % 60)).collect();
        let y: Vec<f64> = (0..90)
            .map(|i| f64::from(i * 53 % 41) - 0.3 * f64::from(i * 37 % 60))
            .collect();
        let (kept, counted) = (Slopes::kept(&x, &y), Slopes::counted(&x, &y));
        assert_eq!(kept.len(), counted.len());
        for rank in (0..kept.len()).step_by(17) {
            close(kept.nth(rank), counted.nth(rank), 1e-9);
        }
    }

    #[test]
    fn a_long_series_has_the_slope_it_was_given() {
        let x: Vec<f64> = (0..3_000).map(f64::from).collect();
        let y: Vec<f64> = x.iter().map(|x| 7.0 - 0.25 * x).collect();
        let line = theil_sen(&x, &y, 0.95).unwrap();
        close(line.slope, -0.25, 1e-9);
        close(line.intercept, 7.0, 1e-6);
    }

    #[test]
    fn too_few_points_leave_the_interval_open() {
        let line = theil_sen(&[0.0, 1.0, 2.0], &[0.0, 1.0, 5.0], 0.95).unwrap();
        assert_eq!(line.interval.low, f64::NEG_INFINITY);
        assert_eq!(line.interval.high, f64::INFINITY);
        assert!(theil_sen(&[1.0, 1.0], &[2.0, 3.0], 0.95).is_none());
        assert!(theil_sen(&[], &[], 0.95).is_none());
        assert!(theil_sen(&[0.0, 1.0], &[0.0, f64::NAN], 0.95).is_none());
    }
}

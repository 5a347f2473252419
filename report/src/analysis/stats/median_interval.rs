//! How well a median is known.

use super::{Interval, median, sd, student_t_quantile};
use statrs::distribution::{Binomial, DiscreteCDF};

/// Median and its interval of the given coverage (0 to 1); `None` for no values.
///
/// From six values on (at 95 %) between two order statistics, whatever the
/// distribution: the true median lies outside with at most 1 − level, as a fair
/// coin thrown n times shows few heads. With fewer values that cannot be had,
/// and the interval is that of a normal sample: median ± t·√(π/2)·s/√n. One
/// value tells nothing about its error: the interval is open.
///
/// **Units**: those of the values. **Source**: Conover, *Practical
/// Nonparametric Statistics*, interval for a quantile; √(π/2) is the large
/// sample ratio of the errors of median and mean (both from memory).
///
/// ```
/// use seep_report::analysis::stats::median_interval;
/// let values: Vec<f64> = (1..=10).map(f64::from).collect();
/// let (median, interval) = median_interval(&values, 0.95).unwrap();
/// assert_eq!(median, 5.5);
/// assert_eq!((interval.low, interval.high), (2.0, 9.0));
/// ```
#[must_use]
pub fn median_interval(values: &[f64], level: f64) -> Option<(f64, Interval)> {
    let centre = median(values)?;
    let n = values.len();
    let tail = (1.0 - level) / 2.0;
    let rank = usize::try_from(Binomial::new(0.5, n as u64).ok()?.inverse_cdf(tail)).ok()?;
    let interval = if rank > 0 {
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        Interval {
            low: sorted[rank - 1],
            high: sorted[n - rank],
            level,
        }
    } else {
        let t = student_t_quantile(1.0 - tail, (n as f64 - 1.0).max(1.0));
        let error = sd(values).map_or(f64::NAN, |s| {
            s * (std::f64::consts::FRAC_PI_2 / n as f64).sqrt()
        });
        Interval::around(centre, t * error, level)
    };
    Some((centre, interval))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one_to(n: u32) -> Vec<f64> {
        (1..=n).map(f64::from).collect()
    }

    /// SciPy 1.17.1: `quantile_test(x, q=0, p=0.5).confidence_interval(0.95)`.
    #[test]
    fn order_statistics_are_those_of_scipy() {
        let six = [3.1, 2.2, 5.9, 4.4, 1.7, 9.3];
        for (values, low, high) in [
            (six.to_vec(), 1.7, 9.3),
            (one_to(10), 2.0, 9.0),
            (one_to(20), 6.0, 15.0),
            (one_to(101), 41.0, 61.0),
        ] {
            let (_, interval) = median_interval(&values, 0.95).expect("values");
            assert_eq!((interval.low, interval.high), (low, high));
        }
    }

    #[test]
    fn few_values_give_a_wide_interval_and_one_gives_none() {
        let (centre, interval) = median_interval(&[1.0, 2.0, 3.0], 0.95).expect("values");
        assert!((centre - 2.0).abs() < 1e-12);
        // t(0.975, 2 df) = 4.302653 (any t table); s = 1; sqrt(pi/2/3) = 0.723601.
        assert!((interval.high - (2.0 + 4.302_653 * 0.723_601)).abs() < 1e-5);
        let (_, open) = median_interval(&[1.0], 0.95).expect("a value");
        assert_eq!((open.low, open.high), (f64::NEG_INFINITY, f64::INFINITY));
        assert!(median_interval(&[], 0.95).is_none());
    }
}

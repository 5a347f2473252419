//! Where the next value will lie, after those seen.

use super::{Interval, mean, sd, student_t_quantile};
use statrs::distribution::{Beta, ContinuousCDF};

/// Two-sided prediction interval of one more value of the same normal kind:
/// `x̄ ± t(k−1)·s·√(1 + 1/k)`. `None` with fewer than two values.
///
/// The interval of the mean shrinks with more values; this one never below the scatter
/// of single values.
///
/// **Units**: those of the values. **Source**: ISO 16269-8 (prediction intervals); Hahn &
/// Meeker, Statistical Intervals, table of factors for one future observation (cited from
/// memory, see the tests).
///
/// ```
/// use seep_report::analysis::stats::next_value;
/// let next = next_value(&[1.0, 2.0, 3.0], 0.95).unwrap();
/// // 2 ± 4.3027 · 1 · √(4/3)
/// assert!((next.high - 6.968).abs() < 1e-3);
/// ```
#[must_use]
pub fn next_value(values: &[f64], level: f64) -> Option<Interval> {
    let (centre, spread) = (mean(values)?, sd(values)?);
    let k = values.len() as f64;
    let t = student_t_quantile(f64::midpoint(1.0, level), k - 1.0);
    let half = t * spread * (1.0 + 1.0 / k).sqrt();
    Some(Interval::around(centre, half, level))
}

/// Share of all cases of which `hits` of `n` were seen, with its exact interval: the
/// quantiles of Beta(x, n − x + 1) and Beta(x + 1, n − x). `None` for no case.
///
/// **Source**: Clopper & Pearson, Biometrika 26 (1934) 404 (cited from memory).
///
/// ```
/// use seep_report::analysis::stats::share_interval;
/// // With 0 of 59 the upper end is 1 − 0.025^(1/59).
/// let none = share_interval(0, 59, 0.95).unwrap();
/// assert!(none.low == 0.0 && (none.high - (1.0 - 0.025_f64.powf(1.0 / 59.0))).abs() < 1e-9);
/// ```
#[must_use]
pub fn share_interval(hits: usize, n: usize, level: f64) -> Option<Interval> {
    if n == 0 || hits > n {
        return None;
    }
    let (x, rest) = (hits as f64, (n - hits) as f64);
    let tail = (1.0 - level) / 2.0;
    let quantile = |a: f64, b: f64, p: f64| Some(Beta::new(a, b).ok()?.inverse_cdf(p));
    let low = match hits {
        0 => 0.0,
        _ => quantile(x, rest + 1.0, tail)?,
    };
    let high = if hits == n {
        1.0
    } else {
        quantile(x + 1.0, rest, 1.0 - tail)?
    };
    Some(Interval { low, high, level })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Factors of the standard deviation for one future observation at 95 %, two-sided,
    /// as tabled in Hahn & Meeker for 4, 5, 6, 7, 8, 9 and 10 values (from memory).
    #[test]
    fn factors_are_those_of_the_handbook() {
        let table = [
            (4, 3.56),
            (5, 3.04),
            (6, 2.78),
            (7, 2.62),
            (8, 2.51),
            (9, 2.43),
            (10, 2.37),
        ];
        for (k, factor) in table {
            let values: Vec<f64> = (0..k).map(f64::from).collect();
            let next = next_value(&values, 0.95).expect("values");
            let half = f64::midpoint(next.high, -next.low);
            let found = half / sd(&values).expect("values");
            assert!((found - factor).abs() < 0.005_1, "{k}: {found} {factor}");
        }
        assert!(next_value(&[1.0], 0.95).is_none());
    }

    /// 4 of 20 at 95 %: 5.73 to 43.66 % as tabled by Clopper and Pearson (from memory).
    #[test]
    fn four_of_twenty() {
        let share = share_interval(4, 20, 0.95).expect("cases");
        assert!((share.low - 0.0573).abs() < 5e-5, "{share:?}");
        assert!((share.high - 0.4366).abs() < 5e-5, "{share:?}");
        assert_eq!(share_interval(0, 0, 0.95), None);
    }
}

//! The Mann–Kendall test for a monotonic trend.

use super::kendall::{group_sizes, kendall, variance_of_s};
use super::normal_two_sided_p;

/// Up to this many values the distribution of S is counted out; its counts
/// then fit the integers used. Beyond, the normal approximation is good to
/// better than a tenth of the probability wherever it matters.
const EXACT_UP_TO: usize = 30;

/// A Mann–Kendall test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MannKendall {
    /// Number of values.
    pub n: usize,
    /// Pairs that rise less pairs that fall.
    pub s: i64,
    /// Variance of S without trend, ties accounted for.
    pub variance: f64,
    /// Normal score of S with continuity correction.
    pub z: f64,
    /// Two-sided probability of such an S without trend, normal approximation.
    pub p_normal: f64,
    /// The same counted out over all orders; none above 30 values.
    pub p_exact: Option<f64>,
    /// S over all pairs.
    pub tau_a: f64,
    /// S over the pairs that are not ties; `NaN` when all values are equal.
    pub tau_b: f64,
}

impl MannKendall {
    /// Two-sided probability without trend: exact where known, else normal.
    #[must_use]
    pub fn p(&self) -> f64 {
        self.p_exact.unwrap_or(self.p_normal)
    }
}

/// Test values in time order for a monotonic trend; `None` for fewer than
/// three values or a value that is not finite.
///
/// The test takes the values as independent: for correlated values the
/// probability is too small.
/// **Source**: Mann, Econometrica 13 (1945); Kendall, *Rank Correlation
/// Methods*; continuity correction and tie variance as in Helsel & Hirsch,
/// *Statistical Methods in Water Resources*, chapter 12 (cited from memory).
///
/// ```
/// use seep_report::analysis::stats::mann_kendall;
/// let test = mann_kendall(&[5.0, 6.0, 11.0, 8.0, 10.0]).unwrap();
/// assert_eq!(test.s, 6);
/// assert!((test.p() - 0.2333).abs() < 1e-4);
/// ```
#[must_use]
pub fn mann_kendall(values: &[f64]) -> Option<MannKendall> {
    let n = values.len();
    if n < 3 || values.iter().any(|v| !v.is_finite()) {
        return None;
    }
    let order: Vec<f64> = (0..n).map(|i| i as f64).collect();
    let k = kendall(&order, values)?;
    let groups = group_sizes(values);
    let variance = variance_of_s(n, &groups);
    let z = if k.s == 0 {
        0.0
    } else {
        (k.s - k.s.signum()) as f64 / variance.sqrt()
    };
    Some(MannKendall {
        n,
        s: k.s,
        variance,
        z,
        p_normal: normal_two_sided_p(z),
        p_exact: (n <= EXACT_UP_TO).then(|| exact_p(k.s, &groups)),
        tau_a: k.tau_a,
        tau_b: k.tau_b,
    })
}

/// Probability of |S| at least as large as observed over all orders of values
/// with these groups of ties.
///
/// S = untied pairs − 2 × inversions, and the inversions of the orders of a
/// multiset are counted by the Gaussian multinomial ∏ₖ(1−qᵏ) over n divided by
/// the same over each group (MacMahon). Whole-number arithmetic throughout.
fn exact_p(s: i64, groups: &[usize]) -> f64 {
    let mut counts: Vec<i128> = vec![1];
    for size in 2..=groups.iter().sum() {
        counts = times_run(&counts, size);
    }
    for &group in groups {
        for size in 2..=group {
            counts = divided_by_run(counts, size);
        }
    }
    let untied = counts.len() as i64 - 1;
    let as_extreme: i128 = counts
        .iter()
        .enumerate()
        .filter(|(inversions, _)| (untied - 2 * *inversions as i64).abs() >= s.abs())
        .map(|(_, count)| count)
        .sum();
    as_extreme as f64 / counts.iter().sum::<i128>() as f64
}

/// Multiply by 1 + q + … + q^(size−1).
fn times_run(counts: &[i128], size: usize) -> Vec<i128> {
    let mut out = vec![0; counts.len() + size - 1];
    let mut window = 0;
    for (i, slot) in out.iter_mut().enumerate() {
        window += counts.get(i).unwrap_or(&0);
        if i >= size {
            window -= counts.get(i - size).unwrap_or(&0);
        }
        *slot = window;
    }
    out
}

/// Divide by 1 + q + … + q^(size−1), which is known to divide.
fn divided_by_run(mut counts: Vec<i128>, size: usize) -> Vec<i128> {
    let len = counts.len() - (size - 1);
    for i in 0..len {
        let quotient = counts[i];
        for k in 1..size {
            counts[i + k] -= quotient;
        }
    }
    counts.truncate(len);
    counts
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: f64, b: f64, tolerance: f64) {
        assert!((a - b).abs() <= tolerance, "{a} is not {b}");
    }

    #[test]
    fn epa_five_values() {
        // Data: EPA QA/G-9 (2000) small-sample example (from memory); its
        // table gives 0.117 one-sided. Further digits: pymannkendall 1.4.3.
        let t = mann_kendall(&[5.0, 6.0, 11.0, 8.0, 10.0]).unwrap();
        assert_eq!(t.s, 6);
        close(t.variance, 16.666_67, 1e-5);
        close(t.z, 1.224_744_9, 1e-7);
        close(t.p_normal, 0.220_671_4, 1e-7);
        close(t.p(), 0.233_333_3, 1e-7);
        close(t.p() / 2.0, 0.117, 5e-4);
        close(t.tau_a, 0.6, 1e-12);
    }

    #[test]
    fn helsel_and_hirsch_seven_values() {
        // Data: Helsel & Hirsch, Statistical Methods in Water Resources,
        // section on the Theil line (from memory); digits: pymannkendall.
        let t = mann_kendall(&[1.0, 2.0, 3.0, 4.0, 5.0, 16.0, 7.0]).unwrap();
        assert_eq!(t.s, 19);
        close(t.variance, 44.333_33, 1e-5);
        close(t.z, 2.703_381_3, 1e-7);
        close(t.p_normal, 0.006_863_79, 1e-8);
        close(t.p(), 0.002_777_78, 1e-8);
        close(t.tau_a, 0.904_761_9, 1e-7);
    }

    #[test]
    fn ten_rising_values() {
        let values: Vec<f64> = (1..=10).map(f64::from).collect();
        let t = mann_kendall(&values).unwrap();
        assert_eq!(t.s, 45);
        close(t.variance, 125.0, 1e-9);
        close(t.z, 3.935_479_6, 1e-7);
        close(t.p_normal, 8.303_07e-5, 1e-10);
        // 2 of 10! orders.
        close(t.p(), 2.0 / 3_628_800.0, 1e-18);
    }

    /// Count over every order, the slow way.
    fn brute_p(values: &[f64]) -> f64 {
        fn orders(rest: &mut Vec<f64>, done: &mut Vec<f64>, out: &mut Vec<i64>) {
            if rest.is_empty() {
                let x: Vec<f64> = (0..done.len()).map(|i| i as f64).collect();
                out.push(kendall(&x, done).unwrap().s);
            }
            for i in 0..rest.len() {
                let v = rest.remove(i);
                done.push(v);
                orders(rest, done, out);
                done.pop();
                rest.insert(i, v);
            }
        }
        let mut all = Vec::new();
        orders(&mut values.to_vec(), &mut Vec::new(), &mut all);
        let seen = mann_kendall(values).unwrap().s.abs();
        all.iter().filter(|s| s.abs() >= seen).count() as f64 / all.len() as f64
    }

    #[test]
    fn ties_are_counted_out_exactly() {
        for values in [
            vec![1.0, 2.0, 2.0, 3.0, 3.0, 3.0],
            vec![2.0, 1.0, 1.0, 4.0],
            vec![1.0, 1.0, 2.0, 5.0, 2.0, 7.0, 1.0],
        ] {
            close(mann_kendall(&values).unwrap().p(), brute_p(&values), 1e-12);
        }
    }

    #[test]
    fn all_equal_is_no_trend() {
        let t = mann_kendall(&[4.0; 12]).unwrap();
        assert_eq!((t.s, t.z), (0, 0.0));
        close(t.p(), 1.0, 1e-12);
    }

    #[test]
    fn exact_and_normal_meet_where_the_method_changes() {
        // A weak trend in 30 values; invented data.
        let values: Vec<f64> = (0..30)
            .map(|i| f64::from(i) + 25.0 * f64::from(i * 7 % 13))
            .collect();
        let t = mann_kendall(&values).unwrap();
        assert!((t.p_exact.unwrap() - t.p_normal).abs() < 0.004);
    }

    #[test]
    fn too_little_or_broken_data_is_none() {
        assert!(mann_kendall(&[1.0, 2.0]).is_none());
        assert!(mann_kendall(&[1.0, f64::NAN, 2.0]).is_none());
    }
}

//! Kendall's rank correlation.

/// Kendall's S and tau of paired values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kendall {
    /// Concordant pairs less discordant pairs.
    pub s: i64,
    /// S over all pairs: reaches ±1 only without ties.
    pub tau_a: f64,
    /// S over the geometric mean of the pairs untied in each; `NaN` when one
    /// side is all ties.
    pub tau_b: f64,
}

/// Kendall's S, tau-a and tau-b, all pairs compared; `None` for fewer than two
/// pairs or unequal lengths.
///
/// **Source**: Kendall, *A new measure of rank correlation*, Biometrika 30
/// (1938); tau-b as in Kendall, *Rank Correlation Methods* (cited from memory).
///
/// ```
/// use seep_report::analysis::stats::kendall;
/// let k = kendall(&[1.0, 2.0, 3.0, 4.0, 5.0], &[5.0, 6.0, 11.0, 8.0, 10.0]).unwrap();
/// assert_eq!(k.s, 6);
/// ```
#[must_use]
pub fn kendall(x: &[f64], y: &[f64]) -> Option<Kendall> {
    if x.len() != y.len() || x.len() < 2 {
        return None;
    }
    let (mut s, mut untied_x, mut untied_y) = (0_i64, 0_u64, 0_u64);
    for i in 0..x.len() {
        for j in i + 1..x.len() {
            let (dx, dy) = (sign(x[j] - x[i]), sign(y[j] - y[i]));
            s += dx * dy;
            untied_x += dx.unsigned_abs();
            untied_y += dy.unsigned_abs();
        }
    }
    let n = x.len() as f64;
    Some(Kendall {
        s,
        tau_a: s as f64 / (n * (n - 1.0) / 2.0),
        tau_b: s as f64 / (untied_x as f64 * untied_y as f64).sqrt(),
    })
}

/// Sign of a difference; 0 for a tie.
fn sign(d: f64) -> i64 {
    i64::from(d > 0.0) - i64::from(d < 0.0)
}

/// True for equal values; zero and minus zero are equal.
pub(super) fn tied(a: f64, b: f64) -> bool {
    sign(b - a) == 0
}

/// Sizes of the groups of equal values, ones included.
pub(super) fn group_sizes(values: &[f64]) -> Vec<usize> {
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    sorted
        .chunk_by(|a, b| tied(*a, *b))
        .map(<[f64]>::len)
        .collect()
}

/// Variance of S when nothing but chance orders the values:
/// \[n(n−1)(2n+5) − Σ t(t−1)(2t+5)\]/18 over the groups of ties.
pub(super) fn variance_of_s(n: usize, tie_groups: &[usize]) -> f64 {
    let term = |n: usize| n as f64 * (n as f64 - 1.0) * (2.0 * n as f64 + 5.0);
    (term(n) - tie_groups.iter().map(|&t| term(t)).sum::<f64>()) / 18.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ties_shrink_tau_a_and_not_tau_b() {
        let x = [1.0, 1.0, 2.0, 2.0];
        let k = kendall(&x, &x).unwrap();
        assert_eq!(k.s, 4);
        assert!((k.tau_a - 4.0 / 6.0).abs() < 1e-12);
        assert!((k.tau_b - 1.0).abs() < 1e-12);
        assert!(kendall(&x, &[3.0; 4]).unwrap().tau_b.is_nan());
    }

    #[test]
    fn zero_and_minus_zero_are_a_tie() {
        assert_eq!(group_sizes(&[0.0, 1.0, -0.0]), [2, 1]);
    }
}

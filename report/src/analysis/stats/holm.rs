//! What many tests together may claim.

/// p values corrected for having been looked at together (Holm's step-down).
///
/// Reject those still below the level: the chance of one false claim in the
/// whole family stays below it. In the order given; `NaN` stays `NaN` and counts as a
/// test.
///
/// **Source**: Holm 1979, Scand. J. Stat. 6.
///
/// ```
/// use seep_report::analysis::stats::holm;
/// assert_eq!(holm(&[0.01, 0.04, 0.03]), vec![0.03, 0.06, 0.06]);
/// ```
#[must_use]
pub fn holm(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&i, &j| p[i].total_cmp(&p[j]));
    let mut adjusted = vec![0.0; p.len()];
    let mut least = 0.0_f64;
    for (rank, &i) in order.iter().enumerate() {
        if p[i].is_nan() {
            adjusted[i] = f64::NAN;
            continue;
        }
        least = least.max(p[i] * (p.len() - rank) as f64).min(1.0);
        adjusted[i] = least;
    }
    adjusted
}

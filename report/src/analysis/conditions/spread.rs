//! What the losses of rests scatter by beside their condition.

use super::super::regression::{Term, regress_known};
use super::super::stats::quantile;
use super::RestLoss;
use super::separate::Sorted;

/// Variance of each loss about its level: its own, and the spread between rests
/// that the best of all conditions leaves. The rests of a leak that comes and
/// goes differ by the leak; that is no error.
pub(super) fn variances(rests: &[RestLoss], families: &[Vec<Sorted>]) -> Vec<f64> {
    let own: Vec<f64> = rests.iter().map(|r| r.own_se * r.own_se).collect();
    let losses: Vec<f64> = rests.iter().map(|r| r.l_per_s).collect();
    let spread = families
        .iter()
        .flatten()
        .map(|s| left_spread(&s.shares, &losses, &own))
        .fold(f64::INFINITY, f64::min);
    let spread = if spread.is_finite() { spread } else { 0.0 };
    own.iter().map(|v| v + spread).collect()
}

/// What the errors shared by all rests leave of the losses.
///
/// A volume table that is a little too steep makes every rest that cools look
/// like a loss and every one that warms like a gain. Nights cool, and nights
/// are cold, so only what such an error cannot explain speaks for a condition.
pub(super) fn without_shared(rests: &[RestLoss], variances: &[f64]) -> Option<Vec<f64>> {
    let losses: Vec<f64> = rests.iter().map(|r| r.l_per_s).collect();
    let shared = shared_terms(rests, &|_| true);
    let mut terms = vec![Term::free(vec![1.0; rests.len()])];
    terms.extend(shared.iter().cloned());
    let fit = regress_known(&terms, &losses, variances)?;
    let explained = |i: usize| -> f64 {
        let sizes = shared.iter().zip(&fit.values[1..]);
        sizes.map(|(term, size)| term.column[i] * size).sum()
    };
    Some((0..rests.len()).map(|i| losses[i] - explained(i)).collect())
}

/// Each error shared by the rests, in its standard deviations.
pub(super) fn shared_terms(rests: &[RestLoss], keep: &dyn Fn(usize) -> bool) -> Vec<Term> {
    let errors = rests.iter().map(|r| r.shared_errors_l_per_s.len());
    (0..errors.min().unwrap_or(0))
        .map(|k| {
            let kept = (0..rests.len()).filter(|i| keep(*i));
            kept.map(|i| rests[i].shared_errors_l_per_s[k]).collect()
        })
        .filter(|column: &Vec<f64>| column.iter().any(|v| v.abs() > 0.0))
        .map(|column| Term::small(column, 1.0))
        .collect()
}

/// Squared standardised residuals above this count as this: one rest that the
/// models do not describe is no spread of all.
const FAR_OUT: f64 = 9.0;

/// Spread between rests beside their own errors that a line over the shares of
/// a condition leaves, as a variance: the one at which the standardised
/// residuals have the size of their degrees of freedom.
///
/// **Source**: Paule and Mandel 1982 (from memory), with two parameters.
fn left_spread(x: &[Option<f64>], y: &[f64], own: &[f64]) -> f64 {
    // Only a rest whose own error is small can show it.
    let clear = quantile(own, 0.5).unwrap_or(f64::INFINITY);
    let rests: Vec<(f64, f64, f64)> = (0..y.len())
        .filter(|i| own[*i] <= clear)
        .filter_map(|i| Some((x[i]?, y[i], own[i])))
        .collect();
    let excess = |spread: f64| -> f64 {
        let mut sums = [0.0_f64; 5];
        for (x, y, own) in &rests {
            let w = 1.0 / (own + spread);
            for (sum, value) in sums.iter_mut().zip([1.0, *x, *y, x * x, x * y]) {
                *sum += w * value;
            }
        }
        let [n, sx, sy, sxx, sxy] = sums;
        let slope = (sxy - sx * sy / n) / (sxx - sx * sx / n);
        let level = (sy - slope * sx) / n;
        let squares: f64 = rests
            .iter()
            .map(|(x, y, own)| ((y - level - slope * x).powi(2) / (own + spread)).min(FAR_OUT))
            .sum();
        squares - (rests.len() as f64 - 2.0)
    };
    let mut high = y.iter().map(|v| v * v).fold(0.0, f64::max);
    if excess(0.0) <= 0.0 || high <= 0.0 {
        return 0.0;
    }
    let mut low = 0.0;
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if excess(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

//! Exponential decay of the amount of air in a volume.

use super::super::fit;
use super::{Estimate, Prepared};

/// Exponential decay of the compensated amount, `n = n₀·exp(−k·t)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Decay {
    /// k, 1/s.
    pub per_s: Estimate,
}

/// Least squares for `n₀` and `k`, errors widened for residuals that resemble
/// their neighbours.
///
/// **Units**: k in 1/s. **Domain**: amounts above 0.
pub(super) fn decay(data: &Prepared, weights: &[f64]) -> Option<Decay> {
    let n = &data.amount_anr_l;
    let seconds = data.seconds();
    if seconds <= 0.0 || n.iter().any(|v| *v <= 0.0) {
        return None;
    }
    // Time in lengths of the rest, so that k is of the order of one.
    let t: Vec<f64> = data
        .t_s
        .iter()
        .map(|t| (t - data.t_s[0]) / seconds)
        .collect();
    let fit = fit::decay(&t, n, Some(weights))
        .ok()?
        .allowing_for_autocorrelation();
    Some(Decay {
        per_s: Estimate {
            value: fit.values[1],
            se: fit.standard_errors[1],
            degrees_of_freedom: fit.degrees_of_freedom,
        }
        .scaled(1.0 / seconds),
    })
}

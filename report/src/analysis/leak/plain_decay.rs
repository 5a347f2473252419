//! One exponential through the amounts as they are.

use super::super::estimate::Estimate;
use super::super::fit;
use super::super::stats::mean;
use super::Prepared;

/// k of `n₀·exp(−k·t)` by least squares, 1/s. The error is widened for
/// residuals that resemble their neighbours, and by an error of the loss that
/// noise does not show, ANR L/s.
///
/// **Domain**: amounts above 0; `None` where no exponential fits.
pub(super) fn per_s(data: &Prepared, weights: &[f64], steady_l_per_s: f64) -> Option<Estimate> {
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
    let from_noise = Estimate {
        value: fit.values[1],
        se: fit.standard_errors[1],
        degrees_of_freedom: fit.degrees_of_freedom,
    }
    .scaled(1.0 / seconds);
    Some(from_noise.with_known_error(steady_l_per_s / mean(n)?))
}

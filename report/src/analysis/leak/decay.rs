//! Exponential decay of the amount of air in a volume.

use super::super::fit::{Intercept, linear};
use super::{Estimate, Prepared};

/// Exponential decay of the compensated amount, `n = n₀·exp(−k·t)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Decay {
    /// k, 1/s.
    pub per_s: Estimate,
}

/// Steps allowed; a decay converges in four or five.
const STEPS: usize = 30;

/// Least squares for `n₀` and `k` by Gauss–Newton from the logarithm's line,
/// errors widened for residuals that resemble their neighbours.
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
    let logs: Vec<f64> = n.iter().map(|v| v.ln()).collect();
    let start = linear(
        &t.iter().map(|t| [*t]).collect::<Vec<_>>(),
        &logs,
        Some(weights),
        Intercept::Fitted,
    )
    .ok()?;
    let (mut a, mut k) = (start.fit.values[0].exp(), -start.fit.values[1]);
    let mut last = None;
    for _ in 0..STEPS {
        let rows: Vec<[f64; 2]> = t
            .iter()
            .map(|t| {
                let shape = (-k * t).exp();
                [shape, -a * t * shape]
            })
            .collect();
        let off: Vec<f64> = n.iter().zip(&rows).map(|(n, r)| n - a * r[0]).collect();
        let step = linear(&rows, &off, Some(weights), Intercept::Zero)
            .ok()?
            .fit;
        a += step.values[0];
        k += step.values[1];
        let small = (step.values[1] / k.abs().max(1e-6)).abs() < 1e-12;
        last = Some(step);
        if small {
            break;
        }
    }
    let fit = last?.allowing_for_autocorrelation();
    Some(Decay {
        per_s: Estimate {
            value: k / seconds,
            se: fit.standard_errors[1] / seconds,
            degrees_of_freedom: fit.degrees_of_freedom,
        },
    })
}

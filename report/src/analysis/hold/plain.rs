//! The fall of pressure as it stands: one exponential, nothing taken off.

use crate::analysis::estimate::Estimate;
use crate::analysis::fit::{NoFit, line};

/// One exponential through the absolute pressure.
#[derive(Debug, Clone, PartialEq)]
pub struct PlainFall {
    /// `k` of `p = a·exp(−k·t)`, 1/s, with autocorrelation in its error.
    pub per_s: Estimate,
    /// Standard deviation of the residuals, in ln of pressure.
    pub residual_sd: f64,
    /// Lag-1 autocorrelation of the residuals.
    pub residual_lag1: f64,
}

/// Fits `ln p = ln a − k·t` by least squares, with the interval widened for the lag-1
/// autocorrelation of the residuals (effective sample size).
///
/// **Units**: s, kPa absolute; `k` in 1/s. **Source**: the exponential of choked flow,
/// ISO 6358-2; the effective sample size as in [`Fit::allowing_for_autocorrelation`].
///
/// [`Fit::allowing_for_autocorrelation`]: crate::analysis::fit::Fit::allowing_for_autocorrelation
///
/// # Errors
/// [`NoFit`] with fewer than three readings, or where a pressure is not positive.
///
/// ```
/// use seep_report::analysis::hold::plain_fall;
/// let t: Vec<f64> = (0..60).map(f64::from).collect();
/// let p: Vec<f64> = t.iter().map(|t| 800.0 * (-1e-4 * t).exp()).collect();
/// let fall = plain_fall(&t, &p)?;
/// assert!((fall.per_s.value - 1e-4).abs() < 1e-9);
/// # Ok::<(), seep_report::analysis::fit::NoFit>(())
/// ```
pub fn plain_fall(t_s: &[f64], kpa_abs: &[f64]) -> Result<PlainFall, NoFit> {
    let ln: Vec<f64> = kpa_abs.iter().map(|p| p.ln()).collect();
    let fit = line(t_s, &ln, None)?.fit;
    let honest = fit.allowing_for_autocorrelation();
    Ok(PlainFall {
        per_s: Estimate {
            value: -honest.values[1],
            se: honest.standard_errors[1],
            degrees_of_freedom: honest.degrees_of_freedom,
        },
        residual_sd: fit.residual_sd,
        residual_lag1: fit.residual_lag1.unwrap_or(0.0),
    })
}

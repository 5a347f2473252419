//! The loss of a hold with all disturbances beside it.

use super::input::{Conditions, Readings};
use super::limit::{detection_limit, is_named};
use super::plain::{PlainFall, plain_fall};
use super::regression::{design, posterior};
use super::settling::{SettlingColumn, columns};
use super::slow::{by_temperature, counts_se_per_s, usual_kpa_abs};
use crate::analysis::estimate::Estimate;
use crate::analysis::fit::unbiased_lag1;
use crate::analysis::stats::{effective_sample_size, lag1_autocorrelation, mean, short_term_sd};

/// Readings needed.
const FEWEST: usize = 8;
/// Why a hold cannot be judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoHold {
    /// Too few readings.
    #[error("only {0} readings; {FEWEST} or more are needed")]
    TooFew(usize),
    /// No overpressure, or a reading that is no pressure.
    #[error("no pressure above outside to be held")]
    NoPressure,
    /// The fit has no solution.
    #[error("the readings do not determine a loss")]
    Undetermined,
}

/// What a hold shows.
#[derive(Debug, Clone, PartialEq)]
pub struct HoldEstimate {
    /// Air lost per second as a share of the air held, while the flow is choked: C·√(T/T₀)/V.
    pub loss_per_s: Estimate,
    /// Smallest loss that would have been named, 1/s.
    pub limit_per_s: f64,
    /// Whether the loss is named a leak.
    pub is_leak: bool,
    /// The fall as it stands.
    pub plain: PlainFall,
    /// Part of the loss's variance that settling and creep cause, 0 to 1.
    pub settling_share: f64,
    /// Standard deviation of one reading in ln of air, as an independent one.
    pub noise_ln: f64,
    /// Mean pressure, kPa absolute.
    pub kpa_abs: f64,
    /// Length, s.
    pub length_s: f64,
}

/// Judges a hold: `ln(p·V(h)) = a − k·L(t) + Σ sⱼ·Xⱼ(t) + e`, `L = ∫ φ(p_out/p) dt` of
/// the measured pressure, the sizes of settling and creep sⱼ with their prior, the noise
/// widened for its autocorrelation; the slow wander of temperature, outside pressure and
/// sensor as a random walk; the errors by counts and by the thermometer's trend added to
/// that of k.
///
/// **Units**: as [`Readings`] and [`Conditions`]; `k` in 1/s. **Source**: ISO 6358-1 for
/// φ; Bayesian linear regression in closed form.
///
/// # Errors
/// [`NoHold`] with too few readings or no overpressure.
pub fn estimate(readings: &Readings, conditions: &Conditions) -> Result<HoldEstimate, NoHold> {
    let n = readings.t_s.len();
    if n < FEWEST {
        return Err(NoHold::TooFew(n));
    }
    let outside = conditions.outside_kpa_abs;
    let kpa_abs = mean(&readings.kpa_abs).ok_or(NoHold::NoPressure)?;
    if readings.kpa_abs.iter().any(|p| p.is_nan() || *p <= 0.0) || kpa_abs <= outside {
        return Err(NoHold::NoPressure);
    }
    let plain = plain_fall(&readings.t_s, &readings.kpa_abs).map_err(|_| NoHold::Undetermined)?;
    let y = ln_air(readings);
    let design = design(readings, conditions);
    let floor = conditions.step_kpa / kpa_abs / 12_f64.sqrt();
    let first = short_term_sd(&y).unwrap_or(0.0).max(floor).max(1e-9);
    let rough = posterior(&design, &y, first).ok_or(NoHold::Undetermined)?;
    let residuals = residuals(&design, &y, &rough.values);
    let r1 = unbiased_lag1(lag1_autocorrelation(&residuals).unwrap_or(0.0), n, 2.0);
    let independent = effective_sample_size(n, r1);
    let spread = (residuals.iter().map(|r| r * r).sum::<f64>() / (n as f64 - 2.0)).sqrt();
    let noise_ln = spread.max(floor).max(1e-9) * (n as f64 / independent).sqrt();
    let fit = posterior(&design, &y, noise_ln).ok_or(NoHold::Undetermined)?;
    let length_s = readings.t_s[n - 1] - readings.t_s[0];
    let by_slow = by_temperature(conditions, usual_kpa_abs(readings));
    let by_counts = counts_se_per_s(readings, noise_ln, conditions.step_kpa);
    let loss_per_s = Estimate {
        value: fit.values[1] + by_slow.correction_per_s,
        se: fit.se_of_loss,
        degrees_of_freedom: (independent - 2.0).max(1.0),
    }
    .with_known_error(by_slow.se_per_s.hypot(by_counts));
    let without = &design[..design.len() - columns(&[], conditions).len()];
    let bare = posterior(without, &y, noise_ln).map_or(fit.se_of_loss, |f| f.se_of_loss);
    Ok(HoldEstimate {
        limit_per_s: detection_limit(&loss_per_s),
        is_leak: is_named(&loss_per_s),
        settling_share: ((fit.se_of_loss.powi(2) - bare.powi(2)) / loss_per_s.se.powi(2))
            .clamp(0.0, 1.0),
        loss_per_s,
        plain,
        noise_ln,
        kpa_abs,
        length_s,
    })
}

fn ln_air(readings: &Readings) -> Vec<f64> {
    if readings.volume_l.is_empty() {
        return readings.kpa_abs.iter().map(|p| p.ln()).collect();
    }
    let both = readings.kpa_abs.iter().zip(&readings.volume_l);
    both.map(|(p, v)| (p * v).ln()).collect()
}

fn residuals(design: &[SettlingColumn], y: &[f64], values: &[f64]) -> Vec<f64> {
    (0..y.len())
        .map(|i| {
            let terms = design.iter().zip(values);
            y[i] - terms.map(|(c, v)| c.values[i] * v).sum::<f64>()
        })
        .collect()
}

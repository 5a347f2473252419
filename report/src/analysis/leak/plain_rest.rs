//! One rest as it stands: a single exponential through its air, nothing taken off.
//!
//! A description of the readings that anyone can check. What decides is the model of
//! all rests, which takes heat, creep and weather off.

use super::super::air::Vessel;
use super::super::estimate::Estimate;
use super::super::fit::{Fit, line};
use super::super::segment::{LastMove, Rest};
use super::bend::{Bend, bend};
use super::{Prepared, TemperatureUse};
use crate::analysis::stats::mean;

/// Exponential decay of the air in one rest.
#[derive(Debug, Clone, PartialEq)]
pub struct PlainRest {
    /// Circuit, or `tank`.
    pub place: String,
    /// First and last log time used, s.
    pub t_s: (f64, f64),
    /// k of `n₀·exp(−k·t)`, 1/s, with the autocorrelation of the residuals in its error.
    /// Negative: the volume gained air.
    pub per_s: Estimate,
    /// The same as loss at the mean amount, ANR L/s (of a 1 L volume where the rig gives
    /// none).
    pub loss_l_per_s: Estimate,
    /// The same as a fall of pressure at constant volume, kPa/h.
    pub kpa_per_h: Estimate,
    /// How the decay bends: by a hole or by a seep.
    pub bend: Bend,
    /// State at the end: pressure kPa absolute, temperature K, height mm.
    pub end_state: (f64, f64, f64),
    /// Means fitted, and lag-1 autocorrelation of their residuals.
    pub readings: (usize, f64),
    /// True when the rest bridges a power-off gap.
    pub bridged: bool,
    /// What was done before the rest.
    pub after: LastMove,
    /// How temperature entered.
    pub temperature: TemperatureUse,
    /// Temperature range over the rest, K.
    pub kelvin_range: f64,
    /// True when only a lower bound can be given: no height channel.
    pub lower_bound: bool,
}

/// Fits `ln n = ln n₀ − k·t` to the amounts of a rest by least squares. `None` with fewer
/// than six means, or where an amount is not positive.
///
/// Weights `m·n²` of a mean of m ticks make it the least-squares fit of the exponential
/// itself, to first order: an error of n is one of ln n times n.
///
/// **Units**: s, ANR L; k in 1/s. **Source**: linear least squares; the effective sample
/// size as in [`Fit::allowing_for_autocorrelation`].
#[must_use]
pub fn plain_rest(
    rest: &Rest,
    data: &Prepared,
    vessel: &Vessel,
    outside_kpa_abs: f64,
) -> Option<PlainRest> {
    let n = &data.amount_anr_l;
    if n.iter().any(|v| v.is_nan() || *v <= 0.0) {
        return None;
    }
    let weights: Vec<f64> = n.iter().zip(&data.ticks).map(|(n, m)| m * n * n).collect();
    let t: Vec<f64> = data.t_s.iter().map(|t| t - data.t_s[0]).collect();
    let ln: Vec<f64> = n.iter().map(|v| v.ln()).collect();
    let fit: Fit = line(&t, &ln, Some(&weights)).ok()?.fit;
    let honest = fit.allowing_for_autocorrelation();
    let per_s = Estimate {
        value: -honest.values[1],
        se: honest.standard_errors[1],
        degrees_of_freedom: honest.degrees_of_freedom,
    };
    let last = data.t_s.len() - 1;
    let kelvins = || data.kelvin.iter().copied();
    debug_assert_eq!(rest.place, vessel.place);
    Some(PlainRest {
        place: rest.place.clone(),
        t_s: (data.t_s[0], data.t_s[last]),
        per_s,
        loss_l_per_s: per_s.scaled(mean(n)?),
        kpa_per_h: per_s.scaled(3600.0 * mean(&data.kpa_abs)?),
        bend: bend(data, &weights, outside_kpa_abs),
        end_state: (data.kpa_abs[last], data.kelvin[last], data.mm[last]),
        readings: (data.t_s.len(), fit.residual_lag1.unwrap_or(0.0)),
        bridged: !rest.bridges.is_empty(),
        after: rest.after,
        temperature: data.temperature,
        kelvin_range: kelvins().fold(f64::MIN, f64::max) - kelvins().fold(f64::MAX, f64::min),
        lower_bound: data.height_missing,
    })
}

#[cfg(test)]
mod tests;

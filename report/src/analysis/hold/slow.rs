//! Slow errors that no reading of a short hold can average out.

use super::input::{Conditions, HoldThermometer, Readings};
use super::settling::SettlingColumn;
use std::f64::consts::SQRT_2;

/// Wander of the air's temperature against its thermometer over eight hours, K, and
/// with no thermometer at all. A random walk. **Source**: those of the model of a car
/// at rest (common practice, no source).
const WANDER_K: f64 = 0.35;
const WANDER_WITHOUT_K: f64 = 4.0;
const WANDER_OVER_S: f64 = 28_800.0;
/// The same for the pressure outside, kPa, with and without a barometer.
const OUTSIDE_KPA: f64 = 0.06;
const OUTSIDE_UNRECORDED_KPA: f64 = 0.5;
/// Time constant of a sensor's hysteresis, s: judgement, as in the model of a car at rest.
const HYSTERESIS_S: f64 = 20_000.0;
/// Share of a thermometer's trend that the air follows, and its standard deviation. The
/// air lags behind a sensor by minutes, so over minutes a share is all that is known.
const OWN_GAIN: (f64, f64) = (0.8, 0.3);
const OTHER_GAIN: (f64, f64) = (0.5, 0.5);
/// Waves of a random walk that are followed; what is left is a hundredth of its variance
/// at the end.
const WAVES: u32 = 12;

/// What the temperature's trend alone makes of the loss, and its error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ByTemperature {
    /// To add to the loss as the pressure shows it, 1/s.
    pub(super) correction_per_s: f64,
    /// Its standard error, 1/s.
    pub(super) se_per_s: f64,
}

/// Returns the correction by the thermometer's trend: with `y = ln p − ln T`, a loss per
/// second is `−d(ln p)/dt + Ṫ/T`. The sensor's zero follows the same trend, `ż/p`.
pub(super) fn by_temperature(conditions: &Conditions, kpa_abs: f64) -> ByTemperature {
    let t_k = conditions.kelvin;
    let (gain, slope, slope_se) = match conditions.thermometer {
        HoldThermometer::None => ((0.0, 0.0), 0.0, 0.0),
        HoldThermometer::Elsewhere(slope, se) => (OTHER_GAIN, slope, se),
        HoldThermometer::Own(slope, se) => (OWN_GAIN, slope, se),
    };
    ByTemperature {
        correction_per_s: gain.0 * slope / t_k,
        se_per_s: (gain.1 * slope / t_k)
            .hypot(gain.0 * slope_se / t_k)
            .hypot(conditions.zero_kpa_per_k * slope / kpa_abs),
    }
}

/// Mean pressure of a hold, kPa absolute.
pub(super) fn usual_kpa_abs(readings: &Readings) -> f64 {
    crate::analysis::stats::mean(&readings.kpa_abs).unwrap_or(f64::NAN)
}

/// Columns of what wanders slowly: the air's temperature against its thermometer, the
/// pressure outside, the sensor's hysteresis. A random walk
/// `w(u) = Σ ξ_k·√2·sin((k−½)πu)/((k−½)π)` (Karhunen–Loève), u from 0 to 1 over the hold.
pub(super) fn wander(t_s: &[f64], kpa_abs: f64, conditions: &Conditions) -> Vec<SettlingColumn> {
    let (Some(first), Some(last)) = (t_s.first(), t_s.last()) else {
        return Vec::new();
    };
    let length_s = last - first;
    let over = (length_s / WANDER_OVER_S).sqrt();
    let kelvin = match conditions.thermometer {
        HoldThermometer::None => WANDER_WITHOUT_K,
        HoldThermometer::Elsewhere(..) | HoldThermometer::Own(..) => WANDER_K,
    };
    let outside = if conditions.outside_recorded {
        OUTSIDE_KPA
    } else {
        OUTSIDE_UNRECORDED_KPA
    };
    let hysteresis = conditions.hysteresis_kpa * (2.0 * length_s / HYSTERESIS_S).sqrt();
    let sd = (kelvin * over / conditions.kelvin)
        .hypot(outside * over / kpa_abs)
        .hypot(hysteresis / kpa_abs);
    (1..=WAVES)
        .map(|k| {
            let w = (f64::from(k) - 0.5) * std::f64::consts::PI;
            let wave = |t: &f64| (w * (t - first) / length_s).sin() * SQRT_2 / w;
            SettlingColumn {
                values: t_s.iter().map(wave).collect(),
                sd,
            }
        })
        .collect()
}

/// Standard error of the loss by the counts of the sensor, 1/s.
///
/// A reading that stays on one count allows every slope within one count over the
/// hold: triangular, sd `q/√6` over the length. Each count crossed tells as much again;
/// noise wider than a count averages it out.
pub(super) fn counts_se_per_s(readings: &Readings, noise_ln: f64, step_kpa: f64) -> f64 {
    let (Some(first), Some(last)) = (readings.t_s.first(), readings.t_s.last()) else {
        return 0.0;
    };
    let q = step_kpa / usual_kpa_abs(readings);
    if q.is_nan() || q <= 0.0 {
        return 0.0;
    }
    let crossed = readings
        .kpa_abs
        .windows(2)
        .filter(|w| (w[1] - w[0]).abs() > 0.5 * step_kpa)
        .count() as f64;
    let blurred = 1.0 + 9.0 * (noise_ln / q).powi(2);
    q / (6.0 * blurred * (1.0 + crossed)).sqrt() / (last - first)
}

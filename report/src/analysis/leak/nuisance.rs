//! What else moves the amount of air computed from readings, known beforehand
//! only by its size: each is a term with a prior.

use super::super::regression::Term;
use super::super::segment::Rest;
use super::super::stats::mean;
use super::{Prepared, TemperatureUse};
use std::f64::consts::PI;

/// Uncertainty of the temperature channel as a measure of the air's swing:
/// the air swings by (1 ± this) of what the sensor does. A prior: common
/// practice, no source.
const TEMPERATURE_GAIN_SD: f64 = 0.15;

/// The air follows the sensor with a delay of this order, s (prior sd).
const TEMPERATURE_LAG_S: f64 = 1_200.0;

/// Air that was just moved is warm or cold for a while: time constants, s, and
/// how much of the amount is at stake, one standard deviation. Air against its
/// skin, the skin, and what surrounds it; common practice, no source.
const SETTLING: [(f64, f64); 3] = [(60.0, 0.02), (240.0, 0.01), (900.0, 0.004)];

/// Change of outside pressure over a night that no barometer reading bounds,
/// one standard deviation, kPa. Weather; common practice, no source.
const UNREAD_WEATHER_KPA: f64 = 0.4;

/// Wander of a pressure sensor over a night, one standard deviation, kPa;
/// common practice, no source.
const SENSOR_WANDER_KPA: f64 = 0.1;

/// Length of such a night, s.
const NIGHT_S: f64 = 8.0 * 3600.0;

/// Waves that make up a slow wander.
const WAVES: usize = 8;

/// The air's temperature is the sensor's only up to a gain and a delay.
///
/// The amounts have the gas law's gain of 1 in them already; this is what may
/// be missing from it. The prior keeps a bend of temperature that happens to
/// look like a leak from being taken for one, or the leak for it.
pub(super) fn temperature(data: &Prepared) -> Vec<Term> {
    let (Some(kelvin), Some(amount)) = (mean(&data.kelvin), mean(&data.amount_anr_l)) else {
        return Vec::new();
    };
    if data.temperature == TemperatureUse::Assumed {
        return Vec::new();
    }
    let gain = data
        .kelvin
        .iter()
        .map(|t| amount * (t - kelvin) / kelvin)
        .collect();
    let lag = slopes(&data.t_s, &data.kelvin)
        .iter()
        .map(|per_s| -amount * per_s * TEMPERATURE_LAG_S / kelvin)
        .collect();
    at_stake(vec![
        Term::small(gain, TEMPERATURE_GAIN_SD),
        Term::small(lag, 1.0),
    ])
}

/// Settling terms with their time constants: exponentials from the moment the
/// volume was left alone, or from the first reading where that was not seen.
pub(super) fn settling(rest: &Rest, data: &Prepared) -> Vec<(f64, Term)> {
    let Some(amount) = mean(&data.amount_anr_l) else {
        return Vec::new();
    };
    let from_s = rest
        .quiet_since_s
        .unwrap_or(data.t_s[0])
        .min(data.t_s[0]);
    SETTLING
        .into_iter()
        .filter_map(|(tau_s, share)| {
            let column = data
                .t_s
                .iter()
                .map(|t| amount * (-(t - from_s) / tau_s).exp())
                .collect();
            let term = at_stake(vec![Term::small(column, share)]).pop()?;
            Some((tau_s, term))
        })
        .collect()
}

/// Slow wander of weather and pressure sensor: a random walk from the first
/// reading on, as the sum of its waves
/// `σ·√2/((k−½)π)·sin((k−½)πt/T)` with random sizes.
///
/// **Source**: Karhunen–Loève series of Brownian motion (from memory).
pub(super) fn wander(rest: &Rest, data: &Prepared) -> Vec<Term> {
    let (Some(kpa), Some(amount)) = (mean(&data.kpa_abs), mean(&data.amount_anr_l)) else {
        return Vec::new();
    };
    let seconds = data.seconds();
    let weather = UNREAD_WEATHER_KPA * (rest.weather_unread_s.min(seconds) / NIGHT_S).sqrt();
    let sensor = SENSOR_WANDER_KPA * (seconds / NIGHT_S).sqrt();
    let sd = amount * weather.hypot(sensor) / kpa;
    let waves = (1..=WAVES).map(|k| {
        let turn = (k as f64 - 0.5) * PI;
        let column = data
            .t_s
            .iter()
            .map(|t| (turn * (t - data.t_s[0]) / seconds).sin())
            .collect();
        Term::small(column, sd * std::f64::consts::SQRT_2 / turn)
    });
    at_stake(waves.collect())
}

/// Terms that can move anything at all.
fn at_stake(terms: Vec<Term>) -> Vec<Term> {
    let moves = |t: &Term| {
        let largest = t.column.iter().map(|v| v.abs()).fold(0.0, f64::max);
        largest * t.prior_sd.unwrap_or(1.0) > 1e-9
    };
    terms.into_iter().filter(moves).collect()
}

/// Slope over about a quarter of an hour to either side.
fn slopes(t_s: &[f64], values: &[f64]) -> Vec<f64> {
    const REACH_S: f64 = 900.0;
    (0..t_s.len())
        .map(|i| {
            let a = t_s.partition_point(|t| *t < t_s[i] - REACH_S);
            let b = t_s.partition_point(|t| *t <= t_s[i] + REACH_S) - 1;
            let (a, b) = if a == b {
                (i.saturating_sub(1), (i + 1).min(t_s.len() - 1))
            } else {
                (a, b)
            };
            let dt = t_s[b] - t_s[a];
            if dt > 0.0 {
                (values[b] - values[a]) / dt
            } else {
                0.0
            }
        })
        .collect()
}

//! What else moves the amount of air computed from readings, known beforehand
//! only by its size: each is a term with a prior.

use super::super::regression::Term;
use super::super::segment::{LastMove, Rest};
use super::super::stats::mean;
use super::{Prepared, TemperatureUse};
use std::f64::consts::PI;

/// Uncertainty of the temperature channel as a measure of the air's slow swing:
/// the air swings by (1 ± this) of what the sensor does. Small, because what
/// stands still long enough takes the temperature around it; what it does in
/// less time is left to the lags. A prior: common practice, no source.
const TEMPERATURE_GAIN_SD: f64 = 0.03;

/// The air follows the sensor late, as through one or several lumps of rubber
/// and steel: time constants, s, that part the fast from the slow, and how much
/// of each part may be missing in the air, one standard deviation. Common
/// practice, no source.
const TEMPERATURE_LAGS: [(f64, f64); 3] = [(300.0, 1.0), (900.0, 1.0), (2_700.0, 0.5)];

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

/// Wander of the air's temperature against that of its sensor over a night,
/// one standard deviation, K: sun, wind, a warm engine; common practice, no
/// source.
const TEMPERATURE_WANDER_K: f64 = 0.3;

/// Length of such a night, s.
const NIGHT_S: f64 = 8.0 * 3600.0;

/// Waves that make up a slow wander.
const WAVES: usize = 8;

/// Families of terms whose sizes above are those of a restless log. How restless
/// this one is, its readings tell: the sizes are tried at these factors.
const SETTLES: usize = 0;
const LAGS: usize = 1;
const WANDERS: usize = 2;
pub(super) const FAMILIES: [&[f64]; 3] =
    [&[0.01, 0.3, 1.0, 2.0], &[0.3, 1.0], &[0.01, 0.1, 0.3, 1.0]];

/// The air swings by a little more or less than the sensor does. The gain
/// belongs to the car and is the same in every rest.
pub(super) fn gain(data: &Prepared) -> Option<Term> {
    let kelvin = mean(&data.kelvin)?;
    let swing: Vec<f64> = data.kelvin.iter().map(|t| t - kelvin).collect();
    // Off its stops a spring swells with warmth and its pressure stays; without
    // a height nobody knows which part of the swing it took as pressure.
    let sd = if data.height_missing {
        1.0
    } else {
        TEMPERATURE_GAIN_SD
    };
    at_stake(vec![Term::small(as_amount(data, &swing)?, sd)]).pop()
}

/// A difference of temperature as the amount it pretends to, ANR L.
fn as_amount(data: &Prepared, kelvins: &[f64]) -> Option<Vec<f64>> {
    let per_kelvin = mean(&data.amount_anr_l)? / mean(&data.kelvin)?;
    let recorded = data.temperature == TemperatureUse::Recorded;
    recorded.then(|| kelvins.iter().map(|k| per_kelvin * k).collect())
}

/// The air follows its surroundings later, or earlier, than the sensor.
///
/// The amounts have the gas law's temperature in them already; this is what may
/// be missing from it. The prior keeps a bend of temperature that happens to
/// look like a leak from being taken for one, or the leak for it.
pub(super) fn lags(data: &Prepared) -> Vec<Term> {
    let mut terms = Vec::new();
    let mut faster = data.kelvin.clone();
    for (tau_s, sd) in TEMPERATURE_LAGS {
        let slower = delayed(&data.t_s, &data.kelvin, tau_s);
        let missing: Vec<f64> = slower.iter().zip(&faster).map(|(s, f)| s - f).collect();
        let column = as_amount(data, &missing);
        terms.extend(column.map(|c| Term::small(c, sd).of_family(LAGS)));
        faster = slower;
    }
    at_stake(terms)
}

/// Behind a first-order lag, straight lines between the readings; as if the
/// first slope had lasted long before.
fn delayed(t_s: &[f64], values: &[f64], tau_s: f64) -> Vec<f64> {
    let mut at = values[0] - tau_s * first_slope(t_s, values);
    let mut out = vec![at];
    for i in 1..t_s.len() {
        let dt = (t_s[i] - t_s[i - 1]).max(1e-3);
        let behind = (values[i] - values[i - 1]) / dt * tau_s;
        at = values[i] - behind + (at - values[i - 1] + behind) * (-dt / tau_s).exp();
        out.push(at);
    }
    out
}

/// Settling terms with their time constants: exponentials from the moment the
/// volume was left alone, or from the first reading where that was not seen.
pub(super) fn settling(rest: &Rest, data: &Prepared) -> Vec<(f64, Term)> {
    let Some(amount) = mean(&data.amount_anr_l) else {
        return Vec::new();
    };
    let from_s = rest.quiet_since_s.unwrap_or(data.t_s[0]).min(data.t_s[0]);
    SETTLING
        .into_iter()
        .filter_map(|(tau_s, share)| {
            let column = data
                .t_s
                .iter()
                .map(|t| amount * (-(t - from_s) / tau_s).exp())
                .collect();
            let term = at_stake(vec![Term::small(column, share).of_family(SETTLES)]).pop()?;
            Some((tau_s, term))
        })
        .collect()
}

/// How much of the settling above is alike after every move of a sort, one
/// standard deviation; the rest is each move's own. Common practice, no source.
const SETTLES_ALIKE: f64 = 0.5;

/// Share of one standard deviation of the settling that is alike after every
/// such move: air let out is cold and gains pressure, air let in is warm and
/// loses it. Nothing where the move was not seen.
pub(super) fn settles_alike(rest: &Rest) -> f64 {
    match rest.after {
        LastMove::Fill => SETTLES_ALIKE,
        LastMove::Dump => -SETTLES_ALIKE,
        LastMove::Unknown => 0.0,
    }
}

/// Slow wander of weather, pressure sensor and temperature: a random walk from the first
/// reading on, as the sum of its waves
/// `σ·√2/((k−½)π)·sin((k−½)πt/T)` with random sizes.
///
/// **Source**: Karhunen–Loève series of Brownian motion (from memory).
pub(super) fn wander(rest: &Rest, data: &Prepared) -> Vec<Term> {
    let (Some(kpa), Some(kelvin), Some(amount)) = (
        mean(&data.kpa_abs),
        mean(&data.kelvin),
        mean(&data.amount_anr_l),
    ) else {
        return Vec::new();
    };
    let seconds = data.seconds();
    let weather = UNREAD_WEATHER_KPA * (rest.weather_unread_s.min(seconds) / NIGHT_S).sqrt();
    let sensor = SENSOR_WANDER_KPA * (seconds / NIGHT_S).sqrt();
    let apart = TEMPERATURE_WANDER_K * (seconds / NIGHT_S).sqrt();
    let sd = amount * (weather.hypot(sensor) / kpa).hypot(apart / kelvin);
    let waves = (1..=WAVES).map(|k| {
        let turn = (k as f64 - 0.5) * PI;
        let column = data
            .t_s
            .iter()
            .map(|t| (turn * (t - data.t_s[0]) / seconds).sin())
            .collect();
        Term::small(column, sd * std::f64::consts::SQRT_2 / turn).of_family(WANDERS)
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

/// Slope over the first half hour, 1/s.
fn first_slope(t_s: &[f64], values: &[f64]) -> f64 {
    const REACH_S: f64 = 1_800.0;
    let to = t_s.partition_point(|t| *t <= t_s[0] + REACH_S) - 1;
    let dt = t_s[to] - t_s[0];
    if dt > 0.0 {
        (values[to] - values[0]) / dt
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ramp_is_followed_its_time_constant_late() {
        let t_s: Vec<f64> = (0..100).map(|i| f64::from(i) * 60.0).collect();
        let ramp: Vec<f64> = t_s.iter().map(|t| 280.0 - 0.001 * t).collect();
        for (late, now) in delayed(&t_s, &ramp, 900.0).iter().zip(&ramp) {
            assert!((late - now - 0.9).abs() < 1e-9);
        }
    }

    /// A step seen through a first-order lag: 1 − exp(−t/τ).
    #[test]
    fn a_step_is_approached_exponentially() {
        let t_s = [0.0, 3_000.0, 3_001.0, 3_901.0];
        let late = delayed(&t_s, &[0.0, 0.0, 1.0, 1.0], 900.0);
        assert!(
            (late[3] - (1.0 - (-1.0_f64).exp())).abs() < 1e-3,
            "{late:?}"
        );
    }
}

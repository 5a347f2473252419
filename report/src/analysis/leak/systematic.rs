//! What noise does not tell: errors that stay the same all through a rest.

use super::super::air::Vessel;
use super::super::segment::Resolution;
use super::super::stats::mean;
use super::{Prepared, TemperatureUse};
use seep_common::physics::gas::amount_anr_l;
use std::f64::consts::PI;

/// Half the swing of an unrecorded temperature over a day, K. A prior: common
/// practice, no source.
pub const UNRECORDED_SWING_K: f64 = 8.0;

/// How much of that swing differs from one day to the next (cloud, sun on one
/// side of the car, heat from a drive); the rest is the same every day. A prior:
/// common practice, no source.
const OWN_DAY: f64 = 0.4;

/// And what the weather adds from one day to the next, one standard deviation, K.
const UNRECORDED_WEATHER_K: f64 = 2.0;

/// A day, s.
const DAY_S: f64 = 24.0 * 3600.0;

/// Change of an unrecorded temperature over a time that is this rest's own, one
/// standard deviation, K: the part of a daily wave `√2·A·sin(π·Δt/d)` that
/// differs between days, not less than the most it changed in a shorter time,
/// and the weather.
fn own_unrecorded_change_k(seconds: f64) -> f64 {
    let part = (seconds / DAY_S).min(0.5);
    let wave = std::f64::consts::SQRT_2 * UNRECORDED_SWING_K * (PI * part).sin();
    (OWN_DAY * wave).hypot(UNRECORDED_WEATHER_K * (seconds / DAY_S).sqrt())
}

/// The part of an unrecorded temperature that is the same every day, as the
/// amounts it pretends to, ANR L: one standard deviation of the cosine and of
/// the sine of a daily wave whose hour is not known,
/// `−n/T·A·√((1−s²)/2)·cos(2πt/d)`. Nothing where the temperature is recorded.
///
/// Nights cool every time: no number of nights averages that out, but a day
/// beside a night shows it.
pub(super) fn daily_wave_anr_l(data: &Prepared) -> [Vec<f64>; 2] {
    let half = UNRECORDED_SWING_K * (0.5 * (1.0 - OWN_DAY * OWN_DAY)).sqrt();
    let sd_k = match data.temperature {
        TemperatureUse::Recorded => 0.0,
        TemperatureUse::Assumed => half,
    };
    let wave = |turn: &dyn Fn(f64) -> f64| {
        (0..data.t_s.len())
            .map(|i| {
                let per_kelvin = data.amount_anr_l[i] / data.kelvin[i];
                -per_kelvin * sd_k * turn(2.0 * PI * data.t_s[i] / DAY_S)
            })
            .collect()
    };
    [wave(&f64::cos), wave(&f64::sin)]
}

/// Standard deviation of one reading from its counts, ANR L: a step of each
/// channel over √12, carried to the amount.
pub(super) fn count_sd_anr_l(data: &Prepared, vessel: &Vessel, resolution: &Resolution) -> f64 {
    let (Some(kpa), Some(kelvin), Some(amount), Some(volume_l)) = (
        mean(&data.kpa_abs),
        mean(&data.kelvin),
        mean(&data.amount_anr_l),
        mean(&data.volume_l),
    ) else {
        return 0.0;
    };
    let by_pressure = amount_anr_l(resolution.kpa, volume_l, kelvin);
    let by_height = data
        .mm
        .last()
        .filter(|mm| !mm.is_nan())
        .and_then(|mm| vessel.volume.slope_l_per_mm(*mm))
        .map_or(0.0, |slope| {
            amount_anr_l(kpa, slope * resolution.mm, kelvin)
        });
    let by_temperature = match data.temperature {
        TemperatureUse::Recorded => amount * resolution.kelvin / kelvin,
        TemperatureUse::Assumed => 0.0,
    };
    by_pressure.hypot(by_height).hypot(by_temperature) / 12.0_f64.sqrt()
}

/// Standard error of a loss rate from counts and from what an unrecorded
/// temperature did in this rest alone, ANR L/s.
///
/// A reading that never changes has no noise, and still the amount may have
/// moved within one count at either end; readings do not average that out.
pub(super) fn rate_se_l_per_s(data: &Prepared, count_sd_anr_l: f64) -> Option<f64> {
    let seconds = data.seconds().max(1.0);
    let counts = std::f64::consts::SQRT_2 * count_sd_anr_l;
    let swing = match data.temperature {
        TemperatureUse::Recorded => 0.0,
        TemperatureUse::Assumed => {
            mean(&data.amount_anr_l)? * own_unrecorded_change_k(seconds) / mean(&data.kelvin)?
        }
    };
    Some(counts.hypot(swing) / seconds)
}

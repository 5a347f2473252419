//! What noise does not tell: errors that stay the same all through a rest.

use super::super::air::Vessel;
use super::super::segment::Resolution;
use super::super::stats::mean;
use super::{Prepared, TemperatureUse};
use seep_common::physics::gas::amount_anr_l;

/// Half the swing of an unrecorded temperature over a day, K. A prior: common
/// practice, no source.
pub const UNRECORDED_SWING_K: f64 = 8.0;

/// And what the weather adds from one day to the next, one standard deviation, K.
const UNRECORDED_WEATHER_K: f64 = 2.0;

/// A day, s.
const DAY_S: f64 = 24.0 * 3600.0;

/// Change of an unrecorded temperature over a time, one standard deviation, K:
/// of a daily wave at an unknown hour, `√2·A·sin(π·Δt/d)`, not less than the
/// most it changed in a shorter time, and the weather.
fn unrecorded_change_k(seconds: f64) -> f64 {
    let part = (seconds / DAY_S).min(0.5);
    let wave = std::f64::consts::SQRT_2 * UNRECORDED_SWING_K * (std::f64::consts::PI * part).sin();
    wave.hypot(UNRECORDED_WEATHER_K * (seconds / DAY_S).sqrt())
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

/// Standard error of a loss rate from counts and from an unrecorded
/// temperature, ANR L/s.
///
/// A reading that never changes has no noise, and still the amount may have
/// moved within one count at either end; readings do not average that out.
pub(super) fn rate_se_l_per_s(data: &Prepared, count_sd_anr_l: f64) -> Option<f64> {
    let seconds = data.seconds().max(1.0);
    let counts = std::f64::consts::SQRT_2 * count_sd_anr_l;
    let swing = match data.temperature {
        TemperatureUse::Recorded => 0.0,
        TemperatureUse::Assumed => {
            mean(&data.amount_anr_l)? * unrecorded_change_k(seconds) / mean(&data.kelvin)?
        }
    };
    Some(counts.hypot(swing) / seconds)
}

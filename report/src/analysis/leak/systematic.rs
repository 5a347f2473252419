//! What noise does not tell: errors that stay the same all night.

use super::super::air::Vessel;
use super::super::stats::mean;
use super::{Prepared, TemperatureUse};
use seep_common::physics::gas::amount_anr_l;

/// Swing of an unrecorded temperature over a night, one standard deviation, K.
/// A prior: common practice, no source.
const UNRECORDED_SWING_K: f64 = 6.0;

/// Length of such a night, s.
const NIGHT_S: f64 = 8.0 * 3600.0;

/// Change of outside pressure over a night without a barometer, one standard
/// deviation, kPa. Weather; common practice, no source.
const UNRECORDED_WEATHER_KPA: f64 = 0.4;

/// Standard error of a loss rate from everything that noise does not show, ANR
/// L/s: volume table, unrecorded temperature, unrecorded weather.
///
/// Each term is an error of the amount over the rest divided by its length.
/// `None` without any reading.
pub(super) fn rate_se_l_per_s(
    data: &Prepared,
    vessel: &Vessel,
    barometer_recorded: bool,
) -> Option<f64> {
    let seconds = data.seconds().max(1.0);
    let (v0, v1) = (data.volume_l.first()?, data.volume_l.last()?);
    let kpa_abs = mean(&data.kpa_abs)?;
    let kelvin = mean(&data.kelvin)?;
    let per_litre = amount_anr_l(kpa_abs, 1.0, kelvin);
    let volume = vessel.volume_uncertainty * (v1 - v0).abs() * per_litre;
    let amount = mean(&data.amount_anr_l)?;
    let share_of_night = (seconds / NIGHT_S).min(1.0);
    let temperature = match data.temperature {
        TemperatureUse::Recorded => 0.0,
        TemperatureUse::Assumed => amount * UNRECORDED_SWING_K / kelvin * share_of_night,
    };
    let weather = if barometer_recorded {
        0.0
    } else {
        amount * UNRECORDED_WEATHER_KPA / kpa_abs * share_of_night.sqrt()
    };
    Some((volume * volume + temperature * temperature + weather * weather).sqrt() / seconds)
}

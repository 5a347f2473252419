//! Errors of a channel's sensor.

use super::super::raw::RawChannel;
use super::super::{Calibration, SensorError};
use super::Problems;
use crate::channel::Quantity;

/// Largest errors that a rig may give, percent, and per kelvin.
const MOST_PERCENT: (f64, f64) = (0.0, 20.0);
const MOST_PER_K: (f64, f64) = (0.0, 1.0);

/// The errors of a channel: of its own keys, else of its calibration, else the usual ones.
pub(super) fn sensor_error(
    at: usize,
    c: &RawChannel,
    quantity: Quantity,
    calibration: &Calibration,
    problems: &mut Problems,
) -> SensorError {
    let usual = SensorError::usual(quantity);
    let mut or = |key: &str, value: Option<f64>, limits: (f64, f64), default: f64| {
        problems
            .within(at, &format!("channel.{key}"), value, limits)
            .unwrap_or(default)
    };
    let span_percent = or(
        "span_percent",
        c.span_percent,
        MOST_PERCENT,
        usual.span_percent,
    );
    let temperature_percent_per_k = or(
        "temperature_percent_per_k",
        c.temperature_percent_per_k,
        MOST_PER_K,
        usual.temperature_percent_per_k,
    );
    let hysteresis_percent = or(
        "hysteresis_percent",
        c.hysteresis_percent,
        MOST_PERCENT,
        usual.hysteresis_percent,
    );
    let given = problems.positive(at, "channel.full_scale", c.full_scale);
    let calibrated = calibration.raw_range.map(|(low, high)| {
        calibration
            .apply(low)
            .abs()
            .max(calibration.apply(high).abs())
    });
    SensorError {
        full_scale: given
            .or(calibrated.filter(|_| c.unit.is_none()))
            .unwrap_or(usual.full_scale),
        span_percent,
        temperature_percent_per_k,
        hysteresis_percent,
        quantum: problems.positive(at, "channel.quantum", c.quantum),
    }
}

//! What the sensors of a move are off by.

use super::MoveView;
use seep_common::rig::SensorError;

/// A sensor is this much colder or warmer than where it was calibrated, one standard
/// deviation, K. Common practice, no source: 20 °C in the workshop, −10 to 50 °C in use.
const OFF_CALIBRATION_K: f64 = 10.0;

/// Sensors of a move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MoveSensors {
    /// Corner pressure.
    pub corner: SensorError,
    /// Tank pressure.
    pub tank: SensorError,
    /// Height.
    pub mm: SensorError,
}

/// Readings as they would be with one sensor off by one standard deviation.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct ReadingsOff {
    /// Added to the corner's pressure, kPa, per kPa gauge.
    pub(super) corner: f64,
    /// The same of the tank's.
    pub(super) tank: f64,
    /// Added to a height, mm per mm.
    pub(super) mm: f64,
}

impl MoveSensors {
    /// One sensor off after the other, at the pressures of a move.
    pub(super) fn each_off(&self, view: &MoveView, corner_kpa_abs: f64) -> [ReadingsOff; 3] {
        let share = |sensor: &SensorError, kpa_abs: f64| {
            let gauge = (kpa_abs - view.ambient_kpa_abs).max(1.0);
            let zero = sensor.zero_per_k() * OFF_CALIBRATION_K / gauge;
            // At low pressures the zero is all there is; it is no gain then.
            sensor.span_share().hypot(zero.min(0.1))
        };
        let of_corner = ReadingsOff {
            corner: share(&self.corner, corner_kpa_abs),
            ..ReadingsOff::default()
        };
        let of_tank = ReadingsOff {
            tank: share(&self.tank, self.tank.full_scale + view.ambient_kpa_abs),
            ..ReadingsOff::default()
        };
        let of_height = ReadingsOff {
            mm: self.mm.span_share(),
            ..ReadingsOff::default()
        };
        [of_corner, of_tank, of_height]
    }
}

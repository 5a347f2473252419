//! What a sensor is off by, beyond the noise of its readings.

use crate::channel::Quantity;

/// Errors of a sensor that no number of its readings averages out; each is one standard
/// deviation.
///
/// The defaults are the middle of what data sheets of the trade state (common practice,
/// no source); a rig replaces them by those of its own data sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SensorError {
    /// Highest reading of the sensor, in the channel's unit.
    pub full_scale: f64,
    /// Error of its span, percent of the reading.
    pub span_percent: f64,
    /// Shift of its zero with its temperature, percent of full scale per kelvin.
    pub temperature_percent_per_k: f64,
    /// Difference between rising and falling, percent of full scale.
    pub hysteresis_percent: f64,
    /// Smallest step that the source makes, in the channel's unit, where the rig says it.
    pub quantum: Option<f64>,
}

/// Full scale of a sensor whose rig gives none: a pressure of 10 bar, a height of 200 mm.
/// Common practice, no source.
const PRESSURE_KPA: f64 = 1_000.0;
const HEIGHT_MM: f64 = 200.0;

/// Percent of a reading, percent of full scale per kelvin (0.01 to 0.03), percent of full
/// scale. Common practice, no source.
const PRESSURE_PERCENT: [f64; 3] = [0.5, 0.02, 0.03];
/// A height sensor turns with a lever, whose angle and length are known to one percent.
/// Common practice, no source.
const HEIGHT_PERCENT: [f64; 3] = [1.0, 0.02, 0.05];

impl SensorError {
    /// Shift of the zero per kelvin, in the channel's unit.
    ///
    /// ```
    /// use seep_common::rig::SensorError;
    /// let sensor = SensorError {
    ///     full_scale: 1_000.0,
    ///     span_percent: 0.5,
    ///     temperature_percent_per_k: 0.02,
    ///     hysteresis_percent: 0.03,
    ///     quantum: None,
    /// };
    /// assert!((sensor.zero_per_k() - 0.2).abs() < 1e-12);
    /// assert!((sensor.hysteresis() - 0.3).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn zero_per_k(&self) -> f64 {
        self.full_scale * self.temperature_percent_per_k / 100.0
    }

    /// Hysteresis in the channel's unit.
    #[must_use]
    pub fn hysteresis(&self) -> f64 {
        self.full_scale * self.hysteresis_percent / 100.0
    }

    /// Error of the span as a share of a reading.
    #[must_use]
    pub fn span_share(&self) -> f64 {
        self.span_percent / 100.0
    }

    /// Defaults of a quantity; no error for one that is neither pressure nor height.
    #[must_use]
    pub fn usual(quantity: Quantity) -> Self {
        let (full_scale, [span, per_k, hysteresis]) = match quantity {
            Quantity::GaugePressure | Quantity::AbsolutePressure => {
                (PRESSURE_KPA, PRESSURE_PERCENT)
            }
            Quantity::Height => (HEIGHT_MM, HEIGHT_PERCENT),
            _ => (0.0, [0.0; 3]),
        };
        SensorError {
            full_scale,
            span_percent: span,
            temperature_percent_per_k: per_k,
            hysteresis_percent: hysteresis,
            quantum: None,
        }
    }
}

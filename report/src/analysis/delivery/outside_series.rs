//! Pressure and temperature outside at a moment.

use super::super::moves::Series;
#[cfg(test)]
use seep_common::units::STANDARD_ATMOSPHERE_KPA_ABS;

/// Outside series over one session.
#[derive(Debug, Clone, Copy)]
pub struct OutsideSeries<'a> {
    /// Barometer, kPa absolute; empty when not recorded.
    pub barometer_kpa_abs: Series<'a>,
    /// Temperature, K; empty when not recorded.
    pub kelvin: Series<'a>,
    /// Pressure where no barometer reading is near, kPa absolute.
    pub default_kpa_abs: f64,
}

/// Barometer readings no further apart are joined, ms: on a steep road the pressure
/// falls by 1 kPa in some minutes.
const JOIN_BAROMETER_MS: i64 = 600_000;

/// A temperature holds this long, ms.
const JOIN_KELVIN_MS: i64 = 3_600_000;

impl OutsideSeries<'_> {
    /// Barometer at a time, kPa absolute; `None` without a reading near it.
    #[must_use]
    pub fn barometer_kpa_abs(&self, t_ms: i64) -> Option<f64> {
        near(self.barometer_kpa_abs, t_ms, JOIN_BAROMETER_MS)
    }

    /// Outside pressure at a time, kPa absolute: the barometer, else the default.
    #[must_use]
    pub fn kpa_abs(&self, t_ms: i64) -> f64 {
        self.barometer_kpa_abs(t_ms).unwrap_or(self.default_kpa_abs)
    }

    /// Outside temperature at a time, K; `None` without a reading near it.
    #[must_use]
    pub fn kelvin(&self, t_ms: i64) -> Option<f64> {
        near(self.kelvin, t_ms, JOIN_KELVIN_MS)
    }

    #[cfg(test)]
    pub(super) fn at_sea_level() -> Self {
        OutsideSeries {
            barometer_kpa_abs: Series::default(),
            kelvin: Series::default(),
            default_kpa_abs: STANDARD_ATMOSPHERE_KPA_ABS,
        }
    }
}

/// On the line between neighbours, or the mean of what was read near.
fn near(series: Series, t_ms: i64, join_ms: i64) -> Option<f64> {
    let around = || series.mean(t_ms - join_ms / 2, t_ms + join_ms / 2);
    series
        .at(t_ms, join_ms)
        .or_else(|| around().map(|m| m.mean))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_barometer_of_the_moment_and_else_the_default() {
        let t = [0, 60_000, 120_000];
        let outside = OutsideSeries {
            barometer_kpa_abs: Series::new(&t, &[100.0, 99.0, 98.0], 0.0),
            ..OutsideSeries::at_sea_level()
        };
        assert!((outside.kpa_abs(90_000) - 98.5).abs() < 1e-9);
        assert!((outside.kpa_abs(5_000_000) - 101.325).abs() < 1e-9);
        assert_eq!(outside.kelvin(0), None);
    }
}

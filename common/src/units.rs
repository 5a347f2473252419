//! Units where two kinds get mixed up, and the constants behind them.
//!
//! Bare `f64` with the unit in the name serves everywhere else.

/// One pound-force per square inch, kPa.
///
/// **Source**: 0.45359237 kg × 9.80665 m/s² / (0.0254 m)², exact by the
/// international pound, standard gravity and inch (NIST SP 811, appendix B,
/// prints 6.894757 E+03 Pa).
pub const KPA_PER_PSI: f64 = 6.894_757_293_168_361;

/// One bar, kPa. Exact (NIST SP 811).
pub const KPA_PER_BAR: f64 = 100.0;

/// The ice point, K. Exact (SI definition of the degree Celsius).
pub const ICE_POINT_K: f64 = 273.15;

/// Millimetres in one inch. Exact.
pub const MM_PER_INCH: f64 = 25.4;

/// Standard atmosphere, kPa absolute. Exact (ISO 2533).
pub const STANDARD_ATMOSPHERE_KPA_ABS: f64 = 101.325;

/// Absolute pressure, kPa.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct KpaAbs(pub f64);

/// Pressure above the surrounding air, kPa.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct KpaGauge(pub f64);

/// Temperature on the Celsius scale, °C.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Celsius(pub f64);

/// Thermodynamic temperature, K.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Kelvin(pub f64);

/// Log time, ms: never repeats, never goes back. Not a date.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct LogMs(pub i64);

/// Wall time, ms since 1970-01-01 00:00 UTC. May step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct WallMs(pub i64);

impl KpaGauge {
    /// Absolute pressure: `p_abs = p_gauge + p_ambient`.
    ///
    /// ```
    /// use seep_common::units::{KpaAbs, KpaGauge};
    /// assert_eq!(KpaGauge(700.0).to_abs(KpaAbs(100.0)), KpaAbs(800.0));
    /// ```
    #[must_use]
    pub fn to_abs(self, ambient: KpaAbs) -> KpaAbs {
        KpaAbs(self.0 + ambient.0)
    }
}

impl KpaAbs {
    /// Gauge pressure against the surrounding air: `p_gauge = p_abs - p_ambient`.
    #[must_use]
    pub fn to_gauge(self, ambient: KpaAbs) -> KpaGauge {
        KpaGauge(self.0 - ambient.0)
    }
}

impl Celsius {
    /// Thermodynamic temperature: `T = t + 273.15`.
    ///
    /// ```
    /// use seep_common::units::{Celsius, Kelvin};
    /// assert_eq!(Celsius(20.0).to_kelvin(), Kelvin(293.15));
    /// ```
    #[must_use]
    pub fn to_kelvin(self) -> Kelvin {
        Kelvin(self.0 + ICE_POINT_K)
    }
}

impl Kelvin {
    /// Celsius temperature: `t = T - 273.15`.
    #[must_use]
    pub fn to_celsius(self) -> Celsius {
        Celsius(self.0 - ICE_POINT_K)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST SP 811 (2008), appendix B.8: psi to pascal 6.894 757 E+03.
    #[test]
    fn psi_agrees_with_sp_811() {
        assert!((KPA_PER_PSI - 6.894_757).abs() < 5e-7);
        assert!((KPA_PER_BAR / KPA_PER_PSI - 14.503_773_773).abs() < 1e-9);
        assert!((STANDARD_ATMOSPHERE_KPA_ABS / KPA_PER_PSI - 14.695_948_776).abs() < 1e-9);
    }

    #[test]
    fn gauge_and_absolute_are_inverse() {
        let ambient = KpaAbs(79.501);
        let there_and_back = KpaGauge(512.3).to_abs(ambient).to_gauge(ambient);
        assert!((there_and_back.0 - 512.3).abs() < 1e-12);
    }
}

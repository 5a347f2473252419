//! Factors between units.
//!
//! Quantities are bare `f64` with the unit in the name.

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
}

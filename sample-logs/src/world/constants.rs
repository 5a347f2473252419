//! Constants of nature and of the standards, written down here a second time: what
//! judges a log must share none with what made it.

/// Molar gas constant, J/(mol·K). **Source**: SI, exact since 2019.
pub(super) const MOLAR_GAS: f64 = 8.314_462_618_153_24;

/// Molar mass of dry air, kg/mol. **Source**: handbook value 28.9647 g/mol.
pub(super) const DRY_AIR: f64 = 0.028_964_7;

/// 0 °C, K. **Source**: SI.
pub const ZERO_CELSIUS_K: f64 = 273.15;

/// Standard gravity, m/s². **Source**: 3rd CGPM, 1901.
pub(super) const GRAVITY: f64 = 9.806_65;

/// One pound per square inch, kPa: 0.453 592 37 kg × g₀ / (0.0254 m)².
pub(crate) const PSI_KPA: f64 = 0.453_592_37 * GRAVITY / (0.0254 * 0.0254) / 1000.0;

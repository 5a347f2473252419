//! Pressure over altitude.

use super::constants::GRAVITY;

/// Fall of temperature with height, K/m. **Source**: US Standard Atmosphere 1976.
pub(super) const LAPSE_K_M: f64 = 0.0065;

/// Pressure of the standard atmosphere's lowest layer, kPa:
/// `101.325·(1 − L·H/288.15)^(g·M/(R·L))`.
///
/// **Units**: geometric altitude, m. **Source**: US Standard Atmosphere 1976.
pub(super) fn standard_kpa(altitude_m: f64) -> f64 {
    // Radius, molar mass and gas constant as the 1976 standard has them.
    const EARTH_M: f64 = 6_356_766.0;
    const EXPONENT: f64 = GRAVITY * 0.028_964_4 / (8.314_32 * LAPSE_K_M);
    let geopotential_m = EARTH_M * altitude_m / (EARTH_M + altitude_m);
    let kelvin = 288.15 - LAPSE_K_M * geopotential_m;
    101.325 * libm::pow(kelvin / 288.15, EXPONENT)
}

#[cfg(test)]
mod tests {
    use super::standard_kpa;

    /// **Source**: tables of the US Standard Atmosphere 1976.
    #[test]
    fn agrees_with_the_printed_tables() {
        for (altitude_m, kpa) in [(0.0, 101.325), (1000.0, 89.876), (2000.0, 79.501)] {
            assert!((standard_kpa(altitude_m) - kpa).abs() < 1e-3);
        }
    }
}

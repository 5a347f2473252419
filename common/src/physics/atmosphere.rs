//! Outside pressure from altitude: the lowest layer of the standard atmosphere.

use crate::units::STANDARD_ATMOSPHERE_KPA_ABS;

/// Temperature at sea level, K.
pub const SEA_LEVEL_K: f64 = 288.15;

/// Fall of temperature with geopotential height, K/m.
pub const LAPSE_K_PER_M: f64 = 0.0065;

/// Radius of the earth that turns altitude into geopotential height, m.
const EARTH_RADIUS_M: f64 = 6_356_766.0;

/// `g0·M0/(R*·L)` with the constants of the 1976 standard:
/// 9.80665 × 0.0289644 / (8.31432 × 0.0065).
const PRESSURE_EXPONENT: f64 = 9.806_65 * 0.028_964_4 / (8.314_32 * LAPSE_K_PER_M);

/// Geometric altitudes this layer answers for, m. Beyond them the nearest end
/// is taken.
pub const ALTITUDE_RANGE_M: (f64, f64) = (-5000.0, 11_019.0);

/// Standard outside pressure at an altitude:
/// `p = 101.325·(1 - L·H/T0)^(g0·M0/(R*·L))`, `H = r·z/(r + z)`.
///
/// Weather moves the true pressure by up to about ±3 kPa around it (common
/// practice, no source).
///
/// **Units**: m above sea level in; kPa absolute out. **Domain**:
/// [`ALTITUDE_RANGE_M`]. **Source**: US Standard Atmosphere 1976, layer 0
/// (equal to ISO 2533 there).
///
/// ```
/// use seep_common::physics::atmosphere::pressure_at_altitude_kpa_abs;
/// assert!((pressure_at_altitude_kpa_abs(2000.0) - 79.501).abs() < 1e-3);
/// ```
#[must_use]
pub fn pressure_at_altitude_kpa_abs(altitude_m: f64) -> f64 {
    let share = temperature_at_altitude_k(altitude_m) / SEA_LEVEL_K;
    STANDARD_ATMOSPHERE_KPA_ABS * libm::pow(share, PRESSURE_EXPONENT)
}

/// Standard outside temperature at an altitude: `T = T0 - L·H`.
///
/// **Units**: m in; K out. **Domain** and **Source** as above.
///
/// ```
/// use seep_common::physics::atmosphere::temperature_at_altitude_k;
/// assert!((temperature_at_altitude_k(1000.0) - 281.651).abs() < 1e-3);
/// ```
#[must_use]
pub fn temperature_at_altitude_k(altitude_m: f64) -> f64 {
    let z = altitude_m.clamp(ALTITUDE_RANGE_M.0, ALTITUDE_RANGE_M.1);
    SEA_LEVEL_K - LAPSE_K_PER_M * (EARTH_RADIUS_M * z / (EARTH_RADIUS_M + z))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// US Standard Atmosphere 1976, computed with fluids 1.3.1 (ATMOSPHERE_1976).
    #[test]
    fn standard_atmosphere_table() {
        for (z_m, pa) in [
            (0.0, 101_325.0),
            (500.0, 95_461.289),
            (1000.0, 89_876.285),
            (1500.0, 84_559.677),
            (2000.0, 79_501.425),
            (3000.0, 70_121.162),
        ] {
            let got = 1000.0 * pressure_at_altitude_kpa_abs(z_m);
            assert!((got - pa).abs() < 0.0015, "{z_m} m: {got} against {pa}");
        }
    }

    #[test]
    fn beyond_the_layer_the_end_is_taken() {
        let top = pressure_at_altitude_kpa_abs(ALTITUDE_RANGE_M.1);
        assert!((pressure_at_altitude_kpa_abs(20_000.0) - top).abs() < 1e-12);
        // 22.632 kPa at the tropopause, US Standard Atmosphere 1976 (from memory).
        assert!((top - 22.632).abs() < 0.01, "{top}");
    }
}

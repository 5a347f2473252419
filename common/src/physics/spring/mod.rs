//! An air spring: volume against height, load against pressure, and where it
//! comes to rest.

mod interp;
mod rest;
mod volume;

pub use interp::{CurveError, MonotoneCurve};
pub use rest::{AirSpring, AtRest, Stop};
pub use volume::VolumeCurve;

/// Load a spring carries: `F = p_gauge·A`.
///
/// The effective area is what this equation makes it: measured load over
/// measured gauge pressure at that height.
///
/// **Units**: kPa gauge, cm² in; N out (1 kPa·cm² = 0.1 N). **Source**:
/// definition of the effective area.
///
/// ```
/// use seep_common::physics::spring::load_n;
/// assert!((load_n(500.0, 100.0) - 5000.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn load_n(kpa_gauge: f64, effective_area_cm2: f64) -> f64 {
    0.1 * kpa_gauge * effective_area_cm2
}

/// Gauge pressure a load needs: the inverse of [`load_n`] in pressure.
///
/// **Units**: N, cm² in; kPa gauge out.
///
/// ```
/// use seep_common::physics::spring::gauge_for_load_kpa;
/// assert!((gauge_for_load_kpa(5000.0, 100.0) - 500.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn gauge_for_load_kpa(load_n: f64, effective_area_cm2: f64) -> f64 {
    10.0 * load_n / effective_area_cm2
}

#[cfg(test)]
mod tests;

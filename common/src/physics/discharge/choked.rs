//! Choked discharge: exponential in absolute pressure.

use crate::physics::gas::ANR_K;
use std::f64::consts::LN_2;

/// Time constant of a volume and a conductance: `τ = V/(C·p0)·√(T0/T)`,
/// isothermal at T.
///
/// **Units**: L, L/(s·bar), K in; s out (p0 is 1 bar). **Domain**: all
/// positive. **Source**: mass balance with the choked law of ISO 6358-1 and
/// `ρ0·R·T0 = p0`.
///
/// ```
/// use seep_common::physics::discharge::choked_time_constant_s;
/// assert_eq!(choked_time_constant_s(10.0, 1.0, 293.15), 10.0);
/// ```
#[must_use]
pub fn choked_time_constant_s(volume_l: f64, c_l_per_s_bar: f64, t_k: f64) -> f64 {
    volume_l / c_l_per_s_bar * (ANR_K / t_k).sqrt()
}

/// Conductance behind a time constant: the inverse of
/// [`choked_time_constant_s`] in C.
///
/// **Units**: L, s, K in; L/(s·bar) out.
///
/// ```
/// use seep_common::physics::discharge::choked_conductance_l_per_s_bar;
/// // 10 L with a time constant of ten hours
/// let c = choked_conductance_l_per_s_bar(10.0, 36_000.0, 293.15);
/// assert!((c - 2.7778e-4).abs() < 1e-8);
/// ```
#[must_use]
pub fn choked_conductance_l_per_s_bar(volume_l: f64, tau_s: f64, t_k: f64) -> f64 {
    volume_l / tau_s * (ANR_K / t_k).sqrt()
}

/// Pressure after a time of choked discharge: `p = p_i·exp(-t/τ)`.
///
/// **Units**: kPa **absolute**, s. The logarithm of *gauge* pressure is not a
/// straight line. **Domain**: while `p > p_outside/b`. **Source**: ISO 6358-2
/// discharge test, isothermal.
///
/// ```
/// use seep_common::physics::discharge::choked_kpa_abs;
/// // 701.325 kPa, ten hours: 470.1 kPa after four
/// assert!((choked_kpa_abs(701.325, 36_000.0, 4.0 * 3600.0) - 470.1122).abs() < 1e-4);
/// ```
#[must_use]
pub fn choked_kpa_abs(start_kpa_abs: f64, tau_s: f64, elapsed_s: f64) -> f64 {
    start_kpa_abs * libm::exp(-elapsed_s / tau_s)
}

/// Time of choked discharge between two pressures: `t = τ·ln(p_i/p)`.
///
/// **Units**: kPa absolute, s. **Domain** and **Source** as
/// [`choked_kpa_abs`].
///
/// ```
/// use seep_common::physics::discharge::choked_time_s;
/// assert!((choked_time_s(10.0, 800.0, 400.0) - 6.931471805599453).abs() < 1e-12);
/// ```
#[must_use]
pub fn choked_time_s(tau_s: f64, from_kpa_abs: f64, to_kpa_abs: f64) -> f64 {
    tau_s * libm::log(from_kpa_abs / to_kpa_abs)
}

/// Half-life of an exponential: `τ·ln 2`.
///
/// **Units**: s.
///
/// ```
/// use seep_common::physics::discharge::half_life_s;
/// assert!((half_life_s(36_000.0) - 24_953.2985).abs() < 1e-4);
/// ```
#[must_use]
pub fn half_life_s(tau_s: f64) -> f64 {
    tau_s * LN_2
}
